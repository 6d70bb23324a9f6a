// Why somebody stands as they do: in words first, in decibels behind.

import {el} from './nodes.js';
import {t} from './texts.js';
import {decibelText, levelText, mhzText, number, percent} from './figures.js';
import {page, sayRefusal} from './page.js';
import {openSheet, topSheet} from './sheets.js';
import {isTrouble, sentence} from './standing.js';
import {bandEdges, dialFor, heard} from './hearing.js';

// "2 × Ann − Ben", "Ann + Ben − Cem", "Ann".
function makers(c) {
  const from = c.from || [];
  if (from.length === 3) return `${from[0]} + ${from[1]} \u2212 ${from[2]}`;
  return from.length === 2 ? `2 \u00d7 ${from[0]} \u2212 ${from[1]}` : from[0] || '?';
}

const away = (c, result) => Math.abs(Number((c.from_mhz || [])[0] || 0) - Number(result.channel_mhz || 0));

function points(receiver) {
  const {result = {}, ref = {}} = receiver;
  const loudest = (ref.contributions || [])[0];
  const room = Number(ref.margin_db || 0);
  return el('ul.stack', {}, room > 0 ? el('li', {}, el('strong', {}, t('why.room')), ' ', t('why.room.text', {times: number(Math.max(1, 10 ** (room / 20)), 1)})) : null,
    loudest ? el('li', {}, el('strong', {}, t('why.neighbour')), ' ', t(loudest.from.length > 1 ? 'why.product' : 'why.neighbour.text',
      {who: makers(loudest), mhz: mhzText(away(loudest, result))})) : el('li', {}, t('why.nobody')),
    el('li', {}, el('strong', {}, t('why.closest')), ' ', t(Number(result.margin_closest_db || 0) >= 0 ? 'why.closest.fine' : 'why.closest.lost')),
    result.share === undefined ? null : el('li', {}, el('strong', {}, t('why.share')), ' ', t('why.share.text', {share: percent(result.share), alone: percent(result.share_alone)})));
}

function decibels(receiver) {
  const {result = {}, ref = {}} = receiver;
  const terms = [[t('db.margin'), decibelText(result.margin_ref_db || 0)], [t('db.worst'), decibelText(result.margin_worst_db || 0)],
    [t('db.wanted'), levelText(ref.wanted_dbm)], [t('db.noise'), levelText(ref.noise_dbm)], [t('db.needs'), decibelText(receiver.required_watchable_db)],
    ...(ref.contributions || []).map((c) => [`${makers(c)}: ${t(`kind.${c.kind || 'unknown'}`)}`, levelText(c.level_dbm)])];
  return el('details', {'data-of': result.receiver || ''}, el('summary', {}, t('why.decibels')),
    el('dl.why', {}, terms.map(([term, value]) => [el('dt', {}, term), el('dd.num', {}, value)])));
}

export async function openWhy(row) {
  const pilot = row.owner || row.transmitter, from = topSheet();
  const [answer, picture, band] = await Promise.all([
    page.ask({explain: {pilot, basis: 'on_air', contributions: 6}}), heard(row), bandEdges(row)]);
  if (topSheet() !== from) return;   // whoever asked has gone back since
  if (answer.refusal) return sayRefusal(answer.refusal);
  const receivers = answer.explain.receivers || [];
  const result = answer.explain.pilot || {};
  const word = result.verdict || 'no_picture';
  openSheet(() => ({
    title: t('why.title', {word: t(`verdict.${word}`)}),
    body: [el('p.mid', {}, sentence(result)), isTrouble(word) || receivers.length ? dialFor({row, picture, band}) : null,
      receivers.slice(0, 1).map(points),
      receivers.map((r) => [receivers.length > 1 ? el('h3', {}, [r.result?.relay, r.result?.receiver].filter(Boolean).join(', ')) : null, decibels(r)]),
      el('p.small', {}, t('why.estimate'))],
  }));
}
