// The marshal's phone: what to call out, who joins, who walks up, what was seen, whose turn it is, the plan.

import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {alarm, boardOf, button, close, hold, lookAndAsk, noSheet, press, row, rowOf, sheet, strip, stripText, textOf, title, view} from './phones.mjs';

let field, marshal;
before(async () => {
  field = new Field(dayText());
  await field.start();
  await field.joinTerminal('marshal', 'Max');
  marshal = await field.phone('marshal', 'Mia');
});
after(async () => {
  await field.close();
  await closeBrowser();
});
const names = async () => (await boardOf(field)).rows.map((r) => r.transmitter);
const fresh = async () => { await marshal.goto(field.address(true)); await strip(marshal, /./); await view(marshal, 'marshal'); };

test('a name the day knows waits for a nod; another marshal\'s phone is not asked of its own holder', async () => {
  const kim = await field.phone('pilot', 'Kim');
  await kim.getByText('Show this to the marshal').waitFor();
  assert.equal(await kim.locator('#next button:enabled').count(), 0);
  const card = marshal.locator('[data-of="nodKim"]');
  await card.waitFor();
  assert.match(await textOf(card), /Is it them\? a phone joined as Kim Somebody is known as Kim already\. Look who holds the phone\./);
  assert.deepEqual(await card.locator('.two button').allTextContents(), ['Yes, Kim', 'No']);
  await press(card, 'Yes, Kim');
  await card.waitFor({state: 'detached'});
  await strip(kim, 'Held');
  await button(kim.locator('#next'), 'May I switch on?').waitFor();
});

test('a name that looks like one of the day waits though it is new, and the card says whose it looks like', async () => {
  const alike = '\u039aim'; // a Greek capital kappa (Unicode's chart, and confusables.txt of its Technical Standard #39)
  const phone = await field.phone('pilot', alike);
  await phone.getByText('Show this to the marshal').waitFor();
  const card = marshal.locator(`[data-of="nod${alike}"]`);
  await card.waitFor();
  assert.ok((await textOf(card)).includes(`${alike} looks like Kim, and is another name. Ask, and look twice.`), await textOf(card));
  await press(card, 'No');
  await card.waitFor({state: 'detached'});
});

test('who is refused the nod is not in any more, and says so', async () => {
  const jon = await field.phone('pilot', 'Jon');
  await press(marshal.locator('[data-of="nodJon"]'), 'No');
  await jon.getByText('This phone is not in any more').first().waitFor();
  assert.equal(await textOf(jon.locator('#next')), 'Join again');
  await marshal.locator('[data-of="nodJon"]').waitFor({state: 'detached'});
});

test('a walk-up is in after two taps, and out again by undo', async () => {
  await press(marshal.locator('#main'), 'Walk-up');
  assert.equal(await marshal.locator('#who').inputValue(), 'Guest 1');
  await press(marshal.locator('#sheet .tiles'), 'Snow');
  await noSheet(marshal);
  const toast = marshal.locator('#toast:visible');
  await toast.filter({hasText: 'Guest 1'}).waitFor();
  const own = await rowOf(field, 'Guest 1');
  if (own.channel) assert.match(await textOf(toast), new RegExp(`^Guest 1: ${own.channel.name}, 25 mW Undo`));
  else assert.match(await textOf(toast), /^Guest 1 is on the day, without a channel/);
  await press(toast, 'Undo');
  for (let i = 0; i < 40 && (await names()).includes('Guest 1'); ++i) await marshal.waitForTimeout(50);
  assert.ok(!(await names()).includes('Guest 1'));
});

test('what was seen is entered by channel, counts for all, and is taken back with a tap', async () => {
  await press(marshal.locator('#main'), 'Seen');
  await sheet(marshal, 'What was seen, and where?');
  // No place is taken for it: it flies until somebody says where it stands.
  assert.deepEqual((await marshal.locator('#sheet [aria-pressed=true]').allTextContents()).slice(1), ['it flies']);
  const chip = marshal.locator('#sheet [role=group][aria-label=Channel] button').nth(4);
  const channel = await chip.textContent();
  await chip.click();
  await press(marshal.locator('#sheet .acts'), 'Enter it');
  await noSheet(marshal);
  await view(marshal, 'all');
  const seen = marshal.locator('#flying li', {hasText: 'Somebody unknown'});
  await seen.waitFor();
  assert.match(await textOf(seen), new RegExp(`^${channel} .*seen$`));
  await seen.locator('button').click();
  await sheet(marshal, 'Nobody said they are there. It counts for everybody.');
  await press(marshal.locator('#sheet'), 'It is gone');
  await seen.waitFor({state: 'detached'});
  await view(marshal, 'marshal');
});

test('a frequency that is not one is asked for again, not entered', async () => {
  await press(marshal.locator('#main'), 'Seen');
  await press(marshal.locator('#sheet .acts'), 'Enter it');
  assert.ok(await marshal.locator('#sheet').isVisible());
  assert.equal(await marshal.evaluate(() => document.activeElement.id), 'mhz');
  await close(marshal);
  await noSheet(marshal);
});

test('letting in shows the code that holds no secret, and a ticket of one\'s own only when asked', async () => {
  await press(marshal.locator('#main'), 'Let in');
  const code = marshal.locator('#sheet img.qr');
  await code.waitFor();
  assert.ok(await code.evaluate((img) => img.decode().then(() => img.naturalWidth > 20)));
  const shown = await marshal.locator('#sheet .secret').first().textContent();
  assert.ok(shown.includes(`127.0.0.1:${field.board}`) && !shown.includes('#'), shown);
  await marshal.getByText('A ticket that needs no nod').click();
  await press(marshal.locator('#sheet details'), 'Oda');
  await sheet(marshal, 'Ticket: Oda');
  const url = await marshal.locator('#sheet .secret').textContent();
  const oda = await field.page();
  await oda.goto(url);
  assert.equal(await oda.locator('#nick').inputValue(), 'Oda', 'the ticket says whose it is');
  await press(oda.locator('#next'), 'Join the day');
  await strip(oda, 'Held');
  await fresh();
});

test('the marshal acts for others by what was seen, with undo', async () => {
  await view(marshal, 'all');
  await row(marshal, 'Ann').locator('button').click();
  await press(marshal.locator('#sheet'), 'Ann is off: seen unplugged');
  await press(marshal.locator('#toast'), 'Undo');
  for (let i = 0; i < 40 && (await rowOf(field, 'Ann')).stage !== 'on_air'; ++i) await marshal.waitForTimeout(50);
  assert.equal((await rowOf(field, 'Ann')).stage, 'on_air');
  const log = JSON.parse(await field.fieldpeg('log', '--json'));
  assert.ok(log.entries.some((e) => JSON.stringify(e).includes('Ann') && /off/.test(e.kind || e.what || '')), 'both stand in the log');
});

test('the marshal lets others pay only with a reason, which stays in the log; and is not sent to ask the marshal', async () => {
  await fresh();
  await view(marshal, 'all');
  await row(marshal, 'Hana').locator('button').click();
  await press(marshal.locator('#sheet'), 'May Hana switch on?');
  await press(marshal.locator('#sheet'), 'Only snow');
  await sheet(marshal, 'Not now. Ann would lose the picture.');
  assert.doesNotMatch(await textOf(marshal.locator('#sheet')), /ask the marshal/i);
  await press(marshal.locator('#sheet .stack'), 'Allow it');
  await sheet(marshal, 'Allow it?');
  await press(marshal.locator('#sheet .acts'), 'Allow');
  assert.equal(await title(marshal), 'Allow it?', 'not without a reason');
  await marshal.getByLabel('Because').fill('Ann has landed');
  await press(marshal.locator('#sheet .acts'), 'Allow');
  await sheet(marshal, 'Switch on now');
  assert.equal((await rowOf(field, 'Hana')).stage, 'told_on');
  const log = await field.fieldpeg('log', '--json');
  assert.match(log, /"allowed_because":\s*"Ann has landed"/);
  await field.fieldpeg('off', 'Hana', '--yes');
  await noSheet(marshal);
  await marshal.waitForTimeout(100);
  await fresh();
});

test('a plan is looked for, shown before it is given out, and then it is given out', async () => {
  for (const r of (await boardOf(field)).rows.filter((r) => r.stage === 'on_air')) await field.fieldpeg('off', r.transmitter, '--yes');
  await field.fieldpeg('pilot', 'remove', 'Finn');
  await fresh();
  await press(marshal.locator('#main'), 'Plan');
  await press(marshal.locator('#sheet'), 'In flight groups');
  await marshal.locator('#sheet-title', {hasText: 'This would do'}).waitFor({timeout: 20000});
  const shares = await marshal.locator('#sheet .planned li').evaluateAll((all) => all.map((li) => [li.dataset.of, li.querySelectorAll('.row > span')[0].textContent.split(',')[0], Number(li.parentElement.dataset.of.slice(1))]));
  assert.ok(shares.length >= 12, `${shares.length}`);
  assert.equal((await rowOf(field, 'Nia')).channel?.mhz, undefined, 'nothing is changed before it is said');
  await press(marshal.locator('#sheet .acts'), 'Give them out');
  await noSheet(marshal);
  const {rows} = await boardOf(field);
  for (const [who, channel, group] of shares) {
    const own = rows.find((r) => r.transmitter === who);
    assert.deepEqual([who, own.channel.name || String(own.channel.mhz), own.group], [who, channel, group]);
  }
});

test('a group is called by a hold, not by a touch; whose turn it is can be freed again', async () => {
  await fresh();
  // Whoever was moved by the plan has to be told first.
  await button(marshal.locator('#next'), /Told|Hold/).waitFor();
  while (await button(marshal.locator('#next'), 'Told ').count()) await button(marshal.locator('#next'), 'Told ').click({timeout: 500}).catch(() => {});
  const call = button(marshal.locator('#next'), /Hold: group \d flies/);
  const group = Number(/\d/.exec(await call.textContent())[0]);
  await hold(marshal, call, 300);
  await marshal.waitForTimeout(800);
  assert.equal((await boardOf(field)).flying_group || 0, 0);
  await hold(marshal, call);
  await sheet(marshal, `Group ${group} `);
  assert.equal((await boardOf(field)).flying_group, group);
  const listed = await marshal.locator('#sheet .stack li').evaluateAll((all) => all.map((li) => li.dataset.of));
  const there = (await boardOf(field)).rows.filter((r) => r.group === group && !r.is_relay).map((r) => r.transmitter);
  assert.deepEqual(listed.filter((n) => there.includes(n)).sort(), there.sort(), 'all of it are read out');
  await press(marshal.locator('#sheet .acts'), 'Close');
  await press(marshal.locator('#main'), 'Whose turn?');
  await hold(marshal, button(marshal.locator('#sheet'), 'Hold: whoever likes flies'));
  await marshal.waitForTimeout(300);
  assert.equal((await boardOf(field)).flying_group || 0, 0);
  assert.deepEqual(marshal.faults, []);
});

// Last: from here on it is Oda who joined last at the terminal.
test('all that one pilot entered is taken back with one tap, and nothing else', async () => {
  const seen = async () => (await boardOf(field)).rows.filter((r) => r.is_sighting).map((r) => r.channel.name);
  await field.fieldpeg('ticket', '--pilot', 'Oda', '--as', 'Max', '--file', 'oda.ticket');
  await field.fieldpeg('join', 'Oda', '--ticket', 'oda.ticket');
  for (const [who, channel] of [['Max', 'E1'], ['Oda', 'E2'], ['Oda', 'E3']]) await field.fieldpeg('seen', channel, '--as', who);
  await fresh();
  await view(marshal, 'all');
  const open = async (channel) => {
    await marshal.locator('#flying li', {hasText: 'Somebody unknown'}).filter({hasText: channel}).locator('button').click();
    await sheet(marshal, 'Nobody said they are there.');
  };
  await open('E1');
  assert.equal(await marshal.locator('#sheet button', {hasText: 'Take back all'}).count(), 0);
  await close(marshal);
  await open('E2');
  await press(marshal.locator('#sheet'), 'Take back all 2 that Oda entered');
  await marshal.locator('#flying li', {hasText: 'E3'}).waitFor({state: 'detached'});
  assert.deepEqual(await seen(), ['E1']);
  await field.fieldpeg('seen', '--gone', '--by', 'Max', '--as', 'Max');
  assert.deepEqual(await seen(), []);
  await view(marshal, 'marshal');
});
