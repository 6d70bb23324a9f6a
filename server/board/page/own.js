// What somebody sees of their own: a card for each transmitter, and what may be done with it now.

import {channelText, powerText, stageText, verdict, resultText, nowMs, clockText, radiates, ageText, notes,
  dbText} from './words.js';
import {button, channelOptions, channelsOf, dialog, el, field, harmList, holdButton, peg, refused, sayRefusal,
  select, verdictMark} from './parts.js';
import {relayDialog} from './relay.js';

const usualPowers = [14, 20, 23, 26];

// Answers that still hold: a yes for its minute, a no until it is asked again.
export class Answers {
  constructor() {
    this.all = new Map();
  }
  // `version`: of the day that the answer left behind; a board older than that says nothing of it.
  put(name, switched, version) {
    this.all.set(name, {...switched, version: Number(version || 0)});
  }
  of(row, board) {
    const one = this.all.get(row.transmitter);
    if (!one || Number(board.version || 0) < one.version) return one || null;
    const yes = one.answer === 'switch_on';
    const over = yes ? Number(one.valid_until_ms) <= nowMs() || !radiates(row) : row.stage !== 'held' && row.stage !== 'off_air';
    if (!over) return one;
    this.all.delete(row.transmitter);
    return null;
  }
  forget(name) {
    this.all.delete(name);
  }
  // The connection was lost: no yes holds any more. The names of those that were void.
  voidAll() {
    const gone = [...this.all].filter(([, one]) => one.answer === 'switch_on').map(([name]) => name);
    this.all.clear();
    return gone;
  }
}

// Sends and shows what came of it; true if it was done.
export async function done(ctx, command) {
  const reply = await ctx.line.tell(command);
  if (reply.refusal) {
    sayRefusal(reply.refusal);
    return null;
  }
  return reply;
}

async function switchOn(ctx, row, extra) {
  const reply = await done(ctx, {on: {transmitter: row.transmitter, ...extra}});
  if (!reply || !reply.switched) return;
  ctx.answers.put(row.transmitter, reply.switched, reply.version);
  ctx.redraw();
}

async function switchOff(ctx, row, extra) {
  ctx.answers.forget(row.transmitter);
  const reply = await done(ctx, {off: {transmitter: row.transmitter, ...extra}});
  const refusal = reply && reply.switched && reply.switched.refusal;
  if (!refusal) return;
  const asked = dialog('Think first', ...refused(refusal), el('div', {class: 'row'},
    button('Off all the same', () => { asked.close(); switchOff(ctx, row, {...extra, yes_anyway: true}); }, 'strong'),
    button('Leave it on', () => asked.close())));
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
  all.push(...harmList('Who would suffer', reply.harms));
  if ((reply.alternatives || []).length) {
    all.push(el('h3', {}, 'Nearest good alternatives'));
    all.push(el('ul', {class: 'choices'}, ...reply.alternatives.map((a) => el('li', {}, button(
      `Take ${channelText(a.channel)} at ${powerText(a.power_dbm)}: ${verdict(a.verdict)[1]} ${dbText(a.margin_ref_db)}`,
      () => again({channel: a.channel, power_dbm: a.power_dbm, only_try: false}), 'wide')))));
  }
  for (const r of reply.remarks || []) all.push(el('p', {class: 'small'}, `Remark of the rule set: ${r.text}`));
  if (onlyOwn) all.push(button('Hold it all the same', () => again({yes_anyway: true, only_try: false})));
  if (reply.refusal && !onlyOwn && ctx.isMarshal()) all.push(...allowing((why) => again({allowed_because: why, only_try: false})));
  if (reply.claimed) all.push(el('p', {}, 'Holding a channel is not switching on: ask first.'));
  return all;
}

// The marshal may let others pay for it, with a reason that stays in the log.
function allowing(act) {
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

async function choose(ctx, row) {
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

// A fact: it is on already, whoever was asked.
function already(ctx, row) {
  const box = dialog(`${row.transmitter} is on already?`,
    el('p', {}, 'It is recorded as a fact and counts for everybody at once. Nobody is blamed by this page.'),
    el('div', {class: 'row'},
      button('It is on the air', () => { box.close(); switchOn(ctx, row, {already: true}); }, 'strong'),
      button('It is on the bench', () => { box.close(); switchOn(ctx, row, {already: true, bench: true}); })));
}

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
      el('li', {}, `${(c.from || []).join(' and ')}: ${Number(c.level_dbm || 0).toFixed(1)} dBm, ${kinds[c.kind] || ''}`));
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

function answerPart(ctx, row, answer) {
  if (answer.answer === 'switch_on') {
    const left = Math.max(0, Math.round((Number(answer.valid_until_ms) - nowMs()) / 1000));
    return [el('p', {class: 'answer go'}, el('strong', {}, 'Switch on now'), el('span', {class: 'count', 'data-until': answer.valid_until_ms}, `${left} s`)),
      el('p', {class: 'big'}, `First ${answer.look}`),
      el('p', {}, 'About channels only: it does not clear you to launch.')];
  }
  const names = answer.wait_for || [];
  const waits = answer.answer === 'wait';
  return [
    el('p', {class: 'answer stop'}, el('strong', {}, waits ? `Wait for ${names.join(', ')}` : 'Ask the marshal')),
    el('p', {}, 'Do not switch on.'),
    ...(answer.refusal ? refused(answer.refusal) : []),
    ...harmList('In the air, and would suffer', answer.harms),
    waits ? null : button('Switch on all the same: only my own picture suffers', () => switchOn(ctx, row, {yes_anyway: true}), 'wide'),
    ...(waits && ctx.isMarshal() ? allowing((reason) => switchOn(ctx, row, {allowed_because: reason})) : [])];
}

// What may be done with a transmitter as it stands, the likeliest first.
function actions(ctx, row) {
  if (!ctx.mayAct()) return [];
  const askOn = button('May I switch on?', () => switchOn(ctx, row, {}), 'strong wide');
  const off = holdButton('Hold to say: it is off', () => switchOff(ctx, row, {}), 'wide');
  const more = (...buttons) => el('details', {'data-of': row.transmitter}, el('summary', {}, 'More'), el('div', {class: 'row'}, ...buttons));
  const give = button('Give the channel back', () => done(ctx, {release: {transmitter: row.transmitter}}));
  const other = button(row.channel ? 'Another channel or power' : 'Choose a channel', () => choose(ctx, row), row.channel ? '' : 'wide');
  const best = button(row.channel ? 'The best one for me now' : 'Give me the best channel', () => claim(ctx, row, {}), row.channel ? '' : 'strong wide');
  const check = row.is_relay ? button('Check the relay', () => relayDialog(ctx, row), 'wide') : null;
  const itIsOn = button('It is on already', () => already(ctx, row));
  switch (row.stage) {
    case 'on_air':
      return [off, check, more(button('It is down: crashed or lost', () => switchOff(ctx, row, {down: true})), other)];
    case 'bench':
      return [askOn, off, check];
    case 'down':
      return [holdButton('Hold to say: it is silent', () => switchOff(ctx, row, {silent: true}), 'wide')];
    case 'held':
    case 'off_air':
      return [askOn, check, more(button('Switch on on the bench', () => switchOn(ctx, row, {bench: true})), other, best, give, itIsOn)];
    default:
      return [best, other, check, more(itIsOn)];
  }
}

export function card(ctx, row) {
  const answer = ctx.answers.of(row, ctx.board);
  const since = Number(row.since_ms || 0);
  return el('article', {class: `card ${row.stage || 'empty'}`, 'data-of': row.transmitter},
    el('div', {class: 'top'}, peg(row),
      el('div', {},
        el('h3', {}, row.transmitter),
        el('p', {class: 'stage'}, stageText(row),
          since && radiates(row) ? el('span', {class: 'small'}, ` since ${clockText(since)}, ${ageText(nowMs() - since)}`) : ''),
        row.stage === 'on_air' || row.is_relay ? verdictMark(row.result) : null,
        notes(row) ? el('p', {class: 'small'}, notes(row)) : null)),
    answer ? answerPart(ctx, row, answer) : null,
    actions(ctx, row),
    row.stage === 'on_air' && !row.is_relay ? button('Why?', () => why(ctx, row), 'plain') : null);
}
