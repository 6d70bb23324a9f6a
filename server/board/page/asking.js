// Switching on, in steps: look, power, say so. And what helps where it is no yes.

import {button, el, link, two} from './nodes.js';
import {t, listed} from './texts.js';
import {clockText, mhzText, nowMs, pegText, powerText} from './figures.js';
import {changeSheet, closeSheet, closeSheets, openSheet, topSheet} from './sheets.js';
import {isLate, nextText, page, sayRefusal, secondsLeft, yesUntilMs} from './page.js';
import {harmSentence, isLost, isOwnTrouble, isToConfirm, radiates, sentence} from './standing.js';
import {peg, pegOf} from './pegs.js';
import {drawing} from './drawings.js';
import {askAllowed} from './allowing.js';
import {bandEdges, dialFor, heard} from './hearing.js';
import {say, showToast} from './shell.js';

const tile = (name, words, act) => el('button', {type: 'button', onclick: act}, drawing(name), words);
const steps = (now) => el('ol.steps', {}, ['look', 'power', 'say'].map((name, i) =>
  el(`li.${i < now ? 'done' : i === now ? 'now' : 'next'}`, {'aria-current': i === now ? 'step' : null}, `${i + 1} ${t(`step.${name}`)}`)));
const stop = (row, word, sub) => ({look: 'stop', peg: pegOf(row, true), word, sub});

// First of all: look.
export function askOn(row, how = {}) {
  openSheet(() => lookSheet(page.row(row.transmitter) || row, how));
}

function lookSheet(row, how) {
  const channel = pegText(row.channel);
  return {
    key: 'look', before: steps(0), title: t('look.title', {channel}),
    body: [el('div.lone', {}, peg(channel, 'held', mhzText(row.channel?.mhz))),
      el('p.mid', {}, t(row.is_relay ? 'look.relay' : 'look.text'))],
    acts: el('div.tiles', {}, tile('scene', t('look.picture'), () => changeSheet(() => takenSheet(page.row(row.transmitter), how))),
      tile('snow', t('look.snow'), () => switchOn(row, how))),
  };
}

// Somebody is there: who is it? The nearest in MHz that are known to send, and nobody of them.
function takenSheet(row, how) {
  const channel = pegText(row.channel);
  const near = page.rows().filter((r) => radiates(r) && r.channel?.mhz && r.transmitter !== row.transmitter)
    .map((r) => ({r, off: Math.abs(Number(r.channel.mhz) - Number(row.channel.mhz))}))
    .filter((one) => one.off < 40).sort((a, b) => a.off - b.off).slice(0, 3).map((one) => one.r);
  const known = (r) => button([pegOf(r), r.is_sighting ? t('somebody') : r.transmitter], () => somebodyThere(row, r, how), 'left.known');
  return {
    key: 'taken', before: steps(0), title: t('taken.title', {channel}), strip: stop(row, t('leave.off'), t('taken.sub', {channel})),
    body: [el('p.mid', {}, t('taken.text')), near.length ? el('div.stack', {}, el('p', {}, t('taken.who')), near.map(known)) : null],
    acts: [button(t('taken.none'), () => unknownThere(row, how)), link(t('taken.snow'), () => changeSheet(() => lookSheet(row, how)), {class: 'b flat'})],
  };
}

// Nobody says they are there: it is noted as seen, and counts for everybody.
async function unknownThere(row, how) {
  const reply = await page.done({see: {channel: row.channel, note: t('sighting.note', {who: page.me.name})}});
  if (!reply) return;
  const id = Number(reply.done?.id || 0);
  showToast(t('sighting.done', {channel: pegText(row.channel)}), {undo: id ? () => page.done({unsee: {sighting: id}}) : null});
  somebodyThere(row, null, how);
}

async function somebodyThere(row, who, how) {
  const offer = await offers(row);
  const channel = pegText(row.channel);
  changeSheet(() => ({
    key: 'there', before: steps(0), title: t('there.title', {channel}), strip: stop(row, t('leave.off'), t('taken.sub', {channel})),
    body: [el('p.mid', {}, t(who ? 'there.known' : 'there.unknown', {who: who?.transmitter || '', channel, marshal: page.marshal()}))],
    acts: [take(row, offer.free[0], 'go'), whenFree(row, how),
      link(t('taken.snow'), () => changeSheet(() => lookSheet(row, how)), {class: 'b flat'})],
  }));
}

// What else would do: channels that harm nobody, and less power where it is.
async function offers(row) {
  const answer = await page.ask({free: {transmitter: row.transmitter}});
  return {free: answer.free?.free || [], lower: answer.free?.held_lower || null};
}

const take = (row, one, look = '') => (one ? button(two(t('take', {channel: pegText(one.channel)}),
  t('take.how', {word: t(`verdict.${one.verdict}`), power: powerText(one.power_dbm)})), () => claim(row, one), look) : null);

const whenFree = (row, how) => button(two(t('when.free', {channel: pegText(row.channel)}), t('when.free.place', {n: (page.board.line || []).length + 1})),
  () => switchOn(row, {...how, when_free: true}));

// Another channel is held instead; then the same steps again.
export async function claim(row, one) {
  const reply = await page.done({claim: {transmitter: row.transmitter, channel: one.channel, power_dbm: one.power_dbm, ...(one.group ? {group: one.group} : {})}});
  if (!reply?.claim) return;
  if (reply.claim.refusal) return changeSheet(() => claimRefused(row, reply.claim));
  closeSheets();
  say(t('held.now', {channel: pegText(one.channel)}));
}

function whereText(name) {
  const row = page.row(name);
  return row?.channel?.mhz ? t('harm.where', {who: name, channel: pegText(row.channel)}) : '';
}

// A channel that cannot be held: who would suffer, and the nearest that would do.
export function claimRefused(row, reply) {
  const harms = reply.harms || [];
  const onlyOwn = !harms.length && (isOwnTrouble(reply.own) || (reply.remarks || []).some((r) => r.outside));
  return {
    key: 'unheld', title: harms.length ? t('not.held', {harm: harmSentence(harms[0])}) : t('not.held.own'),
    body: [harms.slice(1, 3).map((h) => el('p.mid', {}, harmSentence(h))), harms.length ? null : el('p.mid', {}, isOwnTrouble(reply.own) ? sentence(reply.own) : reply.refusal.why),
      el('div.stack', {}, (reply.alternatives || []).map((a, i) => take(row, a, i ? '' : 'go')))],
    acts: [onlyOwn ? button(t('hold.anyway'), () => done(row, reply, {yes_anyway: true})) : null,
      !onlyOwn && page.isMarshal() ? button(t('allow'), () => askAllowed((why) => done(row, reply, {allowed_because: why}))) : null],
  };
}
async function done(row, reply, more) {
  const again = await page.done({claim: {transmitter: row.transmitter, channel: reply.channel, power_dbm: reply.power_dbm, group: reply.group, ...more}});
  if (again?.claim?.claimed) closeSheets();
  else if (again?.claim?.refusal) sayRefusal(again.claim.refusal);
}

// Asks the server; what it says is shown.
export async function switchOn(row, how) {
  const reply = await page.line.send({on: {transmitter: row.transmitter, in_steps: true, ...how}});
  if (reply.refusal && !['conflict', 'not_permitted'].includes(reply.refusal.kind)) return sayRefusal(reply.refusal);
  const said = reply.switched || {answer: 'wait', refusal: reply.refusal};   // not their turn, or the field is closed
  if (!reply.switched && !reply.refusal) return;   // a fact that was noted: the board shows it
  if (said.answer === 'switch_on' && how.bench) {
    changeSheet(() => benchSheet(row, said.power_dbm));
  } else if (said.answer === 'switch_on') {
    page.granted = {name: row.transmitter, version: Number(reply.version || 0)};
    showGo(row.transmitter);
    say(`${t('go.title')}. ${t('go.power', {power: powerText(said.power_dbm)})}`);
  } else if (said.answer === 'in_line') {
    closeSheets();
    say(t('in.line', {n: said.place || 1}));
  } else {
    showRefused(row, said, how);
  }
}

// Switch on now: the ring runs out round the peg. Once it is empty: is it on?
export function showGo(name) {
  const sheet = () => goSheet(page.row(name), name);
  if (topSheet()) changeSheet(sheet);
  else openSheet(sheet);
}

// On the bench it counts at once.
function benchSheet(row, power) {
  return {key: 'bench', before: steps(1), title: t('bench.go'), body: [el('p.mid', {}, el('strong', {}, t('bench.power', {power: powerText(power)}))), el('p', {}, t('bench.text'))],
    acts: [button(t('bench.is'), closeSheets, 'go'), link(t('not.now'), () => { closeSheets(); switchOff(row); }, {class: 'b flat'})]};
}

function goSheet(row, name) {
  const isKnown = Number(page.board.version || 0) >= (page.granted?.version || 0);
  if (!isKnown) return {key: 'go', before: steps(1), title: t('go.title')};   // the board is on its way
  if (!row || !isToConfirm(row)) {
    setTimeout(() => { if (page.granted?.name === name) { page.granted = null; closeSheets(); } });
    return {key: 'go', title: t('go.over')};
  }
  return {key: 'go', before: steps(isLate(row) ? 2 : 1), title: t(isLate(row) ? 'late.title' : 'go.title'), body: goParts(row), acts: confirmations(row)};
}

export function goParts(row) {
  if (isLate(row)) return [el('p.mid', {}, t('late.text', {channel: pegText(row.channel)}))];
  const left = secondsLeft(yesUntilMs(row));
  return [el('div.ringwrap', {}, el('svg', {viewBox: '0 0 200 200', 'aria-hidden': 'true'},
    el('svg:circle.track', {cx: 100, cy: 100, r: 92}),
    el('svg:circle.left', {cx: 100, cy: 100, r: 92, pathLength: 60, 'stroke-dasharray': `${left} 60`, transform: 'rotate(-90 100 100)'})),
  pegOf({...row, stage: 'held'}, true), el('p.num', {role: 'timer'}, t('seconds', {n: left}))),
  el('p.mid', {}, t('go.text', {channel: pegText(row.channel)}), ' ', el('strong', {}, t('go.power', {power: powerText(row.power_dbm)}))),
  el('p.small', {}, t('go.caution'))];
}

// Neither answer is preferred once the minute is over: a wrong tap hurts.
export function confirmations(row) {
  const late = isLate(row);
  const on = () => answerOn(row, true), off = () => answerOn(row, false);
  return late ? el('div.two', {}, button(t('it.is.on'), on), button(t('it.is.off'), off))
    : [button(t('it.is.on'), on, 'go'), link(t('not.now'), off, {class: 'b flat'})];
}

// Facts: kept on the phone while the server is away.
export async function answerOn(row, isOn) {
  page.granted = null;
  closeSheets();
  const reply = await page.line.keep(isOn ? {on: {transmitter: row.transmitter, confirm: true}} : {off: {transmitter: row.transmitter, not_after_all: true}});
  if (reply.refusal) sayRefusal(reply.refusal);
  page.redraw();
}

// Not now: whom it would hurt, what it would look like, and what helps, best first.
async function showRefused(row, said, how) {
  const harms = said.harms || [];
  let offer = null, picture = null, band = null;   // nothing to press before all is known: it would move
  const draw = () => refusedSheet(page.row(row.transmitter) || row, said, how, {offer, picture, band});
  changeSheet(draw);
  say(t('refused.title', {harm: harms.length ? harmSentence(harms[0]) : ''}));
  [offer, picture, band] = await Promise.all([offers(row), heard(row), bandEdges(row)]);
  if (topSheet()?.draw === draw) page.redraw();
}

function refusedSheet(row, said, how, {offer, picture, band}) {
  const harms = said.harms || [], hurt = harms.map((h) => h.pilot), wait = said.wait_for || [];
  const who = hurt[0] || wait[0];
  const onlyOwn = !harms.length && said.answer === 'ask_marshal' && isOwnTrouble(said.own);
  const title = harms.length ? t('refused.title', {harm: harmSentence(harms[0])}) : onlyOwn && isLost(said.own?.verdict) ? t('refused.own.lost')
    : onlyOwn ? t('refused.own') : who ? t('refused.wait', {who: listed(wait)}) : t('refused.plain');
  const why = harms.length ? el('p.mid', {}, whereText(harms[0].pilot)) : el('p.mid', {}, onlyOwn ? sentence(said.own) : reasonText(said, row));
  return {
    key: 'refused', title, strip: stop(row, t('leave.off'), who ? t('wait.for', {who}) : notYet(row)),
    body: [why, !offer ? el('p', {}, t('try.looks')) : dialFor({row, picture, hurt, free: offer.free, band, tried: true}),
      offer && el('div.stack', {}, take(row, offer.free[0], 'go'), row.channel ? whenFree(row, how) : null,
        offer.lower ? button(two(t('at.power', {channel: pegText(row.channel), power: powerText(offer.lower.power_dbm)}), sentence({verdict: offer.lower.verdict})),
          () => askAtLess(row, offer.lower, how)) : null,
        onlyOwn ? button(t('on.anyway'), () => switchOn(row, {...how, yes_anyway: true})) : null,
        page.isMarshal() ? button(t('allow'), () => askAllowed((because) => switchOn(row, {...how, allowed_because: because, out_of_turn: true}))) : null)],
  };
}

// A yes is for the power that is held: with less that is held first.
async function askAtLess(row, lower, how) {
  const reply = await page.done({claim: {transmitter: row.transmitter, channel: row.channel, power_dbm: lower.power_dbm}});
  if (reply?.claim?.refusal) changeSheet(() => claimRefused(row, reply.claim));
  else if (reply) switchOn(row, how);
}

// Whose turn it is, in a line.
function notYet(row) {
  const {closed, flying_group: group} = page.board;
  if (closed) return t('closed.sub');
  return group && row.group && Number(row.group) !== Number(group) ? t('group.flies', {n: group}) : '';   // who is of no group flies with each
}

// What no harm explains: the field is closed, another group flies, somebody was called.
function reasonText(said, row) {
  const {closed} = page.board;
  if (closed) return t('closed.ask', {why: closed.because});
  if (notYet(row)) return notYet(row);
  const next = said.answer === 'ask_marshal' && !page.isMarshal() ? t('next.not_permitted') : nextText(said.refusal || {});
  return said.refusal ? `${said.refusal.why}. ${next}` : '';
}

// Off is a fact. Where somebody's picture hangs on it, it is asked back.
export async function switchOff(row, how = {}) {
  const reply = await page.line.keep({off: {transmitter: row.transmitter, ...how}});
  if (reply.kept) {
    showToast(t('kept', {at: clockText(nowMs())}));
    return page.redraw();
  }
  const refusal = reply.refusal || reply.switched?.refusal;
  if (!refusal) return how.down || how.silent ? null : offDone(row);
  if (!row.is_relay || refusal.kind !== 'conflict' || how.yes_anyway) return sayRefusal(refusal);
  openSheet(() => ({
    title: t('off.asks', {what: row.transmitter}), body: el('p.mid', {}, t('off.relay', {who: row.owner})),
    acts: [button(t('off.leave'), closeSheet, 'go'), button(t('off.anyway'), () => { closeSheets(); switchOff(row, {...how, yes_anyway: true}); })],
  }));
}

function offDone(row) {
  const back = () => page.line.keep({on: {transmitter: row.transmitter, already: true, bench: row.stage === 'bench'}});
  showToast(t('off.at', {at: clockText(nowMs())}), {undo: back});
}

