// A whole day in groups: three phones and a terminal at once, from joining to going home.

import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {alarm, boardOf, button, close, hold, lookAndAsk, noSheet, press, row, rowOf, sheet, strip, stripText, switchOff, switchOn, textOf, view} from './phones.mjs';

let field, marshal, gil, hana, ivo;
before(async () => {
  // In the morning: channels are held, nobody is on the air.
  field = new Field(dayText().replaceAll('on_air = true\n', ''));
  await field.start();
  await field.joinTerminal('marshal', 'Max');
  [marshal, gil, hana, ivo] = await Promise.all([field.phone('marshal', 'Mia'), field.pilot('Gil'), field.phone('pilot', 'Hana'), field.pilot('Ivo')]);
});
after(async () => {
  await field.close();
  await closeBrowser();
});
const stage = async (name) => (await rowOf(field, name)).stage;
async function callGroup(n) {
  const call = button(marshal.locator('#next'), `Hold: group ${n} flies`);
  await call.waitFor();
  await hold(marshal, call);
  await marshal.locator('#sheet:visible .acts').waitFor();
}

test('all are there in the morning: two by tickets of their own, one by a nod', async () => {
  await hana.getByText('Show this to the marshal').waitFor();
  await press(marshal.locator('[data-of="nodHana"]'), 'Yes, Hana');
  for (const page of [gil, hana, ivo]) {
    await strip(page, 'Held');
    assert.equal(await textOf(page.locator('#next')), 'May I switch on?');
  }
  const {rows} = await boardOf(field);
  assert.equal(rows.filter((r) => r.stage === 'held' && !r.is_relay).length, 13);
});

test('group 1 is called: who is of it gets a yes, by phone and by terminal at once; who is not waits', async () => {
  await callGroup(1);
  await close(marshal);
  await noSheet(marshal);
  const [, ann] = await Promise.all([switchOn(gil), field.fieldpeg('on', 'Ann')]);
  assert.match(ann, /on/i);
  assert.deepEqual([await stage('Gil'), await stage('Ann')], ['on_air', 'on_air']);
  await lookAndAsk(hana);
  await sheet(hana, /Not now|Group 1 flies/);
  assert.match(await textOf(hana.locator('#sheet')), /Group 1 flies/i);
  await strip(hana, 'Leave it off');
  assert.equal(await stage('Hana'), 'held');
});

test('all three phones and the terminal show the same of who flies', async () => {
  await close(hana);
  await noSheet(hana);
  const flying = (await boardOf(field)).rows.filter((r) => r.stage === 'on_air' && !r.is_relay).map((r) => r.transmitter).sort();
  assert.deepEqual(flying, ['Ann', 'Gil']);
  for (const [page, own] of [[gil, 'Gil'], [hana, ''], [ivo, '']]) {
    await view(page, 'all');
    await page.getByText('Flying: group 1').waitFor();
    const shown = await page.locator('#flying li').evaluateAll((all) => all.map((li) => li.dataset.of).sort());
    assert.deepEqual(shown, flying.filter((n) => n !== own), own);
    await page.getByText('Next: group 2').waitFor();
    await view(page, 'mine');
  }
});

test('who is harmed in the air hears it, the marshal calls it out, told is undone and told again', async () => {
  await field.fieldpeg('on', 'Hana', '--already');
  // Ann has no phone; Hana, who is on without asking, is told on hers.
  assert.match(await textOf(await alarm(hana, 'Your aircraft takes Ann\u2019s picture away')), /Ann is in the air, on R1|Ann is on R1/);
  await marshal.locator('.shout blockquote').waitFor();
  const words = await textOf(marshal.locator('.shout blockquote'));
  assert.match(words, /^“Hana, .* Ann is losing the picture\./);
  assert.ok(words.split(/\s+/).length <= 14, `to be called across a field: ${words}`);
  const to = /“(\w+),/.exec(words)[1];
  assert.equal(await textOf(marshal.locator('#next')), `Told ${to}`);
  assert.match(await stripText(marshal), /^Call out: \d/);
  await press(marshal.locator('#next'), `Told ${to}`);
  await press(marshal.locator('#toast'), 'Undo');
  await marshal.locator('.shout blockquote', {hasText: words.slice(1, 20)}).waitFor();
  assert.ok((await boardOf(field)).untold.length > 0, 'undone in time, nothing was said to the server');
  await strip(hana, /Turn it down|Switch it off|Land, then off/);
  await field.fieldpeg('off', 'Hana', '--yes');
  await marshal.locator('.shout').waitFor({state: 'detached'});
});

test('group 2 is called while group 1 is on the air: it is read who has to land, an off is a tap', async () => {
  await callGroup(2);
  await sheet(marshal, 'Group 1: land and say off');
  const on = marshal.locator('#sheet .rows li');
  assert.deepEqual(await on.evaluateAll((all) => all.map((li) => li.dataset.of).sort()), ['Ann', 'Gil']);
  await marshal.locator('#sheet .rows li[data-of="Ann"] button').click();
  await on.filter({hasText: 'Ann'}).waitFor({state: 'detached'});
  assert.equal(await stage('Ann'), 'off_air');
  await switchOff(gil);
  await sheet(marshal, 'Group 2 flies');
  assert.equal(await on.count(), 0);
  await close(marshal);
  await noSheet(marshal);
  await Promise.all([switchOn(ivo), switchOn(hana)]);
  assert.deepEqual([await stage('Hana'), await stage('Ivo')], ['on_air', 'on_air']);
  await view(gil, 'all');
  await gil.getByText('Flying: group 2').waitFor();
});

test('one goes down, is seen as down by all, and is unplugged', async () => {
  await press(ivo.locator('#main'), 'It is down');
  await hold(ivo, button(ivo.locator('#sheet'), 'Hold: it is down'));
  await strip(ivo, 'Down');
  await row(gil, 'Ivo').getByText('down').first().waitFor();
  await hold(ivo, button(ivo.locator('#next'), 'Hold: it is unplugged'));
  await strip(ivo, 'still yours');
  assert.equal(await stage('Ivo'), 'off_air');
});

test('in the evening all is off, and the report says who flew', async () => {
  await switchOff(hana);
  await press(gil.locator('#main'), 'Report');
  await sheet(gil, 'Who flew');
  const report = await textOf(gil.locator('#sheet'));
  for (const name of ['Ann', 'Gil', 'Hana', 'Ivo']) assert.ok(report.includes(name), name);
  assert.ok(!/\bLou\b/.test(report.slice(0, report.indexOf('Each flight') + 1)), 'who did not fly is not in it');
  const {rows} = await boardOf(field);
  assert.deepEqual(rows.filter((r) => ['on_air', 'told_on', 'down'].includes(r.stage)), []);
  for (const page of [marshal, gil, hana, ivo]) assert.deepEqual(page.faults, []);
});
