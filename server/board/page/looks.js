// What gear is, by what somebody can see who knows nothing about it. Common practice, no published source.

// Channels by the width of a digital picture, MHz.
export const widths = {20: '5660MHz,5695MHz,5735MHz,5770MHz,5805MHz,5839MHz,5878MHz', 40: '5677MHz,5735MHz,5794MHz,5850MHz'};
const usual = ['R1-R8', 'F1-F8'];

// What is seen when the picture gets weak. Nobody knows: goggles that hear more of their neighbours.
export const pictures = [
  {name: 'snow', drawing: 'snow', emission: 'fm-video', emissions: ['fm-video', 'fm-video-wide'], receiver: 'fm-video-5g8', channels: usual},
  {name: 'blocks', drawing: 'blocks', emission: 'ofdm-20', emissions: ['ofdm-20', 'ofdm-40', 'ofdm-10'], receiver: 'ofdm-20-5g8', channels: widths[20].split(',')},
];
const careful = {...pictures[0], receiver: 'fm-video-5g8-wide'};

export const goggles = [
  {name: 'stubbies', drawing: 'stubbies', antennas: ['circular-omni'], polarisation: 'rhcp'},
  {name: 'patch', drawing: 'patch', antennas: ['circular-omni', 'circular-patch'], polarisation: 'rhcp'},
  {name: 'coil', drawing: 'coil', antennas: ['circular-helix'], polarisation: 'rhcp'},
  {name: 'panel', drawing: 'panel', antennas: ['wide-panel'], polarisation: 'vertical'},
  {name: 'nothing', drawing: 'nothing', antennas: ['dipole'], polarisation: 'vertical'},
];
export const aerials = [
  {name: 'stubby', drawing: 'stubby', antenna: 'circular-omni', polarisation: 'rhcp'},
  {name: 'leaves', drawing: 'leaves', antenna: 'circular-omni', polarisation: 'rhcp'},
  {name: 'whip', drawing: 'whip', antenna: 'dipole', polarisation: 'vertical'},
  {name: 'flat', drawing: 'flat', antenna: 'circular-patch', polarisation: 'rhcp'},
];
export const powerSets = [
  {name: 'one', mw: [25]}, {name: 'two', mw: [25, 200]}, {name: 'six', mw: [25, 200, 600]}, {name: 'watt', mw: [25, 200, 600, 1000]},
];

export const quoted = (text) => JSON.stringify(String(text));
const find = (list, name) => list.find((one) => one.name === name) || list[0];
const directional = ['circular-patch', 'circular-helix', 'wide-panel'];

function receivers({antennas, polarisation}, receiver) {
  return antennas.map((antenna, i) => [`[[pilot.receiver]]`, `receiver = ${quoted(receiver)}`, `antenna = ${quoted(antenna)}`, `polarisation = ${quoted(polarisation)}`,
    i ? `name = "aerial-${i + 1}"` : '', directional.includes(antenna) ? 'facing = "aircraft"' : ''].filter(Boolean).join('\n'));
}

// A pilot as a day file has them.
export function tomlOf({name, place, area, kit = '', mast = '', ...answers}) {
  const head = ['[[pilot]]', `name = ${quoted(name)}`, `place = ${quoted(place)}`, `area = ${quoted(area)}`];
  if (kit) return [...head, `kit = ${quoted(kit)}`, mast ? `relay_place = ${quoted(mast)}` : ''].filter(Boolean).join('\n') + '\n';
  const picture = answers.picture === 'unknown' ? careful : find(pictures, answers.picture);
  const aerial = find(aerials, answers.aerial);
  return [...head, '[pilot.video]', `emission = ${quoted(picture.emission)}`, `antenna = ${quoted(aerial.antenna)}`, `polarisation = ${quoted(aerial.polarisation)}`,
    `power_mw = [${find(powerSets, answers.powers).mw.join(', ')}]`, `channels = [${picture.channels.map(quoted).join(', ')}]`,
    ...receivers(find(goggles, answers.goggles), picture.receiver), '[pilot.handset]', '[pilot.control]'].join('\n') + '\n';
}
