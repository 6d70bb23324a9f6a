// What somebody sees of their own: a card for each transmitter, and what may be done with it now.

import {stageText, nowMs, clockText, radiates, ageText, notes, isLong, powerText} from './words.js';
import {announce, button, dialog, el, harmList, holdButton, linksLost, peg, refused, verdictMark} from './parts.js';
import {allowing, choose, claim, done} from './claims.js';
import {relayDialog} from './relay.js';
import {why} from './why.js';

// Answers that still hold, each for a minute: the air does not stay as it is.
const noHoldsMs = 60000;

export class Answers {
  constructor() {
    this.all = new Map();
  }
  // `version`: of the day that the answer left behind; a board older than that says nothing of it.
  put(name, switched, version) {
    const untilMs = Number(switched.valid_until_ms || 0) || nowMs() + noHoldsMs;
    this.all.set(name, {...switched, version: Number(version || 0), untilMs});
  }
  of(row, board) {
    const one = this.all.get(row.transmitter);
    if (!one) return null;
    const isKnown = Number(board.version || 0) >= one.version;
    const fits = one.answer === 'switch_on' ? radiates(row) : row.stage === 'held' || row.stage === 'off_air';
    if (one.untilMs > nowMs() && (fits || !isKnown)) return one;
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

async function switchOn(ctx, row, extra) {
  const reply = await done(ctx, {on: {transmitter: row.transmitter, ...extra}});
  if (!reply || !reply.switched) return;
  if (!answerText(reply.switched)) return;  // a fact that was noted: the board shows it
  if (reply.switched.answer === 'in_line') ctx.answers.forget(row.transmitter);  // the board shows the place
  else ctx.answers.put(row.transmitter, reply.switched, reply.version);
  announce(answerText(reply.switched));
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

// A fact: it is on already, whoever was asked.
function already(ctx, row) {
  const box = dialog(`${row.transmitter} is on already?`,
    el('p', {}, 'It is recorded as a fact and counts for everybody at once. Nobody is blamed by this page.'),
    el('div', {class: 'row'},
      button('It is on the air', () => { box.close(); switchOn(ctx, row, {already: true}); }, 'strong'),
      button('It is on the bench', () => { box.close(); switchOn(ctx, row, {already: true, bench: true}); })));
}

function answerText(answer) {
  switch (answer.answer) {
    case 'switch_on': return 'Switch on now';
    case 'wait': return `Wait for ${(answer.wait_for || []).join(', ')}`;
    case 'ask_marshal': return 'Ask the marshal';
    case 'in_line': return `You have place ${answer.place} in the line, and are called by name`;
    default: return '';
  }
}

function answerPart(ctx, row, answer) {
  if (answer.answer === 'switch_on') {
    const left = Math.max(0, Math.round((Number(answer.valid_until_ms) - nowMs()) / 1000));
    return [el('p', {class: 'answer go'}, el('strong', {}, answerText(answer)), el('span', {class: 'count', 'data-until': answer.valid_until_ms}, `${left} s`)),
      el('p', {class: 'big'}, `First ${answer.look}`),
      el('p', {}, 'About channels only: it does not clear you to launch.')];
  }
  const waits = answer.answer === 'wait';
  return [
    el('p', {class: 'answer stop'}, el('strong', {}, answerText(answer))),
    el('p', {}, 'Do not switch on.'),
    ...(answer.refusal ? refused(answer.refusal) : []),
    ...harmList('In the air, and would suffer', answer.harms), ...linksLost(answer.links_lost),
    button('Tell me when it is free', () => switchOn(ctx, row, {when_free: true}), 'strong wide'),
    waits ? null : button('Switch on all the same: only my own picture suffers', () => switchOn(ctx, row, {yes_anyway: true}), 'wide'),
    ...(waits && ctx.isMarshal() ? allowing((reason) => switchOn(ctx, row, {allowed_because: reason})) : [])];
}

// What may be done with a transmitter as it stands, the likeliest first.
function actions(ctx, row) {
  if (!ctx.mayAct()) return [];
  const askOn = button('May I switch on?', () => switchOn(ctx, row, {in_steps: true}), 'strong wide');
  const off = holdButton('Hold to say: it is off', () => switchOff(ctx, row, {}), 'wide');
  const more = (...buttons) => el('details', {'data-of': row.transmitter}, el('summary', {}, 'More'), el('div', {class: 'row'}, ...buttons));
  const give = button('Give the channel back', () => done(ctx, {release: {transmitter: row.transmitter}}));
  const other = button(row.channel ? 'Another channel or power' : 'Choose a channel', () => choose(ctx, row), row.channel ? '' : 'wide');
  const best = button(row.channel ? 'The best one for me now' : 'Give me the best channel', () => claim(ctx, row, {}), row.channel ? '' : 'strong wide');
  const check = row.is_relay ? button('Check the relay', () => relayDialog(ctx, row), 'wide') : null;
  const itIsOn = button('It is on already', () => already(ctx, row));
  // What was told to be on, or was when the server ended: nobody has said yet that it is.
  const confirm = [button('It is on', () => { ctx.answers.forget(row.transmitter); done(ctx, {on: {transmitter: row.transmitter, confirm: true}}); }, 'strong wide'),
    button('Not after all', () => { ctx.answers.forget(row.transmitter); done(ctx, {off: {transmitter: row.transmitter, not_after_all: true}}); }, 'wide')];
  if (row.stage === 'told_on') return confirm;
  if (row.unconfirmed) return [el('p', {class: 'big'}, 'Is it on?'), ...confirm];
  switch (row.stage) {
    case 'on_air':
      return [isLong(row) ? el('p', {class: 'big'}, 'Landed?') : null, off, check, more(button('It is down: crashed or lost', () => switchOff(ctx, row, {down: true})), other)];
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

// A place in the line, or that it is one's turn.
function place(ctx, row) {
  const line = ctx.board.line || [];
  const at = line.findIndex((one) => one.transmitter === row.transmitter);
  if (at < 0) return [];
  const one = line[at];
  const untilMs = Number(one.called_until_ms || 0);
  if (untilMs > nowMs())
    return [el('p', {class: 'answer go'}, el('strong', {}, 'Your turn'), el('span', {class: 'count', 'data-until': one.called_until_ms}, `${Math.max(0, Math.round((untilMs - nowMs()) / 1000))} s`)),
      el('p', {class: 'big'}, 'Look first, then ask.')];
  return [el('p', {class: 'big', 'data-of': 'line'}, `In the line: place ${at + 1} of ${line.length}.`),
    el('p', {}, (one.wait_for || []).length ? `Waits for ${one.wait_for.join(', ')}. You are called by name.` : 'You are called by name.'),
    ctx.mayAct() ? button('Leave the line', () => done(ctx, {leave_line: {transmitter: row.transmitter}}), 'plain') : null];
}

// What one of mine does to somebody else, and what I can do about it. Nothing for one who flies.
export function causes(ctx, rows) {
  const names = new Map(rows.map((row) => [row.owner || row.transmitter, row]));
  return (ctx.board.untold || []).map((w, i) => [w, (ctx.board.call_out_cause || [])[i] || ''])
    .filter(([, words]) => words && [...names.keys()].some((name) => words.startsWith(`${name}:`)))
    .map(([w, words]) => {
      const row = rows.find((r) => radiates(r) && r.channel && w.channel && r.channel.mhz === w.channel.mhz) || rows[0];
      const flies = w.remedy === 'land_then_off';
      return el('div', {class: 'alarm', 'data-of': `c${w.version}`},
        el('p', {}, el('span', {'aria-hidden': 'true'}, '\u26A0 '), el('strong', {}, words)),
        flies || !ctx.mayAct() ? null : el('div', {class: 'row'},
          w.remedy === 'lower' ? button(`It is down to ${powerText(w.remedy_dbm)} now`, () => done(ctx, {on: {transmitter: row.transmitter, already: true, power_dbm: w.remedy_dbm}})) : null,
          holdButton('Hold to say: it is off', () => switchOff(ctx, row, {}))));
    });
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
    ...place(ctx, row),
    actions(ctx, row),
    row.stage === 'on_air' && !row.is_relay ? button('Why?', () => why(ctx, row), 'plain') : null);
}
