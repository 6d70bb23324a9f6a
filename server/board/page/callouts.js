// What has to be called across the field: whom to shout at, what to do, then why.

import {listed, t} from './texts.js';
import {pegText, powerText} from './figures.js';
import {page} from './page.js';
import {isLost} from './standing.js';
import {showToast} from './shell.js';

const hidden = new Set();   // call-outs that were told, until the undo has passed
// Who it is about: each row of the board has its number.
export const pilotOf = (w) => page.rows().find((r) => !r.is_relay && !r.is_sighting && Number(r.owner_id || 0) === Number(w.pilot)) || null;
export const causeOf = (w) => page.rows().find((r) => Boolean(r.is_sighting) === Boolean(w.cause_is_sighting) && Number(r.id || 0) === Number(w.cause || 0)) || null;
export function causeName(w) {
  const row = causeOf(w);
  return row && !row.is_sighting ? row.transmitter : t('somebody');
}

// Whom to shout at, what to do, then why: what concerns two is one call.
function callOut(w) {
  const victim = pilotOf(w)?.transmitter || t('somebody'), cause = causeOf(w), what = causeName(w);
  const why = t(isLost(w.after) ? 'call.loses' : 'call.worse', {who: victim});
  const to = cause?.owner || what;
  if (w.kind === 'moved') return {to: victim, words: t('call.moved', {who: victim, channel: pegText(w.channel)})};
  if (w.kind === 'source_off') return {to: victim, words: t('call.source', {who: victim, what: spoken(cause)})};
  if (w.remedy === 'lower') return {to, words: `${t('call.lower', {who: to, what: spoken(cause), power: powerText(w.remedy_dbm)})} ${why}`};
  if (w.remedy === 'off') return {to, words: `${t('call.off', {who: to, what: spoken(cause)})} ${why}`};
  if (w.remedy === 'land_then_off') return {to, words: `${t('call.land', {who: to, what: spoken(cause)})} ${why}`};
  return {to: victim, words: t(isLost(w.after) ? 'call.victim.lost' : 'call.victim', {who: victim, what})};
}
const spoken = (row) => (row?.is_relay ? t('call.tripod') : t('call.craft'));

// What one cause does to several is one call, about the worst off, with the others' names behind.
export function callOuts() {
  const byCause = new Map();
  const worstFirst = (page.board.untold || []).filter((w) => !hidden.has(w.version)).sort((a, b) => Number(isLost(b.after)) - Number(isLost(a.after)));
  for (const w of worstFirst) {
    const name = w.kind === 'moved' ? `m${w.version}` : `${w.cause_is_sighting} ${w.cause} ${w.remedy}`;
    byCause.set(name, [...(byCause.get(name) || []), w]);
  }
  return [...byCause.values()].map(([w, ...more]) => {
    const one = callOut(w), others = more.map((m) => pilotOf(m)?.transmitter).filter(Boolean);
    return {w, all: [w, ...more], to: one.to, words: one.words, also: others.length ? t('call.also', {who: listed(others), n: others.length}) : ''};
  });
}

// Told, once the undo has passed.
export function told(one) {
  for (const w of one.all) hidden.add(w.version);
  const undo = () => { for (const w of one.all) hidden.delete(w.version); page.redraw(); };
  showToast(t('told.done', {who: one.to}), {undo, then: () => { for (const w of one.all) page.done({acknowledge_warning: {warning: w.version}}); }});
  page.redraw();
}

