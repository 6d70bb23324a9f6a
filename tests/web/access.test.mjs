// Usable by everybody: axe-core's rules for WCAG 2.2 A and AA in every state, by day and at dusk; contrast of 7
// for the words that matter [WCAG 2.2, 1.4.6]; keyboard alone [2.1.1, 2.4.3]; what alarms and sheets do with the
// focus [the page's design, 6]; reduced motion, forced colours, more contrast [CSS Media Queries 5].

import assert from 'node:assert/strict';
import {after, test} from 'node:test';
import {createRequire} from 'node:module';
import {readFileSync} from 'node:fs';
import {join} from 'node:path';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {states} from './states.mjs';
import {Tour, settled} from './tour.mjs';

after(() => closeBrowser());

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

async function violations(page, options) {
  if (!await page.evaluate(() => Boolean(window.axe))) await page.evaluate(axe);
  const found = await page.evaluate((how) => window.axe.run(document, how), options);
  assert.ok(found.passes.length > 0, 'the rules did run');
  return found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => `${n.html.slice(0, 200)} ${n.failureSummary}`).join(' | ')}`);
}
const all = {resultTypes: ['violations'], runOnly: tags, rules: {'target-size': {enabled: true}}};
const colours = {resultTypes: ['violations'], runOnly: {type: 'rule', values: ['color-contrast']}};

// The contrast of the words that matter, from the colours in use: relative luminance and contrast ratio as
// WCAG 2.2 defines them (its glossary), over the nearest ground that is painted.
const contrasts = () => {
  const numbers = (colour) => colour.match(/[\d.]+/g).map(Number);
  const linear = (c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4);
  const luminance = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
  const ground = (node) => {
    for (let at = node; at; at = at.parentElement) {
      const colour = numbers(getComputedStyle(at).backgroundColor);
      if (colour.length === 3 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  const words = {'strip word': '#strip .say b', 'strip line': '#strip .say > span', 'the one button': '#next .b:not([disabled])', verdict: '.rows .v', 'alarm title': '#alarm:not([hidden]) h2',
    'alarm text': '#alarm:not([hidden]) p', 'alarm button': '#alarm:not([hidden]) .b', 'sheet title': '#sheet:not([hidden]) h2', 'sheet button': '#sheet:not([hidden]) .b:not([disabled])', 'call-out': '.shout blockquote',
    'what is free': '.spots button:not(.taken)', tile: '.tiles button', toast: '#toast:not([hidden]) span', time: '.ringwrap p'};
  const faults = [];
  let count = 0;
  for (const [name, rule] of Object.entries(words)) for (const node of document.querySelectorAll(rule)) {
    const [a, b] = [luminance(numbers(getComputedStyle(node).color)), luminance(ground(node))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    ++count;
    if (ratio < 7) faults.push(`${name} "${node.textContent.slice(0, 30)}" ${ratio.toFixed(2)}`);
  }
  return {count, faults: [...new Set(faults)]};
};

// What no rule of axe's says: that nothing hidden from a screen reader can be reached, and that whatever is
// there has a name.
const hiddenReachable = () => [...document.querySelectorAll('[aria-hidden=true]')].flatMap((hidden) => [hidden, ...hidden.querySelectorAll('*')])
  .filter((node) => node.tabIndex >= 0).map((node) => node.outerHTML.slice(0, 100));
const nameless = (tree) => tree.split('\n').filter((line) => /^\s*- (button|link|textbox|slider|dialog|heading|navigation)\b/.test(line) && !/^\s*- '?\w+ ["/]/.test(line));

// Motion, and what carries the shape where colours are the reader's own.
const moving = () => [...document.querySelectorAll('*')].flatMap((node) => ['', '::before', '::after'].map((part) => ({node, style: getComputedStyle(node, part)})))
  .filter(({style}) => style.animationName !== 'none' || style.transitionDuration.split(',').some((d) => parseFloat(d) > 0)).map(({node}) => node.outerHTML.slice(0, 100));
// A shape is told from its ground by a border of another colour, or by its own ground [1.4.11: 3 to 1].
const shapeless = () => {
  const numbers = (colour) => colour.match(/[\d.]+/g).map(Number);
  const linear = (c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4);
  const luminance = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
  const ratio = (a, b) => (Math.max(luminance(a), luminance(b)) + 0.05) / (Math.min(luminance(a), luminance(b)) + 0.05);
  const ground = (node) => {
    for (let at = node; at; at = at.parentElement) {
      const colour = numbers(getComputedStyle(at).backgroundColor);
      if (colour.length === 3 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  return [...document.querySelectorAll('.b:not(.flat), #strip, #alarm:not([hidden]), #sheet .acts, .spots button, .tiles button')].filter((node) => node.checkVisibility()).filter((node) => {
    const style = getComputedStyle(node), around = ground(node.parentElement);
    const hasBorder = ['Top', 'Bottom', 'Left', 'Right'].some((side) => parseFloat(style[`border${side}Width`]) >= 1 && style[`border${side}Style`] !== 'none' && ratio(numbers(style[`border${side}Color`]), around) >= 3);
    return !hasBorder && (matchMedia('(forced-colors: active)').matches || ratio(ground(node), around) < 3);
  }).map((node) => node.outerHTML.slice(0, 100));
};

test('every state of the page passes by day and at dusk, and its words that matter have a contrast of 7', async () => {
  const faults = [], names = new Set();
  const told = (where, what) => faults.push(...what.map((one) => `${where}: ${one}`));
  for await (const {name, page} of states()) {
    names.add(name);
    for (const colorScheme of ['light', 'dark']) {
      await page.emulateMedia({colorScheme});
      await settled(page);
      const {count, faults: faint} = await page.evaluate(contrasts);
      assert.ok(count > 1, `${name} has words that matter`);
      told(`${name}, ${colorScheme}`, [...await violations(page, colorScheme === 'light' ? all : colours), ...faint]);
    }
    await page.emulateMedia({colorScheme: 'light', reducedMotion: 'reduce', forcedColors: 'active'});
    await settled(page);
    told(`${name}, reduced motion`, await page.evaluate(moving));
    told(`${name}, forced colours without a border`, await page.evaluate(shapeless));
    await page.emulateMedia({forcedColors: 'none', contrast: 'more'});
    told(`${name}, more contrast without a border`, await page.evaluate(shapeless));
    await page.emulateMedia({reducedMotion: 'no-preference', contrast: 'no-preference'});
    told(`${name}, hidden and in reach`, await page.evaluate(hiddenReachable));
    const tree = await page.locator('body').ariaSnapshot();
    told(`${name}, without a name`, nameless(tree));
    if (name === 'go') assert.match(tree, /- timer/, 'the minute is a timer');
    const spoken = (words) => words.replace(/\d+/g, '').replace(/\s+/g, ' ').trim();
    const strip = spoken(await page.locator('#strip').ariaSnapshot());
    if (name !== 'big') for (const part of await page.locator('#strip .say > *').allTextContents()) if (!strip.includes(spoken(part))) faults.push(`${name}: "${part}" of the strip is not read`);
  }
  assert.ok(!faults.length, `\n${faults.join('\n')}`);
  for (const name of ['own-new', 'own-held', 'go', 'late', 'own-on', 'own-off', 'refused', 'queued', 'free', 'alarm', 'culprit', 'lost', 'callout', 'groups', 'lost-craft', 'big'])
    assert.ok(names.has(name), name);
});

// ---- keyboard alone

async function tabTo(page, words) {
  for (let i = 0; i < 60; ++i) {
    await page.keyboard.press('Tab');
    if (await page.evaluate((w) => document.activeElement?.matches('button, a, input, summary') && document.activeElement.textContent.includes(w), words)) return;
  }
  throw new Error(`no way to '${words}' by Tab`);
}
const press = async (page, words) => { await tabTo(page, words); await page.keyboard.press('Enter'); };
const focused = (page) => page.evaluate(() => document.activeElement?.id || document.activeElement?.textContent);

test('the keyboard alone joins, asks, says on, and holds for off; a sheet gives the focus back', async () => {
  const field = new Field(dayText());
  await field.start();
  try {
    const tour = new Tour(field, {reducedMotion: 'reduce'});
    await field.joinTerminal('marshal', 'Max');
    const page = await tour.page(`/join#${await tour.ownSecret('Gil')}`);
    await page.locator('#nick').waitFor();
    for (let i = 0; i < 20 && await focused(page) !== 'nick'; ++i) await page.keyboard.press('Tab');
    await page.keyboard.type('Gil');
    await page.keyboard.press('Enter');
    await tour.button(page, 'may.i').waitFor();
    await page.locator('[data-of=dial] .spots').waitFor();

    await press(page, tour.t('my.gear'));
    await tour.sheet(page, 'gear');
    assert.equal(await focused(page), 'sheet-title');
    await page.keyboard.press('Escape');
    await tour.noSheet(page);
    assert.equal(await focused(page), tour.t('my.gear'), 'closing gives the focus back to what opened it');
    await press(page, tour.t('my.gear'));
    await tour.sheet(page, 'gear');
    await page.goBack();
    await tour.noSheet(page);
    assert.equal(await focused(page), tour.t('my.gear'), 'and so does the browser\u2019s back');

    await press(page, tour.t('may.i'));
    await tour.sheet(page, 'look');
    assert.equal(await focused(page), 'sheet-title');
    await press(page, tour.t('look.snow'));
    await page.locator('#sheet .ringwrap').waitFor();
    assert.equal(await focused(page), 'sheet-title', 'what comes in its place has the focus too');
    await press(page, tour.t('it.is.on'));
    await tour.strip(page, 'air');
    await tour.noSheet(page);
    await tabTo(page, tour.t('hold.off'));
    await page.keyboard.press('Enter');
    await page.waitForTimeout(1200);
    assert.ok(await page.evaluate(() => document.documentElement.classList.contains('s-air')), 'a short press says nothing');
    await page.keyboard.down('Enter');
    await page.waitForTimeout(1200);
    await page.keyboard.up('Enter');
    await page.locator('#toast').waitFor();
    await page.waitForFunction(() => !document.documentElement.classList.contains('s-air'));
    await press(page, tour.t('undo', {n: ''}).slice(0, 4));
    await tour.strip(page, 'air');
  } finally {
    await field.close();
  }
});

test('what a screen reader presses instead of holding is asked back, each time', async () => {
  const field = new Field(dayText());
  await field.start();
  try {
    const tour = new Tour(field);
    const marshal = await tour.phone('marshal', 'Mia');
    const close = marshal.locator('[data-of=close] .hold');
    await tour.hold(marshal, close);
    await tour.sheet(marshal, 'closing');
    await tour.close(marshal);
    await close.dispatchEvent('click');
    await marshal.locator('#sheet .acts .two').waitFor();
    await marshal.locator('#sheet .acts .two button').first().click();
    await tour.sheet(marshal, 'closing');
    await marshal.waitForTimeout(400);
    await tour.sheet(marshal, 'closing');
  } finally {
    await field.close();
  }
});

test('an alarm takes no focus, moves nothing, and Escape does not close it', async () => {
  const field = new Field();
  await field.start();
  try {
    const tour = new Tour(field);
    await field.joinTerminal('marshal', 'Max');
    await field.fieldpeg('off', 'Finn\'s tripod', '--yes');
    const edda = await tour.pilot('Edda');
    await tour.strip(edda, 'air');
    await tour.button(edda, 'why').focus();
    await edda.evaluate(() => scrollTo(0, 120));
    await edda.evaluate(() => {
      const alarm = document.getElementById('alarm');
      new MutationObserver(() => { window.guarded ||= alarm.inert && !alarm.hidden; }).observe(alarm, {attributes: true, childList: true});
    });
    const before = await edda.evaluate(() => [scrollY, document.activeElement.textContent]);
    await field.fieldpeg('on', 'Finn\'s tripod', '--already');
    await tour.alarm(edda);
    assert.ok(await edda.evaluate(() => window.guarded), 'for a moment it takes no tap: a thumb may be on its way');
    assert.deepEqual(await edda.evaluate(() => [scrollY, document.activeElement.textContent]), before);
    assert.match(await edda.locator('#shout').textContent(), /Edda/, 'it is read out');
    for (let i = 0; i < 2; ++i) await edda.keyboard.press('Escape');
    await edda.waitForTimeout(300);
    await edda.locator('#alarm:visible h2').waitFor();
    // The first after the strip in the order of Tab.
    await edda.locator('#strip .say b').click();
    await edda.keyboard.press('Tab');
    assert.ok(await edda.evaluate(() => document.getElementById('alarm').contains(document.activeElement)));
  } finally {
    await field.close();
  }
});

test('the report passes as well', async () => {
  const field = new Field();
  await field.start();
  try {
    await field.joinTerminal('marshal', 'Theo');
    await field.fieldpeg('seen', 'R4');
    const page = await field.page({viewport: {width: 1000, height: 800}});
    for (const [verb, unfolded] of [['report', false], ['report', true], ['pegs', false]]) {
      const file = join(field.folder, `${verb}${unfolded}.html`);
      await field.fieldpeg(verb, '--out', file);
      await page.goto(`file://${file}`);
      if (unfolded) await page.evaluate(() => document.querySelectorAll('details').forEach((d) => { d.open = true; }));
      assert.deepEqual(await violations(page, {runOnly: tags}), [], verb);
      assert.equal(await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth), 0, `${verb} does not scroll sideways`);
    }
  } finally {
    await field.close();
  }
});
