// What must not be missed, the worst first. An alarm covers and never moves; it stays until it is answered or untrue.

import {button, link} from './nodes.js';
import {listed, t} from './texts.js';
import {pegText, powerText} from './figures.js';
import {isCalled, page, secondsLeft} from './page.js';
import {holdButton} from './hold.js';
import {isLost, isToConfirm, radiates} from './standing.js';
import {askOn, confirmations, switchOff} from './asking.js';
import {pegOf} from './pegs.js';
import {showToast} from './shell.js';
import {callOuts, causeName, causeOf, pilotOf, told} from './callouts.js';

const known = new Set();   // alarms that were answered here
const flat = (words, act) => link(words, act, {class: 'b flat'});
const answered = (key, more) => () => { known.add(key); more?.(); page.redraw(); };
const off = (row, words) => holdButton(words, () => switchOff(row));

function landNow() {
  const {closed} = page.board;
  if (!closed?.now || !page.me) return null;
  const row = page.aircraft(), flies = row?.stage === 'on_air', key = `land${closed.since_ms}`;
  return {key, rank: 0, kind: 'bad', title: t('alarm.land'), text: closed.because, strip: {look: 'stop', word: t('closed'), sub: t('closed.land')},
    acts: [flies ? off(row, t('landed.off')) : null, flat(t('i.know'), answered(key))]};
}

function control() {
  const row = page.aircraft();
  if (row?.stage !== 'on_air' || row.result?.verdict !== 'control_at_risk') return null;
  const key = `control${row.since_ms}`;
  return {key, rank: 1, kind: 'control', title: t('alarm.control'), text: t('alarm.control.text'), strip: {look: 'stop', word: t('verdict.control_at_risk.strip'), sub: t('alarm.control.sub')},
    acts: [off(row, t('landed.off')), flat(t('i.know'), answered(key))]};
}

// Something happened to my picture.
function suffered(w) {
  const row = pilotOf(w), key = `w${w.version}`, who = causeName(w);
  if (w.kind === 'source_off') return sourceGone(w, key, who);
  const lost = isLost(w.after), drill = page.board.lost_picture || t('drill');
  const acknowledge = () => page.done({acknowledge_warning: {warning: w.version}});
  return {key, rank: lost ? 2 : 2.5, kind: 'bad', title: t(lost ? 'alarm.lost' : 'alarm.worse', {me: page.me.name, who}),
    text: lost ? `${drill} ${t('alarm.told', {who: causeOf(w)?.owner || who, marshal: page.marshal()})}` : t('alarm.worse.text', {who}), over: t('alarm.over', {who}),
    strip: lost ? {look: 'stop', word: t('verdict.clash.strip'), sub: who} : null,
    acts: [button(t('i.know'), answered(key, acknowledge)), row?.stage === 'on_air' ? off(row, t('landed.off')) : null]};
}

// One's own relay went off, or what it carries.
function sourceGone(w, key, who) {
  if (radiates(causeOf(w))) return null;   // it is on again
  return {key, rank: 3.2, kind: 'bad', over: t('alarm.source.over', {who}), title: t('alarm.source', {me: page.me.name}), text: `${t('alarm.source.text', {who})} ${page.board.lost_picture || t('drill')}`,
    acts: button(t('i.know'), answered(key, () => page.done({acknowledge_warning: {warning: w.version}})))};
}

// What mine do to others, one alarm for each of mine: about the worst off.
function allCaused(untold) {
  const own = (w) => { const row = causeOf(w); return row && Number(row.owner_id || 0) === Number(page.me?.id || -1) && pilotOf(w) && radiates(row) && !known.has(`c${w.version}`); };
  const byCause = new Map();
  for (const w of untold.filter(own).sort((a, b) => Number(isLost(b.after)) - Number(isLost(a.after)))) byCause.set(w.cause, [...(byCause.get(w.cause) || []), w]);
  return [...byCause.values()].map(([w, ...more]) => caused(w, more));
}

// To one who flies nothing is offered that needs hands or eyes.
function caused(w, more) {
  const row = causeOf(w), key = `c${w.version}`, victim = pilotOf(w), others = more.map((m) => pilotOf(m).transmitter);
  const what = row.is_relay ? t('your.relay', {name: row.transmitter}) : t('your.craft');
  const lower = w.remedy === 'lower' ? powerText(w.remedy_dbm) : '';
  const turnDown = () => page.done({on: {transmitter: row.transmitter, already: true, power_dbm: w.remedy_dbm}});
  const isFlying = w.remedy === 'land_then_off';
  return {key, rank: 3, kind: 'bad', title: t(isLost(w.after) ? 'cause.lost' : 'cause.worse', {what, who: victim.transmitter}),
    text: [others.length ? t('cause.also', {who: listed(others), n: others.length}) : '', t(isFlying ? 'cause.land' : 'cause.text', {who: victim.transmitter, channel: pegText(victim.channel)})].filter(Boolean).join(' '), over: t('alarm.over.cause', {who: victim.transmitter}),
    strip: {look: 'stop', word: t(isFlying ? 'cause.strip.land' : lower ? 'cause.strip' : 'cause.strip.off'), sub: `${what}, ${powerText(row.power_dbm)}`, peg: pegOf(row, true)},
    acts: [lower ? button(t('cause.lower', {power: lower}), turnDown) : null, isFlying ? null : off(row, t('cause.off')),
      flat(t('cause.cannot'), answered(key, () => { for (const m of more) known.add(`c${m.version}`); page.done({acknowledge_warning: {warning: w.version, cannot_reach: true}}); showToast(t('cause.told', {marshal: page.marshal()})); }))]};
}

// Is it on? An alarm only where somebody waits for the channel, or after the line was lost.
function isItOn() {
  const row = page.aircraft();
  if (!isToConfirm(row)) { page.asksIsOn = false; return null; }
  const isWaitedFor = (page.board.line || []).some((one) => (one.wait_for || []).includes(row.transmitter));
  if (!(page.asksIsOn || (row.unconfirmed && isWaitedFor))) return null;
  return {key: `ison${row.since_ms}`, rank: 4, kind: 'quiet', title: t(page.asksIsOn ? 'alarm.again' : 'late.title'), text: t('late.text', {channel: pegText(row.channel)}), acts: confirmations(row)};
}

function myTurn() {
  const row = page.aircraft();
  if (!isCalled(row) || !['held', 'off_air'].includes(row.stage)) return null;
  const one = page.board.line[page.place(row)], next = page.board.line[page.place(row) + 1];
  const key = `turn${one.called_until_ms}`;
  return {key, rank: 5, kind: 'good', title: t('turn.title', {channel: pegText(one.channel)}), said: '',
    text: t(next ? 'turn.text.next' : 'turn.text', {n: secondsLeft(Number(one.called_until_ms)), next: next?.transmitter}), over: null,
    acts: [button(t('may.i'), answered(key, () => askOn(row))), flat(next ? t('turn.pass', {who: next.transmitter}) : t('line.leave'),
      answered(key, () => page.done(next ? {move_in_line: {transmitter: row.transmitter, place: 2}} : {leave_line: {transmitter: row.transmitter}})))]};
}

// Somebody is being looked for, and my transmitter drowns it.
const silent = {version: '', names: new Map()};
function beQuiet() {
  const searches = page.board.searches || [];
  const key = searches.map((s) => s.transmitter).join();
  if (key !== silent.version && page.isLive) {
    silent.version = key;
    silent.names = new Map();
    for (const s of searches) page.ask({find: {transmitter: s.transmitter}}).then((a) => { silent.names.set(s.transmitter, a.find?.silent || []); page.redraw(); });
  }
  const search = searches.find((s) => page.mine().some((r) => (silent.names.get(s.transmitter) || []).includes(r.transmitter)));
  if (!search) return null;
  const who = search.transmitter;
  return {key: `quiet${who}`, rank: 6, kind: 'bad', title: t('alarm.quiet', {who}), text: t('alarm.quiet.text', {who}), over: t('alarm.quiet.over', {who}),
    acts: button(t('i.know'), answered(`quiet${who}`))};
}

// The marshal, where the call is not on the screen anyway.
function callOut() {
  if (!page.isMarshal() || page.view === 'marshal' || !page.aircraft()) return null;
  const [one] = callOuts();
  return one ? {key: `call${one.w.version}`, rank: 7, kind: 'quiet', title: one.words, acts: [button(t('told', {who: one.to}), () => told(one)), flat(t('i.know'), answered(`call${one.w.version}`))]} : null;
}

// The alarm to show, with how many there are; null if there is none.
export function worstAlarm() {
  if (!page.me || !page.isLive) return null;
  const untold = page.board.untold || [];
  const all = [landNow(), control(), ...untold.filter((w) => Number(w.pilot) === Number(page.me.id) && w.kind !== 'moved').map(suffered),
    ...allCaused(untold), isItOn(), myTurn(), beQuiet(), callOut()].filter((a) => a && !known.has(a.key)).sort((a, b) => a.rank - b.rank);
  return all.length ? {...all[0], count: all.length} : null;
}
export const isKnown = (key) => known.has(key);

