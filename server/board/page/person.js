// One of everybody: how they stand, since when, and what the marshal may do for them.

import {button, el, link, links} from './nodes.js';
import {t} from './texts.js';
import {ageText, clockText, minutesSince, nowMs, powerText} from './figures.js';
import {page} from './page.js';
import {closeSheets, openSheet} from './sheets.js';
import {isLong, isOff, isToConfirm, radiates, sentence} from './standing.js';
import {pegOf, verdictMark} from './pegs.js';
import {askOn, confirmations, switchOff} from './asking.js';
import {openTry} from './trying.js';
import {openBest, openGearOf} from './gear.js';
import {openGroupOf} from './grouping.js';
import {openRelay} from './relay.js';
import {openWhy} from './why.js';
import {openFind} from './finding.js';
import {sayDown} from './mine.js';

const quietMs = 120000;

function notes(row) {
  const all = [];
  if (row.is_relay) all.push(t('relay.of', {who: row.owner}));
  if (row.is_sighting) all.push(t('seen.long'));
  if (row.unasked && !row.is_sighting) all.push(t('unasked'));
  if (row.unconfirmed) all.push(t('unconfirmed'));
  if (isLong(row)) all.push(t('still.flying', {n: minutesSince(row.since_ms)}));
  if (row.allowed_because) all.push(t('allowed', {why: row.allowed_because}));
  if (row.note) all.push(row.note);
  if (row.group) all.push(t('group.of', {n: row.group}));
  const heard = row.heard_from_ms === undefined ? null : Number(row.heard_from_ms);
  if (heard === 0) all.push(t('phone.never'));
  else if (heard !== null && nowMs() - heard >= quietMs) all.push(t('phone.quiet', {age: ageText(nowMs() - heard)}));
  return all;
}

const near = (row) => [row.place, row.area].filter(Boolean).join(', ');

export function openPerson(row) {
  const name = row.transmitter;
  openSheet(() => personSheet(page.row(name) || {...row, stage: ''}));
}

function personSheet(row) {
  const title = row.is_sighting ? t('somebody') : row.transmitter;
  const verdict = row.stage === 'on_air' && !row.is_relay && !row.is_sighting ? row.result?.verdict : '';
  return {
    key: 'person', title, body: [
      el('div.mast', {}, pegOf(row, true), el('p.mid', {}, t(`stage.${row.unconfirmed ? 'late' : row.is_sighting ? 'seen' : row.stage || 'none'}`),
        radiates(row) && Number(row.since_ms) ? ` ${t('since', {at: clockText(row.since_ms)})}` : '')),
      verdict ? [el(`p.mid.${verdict}`, {}, verdictMark(verdict)), el('p', {}, sentence(row.result))] : null,
      el('p', {}, [row.channel?.mhz ? powerText(row.power_dbm) : '', near(row)].filter(Boolean).join(' \u00b7 ')),
      notes(row).map((words) => el('p.small', {'data-of': words}, words)),
      links(verdict ? link(t('why'), () => openWhy(row)) : null, row.stage === 'down' && !row.is_relay && page.me ? link(t('find'), () => openFind(row)) : null,
        row.is_relay && page.me ? link(t('relay.check'), () => openRelay(row)) : null),
      row.is_sighting ? goneButton(row) : page.isMarshal() ? acting(row) : null],
  };
}

// Whoever entered a sighting may take it back, and the marshal: all of one person's, too.
function goneButton(row) {
  const by = Number(row.reported_by || 0);
  const mayUnsee = page.isMarshal() || (page.me && by === Number(page.me.id));
  const take = (unsee) => { closeSheets(); page.done({unsee}); };
  const who = page.rows().find((r) => !r.is_relay && !r.is_sighting && Number(r.owner_id || 0) === by)?.transmitter;
  const n = page.rows().filter((r) => r.is_sighting && Number(r.reported_by || 0) === by).length;
  return mayUnsee ? [button(t('seen.gone'), () => take({sighting: row.id})),
    page.isMarshal() && by && who && n > 1 ? button(t('seen.gone.by', {n, who}), () => take({by: who})) : null] : null;
}

// The marshal acts for them, by what was seen.
function acting(row) {
  const off = () => { closeSheets(); switchOff(row, {undoable: true}); };
  return el('section.stack', {'data-of': 'acting'}, el('h3.group', {}, t('act.for', {who: row.owner || row.transmitter})),
    isToConfirm(row) ? confirmations(row) : null,
    row.stage === 'on_air' || row.stage === 'bench' ? button(t('act.off', {who: row.transmitter}), off) : null,
    isOff(row) ? button(t('act.on', {who: row.transmitter}), () => askOn(row)) : null,
    row.stage === 'down' ? button(t('act.silent'), () => { closeSheets(); switchOff(row, {silent: true}); }) : null,
    el('div.two', {}, row.channel?.mhz ? button(t('change'), () => openTry(row, row.channel)) : button(t('get.channel'), () => openBest(row)),
      radiates(row) && row.stage !== 'down' && !row.is_relay ? button(t('is.down'), () => sayDown(row)) : null,
      isOff(row) ? button(t('already'), () => page.done({on: {transmitter: row.transmitter, already: true}})) : null,
      isOff(row) ? button(t('bench.do'), () => askOn(row, {bench: true})) : null),
    links(row.is_relay ? null : link(t('gear.of', {who: row.transmitter}), () => openGearOf(row.transmitter)), isOff(row) ? link(t('group.move'), () => openGroupOf(row)) : null,
      isOff(row) ? link(t('give.back'), () => page.done({release: {transmitter: row.transmitter}})) : null,
      !radiates(row) && !row.is_relay && !row.channel?.mhz ? link(t('go.home'), () => { closeSheets(); page.done({remove: {name: row.transmitter}}); }) : null));
}
