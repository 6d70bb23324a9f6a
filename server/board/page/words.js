// The words and numbers of the field, as the rest of Fieldpeg writes them.

// The server's clock against this phone's, which may be wrong.
let aheadMs = 0;
export const setClock = (serverMs) => { aheadMs = Number(serverMs) - Date.now(); };
export const nowMs = () => Date.now() + aheadMs;

export const mhz = (value) => String(Math.round(Number(value) * 10) / 10);

// "R3 (5732 MHz)"; the MHz are always said.
export function channelText(channel) {
  if (!channel || !channel.mhz) return '-';
  const number = mhz(channel.mhz);
  return !channel.name || channel.name === number ? `${number} MHz` : `${channel.name} (${number} MHz)`;
}

export function powerText(dbm) {
  const mw = 10 ** (Number(dbm || 0) / 10);
  if (mw >= 995) return `${Number((mw / 1000).toPrecision(2))} W`;
  return `${Number(mw.toPrecision(2))} mW`;
}

export function dbText(value) {
  if (value === undefined || value === null) return '-';
  // What is short shows its sign, which decides a verdict.
  const small = Math.abs(Number(value)) < 0.05 ? (Math.abs(Number(value)) < 0.005 ? 3 : 2) : 1;
  const rounded = Number(Number(value).toFixed(small));
  if (rounded === 0) return '0.0 dB';
  return `${rounded < 0 ? '\u2212' : '+'}${Math.abs(rounded).toFixed(small)} dB`;
}

// "steady becomes shaky (+1.2 dB to \u22120.04 dB)". On the way zeros are left out.
export function harmText(harm) {
  const [before, after] = [verdict(harm.before)[1], verdict(harm.after)[1]];
  const words = before === after ? `${after} as it was, with less left` : `${before} becomes ${after}`;
  if (harm.after === 'control_at_risk') return words;
  return `${words} (${dbText(harm.margin_before_db || 0)} to ${dbText(harm.margin_after_db || 0)})`;
}

const verdicts = {
  control_at_risk: ['\u26A0', 'control at risk', 'bad'],
  steady: ['\u25CF', 'steady', 'good'],
  tight: ['\u25D0', 'tight', 'fair'],
  shaky: ['\u25B2', 'shaky', 'bad'],
  clash: ['\u2716', 'clash', 'bad'],
  patchy: ['\u25D4', 'patchy', 'fair'],
  too_close: ['\u21E4', 'too close', 'fair'],
  too_far: ['\u21E5', 'too far', 'fair'],
  no_picture: ['\u25CB', 'no picture', 'none'],
};
// A sign, a word and a look: never one of them alone.
export const verdict = (word) => verdicts[word] || ['', '', 'none'];

const stages = {
  held: (power) => `holds it for ${power}, not switched on`,
  bench: (power) => `on the bench at ${power}`,
  on_air: (power) => `on the air at ${power}`,
  told_on: (power) => `told to switch on at ${power}`,
  off_air: (power) => `off the air, holds it for ${power}`,
  down: (power) => `down, perhaps still radiating ${power}`,
};
export function stageText(row) {
  if (row.is_sighting) return `seen, unasked; taken to send ${powerText(row.power_dbm)}`;
  return stages[row.stage] ? stages[row.stage](powerText(row.power_dbm)) : 'holds nothing';
}

export const radiates = (row) => ['on_air', 'told_on', 'bench', 'down'].includes(row.stage);

// Longer in the air than is usual: perhaps landed, and nobody said so.
export const isLong = (row) => row.stage === 'on_air' && Number(row.usual_minutes) > 0 &&
  nowMs() - Number(row.since_ms) > Number(row.usual_minutes) * 60000;

export function clockText(ms) {
  const t = new Date(Number(ms));
  const two = (n) => String(n).padStart(2, '0');
  return `${two(t.getHours())}:${two(t.getMinutes())}`;
}

export function ageText(ms) {
  const s = Math.max(0, Math.round(ms / 1000));
  if (s < 100) return `${s} s`;
  if (s < 6000) return `${Math.round(s / 60)} min`;
  return `${Math.floor(s / 3600)} h ${Math.round((s % 3600) / 60)} min`;
}

// "about 88 %", as the server writes it.
export function shareText(share) {
  const percent = Math.round(100 * Number(share));
  if (percent >= 100) return 'nearly all';
  return percent < 1 ? 'next to nothing' : `about ${percent} %`;
}

export function resultText(result) {
  if (result && result.verdict === 'control_at_risk') return result.reason || '';
  if (!result || result.verdict === 'no_picture' || result.margin_ref_db === undefined) return '';
  // A share of nothing is not sent.
  const alone = Number(result.share_alone || 0) - Number(result.share || 0) >= 0.01
    ? `, alone ${shareText(result.share_alone)}` : '';
  return `picture in ${shareText(result.share || 0)} of the flight${alone}; margin ${dbText(result.margin_ref_db)}, ${dbText(result.margin_worst_db)} at worst, picture ${result.picture || 'unknown'}`;
}

// "2 x Ann - Ben", "Ann + Ben - Cem", "Ann".
export function makersText(c) {
  const from = c.from || [];
  if (from.length === 3) return `${from[0]} + ${from[1]} \u2212 ${from[2]}`;
  return from.length === 2 ? `2 \u00D7 ${from[0]} \u2212 ${from[1]}` : from.join('');
}

// A refusal in one line, as the command line says it.
export const refusalText = (r) => [r.where, r.why].filter(Boolean).join(': ');

// What is held to be quiet for two minutes is said to be.
const quietMs = 120000;
export function notes(row) {
  const all = [];
  if (row.unasked && !row.is_sighting) all.push('unasked');
  if (row.unconfirmed) all.push('not confirmed');
  if (isLong(row)) all.push('still flying?');
  if (row.allowed_because) all.push(`allowed because ${row.allowed_because}`);
  if (row.note) all.push(row.note);
  if (row.group) all.push(`group ${row.group}`);
  if (row.heard_from_ms !== undefined) {
    const last = Number(row.heard_from_ms);
    if (last === 0) all.push('not heard from since the server started');
    else if (nowMs() - last >= quietMs) all.push(`not heard from for ${ageText(nowMs() - last)}`);
  }
  return all.join('; ');
}
