// What did you bring? Six taps from nothing to a peg, and what is changed later.

import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {boardOf, button, close, noSheet, press, rowOf, sheet, strip, stripText, takeGear, textOf, title} from './phones.mjs';

let field;
before(async () => {
  field = new Field(dayText());
  await field.start();
  await field.joinTerminal('marshal', 'Max');
  await field.fieldpeg('group', 'call', '2');
  for (const name of ['Ann', 'Ben', 'Cem', 'Dee']) await field.fieldpeg('off', name, '--yes');
});
after(async () => {
  await field.close();
  await closeBrowser();
});
const pressed = (page) => page.locator('#sheet [aria-pressed=true]').allTextContents();

test('six taps lead from nothing to a peg, and no place that is taken is preselected', async () => {
  const pat = await field.phone('pilot', 'Pat');
  await strip(pat, 'no gear yet');
  let taps = 0;
  const tap = async (target) => { await target.click(); ++taps; };
  await press(pat.locator('#next'), 'My gear');
  const asked = [];
  for (const answer of ['Snow', 'Stubby and patch', 'Bent wire leaves', '25 and 200']) {
    asked.push(await title(pat));
    assert.deepEqual(await pressed(pat), []);
    await button(pat.locator('#sheet .tiles'), 'I don\u2019t know').waitFor();
    await tap(button(pat.locator('#sheet .tiles'), answer));
  }
  await sheet(pat, 'Where do you stand?');
  asked.push(await title(pat));
  assert.deepEqual(asked, ['When your picture gets weak, what do you see?', 'What sticks out of your goggles?', 'And out of the aircraft?',
    'Which powers can it be set to?', 'Where do you stand?']);
  // Only where one flies is taken for granted: where most fly. Places are where others stand.
  assert.deepEqual(await pressed(pat), ['Meadow']);
  await tap(pat.locator('#sheet .tiles button[data-of="Hut"]'));
  await sheet(pat, 'is best for you');
  await tap(button(pat.locator('#sheet .acts'), 'Take '));
  await strip(pat, 'Held');
  assert.equal(taps, 6);
  const own = await rowOf(field, 'Pat');
  assert.equal(own.stage, 'held');
  assert.deepEqual([own.place, own.area], ['Hut', 'Meadow']);
  assert.match(await textOf(pat.locator('#main h2').first()), new RegExp(`^${own.channel.name} is yours`));
});

test('the browser\'s back goes back to the question before', async () => {
  const quinn = await field.phone('pilot', 'Quinn');
  await press(quinn.locator('#next'), 'My gear');
  await press(quinn.locator('#sheet .tiles'), 'Snow');
  await sheet(quinn, 'What sticks out');
  await quinn.goBack();
  await sheet(quinn, 'When your picture gets weak');
  await press(quinn.locator('#sheet .tiles'), 'Blocks, or it freezes');
  for (const answer of ['Nothing', 'Bare wire', '25\u00a0mW only', '4 East bench']) await press(quinn.locator('#sheet .tiles'), answer);
  await sheet(quinn, /is best for you|Nothing is free|Try /);
});

test('as last time is one tap, on a phone that has said it before', async () => {
  const rosa = await field.phone('pilot', 'Rosa');
  const channel = await takeGear(rosa);
  await field.fieldpeg('pilot', 'remove', 'Rosa');
  await strip(rosa, 'no gear yet');
  const again = button(rosa.locator('#main'), 'As last time');
  assert.match(await textOf(again), /Snow, Two stubbies, 25 and 200 mW/);
  await again.click();
  await sheet(rosa, 'is best for you');
  await press(rosa.locator('#sheet .acts'), 'Take ');
  await strip(rosa, 'Held');
  assert.ok(channel);
});

test('one thing is changed without the rest', async () => {
  const gil = await field.pilot('Gil');
  await press(gil.locator('#main'), 'My gear');
  await sheet(gil, 'One thing at a time');
  const line = (what) => gil.locator(`#sheet li[data-of="${what}"]`);
  const before = await textOf(line('goggles'));
  assert.match(await textOf(line('place')), /Middle bench/);
  await line('place').locator('button').click();
  await sheet(gil, 'Where do you stand?');
  await gil.locator('#sheet .tiles button[data-of="Hut"]').click();
  await gil.locator('#sheet:visible', {hasText: 'Hut'}).filter({hasNotText: 'Where do you stand?'}).waitFor();
  assert.doesNotMatch(await textOf(gil.locator('#sheet')), /->|--/);
  assert.equal((await rowOf(field, 'Gil')).place, 'Hut');
  assert.equal((await rowOf(field, 'Gil')).channel.name, 'R4', 'the peg stays');
  await gil.goto(field.address(true));
  await press(gil.locator('#main'), 'My gear');
  assert.equal(await textOf(line('goggles')), before);
});

test('a tripod with its relay is brought by three taps', async () => {
  const tom = await field.phone('pilot', 'Tom');
  await press(tom.locator('#next'), 'My gear');
  await press(tom.locator('#sheet'), 'I bring a tripod');
  await sheet(tom, 'Which of these is it?');
  await press(tom.locator('#sheet .tiles'), '5.8\u00a0GHz to a tripod');
  await sheet(tom, 'Where do you stand?');
  await tom.locator('#sheet .tiles button[data-of="Hut"]').click();
  await sheet(tom, 'Where does the tripod stand?');
  await tom.locator('#sheet .tiles button[data-of="Mast"]').click();
  await strip(tom, /ready|no channel yet/);
  const own = (await boardOf(field)).rows.filter((r) => r.transmitter === 'Tom' || r.owner === 'Tom');
  assert.deepEqual(own.map((r) => Boolean(r.is_relay)).sort(), [false, true]);
  assert.deepEqual(tom.faults, []);
});
