// What one says of one's own: on the bench, off, down; by finger, by key, and by what is neither.

import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {button, close, hold, noSheet, press, row, rowOf, sheet, strip, stripText, switchOff, switchOn, textOf, title, view} from './phones.mjs';

let field, gil;
before(async () => {
  field = new Field(dayText());
  await field.start();
  await field.joinTerminal('marshal', 'Max');
  gil = await field.pilot('Gil');
});
after(async () => {
  await field.close();
  await closeBrowser();
});
// One test that fails is not to make the next fail: each says where it begins.
async function begin(stage) {
  const is = (await rowOf(field, 'Gil')).stage;
  const isOn = is === 'on_air';
  if ((stage === 'on' && isOn) || (stage === 'off' && ['held', 'off_air'].includes(is) && !await gil.locator('#sheet:visible').count())) return;
  await gil.goto(field.address(true));
  if (stage === 'off') await field.fieldpeg('off', 'Gil', '--yes');
  else if (!isOn) await field.fieldpeg('on', 'Gil', '--already');
  await strip(gil, stage === 'off' ? 'still yours' : 'on the air');
}
const offButton = () => button(gil.locator('#next'), 'Hold: it is off');
const isOn = async () => (await rowOf(field, 'Gil')).stage === 'on_air';

test('a touch is not enough to say off; a finger that stays is', async () => {
  await begin('off');
  await switchOn(gil);
  await hold(gil, offButton(), 300);
  await gil.waitForTimeout(900);
  assert.ok(await isOn());
  assert.ok(await gil.locator('#sheet').isHidden(), 'and a touch asks nothing back');
  await hold(gil, offButton());
  await strip(gil, 'Off');
  assert.equal((await rowOf(field, 'Gil')).stage, 'off_air');
});

test('off can be undone for five seconds', async () => {
  const toast = gil.locator('#toast:visible');
  await toast.waitFor();
  assert.match(await textOf(toast), /^Off at \d\d:\d\d Undo \([1-5]\)$/);
  await press(toast, 'Undo');
  await strip(gil, 'on the air');
  assert.ok(await isOn());
});

test('off is held by key, by each that presses a button', async () => {
  await begin('on');
  for (const key of ['Enter', ' ']) {
    await offButton().focus();
    await gil.keyboard.down(key);
    await gil.waitForTimeout(1000);
    await gil.keyboard.up(key);
    await strip(gil, 'still yours');
    await press(gil.locator('#toast'), 'Undo');
    await strip(gil, 'on the air');
  }
});

test('what presses without finger or key, as a screen reader does, is asked back', async () => {
  await begin('on');
  await offButton().evaluate((b) => b.click());
  assert.equal(await title(gil), 'Hold: it is off');
  await press(gil.locator('#sheet'), 'No');
  await noSheet(gil);
  assert.ok(await isOn());
  await offButton().evaluate((b) => b.click());
  await press(gil.locator('#sheet'), 'Yes');
  await strip(gil, 'still yours');
  await noSheet(gil);
});

test('the bench is asked for and refused like the air, and the strip does not take it for flying', async () => {
  await begin('off');
  await press(gil.locator('#main'), 'Bench');
  await press(gil.locator('#sheet'), 'Only snow');
  await sheet(gil, 'Not now. Cem\u2019s picture would break up now and then.');
  await close(gil);
  await noSheet(gil);
  for (const name of ['Ann', 'Ben', 'Cem', 'Dee', 'Edda', 'Finn']) await field.fieldpeg('off', name, '--yes');
  await press(gil.locator('#main'), 'Bench');
  await press(gil.locator('#sheet'), 'Only snow');
  await sheet(gil, 'Set bench power, 25\u00a0mW.');
  await press(gil.locator('#sheet .acts'), 'It is on the bench');
  await strip(gil, 'On the bench');
  assert.equal((await rowOf(field, 'Gil')).stage, 'bench');
  assert.match(await textOf(gil.locator('#main')), /It is on the bench/);
  assert.equal(await gil.evaluate(() => document.documentElement.classList.contains('s-air')), false, 'white, not yellow');
  await switchOff(gil);
});

test('down keeps the channel taken until it is unplugged', async () => {
  await begin('off');
  await switchOn(gil);
  await press(gil.locator('#main'), 'It is down');
  await sheet(gil, 'R4 stays taken until it is unplugged');
  await gil.getByLabel('Where, as far as you saw').fill('tall grass');
  await hold(gil, button(gil.locator('#sheet'), 'Hold: it is down'));
  await strip(gil, 'Down');
  assert.equal(await stripText(gil), 'Down may still send on R4');
  assert.equal((await rowOf(field, 'Gil')).stage, 'down');
  await press(gil.locator('#main'), 'Find it');
  await sheet(gil, 'Gil is down: tall grass');
  await close(gil);
  await noSheet(gil);
  await hold(gil, button(gil.locator('#next'), 'Hold: it is unplugged'));
  await strip(gil, 'still yours');
  assert.equal((await rowOf(field, 'Gil')).stage, 'off_air');
});

test('what others do disturbs nobody who holds, scrolls or types', async () => {
  await begin('off');
  await switchOn(gil);
  await press(gil.locator('#main'), 'It is down');
  await gil.getByLabel('Where, as far as you saw').fill('by the');
  await field.fieldpeg('seen', 'E1');
  await gil.locator('#tab-all', {hasText: /All/}).waitFor();
  await gil.waitForTimeout(300);
  assert.equal(await gil.evaluate(() => document.activeElement.id), 'near');
  await gil.keyboard.type(' hut');
  assert.equal(await gil.locator('#near').inputValue(), 'by the hut');
  await close(gil);
  await noSheet(gil);
  // Let go in time while the board changes: it stays on. Held through a change: it goes off.
  const box = await offButton().boundingBox();
  await gil.mouse.move(box.x + 20, box.y + 20);
  await gil.mouse.down();
  const change = field.fieldpeg('on', 'Ann', '--already');
  await gil.waitForTimeout(400);
  await gil.mouse.up();
  await change;
  await gil.waitForTimeout(900);
  assert.ok(await isOn());
  await gil.mouse.down();
  const other = field.fieldpeg('off', 'Ann', '--yes');
  await gil.waitForTimeout(1000);
  await gil.mouse.up();
  await other;
  await strip(gil, 'still yours');
});

test('back closes a sheet and stays on the page', async () => {
  await view(gil, 'all');
  await row(gil, 'Ann').locator('button').click();
  await sheet(gil, 'Ann');
  await gil.goBack();
  await noSheet(gil);
  assert.equal(await gil.locator('#tab-all').getAttribute('aria-current'), 'page', 'and in the same view');
  await field.fieldpeg('on', 'Ben', '--already');
  await row(gil, 'Ben').getByText('min').waitFor();
  await row(gil, 'Ben').locator('button').click();
  await press(gil.locator('#sheet'), 'Why?');
  await sheet(gil, 'In decibels');
  await gil.goBack();
  await sheet(gil, 'Ben');
  await gil.goBack();
  await noSheet(gil);
  await row(gil, 'Ben').locator('button').click();
  await press(gil.locator('#sheet'), 'Why?');
  await gil.goBack();   // sooner than the answer comes, as a rule; else it closes what came
  await gil.waitForTimeout(1000);
  assert.equal(await gil.locator('#sheet:visible').filter({hasText: 'In decibels'}).count(), 0);
  if (await gil.locator('#sheet').isVisible()) await gil.goBack();
  await noSheet(gil);
  assert.equal(new URL(gil.url()).pathname, '/');
  await view(gil, 'mine');
  assert.deepEqual(gil.faults, []);
});
