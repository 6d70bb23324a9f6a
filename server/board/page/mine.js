// Mine: what I hold, how it stands, and the next right thing.

import {at, button, el, heading, link, links, two} from './nodes.js';
import {t} from './texts.js';
import {clockText, minutesSince, minutesText, pegText, powerText} from './figures.js';
import {answerOn, askOn, confirmations, goParts, switchOff} from './asking.js';
import {heldText, isCalled, isLate, page, secondsLeft, waits, yesUntilMs} from './page.js';
import {isLong, isOff, isToConfirm, isTrouble, radiates, sentence} from './standing.js';
import {holdButton} from './hold.js';
import {closeSheet, openSheet} from './sheets.js';
import {peg, pegOf, sign} from './pegs.js';
import {bandEdges, dialFor, heard, spots} from './hearing.js';
import {tryBell} from './bell.js';
import {openGear, lastTime, openBest} from './gear.js';
import {openTry} from './trying.js';
import {openRelay} from './relay.js';
import {openWhy} from './why.js';
import {openFind} from './finding.js';
import {foot} from './foot.js';

// The strip of somebody's own: one word, one line below it.
export function ownStrip() {
  const row = page.aircraft();
  const of = (look, word, sub, more) => ({look, peg: row ? pegOf(row, true) : peg('?', 'none', t('peg.none')), word, sub, ...more});
  if (page.awaits() || !row?.channel?.mhz) return of('', t('hello', {name: page.me.name}), t(page.awaits() ? 'awaits.sub' : row ? 'channel.none' : 'gear.none'));
  if (isLate(row)) return of('', t('is.it.on'), t('late.sub'));
  if (row.stage === 'told_on') return of('go', t('go.title'), t('seconds.left', {n: secondsLeft(yesUntilMs(row))}));
  if (row.stage === 'down') return of('stop', t('down'), t('down.sub', {channel: pegText(row.channel)}));
  if (row.stage === 'bench') return of('', t('bench'), powerText(row.power_dbm));
  if (row.stage === 'on_air') {
    const verdict = row.result?.verdict;
    const sub = isLong(row) ? t('landed.sub', {n: minutesSince(row.since_ms)}) : t('on.air', {since: minutesText(row.since_ms)});
    return of(verdict === 'clash' || verdict === 'control_at_risk' ? 'stop' : 'air', t(`verdict.${verdict || 'none'}.strip`), sub, {sign: sign(verdict)});
  }
  if (page.board.closed) return of('stop', t('closed'), t(page.board.closed.now ? 'closed.land' : 'closed.sub'));
  if (isCalled(row)) return of('go', t('your.turn'), t('kept.for.you', {channel: pegText(row.channel)}));
  if (waits(row)) return of('', t('in.line', {n: page.place(row) + 1}), lineText(row));
  return of('', t(row.stage === 'off_air' ? 'off' : 'held'), t(row.stage === 'off_air' ? 'still.yours' : 'held.sub', {channel: pegText(row.channel)}));
}

// "after Edda, 5 min": for whom one waits, with the minutes that are usual where the server knows them.
function lineText(row) {
  const one = page.board.line[page.place(row)];
  const who = page.row((one.wait_for || [])[0]);
  if (!who) return (one.wait_for || [])[0] || t('line.sub');
  const left = Number(who.usual_minutes || 0) - minutesSince(who.since_ms);
  return left > 0 && who.stage === 'on_air' ? t('after.minutes', {who: who.transmitter, n: left}) : t('after', {who: who.transmitter});
}

// The one button: the next right thing.
export function ownNext() {
  const row = page.aircraft();
  if (!page.mayAct()) return page.awaits() ? button(t('awaits'), () => {}, '', {disabled: true}) : null;
  if (!row) return button(t('my.gear'), openGear, 'go');
  return nextOf(row);
}

export function nextOf(row) {
  if (!row.channel?.mhz) return page.isLive ? button(t('get.channel'), () => openBest(row), 'go') : askMarshal();
  if (isToConfirm(row)) return el('div.answers', {'data-of': 'confirm'}, confirmations(row));
  if (row.stage === 'on_air' || row.stage === 'bench') return holdButton(t('hold.off'), () => switchOff(row));
  if (row.stage === 'down') return holdButton(t('hold.silent'), () => switchOff(row, {silent: true}));
  if (!page.isLive) return askMarshal();
  if (page.board.closed) return button(t('closed'), () => {}, '', {disabled: true});
  if (waits(row) && !isCalled(row)) return button(t('line.leave'), () => page.done({leave_line: {transmitter: row.transmitter}}));
  return button(t('may.i'), () => askOn(row), 'go');
}
const askMarshal = () => button(t('ask.marshal'), () => {}, '', {disabled: true});

// What the goggles hear now. Asked at once when something of one's own changes; when others do, a little later and
// not by all phones at once; and not while nobody looks.
const hearing = {own: '', key: '', timer: 0, picture: null, free: [], now: null, band: null};
const laterMs = () => 1000 + 3000 * Math.random();

function listen(row) {
  const sends = page.rows().filter(radiates).map((r) => `${r.transmitter}${r.channel?.mhz}${r.power_dbm}`).join();
  const own = `${row?.transmitter}|${row?.channel?.mhz}|${row?.power_dbm}|${row?.stage}|${page.me?.id}`;
  const key = `${own}|${sends}`;
  if (!page.isLive || document.hidden || key === hearing.key) return;
  const isOwn = own !== hearing.own;
  if (hearing.timer && !isOwn) return;
  clearTimeout(hearing.timer);
  Object.assign(hearing, {own, timer: setTimeout(() => hear(row, key), isOwn ? 0 : laterMs())});
}

async function hear(row, key) {
  const isIdle = !row?.channel?.mhz || isOff(row);
  const [picture, offer, band] = await Promise.all([row ? heard(row) : null,
    row && isIdle && page.mayAsk() ? page.ask({free: {transmitter: row.transmitter}}) : null, bandEdges(row)]);
  Object.assign(hearing, {key, timer: 0, picture, free: offer?.free?.free || [], now: offer?.free?.held_now || null, band});
  page.redraw();
}

function dialPart(row, title) {
  listen(row);
  const isIdle = !row || isOff(row) || !row.channel?.mhz;
  return el('section', {'data-of': 'dial'}, heading(title || t(hearing.picture ? 'dial.mine' : 'dial.line'), t('dial.louder')),
    dialFor({row, picture: hearing.picture, free: isIdle ? hearing.free : [], band: hearing.band, tried: isIdle}),
    isIdle && row && page.mayAsk() ? spots(hearing.free, (one) => openTry(row, one.channel)) : null);
}

const facts = (row) => el('p.facts', {}, [powerText(row.power_dbm), row.place, row.area].filter(Boolean).join(' \u00b7 '));

function heldPart(row) {
  const channel = pegText(row.channel);
  const now = hearing.now?.verdict;
  const expected = now ? t(isTrouble(now) ? 'held.expect.bad' : 'held.expect', {word: t(`verdict.${now}`), sentence: sentence({verdict: now})}) : '';
  return el('section.card', {'data-of': row.transmitter},
    el('h2', {}, t(row.stage === 'off_air' ? 'still.yours' : 'is.yours', {channel})),
    isCalled(row) ? el('p.mid', {}, t('called.text')) : null,
    waits(row) ? el('p', {}, t('line.text', {channel})) : el('p', {}, expected), facts(row),
    page.mayAsk() ? [links(link(t('change'), () => openTry(row, row.channel)), link(t('my.gear'), openGear), link(t('bench.do'), () => askOn(row, {bench: true})))] : null,
    page.mayAsk() ? el('details', {'data-of': 'more'}, el('summary', {}, t('more')), links(
      link(t('already'), () => page.done({on: {transmitter: row.transmitter, already: true}})),
      link(t('give.back'), () => page.done({release: {transmitter: row.transmitter}})))) : null);
}

function airPart(row) {
  return el('section.card', {'data-of': row.transmitter}, el('h2', {}, t(row.stage === 'bench' ? 'on.bench.title' : 'on.air.title')),
    isLong(row) ? el('p.mid', {}, t('landed')) : null,
    row.stage === 'on_air' ? el('p', {}, sentence(row.result)) : null,
    el('p.facts', {}, [powerText(row.power_dbm), t('since', {at: clockText(row.since_ms)}), row.area].filter(Boolean).join(' \u00b7 ')),
    page.mayAct() ? links(!page.isLive ? null : row.stage === 'on_air' ? link(t('why'), () => openWhy(row)) : link(t('may.i'), () => askOn(row)),
      link(t('is.down'), () => sayDown(row))) : null);
}

// Down is where it lies, too; it is found by its own picture.
export function sayDown(row) {
  openSheet(() => ({
    title: t('down.title', {who: row.transmitter}), body: [el('p.mid', {}, t('down.text', {channel: pegText(row.channel)})),
      el('div', {}, el('label', {for: 'near'}, t('down.near')), el('input', {id: 'near', type: 'text', maxlength: 80, autocomplete: 'off'}))],
    acts: holdButton(t('hold.down'), () => { const near = at('near').value.trim(); closeSheet(); switchOff(row, near ? {down: true, near} : {down: true}); }),
  }));
}

function relayPart(row) {
  const isOn = row.stage === 'on_air' && !row.unconfirmed;
  return el('section.card', {'data-of': row.transmitter}, heading(row.transmitter, t(`stage.${row.unconfirmed ? 'late' : row.stage || 'none'}`)),
    el('div.mast', {}, pegOf(row, true), el('p', {}, row.channel?.mhz ? [isOn ? t('on.air', {since: minutesText(row.since_ms)}) : heldText(row)] : t('channel.none'))),
    page.mayAct() ? el('div.stack', {}, page.isLive && el('div.two', {}, button(t('relay.check'), () => openRelay(row)), isOn ? null : relayNext(row)),
      isOn ? holdButton(t('hold.off'), () => switchOff(row)) : null) : null);
}
const relayNext = (row) => (isToConfirm(row) ? el('div', {}, button(t('it.is.on'), () => answerOn(row, true)), button(t('it.is.off'), () => answerOn(row, false)))
  : row.channel?.mhz ? button(t('may.i'), () => askOn(row), 'go') : button(t('get.channel'), () => openBest(row), 'go'));

function newPart() {
  const again = lastTime();
  return [el('h2.huge', {}, t('new.title')), el('p.mid', {}, t('new.text')),
    again ? button(two(t('as.last'), again.words), again.take) : null];
}

function mainPart(row) {
  if (page.awaits()) return [el('h2.huge', {}, t('awaits.title')), el('p.mid', {}, t('awaits.text', {who: page.marshal(), name: page.me.name}))];
  if (!row) return newPart();
  if (!row.channel?.mhz) return [el('h2.huge', {}, t('no.channel.title')), el('p.mid', {}, t('no.channel.text')), links(link(t('my.gear'), openGear))];
  if (isToConfirm(row)) return el('section.card', {'data-of': 'go'}, el('h2.huge', {}, t(isLate(row) ? 'late.title' : 'go.title')), goParts(row));
  if (row.stage === 'down') return el('section.card', {'data-of': row.transmitter}, el('h2.huge', {}, t('down.mine')),
    el('p.mid', {}, t('down.text', {channel: pegText(row.channel)})), links(link(t('find'), () => openFind(row))));
  return radiates(row) ? airPart(row) : heldPart(row);
}

// As it was when the line was lost: old, and said to be.
function lostPart() {
  const row = page.aircraft();
  const flies = row && radiates(row);
  const kept = page.line.kept();
  return [el('section.card', {'data-of': 'lost'}, el('h2.huge', {}, t(flies ? 'lost.flying' : 'lost.off')), el('p.mid', {}, t('lost.text')),
    kept.length ? el('p.mid', {}, t('lost.kept', {n: kept.length})) : null, el('p', {}, t('lost.again')),
    page.elsewhere?.length ? el('p', {}, t('lost.elsewhere'), ' ', ...page.elsewhere.map((href) => el('a', {href}, href))) : null)];
}

export function mine() {
  if (page.letGo) return [el('h2.huge', {}, t('let.go')), el('p.mid', {}, page.letGo), foot()];
  if (!page.me) return [page.isLost ? lostPart() : null, el('h2.huge', {}, t('onlooker.title')), el('p.mid', {}, t('onlooker.text')), dialPart(null, t('dial.line')), foot()];
  const row = page.aircraft();
  const lost = page.isLost ? lostPart() : null;
  const age = !page.asOfMs || page.isLive ? null : t('as.it.was', {at: clockText(page.asOfMs)});
  return [lost, mainPart(row), page.mine().filter((r) => r.is_relay).map(relayPart),
    dialPart(row, age), row && row.stage === 'on_air' ? [el('p.small', {}, t('awake')), links(link(t('bell.try'), tryBell))] : null, foot()];
}

