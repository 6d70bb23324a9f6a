// What is around the views: the strip, the alarm, the toast, what a screen reader hears, the theme.

import {at, el, renew} from './nodes.js';
import {t} from './texts.js';
import {hush, isMuted, ring} from './bell.js';

// One sentence into a region that is always there, and out of it again after 8 s.
let clearing = 0;
function tell(id, words) {
  at(id).textContent = words;
  clearTimeout(clearing);
  clearing = setTimeout(() => { at('say').textContent = at('shout').textContent = ''; }, 8000);
}
export const say = (words) => tell('say', words);
export const shout = (words) => tell('shout', words);
export const hushWords = () => { at('say').textContent = at('shout').textContent = ''; };

// strip: {look, peg, word, sub, sign}; line: {isLive, age}.
let said = '';
export function drawStrip({look = '', peg, word, sub, sign}, line, {day, isAlarmed}) {
  const root = document.documentElement;
  for (const name of ['air', 'go', 'stop', 'lost']) root.classList.toggle(`s-${name}`, look === name);
  renew(at('strip'), el('h1.unseen', {}, day), peg,
    el('div.say', {}, el('b', {}, sign, ' ', el('span', {}, word)), el('span', {}, sub)),
    el('div.live', {}, el('b', {}, el('i', {}), el('em', {}, line.words)),
      el('span', {}, line.age || (isMuted() && look === 'air' ? t('muted') : ''))));
  const now = `${word}. ${sub.replace(/\d+/g, '')}`;
  if (said && now !== said && !isAlarmed) say(`${word}. ${sub}`);
  said = now;
}

// The alarm that is shown: {key, kind, title, text, acts, count}. Buttons that it drops under a thumb take no tap
// for a moment.
const guardMs = 400;
let shownKey = '', over = 0;
const canPop = 'popover' in HTMLElement.prototype;
export function drawAlarm(alarm) {
  const node = at('alarm');
  if (!alarm) {
    if (shownKey) {
      hush();
      shownKey = '';
      hushWords();
    }
    if (!node.hidden && over === 0) hideAlarm(node);
    return;
  }
  clearTimeout(over);
  over = 0;
  node.className = alarm.kind === 'good' ? 'good' : '';
  renew(node, el('div', {}, alarm.count > 1 ? el('small', {}, t('alarm.count', {n: alarm.count})) : null,
    el('h2', {}, alarm.title), alarm.text ? el('p', {}, alarm.text) : null, alarm.acts));
  if (alarm.key === shownKey) return;
  shownKey = alarm.key;
  showAlarm(node);
  node.inert = true;
  setTimeout(() => { node.inert = false; }, guardMs);
  if (alarm.kind !== 'quiet') ring(alarm.kind);
  shout(`${alarm.title}. ${alarm.said || ''}`);
}

function showAlarm(node) {
  node.hidden = false;
  if (canPop && !node.matches(':popover-open')) node.showPopover();
}
function hideAlarm(node) {
  if (canPop && node.matches(':popover-open')) node.hidePopover();
  node.hidden = true;
  renew(node);
}

// An alarm that came to nothing says so for a moment.
export function alarmIsOver(words) {
  const node = at('alarm');
  hush();
  shownKey = '';
  node.className = 'good';
  renew(node, el('div', {}, el('h2', {}, words)));
  showAlarm(node);
  say(words);
  clearTimeout(over);
  over = setTimeout(() => { over = 0; hideAlarm(node); }, 8000);
}

// The toast: what was just done, and its undo for five seconds; it stays while it is looked at. What waits for it
// to pass is done then.
const toastMs = 5000;
let toast = null;
export function showToast(words, {undo = null, then = null} = {}) {
  endToast();
  toast = {words, undo, then, left: toastMs / 1000, timer: setInterval(passToast, 1000)};
  drawToast();
}
function passToast() {
  if (toast.isLookedAt || at('toast').matches(':focus-within')) return;
  toast.left -= 1;
  if (toast.left <= 0) endToast();
  else drawToast();
}
export function endToast(isUndone = false) {
  if (!toast) return;
  const {then, undo, timer} = toast;
  clearInterval(timer);
  toast = null;
  drawToast();
  if (isUndone) undo?.();
  else then?.();
}
// A mouse that moves over it looks at it; a finger that was there before does not.
at('toast').addEventListener('pointermove', (e) => { if (toast && e.pointerType === 'mouse') toast.isLookedAt = true; });
at('toast').addEventListener('pointerleave', () => { if (toast) toast.isLookedAt = false; });

function drawToast() {
  const node = at('toast');
  node.hidden = !toast;
  renew(node, toast ? [el('span', {}, toast.words), toast.undo
    ? el('button', {type: 'button', onclick: () => endToast(true)}, t('undo', {n: toast.left})) : null] : []);
}

// The theme: as the phone has it, or by choice.
export const themes = ['phone', 'day', 'dusk'];
const dark = matchMedia('(prefers-color-scheme: dark)');
export const theme = () => localStorage.getItem('theme') || 'phone';
export function setTheme(chosen) {
  if (chosen) localStorage.setItem('theme', chosen);
  const isDusk = theme() === 'dusk' || (theme() === 'phone' && dark.matches);
  document.documentElement.classList.toggle('dusk', isDusk);
  document.querySelector('meta[name=theme-color]').content = isDusk ? '#0c1411' : '#ffffff';
}
dark.addEventListener('change', () => setTheme());

// Text of 150 % and more on a phone, however the reader came by it: `grown`.
function measureText() {
  const size = parseFloat(getComputedStyle(document.documentElement).fontSize) / 1.0625;
  document.documentElement.classList.toggle('grown', innerWidth <= 15 * size);
}

// Fixed parts grow with the text; what lies under them is moved by as much as they measure.
export function measureFixed() {
  const lying = matchMedia('(orientation: landscape) and (max-height: 30rem)');
  const measure = new ResizeObserver(() => {
    measureText();
    for (const id of ['strip', 'bar'])
      document.documentElement.style.setProperty(`--${id}`, lying.matches && id === 'strip' ? '0px' : `${at(id).offsetHeight}px`);
  });
  measure.observe(at('strip'));
  measure.observe(at('bar'));
  addEventListener('resize', measureText);
  measureText();
}
