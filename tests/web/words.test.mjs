// The page's words: two books of the same texts, no words anywhere else, and none that are not the fliers'.
// The rules are those of the page's design, "Words"; what is common practice there has no published source.

import assert from 'node:assert/strict';
import {after, test} from 'node:test';
import {readdirSync, readFileSync} from 'node:fs';
import {join} from 'node:path';
import {parse} from 'acorn';
import {closeBrowser} from './field.mjs';
import {states} from './states.mjs';
import {books, moduleOf, pageFolder, sourceOf} from './tour.mjs';

after(() => closeBrowser());

const {en, de} = books;
const modules = readdirSync(pageFolder).filter((name) => name.endsWith('.js') && !name.startsWith('words_'));
const trees = new Map(modules.map((name) => [name, parse(sourceOf(name), {ecmaVersion: 'latest', sourceType: 'module'})]));
function* nodesOf(node) {
  if (!node || typeof node.type !== 'string') return;
  yield node;
  for (const value of Object.values(node)) for (const child of [value].flat()) yield* nodesOf(child);
}
const calls = [...trees].flatMap(([name, tree]) => [...nodesOf(tree)].filter((n) => n.type === 'CallExpression').map((node) => ({name, node})));

// ---- keys: as they stand, or built from parts

// What an argument may come to: strings as they are, and patterns of a template.
function keysOf(node) {
  if (node.type === 'Literal') return [node.value];
  if (node.type === 'ConditionalExpression') return [...keysOf(node.consequent), ...keysOf(node.alternate)];
  if (node.type === 'LogicalExpression') return [...keysOf(node.left), ...keysOf(node.right)];
  if (node.type === 'TemplateLiteral') return [node.quasis.map((q) => q.value.cooked).join('*')];
  return [];
}
const asked = calls.filter(({node}) => ['t', 'hasText'].includes(node.callee.name)).map(({name, node}) => ({name, node, keys: keysOf(node.arguments[0])}));
const literal = new Set(asked.flatMap((one) => one.keys).filter((key) => !key.includes('*')));
const built = [...new Set(asked.flatMap((one) => one.keys).filter((key) => key.includes('*')))];

// The words of an enumeration of the protocol.
function enumOf(file, message, name) {
  const text = readFileSync(join(process.env.FIELDPEG_SOURCE, 'proto/fieldpeg/v1', file), 'utf8');
  const from = text.slice(text.indexOf(`message ${message} {`));
  const body = from.slice(from.indexOf(`enum ${name} {`)).split('}')[0];
  return [...body.matchAll(/^\s*(\w+) = \d+;/gm)].map((m) => m[1]);
}
const {pictures, goggles, aerials, powerSets} = await moduleOf('looks.js');
const names = (list) => list.map((one) => one.name);
const verdicts = enumOf('assessment.proto', 'Verdict', 'Word');
const known = (all) => all.filter((one) => one !== 'unknown');   // JSON leaves out what is unknown
const hands = ['rhcp', 'lhcp', 'vertical', 'horizontal'];
const questions = ['picture', 'goggles', 'aerial', 'powers', 'place'];
const parts = {
  'verdict.*': [...verdicts, 'none'], 'verdict.*.strip': [...verdicts, 'none'], 'verdict.*.sentence': known(verdicts),
  'stage.*': [...enumOf('day.proto', 'Claim', 'Stage'), 'none', 'late', 'seen'],
  'kind.*': enumOf('assessment.proto', 'Contribution', 'Kind'),
  'advice.*': enumOf('assessment.proto', 'RelayAdvice', 'Kind').filter((kind) => kind !== 'set_power'),
  'window.*': known(enumOf('assessment.proto', 'RelayCheckReply', 'Answer')),
  'end.*': enumOf('query.proto', 'Flight', 'End'),
  'next.*': [...enumOf('query.proto', 'Refusal', 'Kind'), 'no_answer'],
  'step.*': ['look', 'power', 'say'], 'theme.*': ['phone', 'day', 'dusk'],
  'picture.*': [...names(pictures), 'unknown'], 'picture.*.small': names(pictures), 'goggles.*': [...names(goggles), 'unknown'], 'aerial.*': names(aerials),
  'powers.*': [...names(powerSets), 'unknown'], 'hand.*': [...hands, 'unknown'],
  'q.*': [...questions, 'area', 'hand', 'channels'], 'q.*.unknown': questions,
  'gear.*': ['picture', 'goggles', 'aerial', 'hand', 'powers', 'channels', 'place', 'area'],
  'kit.*': ['long-range-1g3-relay', 'long-range-1g3-goggles', 'long-range-2g4', 'ground-station-5g8'],
  'setup.*': ['name', 'field', 'lost'], 'setup.*.ask': ['name', 'field', 'lost'],
  '*.*': [],   // an answer to a question of gear: picture.*, goggles.*, aerial.*
};

test('every text that the page asks for is in both books', () => {
  assert.ok(literal.size > 200 && built.length > 10, 'the sources were read');
  assert.deepEqual(asked.filter((one) => !one.keys.length).map(({name, node}) => `${name}:${node.start}`), [], 'a key that nobody can list');
  const missing = [...literal].filter((key) => !(key in en) || !(key in de));
  for (const pattern of built) {
    assert.ok(pattern in parts, `the parts of ${pattern} are listed here`);
    for (const part of parts[pattern]) {
      const key = pattern.replace('*', part);
      if (!(key in en) || !(key in de)) missing.push(key);
    }
  }
  assert.deepEqual(missing, []);
});

test('no text is in a book that the page never says', () => {
  const possible = new Set([...literal, ...built.flatMap((pattern) => parts[pattern].map((part) => pattern.replace('*', part)))]);
  assert.deepEqual(Object.keys(en).filter((key) => !possible.has(key)), []);
});

const places = (text) => (typeof text === 'function' ? (/^\(?\{([^}]*)\}/.exec(String(text)) || [])[1].split(',').map((p) => p.split(/[:=]/)[0].trim())
  : [...text.matchAll(/\{(\w+)\}/g)].map((m) => m[1])).filter(Boolean);

test('both books have the same keys, of the same kind, with the same places to fill in', () => {
  assert.deepEqual(Object.keys(de).sort(), Object.keys(en).sort());
  const different = Object.keys(en).filter((key) => typeof en[key] !== typeof de[key] ||
    [...new Set(places(en[key]))].sort().join() !== [...new Set(places(de[key]))].sort().join());
  assert.deepEqual(different.map((key) => `${key}: ${places(en[key])} / ${places(de[key])}`), []);
});

// ---- no words outside the books

// What is no text for people although two words of it stand side by side, or though it is put into a node: the
// developer's own error, the names of channel rows, media queries.
const exceptions = ['no text for ', 'R + F', /^\([a-z-]+: [a-z0-9.]+\)( and \([a-z-]+: [a-z0-9.]+\))*$/];
const isException = (text) => exceptions.some((one) => (one instanceof RegExp ? one.test(text) : one === text));

test('no module but the books has a sentence in it', () => {
  const found = [];
  for (const [name, tree] of trees) for (const node of nodesOf(tree)) {
    const text = node.type === 'Literal' && typeof node.value === 'string' ? node.value : node.type === 'TemplateElement' ? node.value.cooked : '';
    if (/\p{L}{2,}[,.:;]? \p{L}{2,}/u.test(text) && !isException(text)) found.push(`${name}: ${text}`);
  }
  assert.deepEqual(found, []);
});

test('no module but the books puts a word into a node, nor into what is read out', () => {
  const word = (node) => node.type === 'Literal' && typeof node.value === 'string' && /\p{L}{2,}/u.test(node.value) && !isException(node.value);
  const shown = {el: (args) => args.slice(2), button: (args) => args.slice(0, 1), link: (args) => args.slice(0, 1), heading: (args) => args,
    two: (args) => args, say: (args) => args, shout: (args) => args, showToast: (args) => args.slice(0, 1), renew: (args) => args.slice(1)};
  const found = [];
  for (const {name, node} of calls) for (const argument of shown[node.callee.name]?.(node.arguments) || [])
    if (word(argument)) found.push(`${name}: ${argument.value}`);
  for (const [name, tree] of trees) for (const node of nodesOf(tree))
    if (node.type === 'Property' && ['aria-label', 'title', 'alt', 'placeholder', 'aria-valuetext'].includes(node.key.value ?? node.key.name) && word(node.value)) found.push(`${name}: ${node.value.value}`);
  assert.deepEqual(found, []);
});

// ---- which words

// A text with what may be filled in: names are names, counts one and several.
const samples = [{n: 1}, {n: 0}, {n: 2}, {n: 3}, {n: 30}].map((values) => new Proxy(values, {get: (all, name) => all[name] ?? (name === 'share' ? 93 : name === 'alone' ? 99 : 'Xx'), has: () => true}));
const said = (text) => (typeof text === 'function' ? [...new Set(samples.map((values) => text(values)))] : [text]);
const everySaid = (book) => Object.entries(book).flatMap(([key, text]) => said(text).map((words) => [key, words]));
const offenders = (book, rule, except = () => false) => everySaid(book).filter(([key, words]) => rule.test(words) && !except(key)).map(([key, words]) => `${key}: ${words}`);

test('no text says he or she, nor the words of engineers, commands or the command line', () => {
  assert.deepEqual(offenders(en, /\b(he|she|his|her|him|hers)\b/i), []);
  // Behind "In decibels" numbers have their names.
  const isNumbers = (key) => /^(db|kind)\./.test(key);
  assert.deepEqual(offenders(en, /\b(margin|radiat\w*|emissions?|claims?)\b/i, isNumbers), []);
  const isForMarshal = (key) => /^call\./.test(key);
  assert.deepEqual(offenders(en, /\btransmitters?\b/i, (key) => isNumbers(key) || isForMarshal(key)), []);
  assert.deepEqual(offenders(de, /\b(Marge|Emission\w*|Claim|abstrahl\w*)\b/i, isNumbers), []);
  for (const book of [en, de]) {
    assert.deepEqual(offenders(book, /--|fieldpeg/i), []);
    assert.deepEqual(offenders(book, /\bd[Bb]m?\b/, (key) => isNumbers(key) || key === 'advice.add_attenuator'), []);
  }
});

// `allowed` says that the marshal let somebody, and why.
test('no text says that anything is legal or safe', () => {
  assert.deepEqual(offenders(en, /\b(legal|legally|lawful|safe|safely|approved|certified)\b/i), []);
  assert.deepEqual(offenders(de, /\b(legal|gesetzlich|rechtens|sicher|gefahrlos|unbedenklich|zugelassen)\b/i, (key) => key === 'allowed'), []);
});

test('what is called across the field is twelve words at most, and begins with a name', () => {
  // The page's design: whom to shout at comes first, 12 words at most; two sentences are called, the second says why.
  for (const book of [en, de]) for (const why of ['call.loses', 'call.worse']) for (const what of ['call.lower', 'call.off', 'call.land']) {
    const fill = (text) => text.replace('{power}', '100\u00a0mW').replace('{what}', book['call.tripod']).replace(/\{\w+\}/g, 'Edda');
    const words = `${fill(book[what])} ${fill(book[why])}`;
    assert.ok(words.split(/[\s\u00a0]+/).length <= 12, words);
    assert.match(words, /^Edda, /);
  }
});

// ---- in a German browser

const escaped = (text) => text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');
const asRule = (words) => escaped(words).replace(/\\\{\w+\\\}|Xx/g, '(.+?)').replace(/\u00a0/g, '\\s');

// English texts that a German page must never show: whole, or within another where they are long enough to be told.
function englishRules() {
  const german = new Set(everySaid(de).map(([, words]) => words.toLowerCase()));
  const own = (words) => words.replace(/\{\w+\}|Xx/g, '').replace(/[^\p{L}]/gu, '');
  return everySaid(en).filter(([key, words]) => own(words).length > (/\{|Xx/.test(words) ? 4 : 2) && !german.has(words.toLowerCase()) && !said(de[key]).includes(words))
    .map(([key, words]) => ({key, rule: new RegExp(words.replace(/\{\w+\}|Xx/g, '').length > 9 ? asRule(words) : `^${asRule(words)}$`)}));
}

const textsOnPage = () => {
  const texts = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) if (!walk.currentNode.parentElement.closest('noscript')) texts.push(walk.currentNode.data);
  for (const node of document.querySelectorAll('*')) for (const name of ['aria-label', 'aria-valuetext', 'alt', 'title', 'placeholder'])
    if (node.hasAttribute(name)) texts.push(node.getAttribute(name));
  for (const node of document.querySelectorAll('p, h1, h2, h3, li, button, td')) texts.push(node.textContent);
  return {lang: document.documentElement.lang, texts: [...new Set(texts.map((text) => text.trim()).filter(Boolean))]};
};

test('a German phone shows no English word in any state', async () => {
  const rules = englishRules(), found = new Set();
  assert.ok(rules.length > 300);
  let seen = 0;
  for await (const {name, page} of states({locale: 'de-DE'})) {
    const {lang, texts} = await page.evaluate(textsOnPage);
    assert.equal(lang, 'de');
    for (const text of texts) for (const {key, rule} of rules) if (rule.test(text)) found.add(`${name}: ${text.slice(0, 80)} (${key})`);
    ++seen;
  }
  assert.ok(seen > 40);
  assert.deepEqual([...found], []);
});
