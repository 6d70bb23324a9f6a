// Everybody: who is where, on what, how well.

import {notes, stageText, radiates, clockText} from './words.js';
import {button, el, peg, refill, verdictMark} from './parts.js';
import {why} from './why.js';

const ranks = {on_air: 0, down: 0, bench: 1, held: 2, off_air: 2};
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
        radiates(row) && Number(row.since_ms) ? ` since ${clockText(row.since_ms)}` : ''),
      row.stage === 'on_air' && row.result ? verdictMark(row.result) : null,
      about ? el('p', {class: 'small'}, about) : null,
      el('div', {class: 'row'},
        row.stage === 'on_air' && row.result ? button('Why?', () => why(ctx, row), 'plain') : null,
        ctx.isMarshal() && !row.is_sighting ? button(`Act for ${row.owner || row.transmitter}`, () => ctx.actFor(row.owner || row.transmitter), 'plain') : null,
        ctx.isMarshal() && row.is_sighting ? button('It is gone', () => ctx.unsee(row), 'plain') : null)));
}

// Whether anybody may switch on now, and who.
export function turnText(board) {
  if (board.closed) return `The field is closed: ${board.closed.because}.${board.closed.now ? ' Land now.' : ''}`;
  return board.flying_group ? `Group ${board.flying_group} flies.` : '';
}

export function everybody(ctx, node) {
  const rows = ordered(ctx.rows());
  // Who has a part of their own reads there that the field is closed.
  const turn = ctx.board.closed && ctx.me && !ctx.isMarshal() ? '' : turnText(ctx.board);
  refill(node,
    el('h2', {id: 'everybody-title'}, 'Everybody'),
    turn ? el('p', {class: ctx.board.closed ? 'answer stop' : 'big', 'data-of': 'turn'}, el('strong', {}, turn)) : null,
    rows.length ? el('ul', {class: 'pegboard'}, ...rows.map((row) => line(ctx, row))) : el('p', {}, 'Nobody is on this day yet.'),
    el('p', {class: 'small'}, 'Margins count what is on the air or the bench now.'));
}
