// A channel for everybody at once, or flight groups: what would change, and taking it over.

import {button, el, heading} from './nodes.js';
import {listed, t} from './texts.js';
import {pegText, powerText} from './figures.js';
import {page, sayRefusal} from './page.js';
import {changeSheet, closeSheets, openSheet} from './sheets.js';
import {sign} from './pegs.js';

const seconds = 8;

export function openPlan() {
  openSheet(() => ({key: 'plan', title: t('plan.title'), body: [el('p.mid', {}, t('plan.text')), el('div.stack', {},
    button(t('plan.all'), () => search({plan: {planned: {seconds}}})), button(t('plan.groups'), () => search({rota: {planned: {seconds}}})))]}));
}

async function search(query) {
  changeSheet(() => ({key: 'plan', title: t('plan.searching'), body: el('p.mid', {}, t('plan.wait'))}));
  const answer = await page.ask(query);
  if (answer.refusal) return sayRefusal(answer.refusal);
  changeSheet(() => planSheet(answer));
}

// Of a plan, or of each group of a rota: who gets what.
const sharesOf = (answer) => (answer.plan?.choices || (answer.rota?.groups || []).flatMap((g) => (g.choices || []).map((c) => ({...c, group: g.group}))))
  .map((c) => ({transmitter: c.transmitter, channel: {name: c.channel, mhz: c.channel_mhz}, power_dbm: c.power_dbm, group: Number(c.group || 0), verdict: c.verdict, held: c.held, stays: c.stays}));

// Something is otherwise by now: who would pay.
function sayTrouble({harms = [], in_trouble: own = [], refusal}) {
  const who = [...new Set([...harms.map((h) => h.pilot), ...own.map((p) => p.pilot)])];
  if (!who.length) return sayRefusal(refusal);
  openSheet(() => ({title: t('refused.not'), body: el('p.mid', {}, t('plan.trouble', {who: listed(who)}))}));
}

function planSheet(answer) {
  const shares = sharesOf(answer), aside = (answer.rota?.asides || []).map((a) => a.pilot);
  const groups = [...new Set(shares.map((s) => s.group))].sort((a, b) => a - b);
  const line = (s) => el('li', {'data-of': s.transmitter}, el('span.row', {}, sign(s.verdict), el('strong.name', {}, s.transmitter),
    el('span', {}, s.held ? t('plan.instead', {channel: pegText(s.channel), held: pegText(s.held)}) : pegText(s.channel)), el('span.num', {}, powerText(s.power_dbm))));
  const back = (answer.rota?.asides || []).flatMap((a) => (a.is_always ? [] : a.held || [])).map((h) => h.transmitter);
  const apply = async () => {
    for (const transmitter of back) if (!(await page.done({release: {transmitter}}))) return;
    const all = shares.map(({transmitter, channel, power_dbm, group}) => ({transmitter, channel, power_dbm, group}));
    const reply = await page.done({assign: {all}});
    if (reply?.assigned?.refusal) return sayTrouble(reply.assigned);
    if (reply) closeSheets();
  };
  return {
    key: 'planned', title: t(shares.length ? 'plan.found' : 'plan.none'), body: [groups.map((g) => [g ? heading(t('group.n', {n: g})) : null,
      el('ul.planned', {'data-of': `g${g}`}, shares.filter((s) => s.group === g).map(line))]),
    aside.length ? el('p.mid', {}, sign('clash'), ' ', t('plan.aside', {who: listed(aside), n: aside.length})) : null,
    back.length ? el('p', {}, t('plan.back', {who: listed(back), n: back.length})) : null, el('p.small', {}, t('plan.caution'))],
    acts: shares.length ? button(t('plan.apply'), apply, 'go') : null,
  };
}
