// What somebody's receiver hears, and which band they may use: for the dial.

import {el} from './nodes.js';
import {t} from './texts.js';
import {pegText, powerText} from './figures.js';
import {page} from './page.js';
import {dial, humpsHeard, humpsOnBoard} from './dial.js';

// The picture of a pilot's goggles now; null where there is none.
export async function heard(row) {
  const answer = await page.ask({spectrum_picture: {pilot: row.owner || row.transmitter, basis: 'on_air'}});
  return answer.spectrum_picture || null;
}

let rules = null;
// The allowed band round a channel, with how much is allowed there; null where no rule set says.
export async function bandEdges(row) {
  rules ??= (await page.day())?.rules?.allowances || [];
  const mhz = Number(row?.channel?.mhz || 5800);
  const band = rules.find((a) => Number(a.low_mhz) <= mhz && mhz <= Number(a.high_mhz)) || rules.find((a) => Number(a.low_mhz) > 5000);
  if (!band) return null;
  const name = band.eirp_dbm_max === undefined ? t('band') : t('band.of', {power: powerText(band.eirp_dbm_max)});
  return {low: Number(band.low_mhz), high: Number(band.high_mhz), name};
}

// The dial of a transmitter: as its owner hears it, or as the board has it. `tried`: it is not switched on yet.
export function dialFor({row, picture, hurt = [], free = [], band = null, tried = false, wide}) {
  const channel = row?.channel;
  const humps = (picture ? humpsHeard(picture, hurt) : humpsOnBoard(page.rows(), hurt))
    .filter((h) => !(channel?.mhz && (h.mine || h.name === row.transmitter)));
  if (channel?.mhz)
    humps.push({mhz: Number(channel.mhz), level: 0.95, name: tried ? pegText(channel) : t('me'), mine: !tried, tried});
  const names = humps.filter((h) => h.name && !h.tried && !h.mine).map((h) => h.name);
  return dial({humps, band, wide, free: free.map((f) => ({mhz: Number(f.channel.mhz), name: pegText(f.channel)})),
    says: t('dial.says', {who: names.join(', ') || t('nobody'), free: free.map((f) => pegText(f.channel)).join(', ') || t('nothing')})});
}

// Free spots as buttons, beside what they are on the dial.
export const spots = (free, act) => (free.length ? el('div.spots.free', {}, el('span', {}, t('free.now')), free.slice(0, 4).map((one) =>
  el('button', {type: 'button', 'data-of': pegText(one.channel), onclick: () => act(one)}, pegText(one.channel)))) : null);
