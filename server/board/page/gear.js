// My gear, by its look: five questions from nothing to a peg, and one thing changed at a time later.

import {button, el, link, links, two} from './nodes.js';
import {listed, t} from './texts.js';
import {pegText, powerText} from './figures.js';
import {page, sayRefusal} from './page.js';
import {changeSheet, closeSheet, closeSheets, openSheet} from './sheets.js';
import {sentence} from './standing.js';
import {drawing} from './drawings.js';
import {say} from './shell.js';
import {peg, pegOf} from './pegs.js';
import {claim, claimRefused} from './asking.js';
import {bandEdges, dialFor, spots} from './hearing.js';
import {map} from './map.js';
import {stands} from './field.js';
import {choice} from './trying.js';
import {groups} from './groups.js';
import {aerials, goggles, pictures, powerSets, tomlOf, widths} from './looks.js';

const kept = 'gear';
const remembered = () => {
  try {
    return JSON.parse(localStorage.getItem(kept) || 'null');
  } catch {
    return null;
  }
};

const questions = ['picture', 'goggles', 'aerial', 'powers', 'place'];
const strip = (sub) => ({peg: page.aircraft() ? pegOf(page.aircraft(), true) : peg('?', 'none', t('peg.none')), word: t('my.gear'), sub});
const tile = (name, words, small, act) => el('button', {type: 'button', 'data-of': words, onclick: act}, name ? drawing(name) : null, small ? two(words, small) : words);

// The pilot as the day has them; null before the first answers are in.
const listedPilot = (day, name) => (day?.pilots || []).find((p) => p.name === name) || null;

export const openGear = () => openGearOf(page.me.name);
// One's own, or what the marshal changes for somebody.
export async function openGearOf(name) {
  const day = await page.day();
  if (!day?.field?.places?.length || !day.field.areas?.length) return sayRefusal({where: '', why: t('gear.field'), next: t('gear.field.next')});
  if (listedPilot(day, name)) return openSheet(() => changesSheet(page.sheetOfDay?.sheet || day, name));
  return ask({}, 0, day);
}

// One question after the other; the browser's back goes back to the one before.
function ask(answers, n, day) {
  const next = (answer) => {
    const all = {...answers, [questions[n]]: answer};
    return n + 1 < questions.length ? ask(all, n + 1, day) : enter(all, day);
  };
  openSheet(() => questionSheet(questions[n], {n, day, next, area: answers.area || mostUsed(day.pilots, 'area', day.field.areas),
    setArea: (area) => { answers.area = area; page.redraw(); }}));
}

const dontKnow = (question, act, look) => el(`button.${look}`, {type: 'button', onclick: () => act('unknown')}, two(t('dont.know'), t(`q.${question}.unknown`)));

const tiles = {
  picture: (act) => [el('div.tiles.large', {}, pictures.map((p) => tile(p.drawing, t(`picture.${p.name}`), t(`picture.${p.name}.small`), () => act(p.name))),
    dontKnow('picture', act, 'wide')), links(link(t('q.ground'), openGround))],
  goggles: (act) => el('div.tiles', {}, goggles.map((g) => tile(g.drawing, t(`goggles.${g.name}`), '', () => act(g.name))), dontKnow('goggles', act, 'dash')),
  aerial: (act) => el('div.tiles', {}, aerials.map((a) => tile(a.drawing, t(`aerial.${a.name}`), '', () => act(a.name))), dontKnow('aerial', act, 'wide')),
  powers: (act) => el('div.tiles', {}, powerSets.map((p) => tile(null, el('span.mid', {}, t(`powers.${p.name}`)), '', () => act(p.name))), dontKnow('powers', act, 'wide')),
};

function questionSheet(question, {n, day, next, area, setArea}) {
  const count = n === undefined ? null : el('p.small', {}, t('question', {n: n + 1, of: questions.length}));
  return {
    key: `q${question}`, look: '', title: t(`q.${question}`), before: count, strip: strip(n === undefined ? t('gear.change') : t('question', {n: n + 1, of: questions.length})),
    body: question === 'place' ? placeTiles(day, next, area, setArea) : tiles[question](next),
  };
}

function placeTiles(day, next, area, setArea) {
  const areas = day.field.areas || [];
  return [map({field: day.field, stands: stands(), tap: next, tall: 0.4, says: t('field.says')}),
    areas.length > 1 && setArea ? choice(t('q.area'), areas.map((a) => ({words: a.name, isChosen: a.name === area, isFree: true, act: () => setArea(a.name)}))) : null,
    el('div.tiles', {}, day.field.places.map((p, i) => el('button.low', {type: 'button', 'data-of': p.name, onclick: () => next(p.name)}, `${i + 1} ${p.name}`)), dontKnow('place', next, 'wide'))];
}

// Where most are.
export function mostUsed(people, what, all) {
  const count = (name) => (people || []).filter((p) => p[what] === name).length;
  return [...(all || [])].sort((a, b) => count(b.name) - count(a.name))[0]?.name || '';
}

// A pilot who is new on the day, by these answers; the reply, or null after it was said what is wrong.
export async function putPilot(name, answers, day) {
  const place = answers.place && answers.place !== 'unknown' ? answers.place : mostUsed(day.pilots, 'place', day.field.places);
  const area = answers.area || mostUsed(day.pilots, 'area', day.field.areas);
  return page.done({put: {file: '', only_new: true, toml: tomlOf({...answers, name, place, area})}});
}

async function enter(answers, day) {
  const reply = await putPilot(page.me.name, answers, day);
  if (!reply) return;
  localStorage.setItem(kept, JSON.stringify(answers));
  closeSheets();
  const row = await rowOf(page.me.name);
  if (row) openBest(row);
}

// The row of somebody who was just entered, once the board has it.
export async function rowOf(name) {
  for (let i = 0; i < 40 && !page.row(name); ++i) await new Promise((done) => setTimeout(done, 50));
  return page.row(name);
}

// What this name brought last, with one tap.
export function lastTime() {
  const answers = remembered();
  if (!answers) return null;
  const words = [t(`picture.${answers.picture}`), t(`goggles.${answers.goggles}`), t(`powers.${answers.powers}`)].join(', ');
  return {words, take: async () => {
    const day = await page.day();
    const isThere = (day?.field?.places || []).some((p) => p.name === answers.place);
    if (day) await enter({...answers, place: isThere ? answers.place : 'unknown'}, day);
  }};
}

// The best channel now, and what else is free.
export async function openBest(row) {
  const [answer, band] = await Promise.all([page.ask({free: {transmitter: row.transmitter}}), bandEdges(row)]);
  if (answer.refusal) return sayRefusal(answer.refusal);
  const free = answer.free.free || [];
  if (!free.length && !Number(row.group || 0)) free.push(...[await withGroup(row)].filter(Boolean));
  if (!free.length) return nothingFree(row);
  const chosen = {at: 0};
  const draw = () => bestSheet(row, free, band, chosen);
  openSheet(draw);
}

function bestSheet(row, free, band, chosen) {
  const one = free[chosen.at], channel = pegText(one.channel);
  return {
    key: 'best', title: t(chosen.at ? 'try.title' : 'best.title', {channel}), strip: strip(t('gear.ready')),
    body: [el('p.mid', {}, t('best.text', {word: t(`verdict.${one.verdict}`), sentence: sentence({verdict: one.verdict})})),
      dialFor({row: {...row, channel: one.channel}, free, band, tried: true}), spots(free, (f) => { chosen.at = free.indexOf(f); page.redraw(); }),
      one.group ? el('p', {}, t('best.group', {n: one.group})) : null, el('p.small', {}, t('best.power', {power: powerText(one.power_dbm)})),
      links(link(t('answer.change'), openGear))],
    acts: button(t('take', {channel}), () => claim(row, one), 'go'),
  };
}

// Nothing that harms nobody is left beside everybody: with a flight group there may be, the smallest first.
async function withGroup(row) {
  const size = (g) => page.rows().filter((r) => Number(r.group || 0) === g).length;
  for (const group of groups().sort((a, b) => size(a) - size(b))) {
    const tried = (await page.line.send({claim: {transmitter: row.transmitter, group, only_try: true}})).claim;
    if (tried && !tried.refusal) return {channel: tried.channel, power_dbm: tried.power_dbm, verdict: tried.own?.verdict || 'no_picture', group};
  }
  return null;
}

// The least bad, with who would pay, or wait.
async function nothingFree(row) {
  const reply = await page.done({claim: {transmitter: row.transmitter, only_try: true}});
  const tried = reply?.claim;
  if (!tried) return;
  if (tried.refusal) return openSheet(() => ({...claimRefused(row, tried), title: t('best.none')}));
  openSheet(() => bestSheet(row, [{channel: tried.channel, power_dbm: tried.power_dbm, verdict: tried.own?.verdict || 'no_picture'}], null, {at: 0}));
}

// ---- later: one thing at a time

const nameOf = (list, test) => list.find(test)?.name;

// What the day has of somebody, as the answers that would give it.
function answersOf(pilot) {
  const first = pilot.receivers?.[0], mounted = (pilot.receivers || []).map((r) => r.mounting?.antenna);
  const word = (question, name, other) => (name ? t(`${question}.${name}`) : other || '?');
  return {
    picture: word('picture', nameOf(pictures, (p) => p.emissions.includes(pilot.video?.emission)), pilot.video?.emission),
    goggles: word('goggles', nameOf(goggles, (g) => g.antennas.join() === mounted.join()), listed(mounted)),
    aerial: word('aerial', nameOf(aerials, (a) => a.antenna === pilot.video?.mounting?.antenna), pilot.video?.mounting?.antenna),
    hand: t(`hand.${pilot.video?.mounting?.polarisation || first?.mounting?.polarisation || 'rhcp'}`),
    powers: (pilot.video?.power_dbm || []).map(powerText).join(', ') || t('power.any'),
    channels: channelWords(pilot.video?.channels || []),
    place: pilot.place, area: pilot.area,
  };
}
const channelWords = (channels) => [...new Set(channels.map((c) => (c.name ? c.name[0] : '')))].filter((x) => /[A-Z]/.test(x)).join(', ') || channels.map(pegText).slice(0, 4).join(', ');

function changesSheet(day, name) {
  const pilot = listedPilot(day, name);
  if (!pilot) return {title: t('my.gear')};
  const words = answersOf(pilot);
  const item = (what, open) => el('li', {'data-of': what}, el('button', {type: 'button', onclick: open}, el('span.name', {}, t(`gear.${what}`)), el('span.is', {}, words[what])));
  return {
    key: 'gear', title: name === page.me.name ? t('my.gear') : t('gear.of', {who: name}), body: [el('ul.rows.gear', {}, Object.keys(words).map((what) => item(what, () => changeOne(what, day, pilot)))),
      el('p.small', {}, t('gear.one')), name === page.me.name ? links(link(t('q.ground'), openGround)) : null],
  };
}

const changes = {
  picture: (name) => { const p = pictures.find((one) => one.name === name); return {emission: p.emission, receiver: p.receiver, channels: p.channels}; },
  goggles: (name) => { const g = goggles.find((one) => one.name === name); return {receiver_antenna: g.antennas[0], receiver_polarisation: g.polarisation}; },
  aerial: (name) => { const a = aerials.find((one) => one.name === name); return {antenna: a.antenna, polarisation: a.polarisation}; },
  powers: (name) => ({power_dbm: powerSets.find((one) => one.name === name).mw.map((mw) => 10 * Math.log10(mw))}),
  place: (place) => ({place}), area: (area) => ({area}),
  hand: (hand) => ({polarisation: hand, receiver_polarisation: hand}),
  channels: (rows) => ({channels: rows.split(',')}),
};

function changeOne(what, day, pilot) {
  const answer = async (value) => {
    const hadChannel = page.row(pilot.name)?.channel?.mhz;
    const asked = value === 'unknown' ? first[what] : value;
    const reply = await page.done({change_pilot: {pilot: pilot.name, ...changes[what](asked)}});
    if (!reply) return;
    page.sheetOfDay = null;
    await page.day();
    closeSheet();
    say(t('gear.changed'));
    await knows(reply.version);
    if (hadChannel && !page.row(pilot.name)?.channel?.mhz) openUnfit(pilot.name);
  };
  const chips = {
    area: () => (day.field.areas || []).map((a) => [a.name, a.name]),
    hand: () => ['rhcp', 'lhcp', 'vertical', 'horizontal'].map((h) => [h, t(`hand.${h}`)]),
    channels: () => [['R1-R8', 'R'], ['F1-F8', 'F'], ['R1-R8,F1-F8', 'R + F'], ['A1-A8,B1-B8,E1-E8,F1-F8,R1-R8', t('channels.all')],
      [widths[20], t('channels.digital')], [widths[40], t('channels.wide')]],
  }[what];
  openSheet(() => (chips ? {key: `q${what}`, look: '', title: t(`q.${what}`), strip: strip(t('gear.change')),
    body: el('div.tiles', {}, chips().map(([value, words]) => el('button.low', {type: 'button', 'data-of': words, onclick: () => answer(value)}, words)))}
    : questionSheet(what, {day, next: answer, area: pilot.area})));
}
// Until the board is that of a reply, for a moment.
async function knows(version) {
  for (let i = 0; i < 40 && Number(page.board.version || 0) < Number(version || 0); ++i) await new Promise((done) => setTimeout(done, 50));
}

// With other gear the channel may be none that it has.
function openUnfit(name) {
  openSheet(() => ({title: t('gear.unfit'), body: el('p.mid', {}, t('gear.unfit.text')), acts: button(t('get.channel'), () => { closeSheets(); openBest(page.row(name)); }, 'go')}));
}

const first = {picture: 'snow', goggles: 'stubbies', aerial: 'stubby', powers: 'one', place: ''};

// ---- what stands on the ground, or flies on another band: by kits

async function openGround() {
  const [answer, day] = await Promise.all([page.ask({gear: {}}), page.day()]);
  if (answer.refusal) return sayRefusal(answer.refusal);
  const kits = (answer.gear.library.kits || []).filter((k) => k.toml.includes('[relay]') || /1g3|2g4/.test(k.name));
  const words = (kit) => t(`kit.${kit.name}`, {title: kit.title});
  openSheet(() => ({
    key: 'ground', look: '', title: t('q.ground.title'), strip: strip(t('q.ground')),
    body: el('div.tiles', {}, kits.map((kit) => tile(kit.toml.includes('[relay]') ? 'station' : 'whip', kitWords(kit, words), '', () => groundPlace(kit, day)))),
  }));
}
const known = ['long-range-1g3-relay', 'long-range-1g3-goggles', 'long-range-2g4', 'ground-station-5g8'];
const kitWords = (kit, words) => (known.includes(kit.name) ? words(kit) : kit.title);

function groundPlace(kit, day) {
  const hasRelay = kit.toml.includes('[relay]');
  openSheet(() => questionSheet('place', {day, area: '', next: (place) => (hasRelay ? groundMast(kit, day, place) : enterKit(kit, day, place, ''))}));
}
function groundMast(kit, day, place) {
  openSheet(() => ({...questionSheet('place', {day, area: '', next: (mast) => enterKit(kit, day, place, mast)}), key: 'mast', title: t('q.mast')}));
}

async function enterKit(kit, day, place, mast) {
  const spot = (name) => (name === 'unknown' ? mostUsed(day.pilots, 'place', day.field.places) : name);
  const toml = tomlOf({name: page.me.name, kit: kit.name, place: spot(place), area: mostUsed(day.pilots, 'area', day.field.areas), mast: mast ? spot(mast) : ''});
  const reply = await page.done({put: {file: '', toml}});
  if (!reply) return;
  changeSheet(() => ({title: t('gear.ready')}));
  closeSheets();
  const row = await rowOf(page.me.name);
  if (row && !row.channel?.mhz) openBest(row);
}
