// Into which flight group somebody goes, with the channel that they hold.

import {el} from './nodes.js';
import {t} from './texts.js';
import {page} from './page.js';
import {closeSheets, openSheet} from './sheets.js';
import {choice} from './trying.js';
import {claimRefused} from './asking.js';
import {groups} from './groups.js';

export function openGroupOf(row) {
  const now = Number(row.group || 0), most = Math.max(0, ...groups());
  const move = async (group) => {
    const reply = await page.done({claim: {transmitter: row.transmitter, channel: row.channel, power_dbm: row.power_dbm, group}});
    if (reply?.claim?.refusal) openSheet(() => claimRefused(row, reply.claim));
    else if (reply) closeSheets();
  };
  const all = [0, ...Array.from({length: most + 1}, (_, i) => i + 1)];
  openSheet(() => ({key: 'group', look: '', title: t('group.move.title', {who: row.transmitter}),
    body: [choice(t('group.move'), all.map((g) => ({words: g ? t('group.n', {n: g}) : t('group.none'), isChosen: g === now, isFree: true, act: () => move(g)}))), el('p.small', {}, t('group.move.text'))]}));
}
