// The marshal's part: what to call out, who waits, what was seen, who walks up, tickets.

import {button, channelOptions, dialog, el, field, refill, sayRefusal, select} from './parts.js';
import {drawing} from './drawings.js';
import {claim, done} from './claims.js';

// What most people bring comes first.
const usual = ['usual-quad', 'quad-two-way-digital-20', 'tiny-whip', 'wing-patch'];
const quoted = (text) => JSON.stringify(String(text));

function pilotText(name, place, area, kit, powers, relayPlace) {
  return `[[pilot]]\nname = ${quoted(name)}\nplace = ${quoted(place)}\narea = ${quoted(area)}\nkit = ${quoted(kit)}\n` +
    (relayPlace ? `relay_place = ${quoted(relayPlace)}\n` : '') +
    (powers.length ? `[pilot.video]\npower_mw = [${powers.join(', ')}]\n` : '');
}

const bringsRelay = (kit) => kit.toml.includes('[relay]');

// Kits to be told by their look; the value is that of the one that is chosen.
function kitChoice(kits) {
  const rank = (kit) => (usual.indexOf(kit.name) + 1) || usual.length + 1;
  const sorted = [...kits].sort((a, b) => rank(a) - rank(b));
  const boxes = sorted.map((kit, i) => el('input', {type: 'radio', name: 'kit', value: kit.name, checked: i === 0}));
  const choice = el('fieldset', {class: 'kits'}, el('legend', {}, 'Gear, by its look'), sorted.map((kit, i) =>
    el('label', {class: 'kit'}, boxes[i], drawing(kit.drawing), el('span', {}, el('strong', {}, kit.title), el('span', {class: 'small'}, kit.look || '')))));
  return {choice, first: boxes[0], chosen: () => sorted[boxes.findIndex((box) => box.checked)]};
}

// A pilot with usual gear is entered, by the marshal, or by themselves under their own name.
export async function walkUp(ctx, own) {
  const sheet = await ctx.sheet();
  if (!sheet) return;
  const places = (sheet.field?.places || []).map((p) => [p.name, p.name]);
  const areas = (sheet.field?.areas || []).map((a) => [a.name, a.name]);
  if (!places.length || !areas.length) {
    sayRefusal({where: 'field', why: 'has no place to stand or no area to fly in', next: 'enter them with: fieldpeg field put FILE'});
    return;
  }
  const name = el('input', {value: own || '', readonly: Boolean(own), maxlength: 40, autocomplete: 'off', required: true, autocapitalize: 'words'});
  const answer = await ctx.line.ask({gear: {}});
  if (answer.refusal) return sayRefusal(answer.refusal);
  const kit = kitChoice(answer.gear.library.kits);
  const powers = el('input', {inputmode: 'numeric', autocomplete: 'off', pattern: '[0-9 ,.]+', placeholder: 'as is usual'});
  const place = select(places, places[0][0]);
  const mast = select(places, places[places.length - 1][0]);
  const area = select(areas, areas[0][0]);
  const stands = field('Its tripod and relay stand at', mast);
  const showMast = () => { stands.hidden = !bringsRelay(kit.chosen()); };
  kit.choice.addEventListener('change', showMast);
  showMast();
  const go = async (e) => {
    e.preventDefault();
    const steps = powers.value.split(/[ ,]+/).filter(Boolean);
    const chosen = kit.chosen();
    const relayPlace = bringsRelay(chosen) ? mast.value : '';
    const reply = await ctx.line.send({put: {file: '', toml: pilotText(name.value.trim(), place.value, area.value, chosen.name, steps, relayPlace)}});
    if (reply.refusal) {
      wrong.replaceChildren(el('p', {class: 'refusal'}, reply.refusal.why, ' ', reply.refusal.next || ''));
      return;
    }
    box.close();
    claim(ctx, {transmitter: name.value.trim()}, {});
  };
  const wrong = el('div', {role: 'alert'});
  const box = dialog(own ? 'My gear' : 'Somebody walks up', el('form', {onsubmit: go},
    field('Name', name), kit.choice, field('Powers it can be set to, mW', powers),
    field('Stands at', place), field('Flies in', area), stands, wrong,
    el('button', {type: 'submit', class: 'strong wide'}, own ? 'Enter it, with the best channel' : 'Admit, with the best channel')));
  (own ? kit.first : name).focus();
}

async function sighting(ctx) {
  const sheet = await ctx.sheet();
  if (!sheet) return;
  const channels = (sheet.rows || []).flatMap((r) => r.channels || []);
  const channel = select([['', 'choose one, or give MHz below'], ...channelOptions(channels)], '');
  const mhz = el('input', {inputmode: 'decimal', autocomplete: 'off', placeholder: 'MHz'});
  const place = select([['', 'nobody knows: it flies'], ...(sheet.field?.places || []).map((p) => [p.name, p.name])], '');
  const note = el('input', {maxlength: 200, autocomplete: 'off'});
  const go = async (e) => {
    e.preventDefault();
    const chosen = channels.find((c) => String(c.mhz) === channel.value);
    const number = Number(mhz.value.replace(',', '.'));
    if (!chosen && !(number > 0)) {
      mhz.focus();
      return;
    }
    const see = {channel: chosen || {name: String(number), mhz: number}, note: note.value.trim(), place: place.value};
    box.close();
    await done(ctx, {see});
  };
  const box = dialog('Something is seen, unasked', el('form', {onsubmit: go},
    field('Channel', channel), field('or a frequency in MHz', mhz), field('Stands at', place),
    field('Remark', note), el('p', {class: 'small'}, 'It counts in every calculation at once.'),
    el('button', {type: 'submit', class: 'strong wide'}, 'Enter it')));
}

// A QR code from its rows of 0 and 1, with a quiet zone of four around it.
function qr(rows) {
  const size = rows.length + 8;
  const node = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
  node.setAttribute('viewBox', `0 0 ${size} ${size}`);
  node.setAttribute('class', 'qr');
  node.setAttribute('role', 'img');
  node.setAttribute('aria-label', 'QR code of the address below');
  const path = document.createElementNS('http://www.w3.org/2000/svg', 'path');
  path.setAttribute('d', rows.flatMap((row, y) => Array.from(row, (bit, x) => (bit === '1' ? `M${x + 4} ${y + 4}h1v1h-1z` : ''))).join(''));
  node.append(path);
  return node;
}

async function showTicket(ctx, what, title) {
  const reply = await done(ctx, {renew_ticket: what});
  if (!reply || !reply.ticket) return;
  const t = reply.ticket;
  dialog(title, t.phone_qr ? qr(t.phone_qr) : null,
    el('ol', {}, el('li', {}, 'Scan the code with the phone\u2019s camera, or type what stands below it.'),
      el('li', {}, 'The phone warns that it does not know the certificate: that is expected, for this server made its own. Compare before you go on: it begins '),
      el('li', {}, 'Open the page all the same (\u201CAdvanced\u201D, or \u201CDetails\u201D), say your name, and you are in.')),
    el('p', {class: 'print'}, document.body.dataset.sha256.slice(0, 23), ' (', document.body.dataset.spelled, ')'),
    el('p', {class: 'secret'}, t.phone_url || ''), el('p', {class: 'secret'}, t.ticket || ''),
    el('p', {class: 'small'}, 'The ticket that was given out before is no longer good. Who has joined stays in.'));
}

async function tickets(ctx) {
  const sheet = await ctx.sheet();
  const pilots = ((sheet && sheet.pilots) || []).map((p) => p.name);
  const who = select([['', 'anybody who flies (new names; a listed pilot waits for your nod)'],
    ...pilots.map((p) => [p, p])], '');
  const box = dialog('Let somebody in',
    el('p', {}, 'This makes a new ticket; the one before it is no longer good.'), field('For', who),
    button('Show the ticket', () => {
      box.close();
      showTicket(ctx, who.value ? {pilot: who.value} : {role: 'pilot'}, who.value ? `Ticket of ${who.value}` : 'Ticket for pilots');
    }, 'strong wide'));
}

// Lunch, or danger: nobody switches on until it is open again.
function closing(ctx) {
  const why = el('input', {maxlength: 80, autocomplete: 'off', required: true});
  const close = (now) => {
    if (!why.value.trim()) return why.focus();
    box.close();
    return done(ctx, {close_field: {because: why.value.trim(), now}});
  };
  const box = dialog('Close the field', field('Why', why),
    button('Flights end, nobody switches on', () => close(false), 'strong wide'),
    button('Danger: everybody lands now', () => close(true), 'wide'));
}

// Whose turn it is. What is on the air stays noted until somebody says that it is off.
function turns(ctx) {
  const groups = [...new Set(ctx.rows().map((row) => Number(row.group || 0)).filter(Boolean))].sort((a, b) => a - b);
  const box = dialog('Whose turn is it?',
    groups.length ? null : el('p', {}, 'Nobody holds a channel in a flight group.'),
    ...groups.map((group) => button(`Group ${group} flies`, () => { box.close(); call(ctx, group); }, 'wide')),
    button('Whoever likes', () => { box.close(); call(ctx, 0); }, 'wide'));
}

async function call(ctx, group) {
  const reply = await ctx.line.send({call_group: {group}});
  if (reply.refusal) return sayRefusal(reply.refusal);
  const lines = reply.call_out || [];
  return dialog(group ? `Group ${group} flies` : 'Whoever likes may ask',
    lines.length ? el('p', {}, 'Call this out:') : null,
    lines.length ? el('ul', {}, ...lines.map((text) => el('li', {}, el('p', {class: 'big'}, text)))) : null);
}

export function marshal(ctx, node) {
  node.hidden = !ctx.isMarshal();
  if (node.hidden) return;
  const board = ctx.board;
  const waiting = board.awaiting_nod || [];
  refill(node, el('h2', {id: 'marshal-title'}, 'Marshal'),
    (board.call_out || []).length ? el('div', {class: 'callout'}, el('h3', {}, 'Call this out'),
      el('ul', {}, ...board.call_out.map((text, i) => el('li', {'data-of': `w${board.untold[i].version}`}, el('p', {class: 'big'}, text),
        (board.call_out_cause || [])[i] ? el('p', {class: 'big'}, board.call_out_cause[i]) : null,
        button('Told', () => done(ctx, {acknowledge_warning: {warning: board.untold[i].version}}), 'strong')))),
      board.call_out.length > 1 ? button('All told', () => done(ctx, {acknowledge_warning: {all: true}})) : null) : null,
    waiting.length ? el('div', {class: 'callout'}, el('h3', {}, 'Is it them?'),
      el('ul', {}, ...waiting.map((name) => el('li', {'data-of': `n${name}`},
        el('p', {}, 'A phone has joined as ', el('strong', {}, name), '. Look who holds it.'),
        el('div', {class: 'row'}, button(`Yes, it is ${name}`, () => done(ctx, {nod: {name}}), 'strong'),
          button('No: take the key back', () => done(ctx, {withdraw_key: {name}}))))))) : null,
    el('div', {class: 'row', 'data-of': 'marshal'}, button('Somebody walks up', () => walkUp(ctx, ''), 'strong'),
      button('Something is seen', () => sighting(ctx)), button('Let somebody in', () => tickets(ctx)),
      board.closed ? button('Open the field', () => done(ctx, {open_field: {}}), 'strong') : button('Close the field', () => closing(ctx)),
      button('Whose turn?', () => turns(ctx))));
}

export const unsee = (ctx, row) => done(ctx, {unsee: {sighting: Number(row.transmitter.replace(/\D/g, ''))}});
