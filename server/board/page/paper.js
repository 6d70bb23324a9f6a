// What leaves the field on paper: who flew, and the pegs. The phone's own printing makes the sheet.

import {button, el, heading} from './nodes.js';
import {t} from './texts.js';
import {clockText, mhzText, pegText, powerText} from './figures.js';
import {page, sayRefusal} from './page.js';
import {openSheet} from './sheets.js';
import {peg} from './pegs.js';

const printed = () => button(t('print'), () => window.print());

export async function openPaper(what) {
  if (what === 'pegs') return openSheet(pegsSheet);
  const answer = await page.ask({airtime: {}});
  if (answer.refusal) return sayRefusal(answer.refusal);
  openSheet(() => reportSheet(answer.airtime));
}

function pegsSheet() {
  const rows = page.rows().filter((r) => r.channel?.mhz && !r.is_sighting);
  return {key: 'pegs', title: t('pegs'), body: [el('p', {}, t('pegs.text')), el('ul.pegs', {}, rows.map((r) => el('li', {'data-of': r.transmitter},
    peg(pegText(r.channel), 'held', mhzText(r.channel.mhz)), el('strong', {}, r.transmitter), el('span', {}, [powerText(r.power_dbm), r.group ? t('group.n', {n: r.group}) : ''].filter(Boolean).join(', '))))), printed()]};
}

const name = (one) => one.relay || one.pilot;
const minutes = (m) => t('minutes', {n: Math.round(Number(m || 0))});

function reportSheet(air) {
  const flights = air.flights || [], totals = air.totals || [];
  const total = (one) => el('tr', {'data-of': name(one)}, el('td', {}, name(one)), el('td.num', {}, String(one.flights || 0)), el('td.num', {}, minutes(one.minutes)));
  const flight = (f) => el('tr', {'data-of': `f${f.from_version || f.from_ms}${name(f)}`}, el('td', {}, name(f)), el('td', {}, `${pegText(f.channel)}, ${powerText(f.power_dbm)}`),
    el('td.num', {}, `${clockText(f.from_ms)}\u2013${f.until_ms ? clockText(f.until_ms) : ''}`), el('td', {}, t(`end.${f.end || 'unknown'}`)));
  const most = air.most_at_once ? t('report.most', {n: air.most_at_once, at: clockText(air.most_at_once_ms), who: (air.most_at_once_who || []).join(', ')}) : t('report.none');
  return {key: 'report', title: t('report'), body: [el('p.mid', {}, most), totals.length ? [heading(t('report.who'), t('report.flights')), el('table', {}, el('tbody', {}, totals.map(total)))] : null,
    flights.length ? [heading(t('report.each')), el('div.scroll', {}, el('table', {}, el('tbody', {}, flights.map(flight))))] : null, el('p.small', {}, t('report.log')), printed()]};
}
