// Something radiates that nobody asked for: where on the dial, and where on the field.

import {at, button, el} from './nodes.js';
import {t} from './texts.js';
import {page} from './page.js';
import {closeSheets, openSheet} from './sheets.js';
import {bandEdges, dialFor} from './hearing.js';
import {choice} from './trying.js';
import {number, pegText} from './figures.js';

export async function openSeen() {
  const [day, band] = await Promise.all([page.day(), bandEdges(null)]);
  const rows = (day?.rows || []).filter((r) => (r.channels || []).length);
  const seen = {channel: null, row: rows[0], place: ''};
  const set = (change) => { Object.assign(seen, change); page.redraw(); };
  openSheet(() => seenSheet(seen, set, {day, band, rows}));
}

function seenSheet(seen, set, {day, band, rows}) {
  const enter = () => {
    const typed = Number(at('mhz').value.replace(',', '.'));
    const channel = typed > 0 ? {name: String(typed), mhz: typed} : seen.channel;
    if (!channel) return at('mhz').focus();
    closeSheets();
    return page.done({see: {channel, place: seen.place}});
  };
  return {
    key: 'seen', look: '', title: t('seen.title'), body: [dialFor({row: {transmitter: t('seen'), channel: seen.channel}, band, tried: true}),
      choice(t('seen.row'), rows.map((r) => ({words: r.name || t('ghz', {n: number(r.channels[0].mhz / 1000, 1)}), isChosen: r === seen.row, isFree: true, act: () => set({row: r, channel: null})}))),
      choice(t('channel'), (seen.row?.channels || []).map((c) => ({words: pegText(c), isChosen: c.mhz === seen.channel?.mhz, isFree: true, act: () => set({channel: c})}))),
      el('div', {}, el('label', {for: 'mhz'}, t('seen.mhz')), el('input', {id: 'mhz', type: 'text', inputmode: 'decimal', autocomplete: 'off'})),
      choice(t('seen.place'), [{words: t('seen.flies'), isChosen: !seen.place, isFree: true, act: () => set({place: ''})},
        ...(day?.field?.places || []).map((p) => ({words: p.name, isChosen: p.name === seen.place, isFree: true, act: () => set({place: p.name})}))]),
      el('p.small', {}, t('seen.text'))],
    acts: button(t('seen.enter'), enter, 'go'),
  };
}
