// May I switch on? The steps of it, the noes and what helps, the line of those who wait.

import assert from 'node:assert/strict';
import {after, before, beforeEach, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {alarm, boardOf, button, close, lookAndAsk, noAlarm, noSheet, press, rowOf, sheet, strip, stripText, switchOff, textOf, title} from './phones.mjs';

let field, gil;
before(async () => {
  field = new Field(dayText());
  await field.start();
  await field.joinTerminal('marshal', 'Max');
  gil = await field.pilot('Gil');
});
// One test that fails is not to make the next fail.
beforeEach(async () => {
  if (!await gil.locator('#sheet:visible').count() && /^(Held|Off)/.test(await stripText(gil))) return;
  await field.fieldpeg('off', 'Gil', '--yes').catch(() => {});
  await gil.goto(field.address(true));
  await strip(gil, /Held|Off/);
});
after(async () => {
  await field.close();
  await closeBrowser();
});

const spoken = (page) => page.evaluate(() => `${document.getElementById('say').textContent}|${document.getElementById('shout').textContent}`);
const sizes = (of) => of.evaluateAll((all) => all.map((b) => {
  const {width, height} = b.getBoundingClientRect(), {color, backgroundColor, fontWeight} = getComputedStyle(b);
  return [Math.round(width), Math.round(height), color, backgroundColor, fontWeight].join();
}));
// So much later on this phone alone; back with 0.
const later = (page, ms) => page.evaluate((by) => {
  const now = window.realNow ??= Date.now;
  Date.now = () => now() + by;
}, ms);

test('it is asked in steps: look, power, say so; and neither answer of the look is preferred', async () => {
  await strip(gil, 'Held');
  await press(gil.locator('#next'), 'May I switch on?');
  assert.equal(await title(gil), 'Tune your goggles to R4 and look');
  assert.deepEqual(await gil.locator('#sheet .steps li').allTextContents(), ['1 Look', '2 Power', '3 Say so']);
  assert.equal(await gil.locator('#sheet .steps li[aria-current=step]').textContent(), '1 Look');
  const [picture, snow, ...more] = await sizes(gil.locator('#sheet .acts .tiles button'));
  assert.equal(picture, snow);
  assert.deepEqual(more, []);
  await press(gil.locator('#sheet'), 'Only snow');
  await strip(gil, 'Switch on now');
  assert.equal(await gil.locator('#sheet .steps li[aria-current=step]').textContent(), '2 Power');
  assert.match(await textOf(gil.locator('#sheet')), /R4 is kept for you until the ring is empty\. Set 25 mW\. This is about channels only\. It does not clear you to launch\./);
  const seconds = Number.parseInt(await gil.locator('#sheet [role=timer]').textContent(), 10);
  assert.ok(seconds > 40 && seconds <= 60, String(seconds));
  assert.equal((await rowOf(field, 'Gil')).stage, 'told_on', 'not yet on the air for anybody');
  await press(gil.locator('#sheet .acts'), 'It is on');
  await strip(gil, /on the air/);
  assert.equal((await rowOf(field, 'Gil')).stage, 'on_air');
  await switchOff(gil);
  assert.equal((await rowOf(field, 'Gil')).stage, 'off_air');
});

test('no live region still says Switch on now once the yes is void, and none keeps its words for longer than 8 s', async () => {
  await lookAndAsk(gil);
  await strip(gil, 'Switch on now');
  await gil.waitForFunction(() => /Switch on now/.test(document.getElementById('say').textContent));
  await press(gil.locator('#sheet .acts'), 'Not now');
  await strip(gil, 'not switched on');
  assert.equal(await gil.evaluate(() => document.documentElement.classList.contains('s-go')), false);
  await gil.waitForTimeout(300);
  assert.doesNotMatch(await spoken(gil), /Switch on now/);
  await gil.waitForFunction(() => !document.getElementById('say').textContent && !document.getElementById('shout').textContent, null, {timeout: 8300});
});

test('a reload and a second tab keep the yes: the ring, the minute and It is on', async () => {
  await lookAndAsk(gil);
  await strip(gil, 'Switch on now');
  const before = Number.parseInt(await gil.locator('#sheet [role=timer]').textContent(), 10);
  await gil.reload();
  await strip(gil, 'Switch on now');
  await gil.locator('#sheet .ringwrap').waitFor();
  const after = Number.parseInt(await gil.locator('#sheet [role=timer]').textContent(), 10);
  assert.ok(after <= before && after > before - 15, `${before} s, then ${after} s: the minute runs on`);
  await button(gil.locator('#sheet .acts'), 'It is on').waitFor();
  const tab = await gil.context().newPage();
  await tab.goto(field.address(true));
  await strip(tab, 'Switch on now');
  await tab.locator('#sheet .ringwrap').waitFor();
  await press(tab.locator('#sheet .acts'), 'It is on');
  await strip(tab, 'on the air');
  await strip(gil, 'on the air');
  await noSheet(gil);
  await tab.close();
  await switchOff(gil);
});

test('once the minute is over it is asked, without an alarm, and neither answer is preferred', async () => {
  await lookAndAsk(gil);
  await strip(gil, 'Switch on now');
  await later(gil, 61000);
  await strip(gil, 'Is it on?');
  await sheet(gil, 'The minute is over. Is it on?');
  assert.match(await textOf(gil.locator('#sheet')), /everybody is kept clear of R4 as if it were/);
  const [on, off, ...more] = await sizes(gil.locator('#sheet .acts button'));
  assert.equal(on, off);
  assert.deepEqual(more, []);
  assert.ok(await gil.locator('#alarm').isHidden());
  assert.equal((await rowOf(field, 'Gil')).stage, 'told_on', 'it never falls back to off by itself');
  await press(gil.locator('#sheet .acts'), 'It is off');
  await strip(gil, 'not switched on');
  assert.equal((await rowOf(field, 'Gil')).stage, 'held', 'nobody takes it to have been on');
  await later(gil, 0);
});

test('who sees a picture is told to leave it off, and what is there counts for everybody until it is taken back', async () => {
  await press(gil.locator('#next'), 'May I switch on?');
  await press(gil.locator('#sheet'), 'I see a picture');
  assert.equal(await title(gil), 'Then somebody is on R4. Leave it off.');
  await strip(gil, 'Leave it off');
  assert.equal(await stripText(gil), 'Leave it off somebody is on R4');
  assert.ok(await gil.evaluate(() => document.documentElement.classList.contains('s-stop')));
  // R4 is 5769 MHz: the nearest on the air are Cem on R3 (5732) and Edda far off.
  assert.deepEqual(await gil.locator('#sheet .known').evaluateAll((all) => all.map((b) => b.textContent.replace(/.*?(?=[A-Z][a-z]+$)/, ''))), ['Cem']);
  await press(gil.locator('#sheet'), 'None of these');
  await sheet(gil, 'R4 is taken');
  assert.match(await textOf(gil.locator('#sheet')), /is told that R4 is taken, and calls it out\. R4 stays yours\./);
  const seen = (await boardOf(field)).rows.filter((r) => r.is_sighting);
  assert.deepEqual(seen.map((r) => r.channel.mhz), [5769]);
  assert.match(await textOf(button(gil.locator('#sheet .acts'), 'Take ')), /^Take \S+ .*nobody else is hurt$/);
  await press(gil.locator('#toast'), 'Undo');
  await gil.locator('#toast').waitFor({state: 'hidden'});
  await gil.waitForTimeout(200);
  assert.deepEqual((await boardOf(field)).rows.filter((r) => r.is_sighting), []);
  await press(gil.locator('#sheet'), 'It was snow after all');
  await sheet(gil, 'Tune your goggles to R4');
  await close(gil);
  await noSheet(gil);
});

test('a refusal is wholly visible on a small phone, and nothing green asks May I switch on?', async () => {
  const hana = await field.pilot('Hana');
  await lookAndAsk(hana);
  await sheet(hana, 'Not now. Ann would lose the picture.');
  await button(hana.locator('#sheet .stack'), 'Take ').waitFor();
  assert.equal(await stripText(hana), 'Leave it off wait for Ann');
  assert.match(await textOf(hana.locator('#sheet')), /Ann is on R1\./);
  const top = await hana.evaluate(() => document.getElementById('strip').getBoundingClientRect().bottom);
  const parts = await hana.locator('#sheet-title, #sheet .stack button').evaluateAll((all) => all.map((n) => {
    const {top, bottom, left, right} = n.getBoundingClientRect();
    const hit = document.elementFromPoint((left + right) / 2, (top + bottom) / 2);
    return {words: n.textContent, top, bottom, isSeen: n.contains(hit)};
  }));
  assert.ok(parts.length >= 3, JSON.stringify(parts));
  for (const part of parts) assert.ok(part.top >= top && part.bottom <= 740 && part.isSeen, JSON.stringify(part));
  const green = await hana.evaluate(() => [...document.querySelectorAll('button')].filter((b) => /May I switch on/.test(b.textContent)).filter((b) => {
    const {x, y, width, height} = b.getBoundingClientRect();
    return b.contains(document.elementFromPoint(x + width / 2, y + height / 2));
  }).length);
  assert.equal(green, 0);
  assert.equal(await hana.evaluate(() => document.documentElement.classList.contains('s-go')), false);
});

test('who waits stands in line, is called by name once it is free, and asks anew', async () => {
  const hana = field.contexts.at(-1).pages()[0];
  await press(hana.locator('#sheet .stack'), 'Tell me when R1 is free');
  await noSheet(hana);
  await strip(hana, 'First in line');
  assert.match(await stripText(hana), /^First in line after Ann/);
  assert.equal(await textOf(hana.locator('#next')), 'Leave the line');
  assert.deepEqual((await boardOf(field)).line.map((one) => [one.transmitter, one.channel.name]), [['Hana', 'R1']]);
  await field.fieldpeg('off', 'Ann', '--yes');
  const turn = await alarm(hana, 'R1 is free. Your turn');
  assert.ok(await turn.evaluate((n) => n.classList.contains('good')));
  await press(turn, 'May I switch on?');
  await press(hana.locator('#sheet'), 'Only snow');
  await strip(hana, 'Switch on now');
  await noAlarm(hana);
  await press(hana.locator('#sheet .acts'), 'It is on');
  await strip(hana, 'on the air');
  assert.equal((await boardOf(field)).line?.length || 0, 0);
  await field.fieldpeg('off', 'Hana', '--yes');
  await field.fieldpeg('on', 'Ann', '--already');
});

test('who is called may leave the line, and another channel is one tap away from a no', async () => {
  const lou = await field.pilot('Lou');
  await lookAndAsk(lou);
  await sheet(lou, 'Not now.');
  await press(lou.locator('#sheet .stack'), 'Tell me when R2 is free');
  await strip(lou, 'First in line');
  await press(lou.locator('#next'), 'Leave the line');
  await strip(lou, 'Held');
  await lookAndAsk(lou);
  await sheet(lou, 'Not now.');
  const take = button(lou.locator('#sheet .stack'), 'Take ');
  const channel = /Take ([A-Z]\d)/.exec(await take.textContent())[1];
  await take.click();
  await noSheet(lou);
  await lou.locator('#main h2').filter({hasText: `${channel} is yours`}).waitFor();
  assert.equal((await rowOf(field, 'Lou')).channel.name, channel);
});

test('above the club\u2019s own limit it is that which is said: not one\u2019s own picture, nor another group\u2019s turn', async () => {
  const limited = new Field(dayText().replace('rules = "cept-25mw"', 'rules = "cept-25mw"\npower_limit_mw = 25')
    .replace('channel = "R5"', 'channel = "R7"').replace(/(name = "Nia"[^[]*)/, '$1[pilot.claim]\nchannel = "R5"\npower_mw = 200\n'));
  try {
    await limited.start();
    await limited.joinTerminal('marshal', 'Max');
    await limited.fieldpeg('group', 'call', '1');
    const nia = await limited.pilot('Nia');   // of no group: flies with each
    await lookAndAsk(nia);
    const said = nia.locator('#sheet', {hasText: 'above the club\'s limit of 25 mW. Ask the marshal.'});
    await said.locator('.stack').waitFor();
    assert.doesNotMatch(await textOf(said), /Your own picture|all the same|Group 1 flies/);
    assert.doesNotMatch(await stripText(nia), /Group 1 flies/);
    await button(said, 'R5 at 25').click();
    await sheet(nia, 'Switch on now');
  } finally {
    await limited.close();
  }
});
