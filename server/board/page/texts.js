// What the page says, by key, in the reader's language.

import {english} from './words_en.js';

const wanted = (navigator.languages?.length ? navigator.languages : [navigator.language || 'en'])
  .map((l) => l.slice(0, 2).toLowerCase()).find((l) => ['en', 'de'].includes(l));
export const language = wanted || 'en';

// Who reads English is not sent the other book.
const book = language === 'de' ? (await import(document.body.dataset.german).catch(() => ({german: english}))).german : english;

// A text is words with {names} to fill in, or a function that gives them.
export function t(key, values = {}) {
  const text = book[key];
  if (text === undefined) throw new Error(`no text for ${key}`);
  if (typeof text === 'function') return text(values);
  return text.replace(/\{(\w+)\}/g, (_, name) => String(values[name] ?? ''));
}

// "Ann, Ben and Cem".
export const listed = (names) => new Intl.ListFormat(language, {type: 'conjunction'}).format(names);
