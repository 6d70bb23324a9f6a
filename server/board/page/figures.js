// The numbers of the field, as the trade writes them.

import {language, t} from './texts.js';

// The server's clock against this phone's, which may be wrong.
let aheadMs = 0;
export const setClock = (serverMs) => { aheadMs = Number(serverMs) - Date.now(); };
export const nowMs = () => Date.now() + aheadMs;

// With as many digits behind the comma at most.
export const number = (value, digits) => Number(value).toLocaleString(language, {maximumFractionDigits: digits, useGrouping: false});

export const mhzText = (mhz) => number(mhz, 1);
// "R3"; where the channel has no name, its MHz.
export const pegText = (channel) => (channel?.mhz ? channel.name || mhzText(channel.mhz) : '?');

export function powerText(dbm) {
  const mw = 10 ** (Number(dbm || 0) / 10);
  const rounded = (x) => x.toLocaleString(language, {maximumSignificantDigits: 2, useGrouping: false});
  return mw >= 995 ? `${rounded(mw / 1000)}\u00a0W` : `${rounded(mw)}\u00a0mW`;
}

export function decibelText(value) {
  if (value === undefined || value === null) return '';
  const db = Number(value);
  // What is short shows its sign, which decides a verdict.
  const digits = db !== 0 && Math.abs(db) < 0.05 ? (Math.abs(db) < 0.005 ? 3 : 2) : 1;
  const size = Math.abs(db).toLocaleString(language, {minimumFractionDigits: digits, maximumFractionDigits: digits});
  const sign = Number(db.toFixed(digits)) === 0 ? '' : db < 0 ? '\u2212' : '+';
  return `${sign}${size}\u00a0dB`;
}

export const levelText = (dbm) => `${Math.round(Number(dbm || 0))}\u00a0dBm`.replace('-', '\u2212');

export function clockText(ms) {
  return new Date(Number(ms)).toLocaleTimeString(language, {hour: '2-digit', minute: '2-digit', hour12: false});
}

export const minutesSince = (ms) => Math.max(0, Math.floor((nowMs() - Number(ms)) / 60000));
export const minutesText = (ms) => t('minutes', {n: minutesSince(ms)});

export function ageText(ms) {
  const s = Math.max(0, Math.round(ms / 1000));
  if (s < 100) return t('seconds', {n: s});
  return s < 6000 ? t('minutes', {n: Math.round(s / 60)}) : t('hours', {h: Math.floor(s / 3600), m: Math.round((s % 3600) / 60)});
}

// Shares of a flight are estimates: whole percents, never all of it.
export function percent(share) {
  return Math.min(99, Math.max(1, Math.round(100 * Number(share || 0))));
}
