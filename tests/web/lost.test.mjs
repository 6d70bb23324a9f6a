// The line to the server is lost, the server dies, and both come back.

import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {alarm, button, hold, lookAndAsk, noAlarm, press, rowOf, strip, stripText, switchOn, textOf} from './phones.mjs';

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

test('a server killed under a yes: the page says what is old and how old, and no yes counts', async () => {
  await lookAndAsk(gil);
  await strip(gil, 'Switch on now');
  await field.stop('SIGKILL');
  await strip(gil, 'No contact');
  assert.equal(await stripText(gil), 'No contact what you see is old');
  assert.equal(await gil.evaluate(() => document.documentElement.classList.contains('s-go')), false, 'nothing is green');
  assert.doesNotMatch(await gil.evaluate(() => document.getElementById('say').textContent + document.getElementById('shout').textContent), /Switch on now/);
  await gil.waitForFunction(() => Number.parseInt(document.querySelector('#strip .live > span').textContent, 10) >= 2);
});

test('the page of somebody cut off asks for nothing that the server would have to answer', async () => {
  const open = await gil.locator('button:visible:not(:disabled):not([inert] *)').allTextContents();
  for (const words of open) assert.doesNotMatch(words, /May I|Take |Change|Give it back|Tell me when|Why\?/, open.join(' | '));
});

test('live again it is asked whether it is on; what was acknowledged is kept', async () => {
  await field.start();
  const again = await alarm(gil, 'Live again. Is it on?');
  assert.equal((await rowOf(field, 'Gil')).unconfirmed || (await rowOf(field, 'Gil')).stage === 'told_on', true);
  const [on, off] = await again.locator('.two button, .acts button, button').evaluateAll((all) => all.map((b) => b.textContent));
  assert.deepEqual([on, off].map((words) => words.trim()), ['It is on', /It is off|Not now/.exec(off)?.[0]]);
  await press(again, 'It is on');
  await strip(gil, 'on the air');
  await noAlarm(gil);
  assert.equal((await rowOf(field, 'Gil')).stage, 'on_air');
});

test('off said during a loss is kept on the phone, and sent when the line is back', async () => {
  await field.stop('SIGKILL');
  await strip(gil, 'No contact');
  await gil.locator('#main h2', {hasText: 'Fly on'}).waitFor();
  await hold(gil, button(gil.locator('#next'), 'Hold: it is off'));
  assert.match(await textOf(gil.locator('#toast')), /^Kept on this phone at \d\d:\d\d/);
  await gil.getByText('What you said is kept on this phone').waitFor();
  assert.equal(await gil.evaluate(() => JSON.parse(localStorage.getItem('kept')).length), 1);
  await field.start();
  await strip(gil, 'still yours');
  assert.equal((await rowOf(field, 'Gil')).stage, 'off_air');
  assert.equal(await gil.evaluate(() => JSON.parse(localStorage.getItem('kept')).length), 0, 'once');
});

test('a reload during the loss loses nothing of what was kept', async () => {
  await switchOn(gil);
  await gil.context().setOffline(true);
  await strip(gil, 'No contact');
  await hold(gil, button(gil.locator('#next'), 'Hold: it is off'));
  await gil.getByText('What you said is kept on this phone').waitFor();
  await gil.context().setOffline(false);
  await gil.reload();
  await strip(gil, 'still yours');
  assert.equal((await rowOf(field, 'Gil')).stage, 'off_air');
});
