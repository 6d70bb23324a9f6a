// What this phone knows, and what a tap can do with it: one for all views.

import {t} from './texts.js';
import {el} from './nodes.js';
import {nowMs, pegText, powerText} from './figures.js';
import {closeSheets, openSheet, whenSettled} from './sheets.js';
import {isOff} from './standing.js';

export const page = {
  me: null,           // who this phone is for
  program: '',        // what the server says it is: its name and version
  board: {},
  view: 'mine',
  isLive: false,
  isLost: false,      // the line was tried, and is not there
  asOfMs: 0,          // this phone's clock, when the board was last known to hold
  letGo: '',          // why the server let this phone go
  line: null,
  redraw: () => {},
  granted: null,      // {name, version}: a yes whose sheet is open
  sheetOfDay: null,   // who has what: asked for when it is needed, and again once it is old

  rows: () => page.board.rows || [],
  mine: () => page.rows().filter((r) => !r.is_sighting && Number(r.owner_id || 0) === Number(page.me?.id || -1)),
  aircraft: () => page.mine().find((r) => !r.is_relay) || null,
  row: (name) => page.rows().find((r) => r.transmitter === name) || null,
  isMarshal: () => page.me?.role === 'marshal',
  awaits: () => Boolean(page.me?.awaits_nod),
  mayAct: () => Boolean(page.me) && !page.awaits(),
  mayAsk: () => page.mayAct() && page.isLive,   // what needs the server's answer
  marshal: () => (page.board.marshals || [])[0] || t('the.marshal'),
  place: (row) => (page.board.line || []).findIndex((one) => one.transmitter === row?.transmitter),

  ask: (query) => page.line.ask(query),
  // The reply to a command; null once it was said why there is none.
  async done(command) {
    const reply = await page.line.send(command);
    if (!reply.refusal) return reply;
    sayRefusal(reply.refusal);
    return null;
  },
  async day() {
    const version = Number(page.board.version || 0);
    if (page.sheetOfDay?.version === version) return page.sheetOfDay.sheet;
    const answer = await page.ask({day: {}});
    if (!answer.day) return page.sheetOfDay?.sheet || null;
    page.sheetOfDay = {version, sheet: answer.day.sheet};
    return answer.day.sheet;
  },
  go(view) {
    page.view = view;
    closeSheets();
    whenSettled(() => history.replaceState({...history.state, view}, ''));
    scrollTo(0, 0);
    page.redraw();
  },
};

// Why something was not done, with what was wrong and what is next, as the server has it.
export function sayRefusal(refusal) {
  const isSilent = refusal.kind === 'no_answer';
  openSheet(() => ({
    title: isSilent ? t(refusal.wasSent ? 'refused.silent' : 'refused.unsent') : t('refused.not'),
    body: isSilent ? el('p.mid', {}, t(refusal.wasSent ? 'refused.silent.next' : 'refused.unsent.next'))
      : [el('p.mid', {}, [refusal.where, refusal.why].filter(Boolean).join(': ')), el('p', {}, nextText(refusal))],
  }));
}

// What to do next, by the kind of refusal: what the server says of it is for whoever types commands.
export const nextText = (refusal) => t(`next.${page.isMarshal() && refusal.kind === 'not_permitted' ? 'conflict' : refusal.kind || 'unknown'}`);

// "R4 · 25 mW".
export const heldText = (row) => `${pegText(row.channel)} \u00b7 ${powerText(row.power_dbm)}`;

// Until when a yes holds: that is so on every phone of theirs.
const yesMs = 60000;
export const yesUntilMs = (row) => (row?.stage === 'told_on' ? Number(row.since_ms) + yesMs : 0);
export const secondsLeft = (untilMs) => Math.max(0, Math.ceil((untilMs - nowMs()) / 1000));

// What is asked of a transmitter now: is it on, or off?
export const isLate = (row) => Boolean(row?.unconfirmed) || (row?.stage === 'told_on' && yesUntilMs(row) <= nowMs());
export const isCalled = (row) => {
  const one = (page.board.line || [])[page.place(row)];
  return Boolean(one) && Number(one.called_until_ms || 0) > nowMs();
};
export const waits = (row) => isOff(row) && page.place(row) >= 0;
