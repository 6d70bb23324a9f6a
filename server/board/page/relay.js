// A relay before it is switched on: how far it drowns its neighbours, by its power.

import {button, el} from './nodes.js';
import {t, listed} from './texts.js';
import {number, pegText, powerText} from './figures.js';
import {page, sayRefusal} from './page.js';
import {closeSheet, closeSheets, openSheet} from './sheets.js';
import {pegOf} from './pegs.js';
import {askOn, claim} from './asking.js';
import {map} from './map.js';
import {stands} from './field.js';
import {radiates} from './standing.js';

export async function openRelay(row) {
  const sheet = await page.day();
  const relay = (sheet?.relays || []).find((r) => r.name === row.transmitter);
  const channel = row.channel?.mhz ? row.channel : relay?.transmitter?.channels?.[0];
  const query = {relay: row.transmitter, all_steps: true, basis: 'held', power_dbm: row.power_dbm ?? relay?.transmitter?.power_dbm?.[0] ?? 13.979};
  if (channel) query.channel = channel;
  const answer = await page.ask({relay_check: query});
  if (answer.refusal) return sayRefusal(answer.refusal);
  const check = answer.relay_check, steps = check.steps || [];
  if (!steps.length) return sayRefusal({where: row.transmitter, why: t('relay.none')});
  const held = steps.findIndex((s) => row.power_dbm !== undefined && Math.abs(Number(s.power_dbm || 0) - Number(row.power_dbm)) < 0.1);
  const chosen = {at: Math.max(0, held)};
  openSheet(() => relaySheet({row, relay, field: sheet.field, check, steps, channel, chosen, held}));
}

const fits = (step) => step.answer === 'fits';
const bestOf = (steps) => steps.reduce((best, s, i) => (fits(s) ? i : best), -1);

function verdictOf(step) {
  const harmed = step.harmed || [];
  if (fits(step)) return t('relay.fits', {power: powerText(step.power_dbm)});
  if (step.answer === 'too_weak') return t('relay.weak');
  return harmed.length ? t('relay.harm', {who: listed(harmed.slice(0, 3))}) : t('relay.strong');
}

function relaySheet({row, relay, field, check, steps, channel, chosen, held}) {
  const step = steps[chosen.at], best = bestOf(steps), hurt = step.harmed || [];
  const says = verdictOf(step);
  const slider = el('input', {id: 'power', type: 'range', min: 0, max: steps.length - 1, value: chosen.at, 'aria-valuetext': `${powerText(step.power_dbm)}. ${says}`,
    oninput: (e) => { chosen.at = Number(e.currentTarget.value); page.redraw(); }});
  const isOn = radiates(row) && row.stage !== 'told_on';
  // What is on is set by hand, and said.
  const at = (i) => (isOn ? setTo(row, steps[i].power_dbm) : claim(row, {channel, power_dbm: steps[i].power_dbm}));
  const words = (i) => t(isOn ? 'cause.lower' : 'relay.take', {power: powerText(steps[i].power_dbm)});
  const isHeld = chosen.at === held;
  const act = fits(step) ? isHeld && isOn ? button(t('close'), closeSheet, 'go') : button(isHeld ? t('relay.on') : words(chosen.at), () => (isHeld ? askNow(row) : at(chosen.at)), 'go')
    : best >= 0 ? button(words(best), () => at(best), 'go') : button(t('close'), closeSheet);
  return {
    key: 'relay', title: says, strip: {peg: pegOf(row, true), word: row.transmitter, sub: t(`stage.${row.stage || 'none'}`)},
    before: el('p.small', {}, [row.transmitter, pegText(channel)].join(' \u00b7 ')),
    body: [field?.places?.length ? map({field, stands: stands(hurt), tall: 0.4, says: t('relay.map', {who: hurt.length ? listed(hurt) : t('nobody')}),
      ring: {place: relay.place, metres: Number(step.swamps_within_m || 0), isHarm: !fits(step)}}) : null,
    el('p.small', {}, t('relay.ring')),
    el('p.small', {}, t('relay.away', {m: number(step.keep_away_m || 0, 1)})),
    (check.advice || []).filter((a) => a.kind !== 'set_power').map((a) => el('p.small', {}, adviceText(a)))],
    acts: [el('div', {'data-of': 'slider'}, el('label', {for: 'power'}, t('power'), ' ', el('span.num', {id: 'mw'}, powerText(step.power_dbm))),
      steps.length > 1 ? [slider, window(steps)] : null), page.mayAct() ? act : null],
  };
}
async function setTo(row, power) {
  closeSheets();
  await page.done({on: {transmitter: row.transmitter, already: true, power_dbm: power}});
}
function askNow(row) {
  closeSheets();
  askOn(row);
}

const adviceText = (a) => t(`advice.${a.kind}`, {channel: a.channel ? pegText(a.channel) : '', m: Math.round(Number(a.metres || 0)), db: Math.round(Number(a.attenuator_db || 0))});

// Below the slider: from where to where it fits.
const window = (steps) => el('p.window', {'data-of': 'window'}, steps.map((s, i) =>
  el(`i.${fits(s) ? 'in' : s.answer === 'too_weak' ? 'under' : 'over'}`, {}, i === 0 || steps[i - 1].answer !== s.answer ? t(`window.${s.answer || 'no_window'}`) : '\u00a0')));
