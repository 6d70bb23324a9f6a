// Usable by everybody: axe-core's rules for WCAG 2.1 A and AA on every screen, reflow at 320 pixels
// [WCAG 2.1, 1.4.10], reduced motion, keyboard alone.

import assert from 'node:assert/strict';
import {after, test} from 'node:test';
import {createRequire} from 'node:module';
import {readFileSync} from 'node:fs';
import {join} from 'node:path';
import {Field, closeBrowser} from './field.mjs';

after(() => closeBrowser());

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

async function check(page, where) {
  await page.evaluate(axe);
  const found = await page.evaluate(() => window.axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice']}));
  const told = found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => `${n.html} ${n.failureSummary}`).join(' | ')}`);
  assert.deepEqual(told, [], where);
  assert.ok(found.passes.length > 10, 'the rules did run');
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  assert.equal(wide, 0, `${where} scrolls sideways`);
}

test('every screen passes, at phone width and at 320 pixels', async () => {
  const field = new Field();
  await field.start();
  try {
    const press = (page, name) => page.getByRole('button', {name, exact: true}).first().click();
    for (const viewport of [{width: 390, height: 844}, {width: 320, height: 600}]) {
      const onlooker = await field.page({viewport});
      await onlooker.goto(field.address(false));
      await onlooker.getByText('Live').waitFor();
      await onlooker.getByText('How', {exact: true}).click();
      await check(onlooker, 'the board of an onlooker');
    }
    const joining = await field.page();
    await joining.goto(field.address(true, '/join#x'));
    await joining.getByLabel('Name').waitFor();
    await check(joining, 'joining');

    const marshal = await field.phone('marshal', 'Mia', {viewport: {width: 320, height: 700}});
    const gil = await field.phone('pilot', 'Gil', {viewport: {width: 320, height: 700}});
    await press(gil, 'Enter my gear');
    await check(gil, 'one\u2019s own gear');
    await press(gil, 'Enter it, with the best channel');
    await gil.getByText('It is held').waitFor();
    await check(gil, 'a claim');
    await press(gil, 'Close');
    await press(gil, 'May I switch on?');
    await gil.locator('#own').getByText('Switch on now').waitFor();
    await check(gil, 'a yes');
    await press(gil, 'It is on');
    await press(gil, 'Why?');
    await gil.getByRole('dialog').waitFor();
    await check(gil, 'why');
    await press(gil, 'Close');

    await press(marshal, 'Something is seen');
    await check(marshal, 'a sighting');
    await marshal.getByLabel('Channel', {exact: true}).selectOption({label: 'F6 (5840 MHz)'});
    await press(marshal, 'Enter it');
    await marshal.getByText('Call this out').waitFor();
    await field.phone('pilot', 'Ann');
    await marshal.getByText('Is it them?').waitFor();
    await check(marshal, 'the marshal\u2019s view');
    await press(marshal, 'Let somebody in');
    await press(marshal, 'Show the ticket');
    await marshal.locator('.qr').waitFor();
    await check(marshal, 'a ticket');
    await press(marshal, 'Close');
    await marshal.getByRole('button', {name: 'Act for Finn'}).first().click();
    await press(marshal, 'Check the relay');
    await marshal.locator('.window').waitFor();
    await check(marshal, 'a relay');

    await field.stop('SIGKILL');
    await gil.locator('#lost').waitFor();
    await gil.waitForTimeout(300);
    await check(gil, 'a lost server');
  } finally {
    await field.close();
  }
});

test('reduced motion is respected, and the keyboard alone is enough', async () => {
  const field = new Field();
  await field.start();
  try {
    const gil = await field.phone('pilot', 'Gil', {reducedMotion: 'reduce'});
    const press = async (name) => {
      for (let i = 0; i < 80; ++i) {
        await gil.keyboard.press('Tab');
        const at = await gil.evaluate(() => document.activeElement?.textContent);
        if (at === name) return gil.keyboard.press('Enter');
      }
      throw new Error(`no way to '${name}' by Tab`);
    };
    await press('Enter my gear');
    await press('Enter it, with the best channel');
    await gil.getByText('It is held').waitFor();
    await gil.keyboard.press('Escape');
    await press('May I switch on?');
    await gil.locator('#own').getByText('Switch on now').waitFor();
    await press('It is on');
    const fill = gil.locator('.hold .fill').first();
    await gil.locator('.hold').first().focus();
    await gil.keyboard.down(' ');
    assert.equal(await fill.evaluate((f) => getComputedStyle(f).transitionDuration), '0s');
    await gil.waitForTimeout(1200);
    await gil.keyboard.up(' ');
    await gil.locator('#own').getByText('off the air').waitFor();
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
    const report = join(field.folder, 'report.html');
    await field.fieldpeg('report', '--out', report);
    const page = await field.page({viewport: {width: 1000, height: 800}});
    await page.goto(`file://${report}`);
    await check(page, 'the report');
    await page.evaluate(() => document.querySelectorAll('details').forEach((d) => { d.open = true; }));
    await check(page, 'the report, unfolded');
    const pegs = join(field.folder, 'pegs.html');
    await field.fieldpeg('pegs', '--out', pegs);
    await page.goto(`file://${pegs}`);
    await check(page, 'the pegs');
  } finally {
    await field.close();
  }
});
