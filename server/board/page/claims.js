// Claims: asked for, refused with reasons, held all the same.

import {channelText, powerText, verdict, resultText, dbText} from './words.js';
import {button, channelOptions, channelsOf, dialog, el, field, harmList, linksLost, refused, sayRefusal, select} from './parts.js';

const usualPowers = [14, 20, 23, 26];

// Sends a command; the reply, or null after showing why there is none.
export async function done(ctx, command) {
  const reply = await ctx.line.send(command);
  if (reply.refusal) {
    sayRefusal(reply.refusal);
    return null;
  }
  return reply;
}

// What a claim came to, with what can be done next. `again(changes)` asks once more.
function claimResult(ctx, reply, again) {
  const own = reply.own;
  const [sign, word] = verdict(own && own.verdict);
  const onlyOwn = reply.refusal && !(reply.harms || []).length;
  const all = [];
  if (reply.claimed) all.push(el('p', {class: 'big'}, `${reply.transmitter} holds ${channelText(reply.channel)} at ${powerText(reply.power_dbm)}.`));
  else if (!reply.refusal) all.push(el('p', {class: 'big'}, `${channelText(reply.channel)} at ${powerText(reply.power_dbm)} would fit.`));
  else all.push(...refused(reply.refusal));
  if (word) all.push(el('p', {}, `${sign} ${word}: ${resultText(own)}${reply.reason ? ` (${reply.reason})` : ''}`));
  all.push(...harmList('Who would suffer', reply.harms), ...linksLost(reply.links_lost));
  if ((reply.alternatives || []).length) {
    all.push(el('h3', {}, 'Nearest good alternatives'));
    all.push(el('ul', {class: 'choices'}, ...reply.alternatives.map((a) => el('li', {}, button(
      `Take ${channelText(a.channel)} at ${powerText(a.power_dbm)}: ${verdict(a.verdict)[1]} ${dbText(a.margin_ref_db || 0)}`,
      () => again({channel: a.channel, power_dbm: a.power_dbm, only_try: false}), 'wide')))));
  }
  for (const r of reply.remarks || []) all.push(el('p', {class: 'small'}, `Remark of the rule set: ${r.text}`));
  if (onlyOwn) all.push(button('Hold it all the same', () => again({yes_anyway: true, only_try: false})));
  if (reply.refusal && !onlyOwn && ctx.isMarshal()) all.push(...allowing((why) => again({allowed_because: why, only_try: false})));
  if (reply.claimed) all.push(el('p', {}, 'Holding a channel is not switching on: ask first.'));
  return all;
}

// The marshal may let others pay for it, with a reason that stays in the log.
export function allowing(act) {
  const why = el('input', {maxlength: 200, autocomplete: 'off'});
  return [field('Allow it, because', why),
    button('Allow', () => { if (why.value.trim()) act(why.value.trim()); else why.focus(); }, 'strong')];
}

export async function claim(ctx, row, what) {
  const asked = {transmitter: row.transmitter, ...what};
  const reply = await done(ctx, {claim: asked});
  if (!reply || !reply.claim) return;
  const box = dialog(reply.claim.claimed ? 'It is held' : reply.claim.refusal ? 'That was refused' : 'A try: nothing was changed',
    ...claimResult(ctx, reply.claim, (changes) => {
      box.close();
      claim(ctx, row, {channel: reply.claim.channel, power_dbm: reply.claim.power_dbm, ...what, ...changes});
    }));
}

async function gearOf(ctx, row) {
  const sheet = await ctx.sheet();
  if (!sheet) return null;
  const gear = row.is_relay
    ? (sheet.relays || []).find((r) => r.name === row.transmitter)?.transmitter
    : (sheet.pilots || []).find((p) => p.name === row.transmitter)?.video;
  return {sheet, gear};
}

export async function choose(ctx, row) {
  const found = await gearOf(ctx, row);
  if (!found) return;
  const channels = channelsOf(found.gear, found.sheet);
  const powers = found.gear && found.gear.power_dbm && found.gear.power_dbm.length ? found.gear.power_dbm : usualPowers;
  const channel = select(channelOptions(channels), row.channel && row.channel.mhz, {});
  const power = select(powers.map((p) => [p, powerText(p)]), row.power_dbm, {});
  const ask = (only_try) => {
    box.close();
    claim(ctx, row, {channel: channels.find((c) => String(c.mhz) === channel.value), power_dbm: Number(power.value), only_try});
  };
  const box = dialog(`A channel for ${row.transmitter}`, field('Channel', channel), field('Power', power),
    el('div', {class: 'row'}, button('Would it fit?', () => ask(true)), button('Hold it', () => ask(false), 'strong')));
}
