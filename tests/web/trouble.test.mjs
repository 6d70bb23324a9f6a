// Trouble on the air: who is harmed, who harms, what ends it; the line that is lost, the field that is closed.

import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {alarm, boardOf, button, hold, noAlarm, noSheet, press, row, rowOf, sheet, strip, stripText, takeGear, textOf, view} from './phones.mjs';

const tripod = "Finn's tripod";
let field, marshal, edda, finn, gil;
before(async () => {
  field = new Field();
  await field.start();
  await field.joinTerminal('marshal', 'Theo');
  await field.fieldpeg('relay', 'off', tripod, '--yes');
  [marshal, edda, finn, gil] = [await field.phone('marshal', 'Mia'), await field.pilot('Edda'), await field.pilot('Finn'), await field.phone('pilot', 'Gil')];
});
after(async () => {
  await field.close();
  await closeBrowser();
});
const relayOn = () => field.fieldpeg('relay', 'on', tripod, '--already');
const answered = async (page) => {
  while (await page.locator('#alarm:visible:not(.good)').count()) {
    await press(page.locator('#alarm:visible:not([inert])'), 'I know').catch(() => {});
    await page.waitForTimeout(100);
  }
};

test('a warning is seen by somebody who has scrolled and has a sheet open, without moving them', async () => {
  await answered(finn);
  await view(edda, 'all');
  await edda.evaluate(() => scrollTo(0, 99999));
  await row(edda, 'Dee').locator('button').click();
  await sheet(edda, 'Dee');
  const focus = () => edda.evaluate(() => document.activeElement?.id);
  const before = [await focus(), await edda.evaluate(() => scrollY)];
  await relayOn();
  const shown = await alarm(edda, `Edda: ${tripod} is in your picture`);
  assert.deepEqual([await focus(), await edda.evaluate(() => scrollY)], before);
  const box = await shown.boundingBox();
  const stripBottom = await edda.evaluate(() => document.getElementById('strip').getBoundingClientRect().bottom);
  assert.ok(box.y >= stripBottom - 3 && box.y < 200 && box.y + box.height <= 740, JSON.stringify(box));
  assert.ok(await edda.evaluate(() => {
    const {x, y, width} = document.querySelector('#alarm h2').getBoundingClientRect();
    return document.querySelector('#alarm').contains(document.elementFromPoint(x + width / 2, y + 5));
  }), 'it lies above the sheet');
  assert.match(await textOf(shown), /Follow your lost-picture drill; land if you can\. Finn and (Mia|Theo) have been told\./);
  assert.equal(await stripText(edda), `Picture lost ${tripod}`);
  assert.match(await edda.title(), /^! Edda/);
});

test('the cause\'s own phone is warned too, with what ends it and nothing that needs hands in flight', async () => {
  const shown = await alarm(finn, `${tripod} takes`);
  assert.match(await textOf(shown), /Finn's tripod takes \S+'?’?s? ?picture away/);
  assert.equal(await stripText(finn), "Land, then off Finn's tripod, 600 mW");
  assert.match(await textOf(shown), /Land, then switch it off\. Edda is on F6\./);
  // Finn flies by this very tripod.
  assert.deepEqual((await shown.locator('button').allTextContents()), ['I cannot reach it: tell the marshal']);
});

test('the marshal has it to call out, whom to shout at first, and hears that it cannot be reached', async () => {
  await marshal.locator('.shout blockquote').waitFor();
  const call = await textOf(marshal.locator('.shout'));
  assert.match(call, /“Finn, /);
  assert.match(call, /Edda/);
  assert.match(await stripText(marshal), /^Call out: \d/);
  await press(await alarm(finn, tripod), 'I cannot reach it: tell the marshal');
  await marshal.locator('.shout').getByText('Finn cannot reach it.').waitFor();
});

test('a warning ends on every phone when its cause ends, and says so', async () => {
  await edda.keyboard.press('Escape');
  await noSheet(edda);
  await alarm(edda, `${tripod} is in your picture`);
  await field.fieldpeg('relay', 'off', tripod, '--yes');
  const over = edda.locator('#alarm.good', {hasText: 'Over:'});
  await over.waitFor();
  assert.equal(await textOf(over), `Over: ${tripod} is out of your picture`);
  assert.equal(await over.locator('button').count(), 0);
  await marshal.locator('.shout', {hasText: 'Edda'}).waitFor({state: 'detached'});
  await strip(edda, /on the air/);
  assert.doesNotMatch(await stripText(edda), /Picture lost/);
});

test('on the ground the cause is offered what ends it, and by I set it to less it is ended', async () => {
  await field.fieldpeg('off', 'Finn', '--yes');
  await strip(finn, 'still yours');
  await answered(finn);
  await relayOn();
  const shown = await alarm(finn, `${tripod} takes`);
  assert.equal(await stripText(finn), "Turn it down Finn's tripod, 600 mW");
  await button(shown, 'I switched it off').waitFor();
  const lower = button(shown, 'I set it to');
  const power = /I set it to (\S+)\sm?W/.exec(await lower.textContent())[1];
  await lower.click();
  await edda.locator('#alarm.good', {hasText: `${tripod} is out of your picture`}).waitFor();
  await strip(finn, 'still yours');
  const after = await rowOf(field, tripod);
  assert.equal(String(Math.round(10 ** (after.power_dbm / 10))), power);
  assert.equal(after.stage, 'on_air', 'turned down, not off');
});

test('a closed field is said on every phone, and nobody gets a yes until it is open', async () => {
  await takeGear(gil);
  await hold(marshal, button(marshal.locator('#main'), 'Hold: close the field'));
  await sheet(marshal, 'Close the field');
  await marshal.getByLabel('Why').fill('lunch');
  await press(marshal.locator('#sheet'), 'Flights end in peace');
  await strip(gil, 'Field closed');
  assert.ok(await gil.locator('#alarm').isHidden(), 'a line on the board, no alarm');
  await view(gil, 'all');
  await gil.getByText('Closed: lunch').waitFor();
  await view(gil, 'mine');
  assert.equal(await button(gil.locator('#next'), 'May I switch on?').count(), 0);
  await assert.rejects(field.fieldpeg('on', 'Gil'), /closed/, 'nor by the terminal');
  assert.equal((await rowOf(field, 'Gil')).stage, 'held');
  await press(marshal.locator('#next'), 'Open the field');
  await strip(gil, 'Held');
  await button(gil.locator('#next'), 'May I switch on?').waitFor();
});

test('land now is an alarm on every phone; anybody may say it, and only the marshal undoes it', async () => {
  await view(gil, 'all');
  await press(gil.locator('#main'), 'Danger: all land');
  await sheet(gil, 'Close the field');
  assert.equal(await gil.getByText('Flights end in peace').count(), 0, 'that is the marshal\'s to say');
  await gil.getByLabel('Why').fill('child on the runway');
  await hold(gil, button(gil.locator('#sheet'), 'Hold: land now'));
  for (const page of [edda, finn]) {
    const shown = await alarm(page, 'Land now');
    assert.match(await textOf(shown), /child on the runway/);
    assert.equal(await button(shown, 'Landed: it is off').count(), page === edda ? 1 : 0, 'to whoever is in the air');
  }
  assert.equal((await boardOf(field)).closed.because, 'child on the runway');
  await press(await alarm(gil, 'Land now'), 'I know');
  await noAlarm(gil);
  assert.equal(await gil.getByRole('button', {name: 'Open the field'}).count(), 0);
  await view(gil, 'mine');
  await hold(edda, button(await alarm(edda, 'Land now'), 'Landed: it is off'));
  await strip(edda, 'Field closed');
  assert.equal((await rowOf(field, 'Edda')).stage, 'off_air');
  await press(marshal.locator('#main'), 'Open the field');
  await finn.locator('#alarm:visible', {hasText: 'Land now'}).waitFor({state: 'hidden'});
});

test('somebody walks out to an aircraft that is down: all hear of it, and of nobody more is asked than is needed', async () => {
  await field.fieldpeg('off', 'Ann', '--down', '--near', 'the ditch');
  for (const one of ['Ben', 'Cem', 'Edda']) await field.fieldpeg('off', one, '--yes').catch(() => {});
  const find = async () => {
    await row(marshal, 'Ann').locator('button').click();
    await press(marshal.locator('#sheet'), 'Find it');
    await sheet(marshal, 'Ann is down: the ditch');
  };
  await view(marshal, 'all');
  await find();
  assert.match(await textOf(marshal.locator('#sheet')), /Nobody has to be quiet for it\. Tune to R2:/);
  await press(marshal.locator('#sheet .acts'), 'Somebody walks out now');
  await noSheet(marshal);
  await view(edda, 'all');
  const news = edda.getByText('Somebody walks out to Ann: nobody flies there.');
  await news.waitFor();
  assert.ok(await edda.locator('#alarm').isHidden(), 'who does not drown it is left in peace');
  await find();
  await press(marshal.locator('#sheet .acts'), 'Back on the line');
  await news.waitFor({state: 'detached'});
});
