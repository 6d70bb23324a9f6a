// How somebody stands, in words: a verdict's sentence, who is close, what would happen.

import {t} from './texts.js';
import {nowMs, percent} from './figures.js';

export const radiates = (row) => ['on_air', 'told_on', 'bench', 'down'].includes(row?.stage);
export const isOff = (row) => ['held', 'off_air'].includes(row?.stage);

// Longer in the air than is usual: perhaps landed, and nobody said so.
export const isLong = (row) => row.stage === 'on_air' && Number(row.usual_minutes) > 0 &&
  nowMs() - Number(row.since_ms) > Number(row.usual_minutes) * 60000;

// The worst first.
const order = ['control_at_risk', 'clash', 'too_far', 'too_close', 'shaky', 'patchy', 'no_picture', 'tight', 'steady'];
export const trouble = (verdict) => { const i = order.indexOf(verdict); return i < 0 ? order.length : i; };
export const isTrouble = (verdict) => trouble(verdict) <= order.indexOf('patchy');
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
