// The club's monitor: who flies, trouble first, what to call out, who is next, and the code to take part.

import {el, heading} from './nodes.js';
import {t} from './texts.js';
import {clockText, minutesText, nowMs, pegText, powerText} from './figures.js';
import {page} from './page.js';
import {flies, inOrder, isInTrouble, verdictOf} from './standing.js';
import {belowPeg, peg, pegLook, pegOf, sign} from './pegs.js';
import {dialFor} from './hearing.js';
import {callOuts} from './callouts.js';
import {groups} from './groups.js';

const words = (r) => (r.is_sighting ? t('seen') : r.stage === 'told_on' ? t('about.to') : r.stage === 'down' ? t('down.short') : r.is_relay ? t('relay') : t(`verdict.${verdictOf(r)}`));

// Over 15 no MHz, so that all have room.
function cell(r, isMany) {
  const verdict = verdictOf(r);
  return el(`li${isInTrouble(r) ? '.bad' : ''}`, {'data-of': r.transmitter}, peg(pegText(r.channel), pegLook(r), isMany ? '' : belowPeg(r)),
    el('div', {}, el('b', {}, r.is_sighting ? t('somebody.short') : r.transmitter), el(`span.${verdict}`, {}, sign(verdict), words(r)),
      el('small', {}, Number(r.since_ms) ? minutesText(r.since_ms) : powerText(r.power_dbm))));
}

const hung = (rows) => el('ul.hung', {}, rows.map((r) => el('li', {'data-of': r.transmitter}, el('div', {}, pegOf(r), el('span', {}, r.transmitter)))));

function nextParts(rows) {
  const now = Number(page.board.flying_group || 0);
  const all = groups().filter((g) => g !== now).sort((a, b) => (a < now) - (b < now) || a - b);
  const rest = (g) => rows.filter((r) => !flies(r) && Number(r.group || 0) === g);
  const parts = all.slice(0, 3).map((g, i) => [heading(t(i ? 'group.then' : 'group.next', {n: g})), hung(rest(g))]);
  const none = rows.filter((r) => !flies(r) && (!Number(r.group || 0) || Number(r.group) === now));
  return [parts, none.length ? [heading(t(now ? 'group.none' : 'not.flying')), hung(none)] : null];
}

export function big() {
  const {board} = page, rows = page.rows();
  const flying = inOrder(rows.filter(flies));
  const calls = callOuts(), group = Number(board.flying_group || 0);
  const call = board.closed ? t(board.closed.now ? 'news.land' : 'news.closed', {why: board.closed.because}) : calls[0]?.words;
  return [el('header.bigtop', {}, el('h1', {}, board.day || ''), el('p', {}, page.isLive ? group ? t('flying.group', {n: group}) : t('flying.n', {n: flying.length}) : t('old')), el('b.num', {}, clockText(nowMs()))),
    call ? el('p.bigcall', {'data-of': 'call'}, call) : null,
    el('section', {'data-of': 'flying'}, el('h2.unseen', {}, t('flying')), flying.length ? el(`ul.hang${flying.length > 15 ? '.many' : flying.length > 8 ? '.five' : ''}`, {}, flying.map((r) => cell(r, flying.length > 15))) : el('p.huge', {}, t('flying.nobody'))),
    el('aside.side', {'aria-label': t('group.coming')}, nextParts(rows), el('div.scan', {}, el('img.qr', {src: '/code.svg', alt: t('let.in.code')}), el('p', {}, t('big.scan')), el('p.small', {}, document.body.dataset.address))),
    el('section.bigdial', {'data-of': 'dial'}, heading(t('dial'), t('dial.line')), dialFor({row: null, picture: null, wide: 700}))];
}
