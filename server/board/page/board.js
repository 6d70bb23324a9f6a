// The board: what the line brings, drawn.

import {Line} from './line.js';
import {ageText, clockText, nowMs, setClock} from './words.js';
import {announce, button, el, isHeld, redrawn, refill} from './parts.js';
import {Answers, card, causes} from './own.js';
import {done} from './claims.js';
import {everybody, turnText} from './everybody.js';
import {marshal, unsee, walkUp} from './marshal.js';
import {door} from './joining.js';
import {applied} from './changes.js';

const at = (id) => document.getElementById(id);

const ctx = {
  me: null,
  board: {},
  answers: new Answers(),
  acting: '',        // for whom the marshal acts just now
  letGo: '',         // why the server let this phone go, until it lets it in again
  seen: new Set(),   // warnings that were on this screen
  asOfMs: 0,         // this phone's clock, when the board was last known to hold
  rows: () => ctx.board.rows || [],
  isMarshal: () => ctx.me?.role === 'marshal',
  mayAct: () => Boolean(ctx.me) && ctx.me.role !== 'onlooker' && !awaits(),
  actFor: (name) => {
    ctx.acting = name;
    redraw();
    at('own').scrollIntoView();
    at('own').querySelector('button')?.focus();
  },
  unsee: (row) => unsee(ctx, row),
  sheet: async () => {
    const answer = await ctx.line.ask({day: {}});
    return answer.day ? answer.day.sheet : null;
  },
  entered: () => ctx.line.drop(),
  redraw: () => redraw(),
};

// The marshal may hand over: what one is now, the board says.
function me() {
  if (!ctx.me) return null;
  const isMarshal = (ctx.board.marshals || []).includes(ctx.me.name);
  if (isMarshal) return {...ctx.me, role: 'marshal'};
  if (ctx.me.role !== 'marshal') return ctx.me;
  return {...ctx.me, role: ctx.rows().some((r) => Number(r.owner_id || 0) === Number(ctx.me.id)) ? 'pilot' : 'onlooker'};
}

const awaits = () => (ctx.board.awaiting_nod || []).includes(ctx.me?.name);

function own() {
  const node = at('own');
  if (ctx.acting && !ctx.rows().some((r) => (r.owner || r.transmitter) === ctx.acting)) ctx.acting = '';
  const name = ctx.acting || ctx.me?.name;
  const mine = ctx.rows().filter((r) => !r.is_sighting &&
    (ctx.acting ? (r.owner || r.transmitter) === ctx.acting : Number(r.owner_id || 0) === Number(ctx.me?.id || -1)));
  node.hidden = !ctx.me || (ctx.me.role !== 'pilot' && !mine.length);
  if (node.hidden) return node.replaceChildren();
  const title = ctx.acting ? `Acting for ${ctx.acting}` : name;
  refill(node, el('h2', {id: 'own-title'}, title),
    ctx.board.closed ? el('p', {class: 'answer stop', 'data-of': 'closed'}, el('strong', {}, turnText(ctx.board))) : null,
    awaits() ? el('p', {class: 'answer stop'}, el('strong', {}, 'Show this to the marshal')) : null,
    awaits() ? el('p', {}, `The marshal has not said yet that you are ${name}. You can look meanwhile.`) : null,
    ...causes(ctx, mine),
    mine.length || awaits() ? mine.map((row) => card(ctx, row)) : [el('p', {}, 'You are in. What do you fly?'),
      button('Enter my gear', () => walkUp(ctx, ctx.me.name), 'strong wide')],
    ctx.acting ? button('Done acting for them', () => { ctx.acting = ''; redraw(); }, 'plain') : null);
}

// Warnings that concern whoever holds this phone, until they say that they have seen them.
function alarms() {
  const board = ctx.board;
  const mine = (board.untold || []).map((w, i) => [w, board.call_out[i]])
    .filter(([w]) => ctx.me && Number(w.pilot) === Number(ctx.me.id));
  const noticed = ctx.isMarshal() ? (board.untold || []).map((w, i) => [w, board.call_out[i]]) : mine;
  const fresh = noticed.filter(([w]) => !ctx.seen.has(w.version));
  for (const [w] of fresh) ctx.seen.add(w.version);
  if (fresh.length && navigator.vibrate) navigator.vibrate([300, 100, 300, 100, 600]);
  if (fresh.length && ctx.isMarshal()) announce(`Call out: ${fresh.map(([, words]) => words).join('. ')}`);
  const node = at('alarms');
  const text = ctx.letGo + mine.map(([w]) => w.version).join();
  if (node.dataset.shown === text) return;
  node.dataset.shown = text;
  refill(node, ctx.letGo ? el('div', {class: 'alarm'}, el('p', {}, el('strong', {}, ctx.letGo))) : null, mine.map(([w, words]) => el('div', {class: 'alarm', 'data-of': `a${w.version}`},
    el('p', {}, el('span', {'aria-hidden': 'true'}, '\u26A0 '), el('strong', {}, words)),
    button('I have seen it', () => done(ctx, {acknowledge_warning: {warning: w.version}})))));
}

// Not under a finger that holds something: it is made up for a moment later.
let owed = null;
function redraw() {
  clearTimeout(owed);
  if (isHeld()) {
    owed = setTimeout(redraw, 100);
    return;
  }
  alarms();
  redrawn(at('own'), own);
  redrawn(at('marshal'), () => marshal(ctx, at('marshal')));
  redrawn(at('everybody'), () => everybody(ctx, at('everybody')));
  door(ctx, at('door'));
}

// Every second: ages and the minute that runs out.
function tick() {
  for (const node of document.querySelectorAll('.count[data-until]')) {
    const left = Math.round((Number(node.dataset.until) - nowMs()) / 1000);
    if (left <= 0) redraw();
    else node.textContent = `${left} s`;
  }
  if (!ctx.line.isLive && ctx.asOfMs) at('lost-age').textContent = ageText(Date.now() - ctx.asOfMs);
}

function lost(goodbye) {
  const node = at('lost');
  const wasLive = node.hidden;
  const gone = ctx.answers.voidAll();
  if (goodbye?.kind === 'not_permitted') ctx.letGo = `This phone acts for nobody any more: ${goodbye.why}. ${goodbye.next || ''}`;
  document.body.classList.add('is-lost');
  at('line').textContent = 'Not connected';
  if (wasLive || goodbye) {
    ctx.asOfMs = ctx.line?.lastHeardMs || 0;
    node.hidden = false;
    node.replaceChildren(
      el('p', {class: 'big'}, el('strong', {}, '\u2716 Not connected')),
      ctx.asOfMs ? el('p', {}, 'What you see is ', el('strong', {id: 'lost-age'}, ageText(Date.now() - ctx.asOfMs)),
        ` old (${clockText(ctx.asOfMs)}). Do not switch on unless the marshal says so.`) : el('p', {id: 'lost-age'}, 'The server has not answered yet.'),
      gone.length ? el('p', {class: 'big'}, `The yes for ${gone.join(', ')} is void. If it is not on yet, leave it off. When the line is back: is it on?`) : '',
      goodbye && goodbye.why !== 'the connection ends' ? el('p', {}, `${goodbye.why}. ${goodbye.next || ''}`) : '');
  }
  redraw();
}

ctx.line = new Line({
  welcome: (w) => {
    setClock(w.now_ms);
    ctx.me = w.person || null;
    if (ctx.me) ctx.letGo = '';
    if (w.day) {
      document.title = `${w.day} | Fieldpeg`;
      document.querySelector('h1').textContent = w.day;
    }
  },
  live: () => {
    document.body.classList.remove('is-lost');
    at('lost').hidden = true;
    at('line').textContent = ctx.me ? `Live, as ${ctx.me.name}` : 'Live';
  },
  change: (c) => {
    ctx.board = applied(ctx.board, c);
    ctx.me = me();
    redraw();
  },
  lost,
});
setInterval(tick, 1000);
setInterval(redraw, 30000);  // ages, and of whom nothing is heard
window.addEventListener('hashchange', () => redraw());
