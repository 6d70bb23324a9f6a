// Another channel or power, tried before it is taken: nothing is changed yet.

import {button, el} from './nodes.js';
import {t} from './texts.js';
import {mhzText, pegText, powerText} from './figures.js';
import {page} from './page.js';
import {closeSheets, openSheet, topSheet} from './sheets.js';
import {harmSentence, sentence} from './standing.js';
import {peg, sign} from './pegs.js';
import {bandEdges, dialFor, heard} from './hearing.js';
import {claim, claimRefused} from './asking.js';

const usual = [13.979, 20, 23.01];

export async function gearOf(row) {
  const sheet = await page.day();
  const gear = row.is_relay ? (sheet?.relays || []).find((r) => r.name === row.transmitter)?.transmitter
    : (sheet?.pilots || []).find((p) => p.name === row.transmitter)?.video;
  const channels = gear?.channels?.length ? gear.channels : (sheet?.rows || []).flatMap((r) => r.channels || []);
  return {channels, powers: gear?.power_dbm?.length ? [...gear.power_dbm].sort((a, b) => a - b) : usual};
}

export async function openTry(row, channel) {
  const chosen = {channel: channel?.mhz ? channel : row.channel, power: row.power_dbm, reply: null};
  const [gear, picture, band, offer] = await Promise.all([gearOf(row), heard(row), bandEdges(row), page.ask({free: {transmitter: row.transmitter}})]);
  const free = offer.free?.free || [];
  chosen.channel ??= free[0]?.channel || gear.channels[0];
  chosen.power ??= free[0]?.power_dbm ?? gear.powers[0];
  const draw = () => trySheet(row, chosen, {gear, picture, band, free});
  const look = async () => {
    const mine = chosen.asked = {};
    const reply = await page.done({claim: {transmitter: row.transmitter, channel: chosen.channel, power_dbm: chosen.power, only_try: true}});
    if (chosen.asked !== mine) return;
    chosen.reply = reply?.claim || null;
    if (topSheet()?.draw === draw) page.redraw();
  };
  chosen.set = (change) => { Object.assign(chosen, change); page.redraw(); look(); };
  openSheet(draw);
  look();
}

function verdictPart({reply}) {
  if (!reply) return el('p.mid', {'data-of': 'verdict'}, t('try.looks'));
  const harms = reply.harms || [];
  if (harms.length) return el('p.mid', {'data-of': 'verdict'}, sign('clash'), ' ', harms.slice(0, 2).map((h) => `${harmSentence(h)} `));
  const verdict = reply.own?.verdict;
  return el('p.mid', {'data-of': 'verdict'}, verdict ? [sign(verdict), ' ', t(`verdict.${verdict}.strip`), '. '] : null, sentence(reply.own) || reply.refusal?.why || '');
}

const isSame = (a, b) => Math.abs(Number(a) - Number(b)) < 0.1;

function trySheet(row, chosen, {gear, picture, band, free}) {
  const name = pegText(chosen.channel), held = row.channel?.mhz ? pegText(row.channel) : '';
  const isHeld = isSame(chosen.channel?.mhz, row.channel?.mhz) && isSame(chosen.power, row.power_dbm);
  const hurt = (chosen.reply?.harms || []).map((h) => h.pilot);
  const takeIt = () => (chosen.reply?.refusal ? openSheet(() => claimRefused(row, chosen.reply)) : claim(row, {channel: chosen.channel, power_dbm: chosen.power}));
  return {
    key: 'try', look: '', title: t('try.title', {channel: name}),
    strip: held ? {peg: peg(held, 'held', mhzText(row.channel.mhz)), word: held === name ? held : t('try.strip', {a: held, b: name}), sub: t('try.sub')} : null,
    body: [dialFor({row: {...row, channel: chosen.channel}, picture, hurt, free, band, tried: true}), verdictPart(chosen),
      choice(t('channel'), gear.channels.map((c) => ({words: pegText(c), isChosen: isSame(c.mhz, chosen.channel?.mhz), act: () => chosen.set({channel: c, reply: null}),
        isFree: free.some((f) => isSame(f.channel.mhz, c.mhz))}))),
      choice(t('power'), gear.powers.map((p) => ({words: powerText(p), isChosen: isSame(p, chosen.power), act: () => chosen.set({power: p, reply: null}), isFree: true})))],
    acts: [button(t(isHeld ? 'keep' : 'take', {channel: name}), isHeld ? closeSheets : takeIt, hurt.length ? '' : 'go'),
      held && !isHeld ? button(t('keep', {channel: held}), closeSheets) : null],
  };
}

export const choice = (name, options) => el('div', {'data-of': name}, el('p.label', {}, name), el('div.spots', {role: 'group', 'aria-label': name},
  options.map(({words, isChosen, act, isFree}) => el(`button${isFree ? '' : '.taken'}`, {type: 'button', 'data-of': words, 'aria-pressed': String(isChosen), onclick: act}, words))));
