// Everybody: who is where, on what, how well.

import {notes, stageText, radiates, clockText, ageText, nowMs, channelText} from './words.js';
import {button, dialog, el, peg, refill, sayRefusal, verdictMark} from './parts.js';
import {done} from './claims.js';
import {why} from './why.js';

const ranks = {on_air: 0, told_on: 0, down: 0, bench: 1, held: 2, off_air: 2};
const rank = (row) => (row.is_sighting ? 0 : ranks[row.stage] ?? 3);

// What radiates first, by frequency; then what is held; then the rest.
export const ordered = (rows) => rows.slice().sort((a, b) =>
  rank(a) - rank(b) || Number(a.channel?.mhz || 0) - Number(b.channel?.mhz || 0));

function line(ctx, row) {
  const about = notes(row);
  return el('li', {class: row.is_sighting ? 'sighting' : row.stage || 'empty', 'data-of': row.transmitter},
    peg(row),
    el('div', {},
      el('h3', {}, row.is_sighting ? 'Somebody unknown' : row.transmitter, row.is_relay ? el('span', {class: 'small'}, ` (relay of ${row.owner})`) : ''),
      el('p', {}, stageText(row),
        radiates(row) && Number(row.since_ms) ? ` since ${clockText(row.since_ms)}${row.stage === 'on_air' && !row.is_sighting ? `, ${ageText(nowMs() - Number(row.since_ms))}` : ''}` : ''),
      row.stage === 'on_air' && row.result ? verdictMark(row.result) : null,
      about ? el('p', {class: 'small'}, about) : null,
      el('div', {class: 'row'},
        row.stage === 'on_air' && row.result ? button('Why?', () => why(ctx, row), 'plain') : null,
        ctx.isMarshal() && !row.is_sighting ? button(`Act for ${row.owner || row.transmitter}`, () => ctx.actFor(row.owner || row.transmitter), 'plain') : null,
        ctx.isMarshal() && !row.is_sighting && radiates(row) && row.stage !== 'down' ? button(`${row.transmitter} is off`, () => seenOff(ctx, row), 'plain') : null,
        ctx.me && row.stage === 'down' && !row.is_relay ? button('Find it', () => search(ctx, row), 'plain') : null,
        ctx.isMarshal() && row.is_sighting ? button('It is gone', () => ctx.unsee(row), 'plain') : null)));
}

// Whether anybody may switch on now, and who.
export function turnText(board) {
  if (board.closed) return `The field is closed: ${board.closed.because}.${board.closed.now ? ' Land now.' : ''}`;
  return board.flying_group ? `Group ${board.flying_group} flies.` : '';
}

// The marshal has seen it: a tap, which may be taken back for a moment.
const undoMs = 6000;
async function seenOff(ctx, row) {
  const reply = await done(ctx, {off: {transmitter: row.transmitter, undoable: true}});
  if (!reply) return;
  if (reply.switched?.refusal) return sayRefusal(reply.switched.refusal);
  ctx.undo = {name: row.transmitter, bench: row.stage === 'bench', untilMs: nowMs() + undoMs};
  ctx.redraw();
  setTimeout(() => ctx.redraw(), undoMs + 100);
}

function undoing(ctx) {
  if (!ctx.undo || ctx.undo.untilMs <= nowMs()) return null;
  const {name, bench} = ctx.undo;
  return el('p', {class: 'answer', 'data-of': 'undo'}, `${name} is off. `,
    button('Undo', () => { ctx.undo = null; done(ctx, {on: {transmitter: name, already: true, bench}}); }, 'strong'));
}

// Who has to be silent so that one that is down is heard, and that somebody walks out to it.
async function search(ctx, row) {
  const answer = await ctx.line.ask({find: {transmitter: row.transmitter}});
  if (answer.refusal) return sayRefusal(answer.refusal);
  const f = answer.find;
  const walks = (ctx.board.searches || []).some((one) => one.transmitter === row.transmitter);
  const walk = (isBack) => { box.close(); return done(ctx, {walk: {transmitter: row.transmitter, is_back: isBack}}); };
  const box = dialog(`To find ${row.transmitter}`,
    f.lies ? el('p', {class: 'big'}, `Seen last: ${f.lies}.`) : null,
    el('p', {class: 'big'}, (f.silent || []).length ? `Silent while somebody walks: ${f.silent.join(', ')}.` : 'Nobody has to be silent.'),
    el('p', {}, f.is_heard ? `Then tune to ${channelText(f.channel)}: what is less than snow is ${row.transmitter}, and it grows as you come nearer.`
      : `It is too weak to be heard from the middle of ${f.area} even then: begin where it was seen last.`),
    (f.flies_there || []).length ? el('p', {class: 'answer stop'}, el('strong', {}, `In the air there: ${f.flies_there.join(', ')}`)) : null,
    ctx.mayAct() ? button(walks ? 'They are back on the line' : 'Somebody walks out now', () => walk(walks), 'strong wide') : null);
  return box;
}

// What else there is to know before anybody flies.
function news(board) {
  const all = (board.searches || []).map((one) => `Somebody walks out to ${one.transmitter}: nobody flies there.`);
  if (Number(board.restarted_ms || 0)) all.unshift(`The server was started anew at ${clockText(board.restarted_ms)}: what is on the air is as of then, until it is confirmed.`);
  return all.map((text) => el('p', {class: 'answer stop', 'data-of': 'news'}, el('strong', {}, text)));
}

function inLine(ctx) {
  const line = ctx.board.line || [];
  if (!line.length) return null;
  return el('div', {}, el('h3', {}, 'In the line'), el('ol', {'data-of': 'line'}, ...line.map((one, i) => el('li', {},
    `${one.transmitter}, ${channelText(one.channel)}: ${Number(one.called_until_ms || 0) > nowMs() ? 'called' : (one.wait_for || []).length ? `waits for ${one.wait_for.join(', ')}` : 'waits'}`,
    ctx.isMarshal() && i > 0 ? button(`${one.transmitter} first`, () => done(ctx, {move_in_line: {transmitter: one.transmitter, place: 1}}), 'plain') : null))));
}

export function everybody(ctx, node) {
  const rows = ordered(ctx.rows());
  // Who has a part of their own reads there that the field is closed.
  const turn = ctx.board.closed && ctx.me && !ctx.isMarshal() ? '' : turnText(ctx.board);
  refill(node,
    el('h2', {id: 'everybody-title'}, 'Everybody'),
    turn ? el('p', {class: ctx.board.closed ? 'answer stop' : 'big', 'data-of': 'turn'}, el('strong', {}, turn)) : null,
    undoing(ctx), ...news(ctx.board), inLine(ctx),
    rows.length ? el('ul', {class: 'pegboard'}, ...rows.map((row) => line(ctx, row))) : el('p', {}, 'Nobody is on this day yet.'),
    el('p', {class: 'small'}, 'Margins count what is on the air or the bench now.'));
}
