// What screens are put together from. Text only ever enters the page as text.

import {channelText, harmText, mhz, verdict, resultText, refusalText} from './words.js';

// el('p', {class: 'x', onclick: f}, 'text', child, ...)
export function el(tag, attributes, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith('on')) node.addEventListener(name.slice(2), value);
    else if (value === true) node.setAttribute(name, '');
    else node.setAttribute(name, String(value));
  }
  for (const child of children.flat()) if (child) node.append(child);
  return node;
}

export const button = (words, act, look) => el('button', {type: 'button', class: look, onclick: act}, words);

// The controls of a part of the page, each under a name that it has again when drawn anew: whose it is,
// what it is and says, and the how many-th of such.
function controlsIn(node) {
  const all = new Map();
  for (const control of node.querySelectorAll('button, select, input, summary, details')) {
    const says = control.tagName === 'BUTTON' || control.tagName === 'SUMMARY' ? control.textContent : '';
    const name = `${control.closest('[data-of]')?.dataset.of}|${control.tagName}|${says}`;
    let count = 0;
    while (all.has(`${name}|${count}`)) ++count;
    all.set(`${name}|${count}`, control);
  }
  return all;
}

// Everything in a part of the page anew. Whoever was on a control stays on it, what was typed and
// opened stays so.
export function refill(node, ...children) {
  const before = controlsIn(node);
  node.replaceChildren(...children.flat().filter(Boolean));
  for (const [name, control] of controlsIn(node)) {
    const old = before.get(name);
    if (!old) continue;
    if (control.tagName === 'DETAILS') control.open = old.open;
    if (control.tagName === 'INPUT') control.value = old.value;
  }
}

// The same where the focus may be within.
export function redrawn(node, draw) {
  const focus = node.contains(document.activeElement) ? document.activeElement : null;
  const name = focus && [...controlsIn(node)].find(([, control]) => control === focus)?.[0];
  draw();
  if (name) controlsIn(node).get(name)?.focus();
}

// Said by a screen reader, shown elsewhere.
export function announce(text) {
  document.getElementById('said').textContent = text;
}

// A peg with a channel on it.
export function peg(row) {
  const channel = row.channel;
  if (!channel || !channel.mhz) return el('div', {class: 'peg empty', 'aria-hidden': 'true'}, el('b', {}, '?'));
  const number = mhz(channel.mhz);
  const named = channel.name && channel.name !== number;
  return el('div', {class: `peg ${row.is_sighting ? 'sighting' : row.stage || ''}`},
    el('b', {}, named ? channel.name : number), el('span', {}, named ? `${number} MHz` : 'MHz'));
}

export function verdictMark(result) {
  const [sign, word, look] = verdict(result && result.verdict);
  if (!word) return null;
  return el('p', {class: `verdict ${look}`}, el('span', {'aria-hidden': 'true'}, sign), ' ', el('strong', {}, word),
    ' ', el('span', {class: 'small'}, resultText(result)));
}

// A dialog over the page; ends when it is closed or left.
let dialogs = 0;
export function dialog(title, ...children) {
  const id = `d${++dialogs}`;
  const body = el('div', {class: 'body'}, ...children);
  const box = el('dialog', {'aria-labelledby': id},
    el('div', {class: 'head'}, el('h2', {id}, title), button('Close', () => box.close(), 'plain')), body);
  box.addEventListener('close', () => box.remove());
  document.body.append(box);
  box.showModal();
  return {box, body, close: () => box.close()};
}

export function say(title, ...lines) {
  return dialog(title, ...lines.filter(Boolean).map((l) => (typeof l === 'string' ? el('p', {}, l) : l)));
}

export const refused = (r) => [
  el('p', {class: 'refusal'}, el('strong', {}, refusalText(r))), r.next ? el('p', {}, r.next) : null];

export function sayRefusal(r) {
  return say('That was refused', ...refused(r));
}

// Does something only once it was held for a while. By key and by screen reader too: a key is held as
// well; a click that nobody holds asks back.
const holdMs = 900;
let heldNow = 0;
export const isHeld = () => heldNow > 0;
export function holdButton(words, act, look) {
  const fill = el('span', {class: 'fill', 'aria-hidden': 'true'});
  const node = el('button', {type: 'button', class: `hold ${look || ''}`}, fill, el('span', {}, words));
  let timer = null;
  const begin = () => {
    if (timer !== null) return;
    ++heldNow;
    node.classList.add('held');
    timer = setTimeout(() => {
      end();
      if (!node.isConnected) return;  // nobody can have let go of what is gone
      done = true;
      act();
    }, holdMs);
  };
  let done = false, pressed = false;
  const end = () => {
    if (timer !== null) --heldNow;
    clearTimeout(timer);
    timer = null;
    node.classList.remove('held');
  };
  node.addEventListener('pointerdown', (e) => {
    if (e.button !== 0) return;
    pressed = true;
    done = false;
    begin();
  });
  for (const name of ['pointerup', 'pointerleave', 'pointercancel', 'blur']) node.addEventListener(name, end);
  node.addEventListener('contextmenu', (e) => e.preventDefault());
  node.addEventListener('keydown', (e) => {
    if (e.key !== ' ' && e.key !== 'Enter') return;
    e.preventDefault();
    pressed = true;
    if (!e.repeat) {
      done = false;
      begin();
    }
  });
  node.addEventListener('keyup', end);
  node.addEventListener('click', () => {
    const bySomethingElse = !pressed;
    pressed = false;
    if (!bySomethingElse || done) return;
    const asked = dialog(words, el('p', {}, 'Is that so?'), el('div', {class: 'row'},
      button('Yes', () => { asked.close(); act(); }, 'strong'), button('No', () => asked.close())));
  });
  return node;
}

let fields = 0;
export function field(label, control) {
  control.id = `f${++fields}`;
  return el('div', {class: 'field'}, el('label', {for: control.id}, label), control);
}

export const select = (options, chosen, attributes) =>
  el('select', attributes || {}, ...options.map(([value, words]) =>
    el('option', {value, selected: String(value) === String(chosen)}, words)));

// Those who would pay, a line each.
export const harmList = (title, harms) => harms && harms.length ? [
  el('h3', {}, title),
  el('ul', {}, ...harms.map((h) => el('li', {},
    el('strong', {}, h.pilot), `: ${harmText(h)}, through ${h.through || 'range'}`,
    h.on_air ? el('strong', {}, ', in the air now') : '')))] : [];

// Links that are lost though their pilots still see another way, a line each.
export const linksLost = (links) => links && links.length ? [
  el('h3', {}, 'Lost, though its pilot still sees another way'),
  el('ul', {}, ...links.map((h) => el('li', {}, el('strong', {}, `${h.pilot}, ${h.receiver}`),
    `: ${harmText(h)}`)))] : [];

// Every channel that a transmitter can be set to: those of its gear, else the rows of the day.
export function channelsOf(gear, sheet) {
  if (gear && gear.channels && gear.channels.length) return gear.channels;
  return (sheet.rows || []).flatMap((r) => r.channels || []);
}

export const channelOptions = (channels) => channels.map((c) => [c.mhz, channelText(c)]);
