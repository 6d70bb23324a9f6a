// A relay on its tripod: checked before it is on, and not taken from under its owner who flies by it.

import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {alarm, button, hold, noSheet, press, rowOf, sheet, strip, textOf, title} from './phones.mjs';

const tripod = "Finn's tripod";
let field, finn, marshal;
before(async () => {
  field = new Field();
  await field.start();
  await field.joinTerminal('marshal', 'Theo');
  marshal = await field.phone('marshal', 'Mia');
  finn = await field.pilot('Finn');
});
after(async () => {
  await field.close();
  await closeBrowser();
});
const card = () => finn.locator(`#main [data-of="${tripod}"]`).first();
async function quiet() {
  await finn.waitForTimeout(600);
  while (await finn.locator('#alarm:visible:not(.good)').count()) {
    await press(finn.locator('#alarm:visible:not([inert])'), /I know|I cannot reach/).catch(() => {});
    await finn.waitForTimeout(100);
  }
}

test('a relay is checked with a slider, and says what the command line says', async () => {
  await quiet();
  await press(card(), 'Check it');
  const slider = finn.getByRole('slider');
  await slider.waitFor();
  assert.match(await title(finn), /^Too strong for .*Edda/);
  const steps = [];
  await slider.focus();
  await finn.keyboard.press('Home');
  await finn.locator('#mw', {hasText: /^10\smW$/}).waitFor();
  for (let i = 0; i < 4; ++i) {
    const said = await slider.getAttribute('aria-valuetext');
    const [power, says] = said.replaceAll('\u00a0', ' ').split('. ');
    const asked = power.replace(' ', '');
    const text = await field.fieldpeg('relay', 'check', tripod, '--day', 'day.toml', '--power', asked, '--json').catch((e) => e.stdout);
    const {answer} = JSON.parse(text);
    steps.push([power, answer]);
    assert.match(says, {fits: /^Fits at/, too_weak: /^Too weak/, too_strong: /^Too strong/}[answer], `${power}: ${says}, ${answer}`);
    assert.equal(await title(finn).then((s) => s.replaceAll('\u00a0', ' ')), says);
    await finn.keyboard.press('ArrowRight');
    if (i < 3) await finn.waitForFunction((was) => document.getElementById('power').getAttribute('aria-valuetext') !== was, said);
  }
  assert.deepEqual(steps.map(([power]) => power), ['10 mW', '25 mW', '200 mW', '600 mW']);
  assert.ok(steps.some(([, answer]) => answer === 'fits') && steps.some(([, answer]) => answer === 'too_strong'));
});

test('too strong it offers the best step that fits, and takes it', async () => {
  await finn.getByRole('slider').focus();
  await finn.keyboard.press('End');
  assert.match(await title(finn), /^Too strong/);
  const take = button(finn.locator('#sheet .acts'), /\d\smW/);
  const mw = Number(/(\d+)\smW/.exec(await take.textContent())[1]);
  assert.ok([10, 25, 200].includes(mw), String(mw));
  await take.click();
  await noSheet(finn);
  const {power_dbm: dbm, stage} = await rowOf(field, tripod);
  assert.deepEqual([Math.round(10 ** (dbm / 10)), stage], [mw, 'on_air']);
});

test('a relay declared off while its owner flies is asked back, from a phone too, and then it is done', async () => {
  await finn.goto(field.address(true));
  await strip(finn, 'on the air');
  await quiet();
  await hold(finn, button(card(), 'Hold: it is off'));
  await sheet(finn, `${tripod}: think first`);
  assert.match(await textOf(finn.locator('#sheet')), /flies by this relay: the picture would go with it/);
  assert.equal((await rowOf(field, tripod)).stage, 'on_air', 'nothing was done yet');
  await press(finn.locator('#sheet'), 'Leave it on');
  await noSheet(finn);
  assert.equal((await rowOf(field, tripod)).stage, 'on_air');
  await hold(finn, button(card(), 'Hold: it is off'));
  await press(finn.locator('#sheet'), 'Off all the same');
  await noSheet(finn);
  await card().getByText('off, channel kept').waitFor();
  assert.equal((await rowOf(field, tripod)).stage, 'off_air');
});

test('whose picture came by it is told that it is gone', async () => {
  await field.fieldpeg('relay', 'on', tripod, '--already');
  await card().getByText('on the air').first().waitFor();
  await field.fieldpeg('relay', 'off', tripod, '--yes');
  const shown = await alarm(finn, 'your relay');
  assert.match(await textOf(shown), /Finn: your relay’s picture is gone/);
  await marshal.locator('.shout blockquote', {hasText: 'Finn'}).waitFor();
  assert.doesNotMatch(await textOf(marshal.locator('.shout')), /in your picture|disturbs/, 'the call says what is so');
  assert.deepEqual(finn.faults, []);
});
