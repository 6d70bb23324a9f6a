// The marshal's part: what to call out, who waits, what was seen, who walks up, whose turn it is.

import {at, button, el, field, heading, link, two} from './nodes.js';
import {listed, t} from './texts.js';
import {clockText, minutesText, nowMs, pegText, powerText} from './figures.js';
import {page, sayRefusal} from './page.js';
import {closeSheets, openSheet} from './sheets.js';
import {isLong, radiates} from './standing.js';
import {holdButton} from './hold.js';
import {drawing} from './drawings.js';
import {showToast} from './shell.js';
import {callOuts, pilotOf, told} from './callouts.js';
import {flyingRow, hung} from './everybody.js';
import {putPilot, rowOf} from './gear.js';
import {sayDown} from './mine.js';
import {switchOff} from './asking.js';
import {openPlan} from './planning.js';
import {openSeen} from './seen.js';
import {groups, nextGroup} from './groups.js';
import {openSetup} from './setup.js';
import {foot} from './foot.js';


function shoutCard(all) {
  if (!all.length) return null;
  const [one] = all, victim = pilotOf(one.w);
  const answer = one.w.cause_answer ? t('call.cannot', {who: one.to}) : '';
  return el('section.shout', {'data-of': `call${one.w.version}`}, el('h3', {}, t('call.this'), ' ', el('span.small', {}, t('call.n', {n: all.length}))),
    el('blockquote', {}, `\u201c${one.words}\u201d`), el('p.small', {}, [victim ? t('call.about', {who: victim.transmitter, channel: pegText(victim.channel)}) : '', one.also, answer].filter(Boolean).join(' ')),
    all.length > 1 ? el('ul', {}, all.slice(1, 6).map((other) => el('li', {'data-of': `o${other.w.version}`}, other.words))) : null);
}

export function marshalStrip(peg) {
  const all = callOuts();
  return {look: all.length ? 'stop' : '', peg, word: all.length ? t('call.out', {n: all.length}) : t('marshal'), sub: all.length ? all[0].words.slice(0, 60) : t('call.nothing')};
}

export function marshalNext() {
  const all = callOuts();
  if (all.length) return button(t('told', {who: all[0].to}), () => told(all[0]), 'go');
  const next = nextGroup();
  if (page.board.closed) return button(t('open.field'), () => page.done({open_field: {}}), 'go');
  return next ? holdButton(t('hold.group', {n: next}), () => callGroup(next)) : button(t('walk.up'), openWalkUp);
}

// The hold changes the group only; each off is a tap of its own, once it was seen unplugged.
async function callGroup(group) {
  const reply = await page.done({call_group: {group}});
  if (!reply?.group) return;
  page.go('marshal');
  openSheet(() => changeSheet(group, reply));
}

function changeSheet(group, reply) {
  const on = page.rows().filter((r) => ['on_air', 'told_on'].includes(r.stage) && !r.is_relay && !r.is_sighting && r.group && Number(r.group) !== group);
  const next = reply.group.next || [];
  const line = (one) => el('li', {'data-of': one.transmitter}, el('p', {}, el('strong', {}, one.transmitter), `: ${pegText(one.channel)}, ${powerText(one.power_dbm)}`,
    (one.wait_for || []).length ? ` ${t('group.waits', {who: listed(one.wait_for)})}` : '', one.has_joined ? '' : ` ${t('group.read.out')}`));
  return {
    key: 'groups', title: on.length ? t('groups.land', {n: reply.group.before || ''}) : t('groups.flies', {n: group}),
    body: [el('p.mid', {}, t('groups.text', {n: group})),
      on.length ? [heading(t('groups.on'), t('groups.tap')), el('ul.rows', {}, on.map((r) => flyingRow(r, (row) => switchOff(row, {undoable: true}))))] : null,
      heading(t('group.n', {n: group}), t('groups.read')), next.length ? el('ul.stack', {}, next.map(line)) : el('p', {}, t('groups.none'))],
    acts: button(t('close'), closeSheets, 'go'),
  };
}

function turnPart() {
  const {board} = page, group = Number(board.flying_group || 0);
  const on = page.rows().filter((r) => r.stage === 'on_air' && !r.is_relay && !r.is_sighting).length;
  const next = nextGroup();
  const who = page.rows().filter((r) => Number(r.group || 0) === next && !r.is_relay).map((r) => r.transmitter);
  const since = Number(board.flying_since_ms || 0) ? `${minutesText(board.flying_since_ms)}, ` : '';
  return el('section', {'data-of': 'turn'}, heading(group ? t('group.flies.n', {n: group}) : t('flying.free'), `${since}${t('flying.n', {n: on})}`),
    next && next !== group ? el('p', {}, t('group.next.who', {n: next, who: listed(who)})) : null,
    el('div.stack', {}, el('div.two', {}, button(t('walk.up'), openWalkUp), button(t('let.in'), openLetIn), button(t('seen.do'), () => openSeen()), button(t('is.down'), openWhoIsDown),
      button(t('plan'), openPlan), button(t('setup'), openSetup), groups().length ? button(t('whose.turn'), openTurns) : null)));
}

function openTurns() {
  openSheet(() => ({title: t('whose.turn'), body: el('div.stack', {}, groups().map((g) => holdButton(t('hold.group', {n: g}), () => { closeSheets(); callGroup(g); })),
    holdButton(t('hold.free'), () => { closeSheets(); callGroup(0); }))}));
}

// Phones whose holder has to be looked at.
function nods() {
  const all = page.board.awaiting?.length ? page.board.awaiting : (page.board.awaiting_nod || []).map((name) => ({name, is_known: true}));
  return all.map(({name, is_known: isKnown, resembles}) => el('section', {'data-of': `nod${name}`}, heading(t('nod.title'), t('nod.sub', {name})),
    el('div.stack', {}, el('p', {}, t(isKnown ? 'nod.known' : 'nod.new', {name})),
      resembles?.length ? el('p.news', {}, t('nod.like', {name, who: resembles.join(', ')})) : null,
      el('div.two', {}, button(t('nod.yes', {name}), () => page.done({nod: {name}})), button(t('no'), () => page.done({nod: {name, refuse: true}}))))));
}

// One quiet line each: on the air for long, or not said to be on.
function quietPart() {
  const rows = page.rows().filter((r) => r.unconfirmed || isLong(r));
  return rows.length ? el('section', {'data-of': 'quiet'}, heading(t('quiet.title'), t('quiet.sub')), el('ul.rows', {}, rows.map((r) => flyingRow(r)))) : null;
}

// A sighting nobody took back is asked after in ten minutes.
const oldMs = 600000;
const oldSightings = () => page.rows().filter((r) => r.is_sighting && nowMs() - Number(r.since_ms) > oldMs).map((r) => el('p.news', {'data-of': r.transmitter},
  t('seen.still', {channel: pegText(r.channel), at: clockText(r.since_ms)})));

export function marshal() {
  const {board} = page;
  return [el('h2.unseen', {}, t('marshal')), shoutCard(callOuts()), board.closed ? el('p.news', {}, t(board.closed.now ? 'news.land' : 'news.closed', {why: board.closed.because})) : null,
    nods(), oldSightings(), turnPart(), quietPart(),
    el('section.stack', {'data-of': 'close'}, board.closed ? button(t('open.field'), () => page.done({open_field: {}})) : holdButton(t('hold.close'), openClosing),
      (board.untold || []).length > 1 ? button(t('told.all'), () => page.done({acknowledge_warning: {all: true}})) : null), foot()];
}

// ---- walk-up: two taps with the one before

export async function openWalkUp() {
  const day = await page.day();
  if (!day?.field?.places?.length || !day.field.areas?.length) return sayRefusal({where: '', why: t('gear.field'), next: t('gear.field.next')});
  const guest = (n) => (page.rows().some((r) => r.transmitter === t('guest', {n})) ? guest(n + 1) : t('guest', {n}));
  const tile = (name, picture) => el('button', {type: 'button', onclick: () => admit(day, picture)}, drawing(name), two(t(`picture.${picture}`), t(`picture.${picture}.small`)));
  openSheet(() => ({
    key: 'walkup', title: t('walk.title'), body: [field(t('join.name'), el('input', {id: 'who', type: 'text', value: guest(1), maxlength: 40, autocomplete: 'off'})),
      el('div.tiles', {}, tile('snow', 'snow'), tile('blocks', 'blocks'), el('button.wide', {type: 'button', onclick: () => admit(day, 'unknown')}, two(t('walk.unknown'), t('q.picture.unknown')))),
      el('p.small', {}, t('walk.text'))],
    acts: button(t('cancel'), closeSheets),
  }));
}

async function admit(day, picture) {
  const name = at('who').value.trim();
  if (!name) return at('who').focus();
  const reply = await putPilot(name, {picture, goggles: 'stubbies', aerial: 'stubby', powers: 'one', place: 'unknown'}, day);
  if (!reply) return;
  const claimed = await page.done({claim: {transmitter: name}});
  closeSheets();
  await rowOf(name);
  const held = claimed?.claim;
  const words = held?.claimed ? t('walk.done', {who: name, channel: pegText(held.channel), power: powerText(held.power_dbm)}) : t('walk.none', {who: name});
  showToast(words, {undo: async () => { await page.done({release: {transmitter: name}}); page.done({remove: {name}}); }});
}

// ---- letting in: the code that everybody may see, and a ticket of one's own

async function openLetIn() {
  const {sha256, spelled} = document.body.dataset;
  const day = await page.day();
  const people = (day?.pilots || []).map((p) => p.name);
  openSheet(() => ({
    key: 'letin', title: t('let.in.title'), body: [el('img.qr', {src: '/code.svg', alt: t('let.in.code'), width: 260, height: 260}), el('p.secret', {}, document.body.dataset.address), el('p', {}, t('let.in.text')),
      el('p', {}, t('let.in.print'), ' ', el('span.print', {}, sha256.slice(0, 11).replaceAll(':', ' '))), el('p.small', {}, spelled),
      el('details', {'data-of': 'tickets'}, el('summary', {}, t('ticket.title')), el('p', {}, t('ticket.text')),
        el('div.spots', {}, link(t('ticket.pilots'), () => showTicket({role: 'pilot'}, t('ticket.pilots'))), link(t('ticket.marshal'), () => showTicket({role: 'marshal'}, t('ticket.marshal'))),
          people.map((name) => link(name, () => showTicket({pilot: name}, name)))))],
  }));
}

async function showTicket(what, title) {
  const reply = await page.done({renew_ticket: what});
  if (!reply?.ticket) return;
  const {phone_qr: rows, phone_url: url} = reply.ticket;
  openSheet(() => ({key: 'ticket', title: t('ticket.for', {who: title}), body: [rows ? code(rows) : null, el('p', {}, t('ticket.scan')), el('p.secret', {}, url || reply.ticket.ticket), el('p.small', {}, t('ticket.old'))]}));
}

// A QR code from its rows of 0 and 1, with a quiet zone of four around it.
function code(rows) {
  const size = rows.length + 8;
  return el('svg.qr', {viewBox: `0 0 ${size} ${size}`, role: 'img', 'aria-label': t('ticket.code')},
    el('svg:path', {d: rows.flatMap((row, y) => Array.from(row, (bit, x) => (bit === '1' ? `M${x + 4} ${y + 4}h1v1h-1z` : ''))).join('')}));
}

// ---- closing, and who is down

export function openClosing() {
  const reason = () => at('reason');
  const close = (now) => {
    const because = reason().value.trim() || t(now ? 'close.danger.because' : 'close.pause.because');
    closeSheets();
    page.done({close_field: {because, now}});
  };
  openSheet(() => ({
    key: 'closing', title: t('close.title'), body: [field(t('close.why'), el('input', {id: 'reason', type: 'text', maxlength: 80, autocomplete: 'off'})), el('p', {}, t('close.text'))],
    acts: [page.isMarshal() ? button(two(t('close.pause'), t('close.pause.small')), () => close(false)) : null, holdButton(t('close.now'), () => close(true), {small: t('close.now.small')})],
  }));
}

function openWhoIsDown() {
  const flying = page.rows().filter((r) => radiates(r) && r.stage !== 'down' && !r.is_relay && !r.is_sighting);
  const down = page.rows().filter((r) => r.stage === 'down');
  openSheet(() => ({title: t('down.who'), body: [flying.length ? el('ul.rows', {}, flying.map((r) => flyingRow(r, sayDown))) : el('p', {}, t('flying.nobody')),
    down.length ? [heading(t('down')), hung(down)] : null]}));
}
