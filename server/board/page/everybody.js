// Everybody: who flies, trouble first; who is next hangs from the rule of their group.

import {button, el, heading, link, links} from './nodes.js';
import {listed, t} from './texts.js';
import {clockText, mhzText, minutesText, nowMs, pegText} from './figures.js';
import {page} from './page.js';
import {flies, inOrder, isInTrouble, verdictOf} from './standing.js';
import {pegOf, sign} from './pegs.js';
import {openPerson} from './person.js';
import {foot} from './foot.js';

// A list re-sorts only at rest: 10 s after the last touch or scroll.
let order = [], touchedMs = 0;
const restMs = 10000;
for (const type of ['pointerdown', 'scroll', 'keydown']) addEventListener(type, () => { touchedMs = Date.now(); }, {passive: true, capture: true});
const isAtRest = () => Date.now() - touchedMs > restMs;

function settled(rows) {
  const sorted = inOrder(rows), names = sorted.map((r) => r.transmitter);
  const isSame = names.length === order.length && names.every((n) => order.includes(n));
  if (isAtRest() || !isSame) order = names;
  const shown = order.map((name) => rows.find((r) => r.transmitter === name)).filter(Boolean);
  return {shown, moved: names.filter((name, i) => order[i] !== name).length};
}

function state(r) {
  if (r.is_sighting) return [sign('none'), t('seen')];
  if (r.stage === 'told_on') return [sign('none'), t('about.to')];
  if (r.unconfirmed) return [sign('none'), t('perhaps')];
  if (r.stage === 'down') return [sign('clash'), t('down.short')];
  if (r.is_relay) return [sign('none'), t('relay')];
  const verdict = r.result?.verdict || 'none';
  return [sign(verdict), t(`verdict.${verdict}`)];
}

const nameOf = (r) => (r.is_sighting ? t('somebody') : r.transmitter);

export function flyingRow(r, act = openPerson) {
  const verdict = verdictOf(r);
  const time = Number(r.since_ms) ? minutesText(r.since_ms) : '';
  return el(`li${isInTrouble(r) ? '.bad' : ''}`, {'data-of': r.transmitter}, el('button', {type: 'button', onclick: () => act(r)}, pegOf(r),
    el('span.unseen', {}, `${pegText(r.channel)} ${r.channel?.mhz ? mhzText(r.channel.mhz) : ''} MHz `), el('span.name', {}, nameOf(r)), ' ',
    el('span.min.num', {}, time), ' ', el(`span.v.${verdict === 'none' ? 'idle' : verdict}`, {}, state(r))));
}

// Who does not fly, four to a line.
export const hung = (rows, act = openPerson) => el('ul.hung', {}, rows.map((r) => el('li', {'data-of': r.transmitter},
  el('button', {type: 'button', onclick: () => act(r)}, pegOf(r), el('span.unseen', {}, t(`stage.${r.stage || 'none'}`), ' '), el('span', {}, r.transmitter)))));

// Whether anybody may switch on now, in one line.
function news() {
  const {board} = page;
  const lines = [];
  if (board.closed) lines.push(t(board.closed.now ? 'news.land' : 'news.closed', {why: board.closed.because}));
  if (Number(board.restarted_ms || 0)) lines.push(t('news.restarted', {at: clockText(board.restarted_ms)}));
  for (const one of board.searches || []) lines.push(t('news.walk', {who: one.transmitter}));
  return lines.map((words, i) => el('p.news', {'data-of': `news${i}`}, words));
}

function inLine() {
  const line = page.board.line || [];
  if (!line.length) return null;
  const words = (one) => (Number(one.called_until_ms || 0) > nowMs() ? t('line.called') : (one.wait_for || []).length ? t('line.waits', {who: listed(one.wait_for)}) : t('line.next'));
  return el('section', {'data-of': 'line'}, heading(t('line'), t('line.n', {n: line.length})), el('ol.rows.line', {}, line.map((one, i) => el('li', {'data-of': one.transmitter},
    el('span.num', {}, String(i + 1)), el('span.name', {}, one.transmitter), el('span', {}, `${pegText(one.channel)}: ${words(one)}`),
    page.isMarshal() && i > 0 ? button(t('line.first'), () => page.done({move_in_line: {transmitter: one.transmitter, place: 1}}), 'small') : null))));
}

function flyingPart(rows) {
  const group = Number(page.board.flying_group || 0);
  const own = page.aircraft();
  const others = rows.filter((r) => flies(r) && r !== own);
  const {shown, moved} = settled(others);
  const isIn = own && ['on_air', 'told_on'].includes(own.stage);
  const crafts = others.filter((r) => !r.is_relay && !r.is_sighting && r.stage !== 'down').length;
  const since = Number(page.board.flying_since_ms || 0) ? `${minutesText(page.board.flying_since_ms)}, ` : '';
  const bad = shown.filter(isInTrouble).length;
  const aside = `${since}${t(isIn ? 'flying.and.you' : 'flying.n', {n: crafts})}${bad ? `, ${t('trouble.n', {n: bad})}` : ''}`;
  return [heading(group ? t('flying.group', {n: group}) : t('flying'), aside),
    moved > 1 && !isAtRest() ? link(t('moved', {n: moved}), () => { touchedMs = 0; page.redraw(); }, {class: 'moved'}) : null,
    shown.length ? el('ul.rows', {id: 'flying'}, shown.map((r) => flyingRow(r))) : el('p', {}, t('flying.nobody'))];
}

// The groups after the one that flies, in turn; who has none comes last.
function restPart(rows) {
  const rest = rows.filter((r) => !flies(r) && r !== page.aircraft());
  const flying = Number(page.board.flying_group || 0);
  const groups = [...new Set(rest.map((r) => Number(r.group || 0)))];
  const turn = (g) => (g === 0 ? 1000 : g === flying ? -1 : g > flying ? g : g + 500);
  groups.sort((a, b) => turn(a) - turn(b));
  let n = 0;
  return groups.map((g) => {
    const here = rest.filter((r) => Number(r.group || 0) === g);
    const title = g === 0 ? t('group.none') : g === flying ? t('group.also', {n: g}) : t(n++ ? 'group.then' : 'group.next', {n: g});
    return [heading(title, asideOf(here)), hung(here)];
  });
}
function asideOf(rows) {
  const bench = rows.filter((r) => r.stage === 'bench').map((r) => r.transmitter), none = rows.filter((r) => !r.channel?.mhz).map((r) => r.transmitter);
  if (bench.length) return t('on.bench', {who: listed(bench.slice(0, 2)), n: bench.length});
  return none.length && none.length <= 2 ? t('no.peg', {who: listed(none), n: none.length}) : null;
}

// isBeside: on the right of another view, which has the foot.
export function everybody(isBeside = false) {
  const rows = page.rows();
  return [el('h2.unseen', {}, t('everybody')), news(), rows.length ? flyingPart(rows) : el('p', {}, t('nobody.yet')), inLine(), restPart(rows),
    links(page.mayAct() && page.isLive && !page.board.closed?.now ? link(t('danger'), () => page.closing()) : null, link(t('report'), () => page.openPaper('report')), link(t('pegs'), () => page.openPaper('pegs'))), isBeside ? null : foot()];
}
