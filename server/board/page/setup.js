// The day as the marshal sets it up: what it is called, what holds all day, where people stand and fly, what else radiates.
// What is entered is written as a day file has it.

import {at, button, el, field, heading} from './nodes.js';
import {t} from './texts.js';
import {number, pegText, powerText} from './figures.js';
import {page, sayRefusal} from './page.js';
import {closeSheet, openSheet} from './sheets.js';
import {say} from './shell.js';
import {choice} from './trying.js';
import {quoted} from './looks.js';
import {openWalkUp} from './marshal.js';

const metres = (m) => number(m || 0, 1);
// As people type them: a comma, a minus from another keyboard.
const typed = (id) => Number(at(id).value.trim().replace(',', '.').replace('\u2212', '-') || NaN);
const input = (id, value, more = {}) => el('input', {id, type: 'text', value, autocomplete: 'off', maxlength: 40, ...more});

// Enters it, and is back where it was asked from.
async function put(toml) {
  const reply = await page.done({put: {file: '', toml}});
  if (!reply) return;
  page.sheetOfDay = null;
  await page.day();
  closeSheet();
  say(t('setup.done'));
}

// All of some fields are numbers, or the first that is none has the focus.
function numbersOf(ids) {
  const wrong = ids.find((id) => !Number.isFinite(typed(id)));
  if (wrong) at(wrong).focus();
  return wrong ? null : ids.map(typed);
}

export async function openSetup() {
  if (await page.day()) openSheet(setupSheet);
}

function setupSheet() {
  const day = page.sheetOfDay?.sheet || {}, {field: site = {}} = day;
  const item = (name, is, open) => el('li', {'data-of': name}, el('button', {type: 'button', onclick: open}, el('span.name', {}, name), el('span.is', {}, is)));
  const list = (of, title, all, words, open, more) => el('section.stack', {'data-of': of}, heading(title), el('ul.rows.gear', {}, (all || []).map((one) => item(one.name, words(one), () => open(one)))), button(more, () => open(null)));
  return {
    key: 'setup', title: t('setup'), body: [el('ul.rows.gear', {}, item(t('setup.name'), day.name, () => openText('name', day.name, (v) => `[day]\nname = ${v}\n`)),
      item(t('setup.date'), day.date, () => openDate(day.date)),
      item(t('setup.field'), site.name, () => openText('field', site.name, (v) => `[field]\nname = ${v}\n`)),
      item(t('setup.rules'), day.rules?.title || day.rules?.name || t('setup.none'), openRules),
      item(t('setup.limit'), day.power_limit_dbm === undefined ? t('setup.none') : powerText(day.power_limit_dbm), () => openLimit(day.power_limit_dbm)),
      item(t('setup.minutes'), t('minutes', {n: Number(day.usual_minutes) || 8}), () => openMinutes(day.usual_minutes)),
      item(t('setup.lost'), day.lost_picture || t('drill'), () => openText('lost', day.lost_picture || '', (v) => `[day]\nlost_picture = ${v}\n`, 120))),
    list('places', t('setup.places'), site.places, (p) => t('setup.place.is', {east: metres(p.east_m), north: metres(p.north_m), up: metres(p.height_m)}), openPlace, t('setup.place.new')),
    list('areas', t('setup.areas'), site.areas, (a) => t('setup.area.is', {radius: metres(a.radius_m), low: metres(a.low_m), high: metres(a.high_m)}), openArea, t('setup.area.new')),
    list('others', t('setup.others'), site.emitters, (e) => `${pegText(e.channel)}, ${powerText(e.power_dbm)}, ${e.place}`, openEmitter, t('setup.other.new')),
    el('section.stack', {'data-of': 'people'}, heading(t('setup.people')), el('p.small', {}, t('setup.people.text')), button(t('walk.up'), openWalkUp))],
  };
}

// ---- one thing of the head

const one = (key, title, body, enter, more = null) => openSheet(() => ({key, look: '', title, body, acts: [button(t('setup.enter'), enter, 'go'), more]}));

function openText(key, is, toml, most = 40) {
  one(`text-${key}`, t(`setup.${key}`), [field(t(`setup.${key}.ask`), input('text', is, {maxlength: most}))], () => put(toml(quoted(at('text').value.trim()))));
}
function openDate(is) {
  one('date', t('setup.date'), field(t('setup.date'), input('date', is, {type: 'date'})), () => (at('date').value ? put(`[day]\ndate = ${at('date').value}\n`) : at('date').focus()));
}
function openMinutes(is) {
  one('minutes', t('setup.minutes'), field(t('setup.minutes.ask'), input('number', Number(is) || 8, {inputmode: 'numeric'})),
    () => { const n = numbersOf(['number']); if (n) put(`[day]\nusual_minutes = ${n[0]}\n`); });
}
function openLimit(is) {
  one('limit', t('setup.limit'), [field(t('setup.limit.ask'), input('number', is === undefined ? '' : number(10 ** (is / 10), 1), {inputmode: 'decimal'})), el('p.small', {}, t('setup.limit.text'))],
    () => { const n = numbersOf(['number']); if (n) put(`[day]\npower_limit_mw = ${n[0]}\n`); },
    is === undefined ? null : button(t('setup.limit.none'), () => put('[day]\npower_limit_mw = "none"\n')));
}

async function openRules() {
  const answer = await page.ask({gear: {}});
  if (answer.refusal) return sayRefusal(answer.refusal);
  const held = page.sheetOfDay?.sheet?.rules?.name || '';
  const set = async (rules) => {
    if (!(await page.done({set_rules: {rules}}))) return;
    page.sheetOfDay = null;
    await page.day();
    closeSheet();
  };
  const all = [{name: '', title: t('setup.none')}, ...(answer.gear.library.rule_sets || [])];
  openSheet(() => ({key: 'rules', look: '', title: t('setup.rules'), body: [el('div.stack', {}, all.map((r) => button(r.title || r.name, () => set(r.name), '', {'aria-pressed': String(r.name === held)}))), el('p.small', {}, t('setup.rules.text'))]}));
}

// ---- the field: one of its places, areas, senders; null is a new one

const place = (p) => `[[field.place]]\nname = ${quoted(p.name)}\nat_m = [${p.east}, ${p.north}]\nheight_m = ${p.up}\n`;
const gone = (what, name) => `[gone]\n${what} = [${quoted(name)}]\n`;
const goneButton = (words, toml) => button(words, () => put(toml));
// Under another name it is another, and the one before goes.
const renamed = (what, was, name) => (was && was.name !== name ? gone(what, was.name) : '');
const metresField = (id, label, is) => field(label, input(id, is === undefined ? '' : metres(is), {inputmode: 'text'}));
function nameOf() {
  const name = at('called').value.trim();
  if (!name) at('called').focus();
  return name;
}

function openPlace(was) {
  const enter = () => {
    const name = nameOf(), n = name && numbersOf(['east', 'north', 'up']);
    if (n) put(place({name, east: n[0], north: n[1], up: n[2]}) + renamed('places', was, name));
  };
  one('place', was?.name || t('setup.place.new'), [field(t('setup.called'), input('called', was?.name || '')), el('p.small', {}, t('setup.place.text')),
    metresField('east', t('setup.east'), was ? was.east_m || 0 : undefined), metresField('north', t('setup.north'), was ? was.north_m || 0 : undefined), metresField('up', t('setup.up'), was ? was.height_m : 1.7)],
  enter, was ? goneButton(t('setup.gone'), gone('places', was.name)) : null);
}

function openArea(was) {
  const enter = () => {
    const name = nameOf(), n = name && numbersOf(['east', 'north', 'radius', 'low', 'high']);
    const standoff = was?.standoff_m === undefined ? '' : `standoff_m = ${was.standoff_m}\n`;
    if (n) put(`[[field.area]]\nname = ${quoted(name)}\ncentre_m = [${n[0]}, ${n[1]}]\nradius_m = ${n[2]}\nheight_m = [${n[3]}, ${n[4]}]\n${standoff}${renamed('areas', was, name)}`);
  };
  one('area', was?.name || t('setup.area.new'), [field(t('setup.called'), input('called', was?.name || '')), el('p.small', {}, t('setup.area.text')),
    metresField('east', t('setup.east'), was ? was.east_m || 0 : undefined), metresField('north', t('setup.north'), was ? was.north_m || 0 : undefined),
    metresField('radius', t('setup.radius'), was ? was.radius_m : 50), metresField('low', t('setup.low'), was ? was.low_m || 0 : 3), metresField('high', t('setup.high'), was ? was.high_m : 40)],
  enter, was ? goneButton(t('setup.gone'), gone('areas', was.name)) : null);
}

function openEmitter(was) {
  const places = page.sheetOfDay?.sheet?.field?.places || [];
  const chosen = {place: was?.place || places[0]?.name};
  const enter = () => {
    const name = nameOf();
    const n = name && numbersOf(['wifi']);
    if (n) put(`[[field.emitter]]\nname = ${quoted(name)}\nplace = ${quoted(chosen.place)}\nwifi = ${n[0]}\n`);
  };
  openSheet(() => ({
    key: 'emitter', look: '', title: was?.name || t('setup.other.new'), body: [field(t('setup.called'), input('called', was?.name || '', was ? {readonly: true} : {})), el('p.small', {}, t('setup.other.text')),
      field(t('setup.wifi'), input('wifi', '', {inputmode: 'numeric'})), choice(t('seen.place'), places.map((p) => ({words: p.name, isChosen: p.name === chosen.place, isFree: true, act: () => { chosen.place = p.name; page.redraw(); }})))],
    acts: [button(t('setup.enter'), enter, 'go'), was ? button(t('setup.gone'), async () => { if (await page.done({remove: {name: was.name}})) { page.sheetOfDay = null; await page.day(); closeSheet(); } }) : null],
  }));
}
