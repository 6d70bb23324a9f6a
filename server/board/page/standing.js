// How somebody stands, in words: a verdict's sentence, who is close, what would happen.

import {t} from './texts.js';
import {nowMs, percent} from './figures.js';

export const radiates = (row) => ['on_air', 'told_on', 'bench', 'down'].includes(row?.stage);
// Told to be on, or on as far as anybody knows: is it?
export const isToConfirm = (row) => row?.stage === 'told_on' || Boolean(row?.unconfirmed);
export const isOff = (row) => ['held', 'off_air'].includes(row?.stage);

// Longer in the air than is usual: perhaps landed, and nobody said so.
export const isLong = (row) => row.stage === 'on_air' && Number(row.usual_minutes) > 0 &&
  nowMs() - Number(row.since_ms) > Number(row.usual_minutes) * 60000;

// The worst first.
const order = ['control_at_risk', 'clash', 'too_far', 'too_close', 'shaky', 'patchy', 'no_picture', 'tight', 'steady'];
export const trouble = (verdict) => { const i = order.indexOf(verdict); return i < 0 ? order.length : i; };
export const isTrouble = (verdict) => trouble(verdict) <= order.indexOf('patchy');
// What is in the air, as far as anybody knows.
export const flies = (row) => row.is_sighting || ['on_air', 'told_on', 'down'].includes(row.stage);
// How a row stands for whoever looks at all of them; `none`: nothing is reckoned of it, which is no trouble.
export const verdictOf = (row) => (row.stage === 'down' ? 'clash' : row.stage === 'on_air' && !row.is_relay && !row.is_sighting ? row.result?.verdict || 'none' : 'none');
const inPlace = (row) => (verdictOf(row) === 'none' ? 'steady' : verdictOf(row));
export const isInTrouble = (row) => isTrouble(inPlace(row));
// Trouble first, then who is longest in the air.
export const inOrder = (rows) => rows.slice().sort((a, b) => trouble(inPlace(a)) - trouble(inPlace(b)) || Number(a.since_ms || 0) - Number(b.since_ms || 0));

// One's own trouble, which one may accept oneself: as the server has it.
export const isOwnTrouble = (own) => ['control_at_risk', 'clash', 'shaky'].includes(own?.verdict);
// What is lost is worse than what breaks up.
export const isLost = (verdict) => ['control_at_risk', 'clash', 'too_far', 'no_picture'].includes(verdict);

export function sentence(result) {
  const verdict = result?.verdict;
  if (!verdict || verdict === 'unknown') return '';
  const values = {share: percent(result.share), alone: percent(result.share_alone)};
  const isCostly = Number(result.share_alone || 0) - Number(result.share || 0) >= 0.01;
  return t(`verdict.${verdict}.sentence`, {...values, isCostly});
}

// What somebody else would suffer, a sentence.
export function harmSentence(harm) {
  if (harm.after === 'control_at_risk') return t('harm.control', {who: harm.pilot});
  return t(isLost(harm.after) ? 'harm.lost' : 'harm.worse', {who: harm.pilot});
}
