// Nodes of the page: made, and changed in place. Text only ever enters the page as text.

const svgSpace = 'http://www.w3.org/2000/svg';

// "p.mid.num" is a <p> of two classes; "svg:path" one of a drawing.
function made(what) {
  const [name, ...classes] = what.split('.');
  const [space, tag] = name.startsWith('svg') ? [svgSpace, name === 'svg' ? 'svg' : name.slice(4)] : [null, name];
  const node = space ? document.createElementNS(space, tag) : document.createElement(tag);
  if (classes.length) node.setAttribute('class', classes.filter(Boolean).join(' '));
  return node;
}

// What a node does is kept beside it, so that a redraw can change it.
function listen(node, type, act) {
  node.acts ??= {};
  if (!(type in node.acts)) node.addEventListener(type, (e) => node.acts[type]?.(e));
  node.acts[type] = act;
}

// el('p.mid', {onclick: f, 'aria-label': 'x'}, 'text', child, ...). What is null, false or undefined is left out.
export function el(what, attributes, ...children) {
  const node = made(what);
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith('on')) listen(node, name.slice(2), value);
    else node.setAttribute(name, value === true ? '' : String(value));
  }
  node.append(...shown(children));
  return node;
}

const shown = (children) => children.flat(Infinity).filter((c) => c !== null && c !== undefined && c !== false && c !== '');

// What people changed themselves is theirs: what they typed, opened, pulled.
const theirs = new Set(['open', 'value', 'checked']);

function renewAttributes(old, fresh) {
  for (const {name} of [...old.attributes])
    if (!fresh.hasAttribute(name) && !theirs.has(name)) old.removeAttribute(name);
  for (const {name, value} of [...fresh.attributes])
    if (old.getAttribute(name) !== value && !theirs.has(name)) old.setAttribute(name, value);
  for (const type of Object.keys(old.acts || {})) if (!fresh.acts?.[type]) old.acts[type] = undefined;
  for (const [type, act] of Object.entries(fresh.acts || {})) listen(old, type, act);
}

const key = (node) => (node.nodeType === 1 ? `${node.nodeName} ${node.id || node.getAttribute('data-of') || ''}` : '#');

function renewNode(old, fresh) {
  if (old.nodeType === 3) {
    if (old.data !== fresh.data) old.data = fresh.data;
    return;
  }
  renewAttributes(old, fresh);
  renewChildren(old, [...fresh.childNodes]);
}

function renewChildren(parent, fresh) {
  const before = new Map();
  for (const node of parent.childNodes) {
    const name = key(node);
    if (!before.has(name)) before.set(name, []);
    before.get(name).push(node);
  }
  let at = parent.firstChild;
  for (const node of fresh) {
    const old = before.get(key(node))?.shift();
    if (old) renewNode(old, node);
    const kept = old || node;
    if (kept === at) at = at.nextSibling;
    else parent.insertBefore(kept, at);
  }
  for (const left of before.values()) for (const node of left) node.remove();
}

// What is in a node, made to be this: nodes are changed, not replaced, so that focus, scroll, what is open,
// half typed or under a finger stays. Nodes are told apart by id, `data-of`, or their place among their like.
export function renew(parent, ...children) {
  renewChildren(parent, shown(children).map((c) => (c instanceof Node ? c : document.createTextNode(String(c)))));
}

export const at = (id) => document.getElementById(id);

export const button = (words, act, look = '', more = {}) =>
  el(`button.b${look && '.'}${look}`, {type: 'button', onclick: act, ...more}, words);
// Words, with what they come to in smaller ones below.
export const two = (words, small) => [words, small ? el('small', {}, small) : null];
export const link = (words, act, more = {}) => el('button', {type: 'button', onclick: act, ...more}, words);
export const links = (...all) => (all.filter(Boolean).length ? el('div.links', {}, all) : null);
export const heading = (words, aside) => el('h3.group', {}, words, ' ', aside ? el('span', {}, aside) : null);

let fields = 0;
export function field(label, control) {
  control.id ||= `f${++fields}`;
  return el('div', {'data-of': label}, el('label', {for: control.id}, label), control);
}
