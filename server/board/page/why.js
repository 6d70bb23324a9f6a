// Why somebody stands as they do: the terms, strongest first.

import {makersText} from './words.js';
import {dialog, el, sayRefusal} from './parts.js';

export async function why(ctx, row) {
  const answer = await ctx.line.ask({explain: {pilot: row.owner || row.transmitter, basis: 'on_air', contributions: 6}});
  if (answer.refusal) return sayRefusal(answer.refusal);
  const parts = [];
  for (const r of answer.explain.receivers || []) {
    const result = r.result || {};
    const ref = r.ref;
    parts.push(el('h3', {}, `${result.relay ? `${result.relay}, ` : ''}${result.receiver || 'receiver'}: ${result.reason || ''}`));
    if (!ref) continue;
    const terms = (ref.contributions || []).map((c) =>
      el('li', {}, `${makersText(c)}: ${Number(c.level_dbm || 0).toFixed(1)} dBm, ${kinds[c.kind] || ''}`));
    parts.push(el('p', {}, `Wanted ${num(ref.wanted_dbm)} dBm, noise ${num(ref.noise_dbm)} dBm, it needs ${num(r.required_watchable_db)} dB.`),
      terms.length ? el('ol', {}, ...terms) : el('p', {}, 'Nobody disturbs it.'));
  }
  dialog(`Why ${answer.explain.pilot ? answer.explain.pilot.pilot : row.owner} stands so`,
    parts.length ? parts : el('p', {}, 'Nothing of theirs is received now.'),
    el('p', {class: 'small'}, 'Estimates from declared gear and places are no causes.'));
}

const kinds = {
  co_channel: 'same channel', adjacent: 'adjacent channel',
  receiver_product: 'product in the receiver', transmitter_product: 'product in a transmitter',
};
const num = (x) => Number(x || 0).toFixed(1);
