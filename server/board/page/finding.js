// To find one that is down: who has to be silent so that its own picture leads the finder.

import {button, el, heading} from './nodes.js';
import {listed, t} from './texts.js';
import {pegText} from './figures.js';
import {page, sayRefusal} from './page.js';
import {closeSheets, openSheet} from './sheets.js';
import {radiates} from './standing.js';
import {pegOf} from './pegs.js';
import {openPerson} from './person.js';

export async function openFind(row) {
  const answer = await page.ask({find: {transmitter: row.transmitter}});
  if (answer.refusal) return sayRefusal(answer.refusal);
  openSheet(() => findSheet(row, answer.find));
}

function quietRow(name) {
  const row = page.row(name);
  const isOn = radiates(row);
  return el(`li${isOn ? '.bad' : ''}`, {'data-of': name}, el('button', {type: 'button', onclick: () => row && openPerson(row)}, row ? pegOf(row) : null,
    el('span.name', {}, name), el(`span.v.${isOn ? 'clash' : 'idle'}`, {}, t(isOn ? 'find.on' : 'find.quiet'))));
}

function findSheet(row, found) {
  const silent = found.silent || [], quiet = silent.filter((name) => !radiates(page.row(name))).length;
  const walks = (page.board.searches || []).some((one) => one.transmitter === row.transmitter);
  const walk = (isBack) => { closeSheets(); page.done({walk: {transmitter: row.transmitter, is_back: isBack}}); };
  const flying = found.flies_there || [];
  return {
    key: 'find', title: found.lies ? t('find.title.at', {who: row.transmitter, where: found.lies}) : t('find.title', {who: row.transmitter}),
    body: [el('p.mid', {}, t(silent.length ? 'find.text' : 'find.nobody')),
      silent.length ? [heading(t('find.stay'), t('find.n', {n: quiet, of: silent.length})), el('ul.rows', {}, silent.map(quietRow))] : null,
      el('p', {}, t(found.is_heard ? 'find.tune' : 'find.weak', {channel: pegText(found.channel), area: found.area, who: row.transmitter})),
      el('p.small', {}, t('find.taken', {channel: pegText(found.channel), area: found.area})),
      flying.length ? el('p.news', {}, t('find.flies', {who: listed(flying)})) : null],
    acts: page.mayAct() ? button(t(walks ? 'find.back' : 'find.walk'), () => walk(walks), 'go') : null,
  };
}
