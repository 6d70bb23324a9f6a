// How it sits on the glass: from 320 pixels to a monitor, lying, and with text twice as large. Reflow and text
// size: WCAG 2.2, 1.4.10 and 1.4.4; sizes to touch: the page's design, 2 (48, rows 44: common practice for thumbs
// in gloves, above 2.5.8's 24). The face is the widest that is common, DejaVu Sans: what fits in it fits in all.

import assert from 'node:assert/strict';
import {after, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {states} from './states.mjs';
import {Tour, settled, small} from './tour.mjs';

after(() => closeBrowser());

const windows = [[320, 640], [360, 740], [390, 844], [412, 915], [768, 1024], [1280, 800], [1920, 1080], [740, 360]];

// What is wrong with the page as it stands, in words.
const faultsOf = async ({isLarge}) => {
  const frame = () => new Promise((done) => requestAnimationFrame(done));
  await frame();
  await frame();
  const faults = [];
  const name = (node) => `${node.tagName.toLowerCase()}${node.id ? `#${node.id}` : ''}.${node.getAttribute('class') || ''} "${(node.textContent || '').trim().slice(0, 30)}"`;
  const seen = (node) => node.checkVisibility({checkOpacity: true, checkVisibilityCSS: true}) && !node.closest('.unseen, [inert]');
  const root = document.scrollingElement;
  if (root.scrollWidth > root.clientWidth) faults.push(`scrolls sideways, ${root.scrollWidth} in ${root.clientWidth}`);
  for (const part of document.querySelectorAll('#sheet, .sheet-in, .acts, #alarm, #strip, #bar, #toast'))
    if (seen(part) && part.scrollWidth > part.clientWidth + 1) faults.push(`${name(part)} scrolls sideways, ${part.scrollWidth} in ${part.clientWidth}`);

  // Text within its box and the window, but for names, which may end in an ellipsis; the strip's line, which stands
  // in full below; and drawings that scroll.
  const mayEnd = '.name, .hung span, .hang b, .hang small, #strip .say > span, .scroll *';
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const node = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || !seen(node) || node.closest('svg, noscript') || node.matches(mayEnd)) continue;
    const range = document.createRange();
    range.selectNodeContents(walk.currentNode);
    for (const box of range.getClientRects()) {
      if (box.left < -1 || box.right > innerWidth + 1) faults.push(`${name(node)} leaves the window at ${Math.round(box.left)} to ${Math.round(box.right)}`);
      const holder = node.closest('button, .window, td, .b, summary, label, #strip, #toast, .v, .hang li');
      const outer = holder?.getBoundingClientRect();
      if (outer && (box.left < outer.left - 1 || box.right > outer.right + 1 || box.top < outer.top - 3 || box.bottom > outer.bottom + 3)) faults.push(`${name(node)} leaves ${name(holder)}`);
    }
  }

  // Everything that is pressed.
  for (const node of document.querySelectorAll('button, a[href], input, select, summary')) {
    if (!seen(node)) continue;
    const {width, height} = node.getBoundingClientRect();
    const isRow = Boolean(node.closest('.rows'));
    if (width < 47.5 || height < (isRow ? 43.5 : 47.5)) faults.push(`${name(node)} is ${width.toFixed(1)} x ${height.toFixed(1)}`);
  }

  // The one button is free: nothing lies over it. In a sheet its buttons are, beneath an alarm the alarm's.
  const alarm = document.getElementById('alarm'), sheet = document.getElementById('sheet');
  const top = seen(alarm) ? alarm : seen(sheet) ? sheet.querySelector('.acts') : document.getElementById('next');
  for (const node of top?.querySelectorAll('.b, .tiles button') || []) {
    if (!seen(node)) continue;
    let box = node.getBoundingClientRect();
    // With large text what scrolls may lie under the one button until it is scrolled to.
    if (box.bottom > innerHeight || box.top < 0 || (isLarge && getComputedStyle(node).position !== 'fixed')) {
      node.scrollIntoView({block: 'center'});
      box = node.getBoundingClientRect();
    }
    for (const [x, y] of [[0.5, 0.5], [0.05, 0.15], [0.95, 0.85]]) {
      const hit = document.elementFromPoint(box.left + x * box.width, box.top + y * box.height);
      // With large text only the one button is fixed; over what scrolls a toast may lie for its five seconds.
      if (isLarge && hit?.closest('#toast') && getComputedStyle(node).position !== 'fixed') continue;
      if (!hit || !(node === hit || node.contains(hit))) faults.push(`${name(node)} is under ${hit ? name(hit) : 'the edge'}`);
    }
  }
  // What is drawn can be read.
  if (!isLarge) for (const text of document.querySelectorAll('svg text')) {
    if (!seen(text) || text.closest('#sheet .pegs')) continue;
    const size = parseFloat(getComputedStyle(text).fontSize) * Math.abs(text.getScreenCTM()?.a ?? 1);
    if (size < 10.5) faults.push(`${text.textContent} is drawn in ${size.toFixed(1)} px`);
  }
  return [...new Set(faults)];
};

test('no state scrolls sideways, cuts text off, has what is too small to press, or covers the one button', async () => {
  const faults = [];
  for await (const {name, page} of states()) {
    const scroll = await page.evaluate(() => scrollY);
    for (const [width, height] of name === 'big' ? [[1280, 800], [1920, 1080]] : windows) {
      await page.setViewportSize({width, height});
      faults.push(...(await page.evaluate(faultsOf, {isLarge: name === 'big'})).map((one) => `${name} at ${width}x${height}: ${one}`));
    }
    if (name === 'big') continue;
    await page.setViewportSize(small);
    await page.evaluate(() => { document.documentElement.style.fontSize = '34px'; dispatchEvent(new Event('resize')); });
    await settled(page);   // what is fixed was measured anew
    faults.push(...(await page.evaluate(faultsOf, {isLarge: true})).map((one) => `${name} with text of 200 %: ${one}`));
    await page.evaluate((y) => { document.documentElement.style.fontSize = ''; dispatchEvent(new Event('resize')); scrollTo(0, y); }, scroll);
  }
  assert.ok(!faults.length, `\n${faults.join('\n')}`);
});

// Fourteen with an aircraft each, all of them in a group.
const craftsOnly = dayText().replace('ground-station-5g8', 'usual-quad').replace('relay_place = "Mast"\n', '')
  .replace(/(name = "Nia"[^[]*)/, '$1[pilot.claim]\nchannel = "R7"\npower_mw = 25\ngroup = 3\n');

test('fourteen pilots are one screen at 360 by 740, and a laptop shows two columns, in the widest face', async () => {
  const field = new Field(craftsOnly);
  await field.start();
  try {
    const tour = new Tour(field);
    await field.joinTerminal('marshal', 'Max');
    await field.fieldpeg('group', 'call', '1');
    const page = await tour.pilot('Gil');
    await page.locator('[data-of=dial] .spots').waitFor();
    await tour.view(page, 'all');
    await page.locator('#flying li').first().waitFor();
    await settled(page);
    const {names, last, bar, first, strip} = await page.evaluate(() => {
      const rows = [...document.querySelectorAll('#flying li, .hung li')];
      return {names: rows.map((row) => row.dataset.of), last: Math.max(...rows.map((row) => row.getBoundingClientRect().bottom)), first: rows[0].getBoundingClientRect().top,
        bar: document.getElementById('bar').getBoundingClientRect().top, strip: document.getElementById('strip').getBoundingClientRect().bottom};
    });
    assert.equal(new Set(names).size, 13, 'all but one\u2019s own');
    assert.ok(first >= strip && last <= bar, `from ${first} to ${last}, between ${strip} and ${bar}`);

    const devtools = await page.context().newCDPSession(page);
    await devtools.send('DOM.enable');
    await devtools.send('CSS.enable');
    const {root} = await devtools.send('DOM.getDocument');
    const {nodeId} = await devtools.send('DOM.querySelector', {nodeId: root.nodeId, selector: '#flying .name'});
    const {fonts} = await devtools.send('CSS.getPlatformFontsForNode', {nodeId});
    assert.deepEqual(fonts.map((font) => font.familyName), ['DejaVu Sans']);

    await page.setViewportSize({width: 1280, height: 800});
    for (const view of ['mine', 'field']) {
      await tour.view(page, view);
      await settled(page);
      const [left, right] = await page.evaluate(() => ['left', 'right'].map((id) => document.getElementById(id).getBoundingClientRect().toJSON()));
      assert.ok(right.left >= left.right && Math.abs(right.top - left.top) < 1, `${view} beside everybody`);
      assert.ok(await page.locator('#right #flying').isVisible());
    }
  } finally {
    await field.close();
  }
});
