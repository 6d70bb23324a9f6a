// Sheets: asked, refused, gear, relay, why. They lie over the view below the strip, never over an alarm; the
// browser's back closes them, and closing gives the focus back to what opened them.

import {at, el, link, renew} from './nodes.js';
import {t} from './texts.js';

const open = [];          // {draw, opener, gone}
let own = 0;              // steps back that this page takes itself, and whose popstate is still to come
let settling = Promise.resolve(), settled = () => {};

// Once the browser's history is where this page wants it.
export const whenSettled = (act) => settling.then(act);

export const topSheet = () => open[open.length - 1] || null;

// draw() gives {title, body, acts, strip, before, look}; `gone` is called once it is closed.
export function openSheet(draw, gone = () => {}) {
  const opener = document.activeElement;
  open.push({draw, opener, gone});
  settling.then(() => history.pushState({...history.state, depth: open.length}, ''));
  show();
}

function show() {
  drawSheet();
  focusTitle();
  document.dispatchEvent(new Event('sheet'));   // the strip is to say what it says
}

// Another in the place of the one on top.
export function changeSheet(draw) {
  if (!open.length) return openSheet(draw);
  const {opener, gone} = open[open.length - 1];
  open[open.length - 1] = {draw, opener, gone};
  show();
}

export function closeSheet() {
  if (open.length) closeTo(open.length - 1);
}
export function closeSheets() {
  if (open.length) closeTo(0);
}

function closeTo(depth) {
  const steps = open.length - depth;
  settling = settling.then(() => new Promise((done) => {
    settled = done;
    own += 1;
    history.go(-steps);
  }));
  drop(depth);
}

function drop(depth) {
  let last = null;
  while (open.length > depth) {
    last = open.pop();
    last.gone();
  }
  if (!last) return;
  if (open.length) return show();
  drawSheet();
  document.dispatchEvent(new Event('sheet'));
  if (last.opener?.isConnected) last.opener.focus({preventScroll: true});
  else at('main').focus({preventScroll: true});
}

addEventListener('popstate', (e) => {
  if (own === 0) return drop(Number(e.state?.depth || 0));   // the reader's back
  own -= 1;
  settled();
});

const focusTitle = () => at('sheet-title')?.focus({preventScroll: true});

export function drawSheet() {
  const sheet = at('sheet'), top = topSheet();
  document.documentElement.classList.toggle('sheeted', Boolean(top));
  at('main').inert = at('bar').inert = Boolean(top);   // never the strip, never an alarm
  sheet.hidden = !top;
  if (!top) return renew(sheet);
  const drawn = top.draw();
  top.strip = drawn.strip;
  renew(sheet,
    el('div.sheet-in', {'data-of': `in${open.length}${drawn.key || ''}`, tabindex: 0, role: 'group', 'aria-label': t('contents')},
      drawn.before, el('button.close', {type: 'button', onclick: closeSheet}, t('close')),
      el(`h2${drawn.look ?? '.huge'}`, {id: 'sheet-title', tabindex: -1}, drawn.title), drawn.body),
    [drawn.acts].flat(2).some(Boolean) ? el('div.acts', {'data-of': `acts${open.length}`}, drawn.acts) : null);
  document.documentElement.style.setProperty('--acts', `${sheet.querySelector('.acts')?.offsetHeight || 0}px`);   // a toast lies above them
}

addEventListener('keydown', (e) => {
  if (e.key === 'Escape' && open.length) closeSheet();
});

// What nobody held is asked back.
export function askBack(words, act) {
  const yes = () => { closeSheet(); act(); };
  openSheet(() => ({
    title: words, acts: el('div.two', {}, link(t('yes'), yes, {class: 'b'}), link(t('no'), closeSheet, {class: 'b'})),
  }));
}
