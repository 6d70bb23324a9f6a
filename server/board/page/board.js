// The board: what the line brings, drawn; what a tap asks, sent.

import {Line} from './line.js';
import {applied} from './changes.js';
import {at, button, el, renew} from './nodes.js';
import {language, t} from './texts.js';
import {ageText, setClock} from './figures.js';
import {page} from './page.js';
import {drawSheet, topSheet} from './sheets.js';
import {alarmIsOver, drawAlarm, drawStrip, hushWords, measureFixed, say, setTheme} from './shell.js';
import {isKnown, worstAlarm} from './alarms.js';
import {chime, stayAwake, unlock} from './bell.js';
import {mine, ownNext, ownStrip} from './mine.js';
import {everybody} from './everybody.js';
import {field} from './field.js';
import {callOuts} from './callouts.js';
import {marshal, marshalNext, marshalStrip, openClosing} from './marshal.js';
import {firstView, hello, helloNext, join, joinNext, rememberMe, takePart, wasJoined} from './joining.js';
import {big} from './big.js';
import {openPaper} from './paper.js';
import {showGo} from './asking.js';
import {peg} from './pegs.js';
import {waits} from './page.js';
import {isToConfirm, radiates} from './standing.js';

page.openPaper = openPaper;
page.closing = openClosing;

const views = {mine, all: everybody, field, marshal, hello, join, big};

// ---- the strip, the bar, the view

function strip() {
  const inTheAir = page.rows().filter((r) => r.stage === 'on_air' && !r.is_relay).length;
  if (!page.me) return {look: '', peg: peg('?', 'none', t('peg.none')), word: page.board.day || document.title, sub: t('flying.n', {n: inTheAir})};
  if (page.isMarshal() && (page.view === 'marshal' || !page.aircraft())) return marshalStrip(peg('M', 'on', page.me.name.slice(0, 7)));
  return ownStrip();
}

function drawTheStrip(alarm) {
  const own = strip();
  const line = page.isLive ? {words: t('live'), age: ''} : {words: page.isLost ? t('old') : '\u2026', age: page.asOfMs ? ageText(Date.now() - page.asOfMs) : ''};
  const lost = !page.isLost ? null : {look: 'lost', peg: own.peg, word: t('no.contact'), sub: t('no.contact.sub')};
  const over = alarm?.strip || topSheet()?.strip;   // what says more than the stage
  drawStrip({...own, ...(over ? {look: '', sign: null, ...over} : {}), ...(lost ? {sign: null, ...lost} : {})}, line, {day: page.board.day || '', isAlarmed: Boolean(alarm)});
}

const tab = (view, words, count) => el('button', {type: 'button', id: `tab-${view}`, 'aria-current': page.view === view ? 'page' : null, onclick: () => page.go(view)},
  words, count ? el('b.count', {}, String(count)) : null);

function next() {
  if (page.view === 'hello') return helloNext();
  if (page.view === 'join') return joinNext();
  if (page.letGo) return button(t('join.again'), () => { page.letGo = ''; page.go('join'); }, 'go');
  if (!page.me) return takePart();
  if (page.isMarshal() && (page.view === 'marshal' || !page.aircraft())) return page.isLive ? marshalNext() : button(t('no.contact'), () => {}, '', {disabled: true});
  return ownNext();
}

function drawBar() {
  const hasMine = !page.isMarshal() || page.aircraft();
  renew(at('bar'), el('div', {id: 'next'}, next()), el('nav', {'aria-label': t('views')}, hasMine ? tab('mine', t('mine')) : null,
    tab('all', t('all', {n: page.rows().filter((r) => !r.is_relay && !r.is_sighting).length})), tab('field', t('field')),
    page.isMarshal() ? tab('marshal', t('marshal'), page.view === 'marshal' ? 0 : callOuts().length) : null));
}

// What somebody touched last, or is on, stays where it is on the screen whatever comes or goes above it; else what
// stands at the top of what they have scrolled to.
let touched = null;
addEventListener('pointerdown', (e) => { touched = e.target; }, {capture: true});
function anchor() {
  const main = at('main'), held = [document.activeElement, touched].find((n) => n && n !== main && n.isConnected && main.contains(n));
  const node = held?.closest('[data-of]') || (scrollY > 4 ? document.elementFromPoint(innerWidth / 2, at('strip').offsetHeight + 30)?.closest('main [data-of]') : null);
  const from = node?.getBoundingClientRect().top;
  return () => { if (node?.isConnected) scrollBy(0, node.getBoundingClientRect().top - from); };
}

// On a laptop mine or the marshal's stands on the left, everybody on the right.
const wide = matchMedia('(min-width: 60rem)');
function drawMain() {
  const isBig = page.view === 'big';
  document.documentElement.classList.toggle('big', isBig);
  const isTwo = wide.matches && ['mine', 'marshal', 'field'].includes(page.view);
  const drawn = views[page.view]();
  renew(at('main'), isTwo ? el('div.cols', {id: 'cols'}, el('div', {id: 'left'}, drawn), el('div', {id: 'right'}, everybody(true))) : el('div.view', {id: `view-${page.view}`}, drawn));
}
wide.addEventListener('change', () => page.redraw());

let lastAlarm = null;
function alarms() {
  const alarm = page.view === 'big' ? null : worstAlarm();
  if (lastAlarm && !alarm && !isKnown(lastAlarm.key) && lastAlarm.over && page.isLive) alarmIsOver(lastAlarm.over);
  else drawAlarm(alarm);
  lastAlarm = alarm;
  return alarm;
}

// Once a frame at most, whatever came.
let isOwed = false;
page.redraw = () => {
  if (isOwed) return;
  isOwed = true;
  requestAnimationFrame(() => { isOwed = false; redraw(); });
  if (document.hidden) setTimeout(() => { if (isOwed) { isOwed = false; redraw(); } }, 250);
};

// A server of another version came: once a page of its own, as soon as nothing lies over this one.
const triedFor = 'renewed-for';
const isOfAnother = () => page.isLive && !['join', 'hello'].includes(page.view) && page.program && page.program !== document.body.dataset.program && sessionStorage.getItem(triedFor) !== page.program;
function renewed() {
  sessionStorage.setItem(triedFor, page.program);
  location.reload();
}

let calls = 0;
function redraw() {
  const stay = anchor();
  if (page.view === 'marshal' && !page.isMarshal()) page.view = 'mine';
  if (page.view === 'mine' && page.isMarshal() && !page.aircraft()) page.view = 'marshal';
  if (isOfAnother() && !topSheet() && !document.hidden) return renewed();
  drawMain();
  stay();
  drawBar();
  drawSheet();
  const alarm = alarms();
  drawTheStrip(alarm);
  const row = page.aircraft();
  stayAwake(Boolean(row && (radiates(row) || waits(row))) || page.view === 'big');
  const many = page.isMarshal() ? callOuts().length : 0;
  if (many > calls) {
    chime();
    say(t('call.out', {n: many}));
  }
  calls = many;
  document.title = alarm ? `${alarm.kind === 'good' ? '' : '! '}${alarm.title}` : page.board.day || document.title;
}

// ---- the line

// "192.0.2.7:7323/7324": where another server of this day is found, and the port of its page.
function pageAt(address) {
  const parts = /^(.+):\d+\/(\d+)$/.exec(address);
  return parts && `https://${parts[1]}:${parts[2]}/`;
}

page.line = new Line({
  welcome: (w) => {
    setClock(w.now_ms);
    const before = wasJoined();
    if (!w.person && (page.me || (before && location.protocol === 'https:')) && !page.letGo && page.view !== 'join')
      page.letGo = t('let.go.text', {name: page.me?.name || before.name, day: w.day || ''});
    page.program = w.program || '';
    page.me = w.person || null;
    page.elsewhere = (w.elsewhere || []).map(pageAt).filter(Boolean);
    if (page.me) {
      page.letGo = '';
      rememberMe(page.me.name, w.day);
    }
    if (w.day) page.board = {...page.board, day: w.day};
  },
  live: () => {
    const row = page.aircraft();
    if (page.isLost && page.asOfMs && isToConfirm(row)) page.asksIsOn = true;
    page.isLive = true;
    page.isLost = false;
    page.redraw();
  },
  change: (c) => {
    page.board = applied(page.board, c);
    page.me = me();
    page.redraw();
    resume();
  },
  lost: (goodbye) => {
    if (page.isLive) page.asOfMs = page.line.lastHeardMs;
    page.isLive = false;
    page.isLost = true;
    if (goodbye?.kind === 'not_permitted') page.letGo = t('let.go.text', {name: page.me?.name || '', day: page.board.day || ''});
    hushWords();
    page.redraw();
  },
  told: () => page.redraw(),
});

// The marshal may hand over: what one is now, the board says.
function me() {
  if (!page.me) return null;
  return {...page.me, role: (page.board.marshals || []).includes(page.me.name) && !page.me.awaits_nod ? 'marshal' : page.me.role === 'marshal' ? 'pilot' : page.me.role};
}

// A minute that runs, on a page that was opened anew.
let isResumed = false;
function resume() {
  if (isResumed) return;
  isResumed = true;
  const row = page.aircraft();
  if (row?.stage === 'told_on' && !topSheet()) {
    page.granted = {name: row.transmitter, version: 0};
    showGo(row.transmitter);
  }
}

// ---- the frame

document.documentElement.lang = language;
at('alarm').setAttribute('aria-label', t('warning'));
at('toast').setAttribute('aria-label', t('just.done'));
page.view = firstView();
history.replaceState({view: page.view}, '', location.pathname === '/join' ? '/join' : location.pathname);
setTheme();
measureFixed();
document.addEventListener('sheet', () => page.redraw());
addEventListener('pointerdown', unlock, {capture: true});
addEventListener('keydown', unlock, {capture: true});
setInterval(() => page.redraw(), 1000);
navigator.serviceWorker?.register('/sw.js').catch(() => {});
page.redraw();
