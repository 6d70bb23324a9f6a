// Buttons that act only once they were held for 0.9 s, by thumb or by key. What presses without a thumb or a
// key, as a screen reader does, is asked back.

import {el} from './nodes.js';
import {askBack} from './sheets.js';

const holdMs = 900;
let held = null;        // {node, timer}
let pressed = false;    // by a thumb, since the last click; a key makes none
let lifting = 0;

function press(node, act) {
  if (held) return;
  node.classList.add('held');
  held = {node, timer: setTimeout(() => {
    lift();
    if (node.isConnected) act();
  }, holdMs)};
}

function lift() {
  if (!held) return;
  clearTimeout(held.timer);
  held.node.classList.remove('held');
  held = null;
}

// Wherever the thumb is lifted: the button may be gone by then. A click comes before.
for (const type of ['pointerup', 'pointercancel'])
  addEventListener(type, () => { lift(); lifting = setTimeout(() => { pressed = false; }, 50); }, {capture: true});

const isKey = (e) => e.key === ' ' || e.key === 'Enter';

export function holdButton(words, act, {small = null} = {}) {
  return el('button.b.hold', {
    type: 'button', 'data-of': words,
    onpointerdown: (e) => { if (e.button !== 0) return; clearTimeout(lifting); pressed = true; press(e.currentTarget, act); },
    onpointerleave: lift, onblur: lift,
    oncontextmenu: (e) => e.preventDefault(),
    onkeydown: (e) => {
      if (!isKey(e)) return;
      e.preventDefault();
      if (!e.repeat) press(e.currentTarget, act);
    },
    onkeyup: (e) => { if (isKey(e)) e.preventDefault(); lift(); },
    onclick: () => {
      const byAnything = !pressed;
      pressed = false;
      if (byAnything) askBack(words, act);
    },
  }, el('span', {}, words, small ? el('small', {}, small) : null));
}
