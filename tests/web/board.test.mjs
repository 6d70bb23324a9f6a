// The page as people use it, in a real browser, against a real server and real terminals.

import assert from 'node:assert/strict';
import {after, afterEach, beforeEach, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';

let field;
beforeEach(async () => {
  field = new Field();
  await field.start();
});
afterEach(() => field.close());
after(() => closeBrowser());

const card = (page, name) => page.locator(`#own .card[data-of="${name}"]`);
const row = (page, name) => page.locator(`#everybody li[data-of="${name}"]`);
const button = (within, name) => within.getByRole('button', {name, exact: true});
async function hold(page, target, ms) {
  await target.scrollIntoViewIfNeeded();
  const box = await target.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.waitForTimeout(ms);
  await page.mouse.up();
}
async function isOn(page, name) {
  await button(card(page, name), 'It is on').click();
  await card(page, name).getByText('on the air').waitFor();
}
async function enterGear(page) {
  await button(page, 'Enter my gear').click();
  await button(page, 'Enter it, with the best channel').click();
  await page.getByText(/It is held|was refused/).waitFor();
  // Once all within the day's rule set is taken.
  if (await page.getByText('was refused').count()) await button(page, 'Hold it all the same').click();
  await page.getByText('It is held').waitFor();
  await button(page, 'Close').click();
}
// A listed pilot's own phone: the marshal shows the ticket, the phone opens what the code says.
async function phoneOf(marshal, name) {
  await button(marshal, 'Let somebody in').click();
  await marshal.getByLabel('For').selectOption(name);
  await button(marshal, 'Show the ticket').click();
  const url = await marshal.locator('.secret').first().textContent();
  await button(marshal, 'Close').click();
  const page = await field.page();
  await page.goto(url);
  assert.equal(await page.getByLabel('Name').inputValue(), name, 'the ticket says whose it is');
  await button(page, 'Join the day').click();
  await page.getByText(`Live, as ${name}`).waitFor();
  return page;
}

test('an onlooker sees everybody over plain HTTP, without a cookie and without a way to act', async () => {
  const page = await field.page();
  const reply = await page.goto(field.address(false));
  await page.getByText('Live').waitFor();
  for (const name of ['Ann', 'Ben', 'Cem', 'Edda', 'Dee', 'Finn', "Finn's tripod"]) await row(page, name).waitFor();
  assert.match(await row(page, 'Ann').textContent(), /R2.*5695 MHz.*on the air at 25 mW/s);
  assert.equal(reply.headers()['set-cookie'], undefined);
  assert.deepEqual(await page.context().cookies(), []);
  assert.equal(await page.getByRole('button', {name: /switch on|off|best|Act for/i}).count(), 0);
  await row(page, 'Edda').getByRole('button', {name: 'Why?'}).click();
  await page.getByRole('heading', {name: 'Why Edda stands so'}).waitFor();
  await page.getByText("Finn's tripod", {exact: false}).first().waitFor();
  assert.deepEqual(page.faults, []);
});

test('what the page shows of everybody is what the terminal says', async () => {
  await field.joinTerminal('onlooker', 'Olga');
  const board = JSON.parse(await field.fieldpeg('board', '--json'));
  const page = await field.page();
  await page.goto(field.address(false));
  await row(page, 'Ann').waitFor();
  for (const one of board.rows.filter((r) => r.result && r.stage === 'on_air')) {
    const text = (await row(page, one.transmitter).textContent()).replaceAll('\u2212', '-');
    assert.ok(text.includes(one.result.verdict.replace('_', ' ')), `${one.transmitter}: ${text}`);
    const margin = one.result.margin_ref_db;
    assert.ok(text.includes(`${margin < 0 ? '-' : '+'}${Math.abs(Math.round(margin * 10) / 10).toFixed(1)} dB`), `${one.transmitter}: ${text}`);
  }
});

test('a ticket lets in, once, and its secret leaves the address', async () => {
  const page = await field.page();
  await page.goto(field.address(true, `/join#${'a'.repeat(26)}`));
  await page.getByLabel('Name').fill('Gil');
  await button(page, 'Join the day').click();
  await page.getByText('this ticket is not good').waitFor();
  const gil = await field.phone('pilot', 'Gil');
  assert.equal(new URL(gil.url()).hash, '');
  const [cookie] = await gil.context().cookies();
  assert.equal(cookie.name, '__Host-fieldpeg');
  assert.deepEqual([cookie.httpOnly, cookie.secure, cookie.sameSite, cookie.path], [true, true, 'Strict', '/']);
  assert.equal(await gil.evaluate('document.cookie'), '', 'no script can read it');
  await gil.reload();
  await gil.getByText('Live, as Gil').waitFor();
  await button(gil, 'Forget me on this phone').click();
  await gil.getByRole('heading', {name: 'Take part'}).waitFor();
  assert.deepEqual(await gil.context().cookies(), []);
});

test('a claim that harms is refused with reasons, and an alternative is one tap away', async () => {
  const gil = await field.phone('pilot', 'Gil');
  await enterGear(gil);
  await card(gil, 'Gil').locator('summary').click();
  await button(gil, 'Another channel or power').click();
  await gil.getByLabel('Channel', {exact: true}).selectOption({label: 'F6 (5840 MHz)'});
  await button(gil, 'Hold it').click();
  await gil.getByText('That was refused').waitFor();
  const words = await gil.locator('dialog').textContent();
  assert.match(words, /Who would suffer/);
  assert.match(words, /Edda/);
  assert.match(words, /Nearest good alternatives/);
  const choice = gil.locator('.choices button').first();
  const channel = /Take (\S+) /.exec(await choice.textContent())[1];
  await choice.click();
  await gil.getByText('It is held').waitFor();
  await button(gil, 'Close').click();
  assert.ok((await card(gil, 'Gil').locator('.peg').textContent()).startsWith(channel));
});

test('switching on is asked for; off is held, by finger and by key', async () => {
  const gil = await field.phone('pilot', 'Gil');
  await enterGear(gil);
  await button(card(gil, 'Gil'), 'May I switch on?').click();
  await gil.locator('#own').getByText('Switch on now').waitFor();
  assert.match(await card(gil, 'Gil').textContent(), /First tune to .* MHz\): snow or a picture\?/);
  assert.match(await gil.locator('.count').textContent(), /^\d+ s$/);
  await isOn(gil, 'Gil');
  const off = button(card(gil, 'Gil'), 'Hold to say: it is off');
  await hold(gil, off, 200);
  await gil.waitForTimeout(900);
  assert.match(await card(gil, 'Gil').textContent(), /on the air/, 'a touch is not enough');
  await hold(gil, off, 1300);
  await card(gil, 'Gil').getByText('off the air').waitFor();
  await button(card(gil, 'Gil'), 'May I switch on?').focus();
  await gil.keyboard.press('Enter');
  await gil.locator('#own').getByText('Switch on now').waitFor();
  await isOn(gil, 'Gil');
  await button(card(gil, 'Gil'), 'Hold to say: it is off').focus();
  await gil.keyboard.down('Enter');
  await gil.waitForTimeout(1300);
  await gil.keyboard.up('Enter');
  await card(gil, 'Gil').getByText('off the air').waitFor();
  // What presses without pointer or key, as a screen reader does, is asked back.
  await button(card(gil, 'Gil'), 'May I switch on?').click();
  await gil.locator('#own').getByText('Switch on now').waitFor();
  await isOn(gil, 'Gil');
  await button(card(gil, 'Gil'), 'Hold to say: it is off').evaluate((b) => b.click());
  await button(gil.locator('dialog'), 'Yes').click();
  await card(gil, 'Gil').getByText('off the air').waitFor();
});

test('what others do disturbs nobody who holds, opens or types', async () => {
  await field.joinTerminal('marshal', 'Theo');
  const gil = await field.phone('pilot', 'Gil');
  await enterGear(gil);
  await card(gil, 'Gil').locator('summary').click();
  await button(card(gil, 'Gil'), 'It is on already').focus();
  await field.fieldpeg('seen', 'E1');
  await gil.locator('#everybody li.sighting').waitFor();
  assert.ok(await button(card(gil, 'Gil'), 'It is on already').isVisible(), 'what was opened is open');
  assert.equal(await gil.evaluate(() => document.activeElement.textContent), 'It is on already');
  await button(card(gil, 'Gil'), 'May I switch on?').click();
  await gil.locator('#own').getByText('Switch on now').waitFor();
  await isOn(gil, 'Gil');
  // Let go in time while the board changes: it stays on. Held through a change: it goes off.
  const off = button(card(gil, 'Gil'), 'Hold to say: it is off');
  const box = await off.boundingBox();
  await gil.mouse.move(box.x + 20, box.y + 20);
  await gil.mouse.down();
  await field.fieldpeg('seen', 'E2');
  await gil.mouse.up();
  await gil.locator('#everybody li.sighting').nth(1).waitFor();
  await gil.waitForTimeout(1000);
  assert.match(await card(gil, 'Gil').textContent(), /on the air/);
  await gil.mouse.move(box.x + 20, box.y + 20);
  await gil.mouse.down();
  await field.fieldpeg('seen', 'E4');
  await gil.waitForTimeout(1300);
  await gil.mouse.up();
  await card(gil, 'Gil').getByText('off the air').waitFor();
});

test('a relay is checked with a slider, and says what the command line says', async () => {
  const marshal = await field.phone('marshal', 'Mia');
  const finn = await phoneOf(marshal, 'Finn');
  await button(card(finn, "Finn's tripod"), 'Check the relay').click();
  await finn.getByText('Too strong').waitFor();
  const dialog = finn.locator('dialog');
  assert.match(await dialog.textContent(), /Edda, goggles/);
  const slider = finn.getByRole('slider');
  await slider.focus();
  await finn.keyboard.press('Home');
  await dialog.getByText('Too weak').waitFor();
  await finn.keyboard.press('ArrowRight');
  await dialog.getByText('It fits.').waitFor();
  const power = await slider.getAttribute('aria-valuetext');
  for (const [answer, asked] of [['fits', power.replace(' ', '')], ['too_strong', '600mW']]) {
    const text = await field.fieldpeg('relay', 'check', "Finn's tripod", '--day', 'day.toml', '--power', asked, '--json').catch((e) => e.stdout);
    assert.equal(JSON.parse(text).answer, answer);
  }
  await button(dialog, 'Hold it at this power').click();
  await finn.getByText(/was refused|It is held/).waitFor();
});

test('whoever is harmed is warned by name as it happens, on phones and for the marshal to call', async (t) => {
  await field.joinTerminal('marshal', 'Theo');
  await field.fieldpeg('relay', 'off', "Finn's tripod", '--yes');
  const marshal = await field.phone('marshal', 'Mia');
  const edda = await phoneOf(marshal, 'Edda');
  await row(edda, "Finn's tripod").getByText('off the air').waitFor();
  await edda.evaluate(() => {
    new MutationObserver(() => {
      if (document.querySelector('.alarm')) window.alarmedAt ??= Date.now();
    }).observe(document.getElementById('alarms'), {childList: true, subtree: true});
  });
  const began = Date.now();
  await field.fieldpeg('relay', 'on', "Finn's tripod", '--already');
  const ended = Date.now();
  await edda.locator('.alarm').waitFor();
  const alarmed = await edda.evaluate(() => window.alarmedAt);
  t.diagnostic(`the command took ${ended - began} ms; the phone showed the warning ${alarmed - began} ms after it began`);
  assert.match(await edda.locator('.alarm').textContent(), /Edda/);
  await marshal.getByText('Call this out').waitFor();
  assert.match(await marshal.locator('.callout').textContent(), /Edda.*Finn's tripod/s);
  await button(edda, 'I have seen it').click();
  await edda.locator('.alarm').waitFor({state: 'detached'});
  await marshal.locator('.callout li', {hasText: 'Edda'}).waitFor({state: 'detached'});
});

test('a lost server is shown at once with the age of what is seen; a yes is void; it comes back', async () => {
  const gil = await field.phone('pilot', 'Gil');
  await enterGear(gil);
  await button(card(gil, 'Gil'), 'May I switch on?').click();
  await gil.locator('#own').getByText('Switch on now').waitFor();
  await field.stop('SIGKILL');
  const lost = gil.locator('#lost');
  await lost.waitFor();
  assert.match(await lost.textContent(), /Not connected.*old.*Do not switch on.*The yes for Gil is void/s);
  await gil.waitForFunction(() => Number.parseInt(document.getElementById('lost-age').textContent, 10) >= 3);
  await field.start();
  await gil.getByText('Live, as Gil').waitFor();
  await lost.waitFor({state: 'hidden'});
  assert.match(await card(gil, 'Gil').textContent(), /told to switch on/, 'what was acknowledged is kept');
  assert.equal(await gil.locator('#own').getByText('Switch on now').count(), 0);
  await gil.locator('#everybody [data-of="news"]').getByText(/started anew/).waitFor();
  await isOn(gil, 'Gil');
  assert.equal(await button(card(gil, 'Gil'), 'It is on').count(), 0);
});

test('a yes goes in steps: it is on, or not after all', async () => {
  const gil = await field.phone('pilot', 'Gil');
  await enterGear(gil);
  await button(card(gil, 'Gil'), 'May I switch on?').click();
  await card(gil, 'Gil').getByText('told to switch on').waitFor();
  await button(card(gil, 'Gil'), 'Not after all').click();
  await card(gil, 'Gil').getByText('not switched on').waitFor();
  assert.equal(await gil.locator('#own').getByText('Switch on now').count(), 0);
  await button(card(gil, 'Gil'), 'May I switch on?').click();
  await isOn(gil, 'Gil');
  assert.match(await card(gil, 'Gil').textContent(), /on the air/);
});

test('who has to wait is called by name when it is free', async () => {
  const marshal = await field.phone('marshal', 'Mia');
  const gil = await field.phone('pilot', 'Gil');
  const hana = await field.phone('pilot', 'Hana');
  await enterGear(gil);
  await enterGear(hana);
  await field.joinTerminal('marshal', 'Theo');
  const channel = (await card(gil, 'Gil').locator('.peg').textContent()).match(/^\S\d/)[0];
  await field.fieldpeg('allow', 'Hana', channel, '--because', 'they take turns');
  await field.fieldpeg('on', 'Gil');
  await button(card(hana, 'Hana'), 'May I switch on?').click();
  await button(card(hana, 'Hana'), 'Tell me when it is free').click();
  await card(hana, 'Hana').getByText('In the line: place 1 of 1.').waitFor();
  await marshal.locator('#everybody [data-of="line"]').getByText(/Hana.*waits for Gil/).waitFor();
  await hold(gil, button(card(gil, 'Gil'), 'Hold to say: it is off'), 1300);
  await card(hana, 'Hana').getByText('Your turn').waitFor();
  await button(card(hana, 'Hana'), 'May I switch on?').click();
  await isOn(hana, 'Hana');
  await marshal.locator('#everybody [data-of="line"]').waitFor({state: 'detached'});
});

test('what the marshal has seen is a tap, which can be taken back', async () => {
  const marshal = await field.phone('marshal', 'Mia');
  await button(row(marshal, 'Ann'), 'Ann is off').click();
  await row(marshal, 'Ann').getByText('off the air').waitFor();
  await button(marshal.locator('#everybody'), 'Undo').click();
  await row(marshal, 'Ann').getByText('on the air').waitFor();
});

test('somebody down is looked for, and the field hears of it', async () => {
  const marshal = await field.phone('marshal', 'Mia');
  const gil = await field.phone('pilot', 'Gil');
  await enterGear(gil);
  await button(card(gil, 'Gil'), 'May I switch on?').click();
  await isOn(gil, 'Gil');
  await card(gil, 'Gil').locator('summary').click();
  await button(card(gil, 'Gil'), 'It is down: crashed or lost').click();
  await button(row(marshal, 'Gil'), 'Find it').click();
  await marshal.getByText('To find Gil').waitFor();
  // Others fly there: first the field is closed.
  await button(marshal, 'Somebody walks out now').click();
  await marshal.getByText(/in the air where Gil lies/).waitFor();
  await button(marshal, 'Close').click();
  await field.joinTerminal('marshal', 'Theo');
  await field.fieldpeg('field', 'close', '--because', 'somebody walks out');
  const there = JSON.parse(await field.fieldpeg('board', '--json'));
  for (const one of there.rows.filter((r) => r.stage === 'on_air')) await field.fieldpeg('off', one.transmitter, '--yes');
  await button(row(marshal, 'Gil'), 'Find it').click();
  await button(marshal, 'Somebody walks out now').click();
  await gil.locator('#everybody [data-of="news"]').getByText(/walks out to Gil/).waitFor();
});

test('two phones and a terminal want one channel at once: one of them gets it', async () => {
  const day = await field.phone('pilot', 'Gil');
  const other = await field.phone('pilot', 'Hana');
  await enterGear(day);
  await enterGear(other);
  await field.joinTerminal('pilot', 'Ida');
  await field.fieldpeg('pilot', 'add', 'Ida', '--as', 'Ida', '--place', 'line-1', '--power', '25mW', '--channels', 'E1-E8,R1-R8');
  const board = JSON.parse(await field.fieldpeg('board', '--as', 'Ida', '--json'));
  const taken = board.rows.filter((r) => r.channel).map((r) => r.channel.mhz);
  const rows = {R1: 5658, R2: 5695, R3: 5732, R4: 5769, R5: 5806, R6: 5843, R7: 5880, R8: 5917};
  const [name, mhz] = Object.entries(rows).find(([, at]) => !taken.includes(at));
  const onPhone = async (page, who) => {
    await card(page, who).locator('summary').click();
    await button(page, 'Another channel or power').click();
    await page.getByLabel('Channel', {exact: true}).selectOption({label: `${name} (${mhz} MHz)`});
  };
  await onPhone(day, 'Gil');
  await onPhone(other, 'Hana');
  await Promise.all([
    button(day, 'Hold it').click(), button(other, 'Hold it').click(),
    field.fieldpeg('claim', name, '--as', 'Ida', '--yes').catch(() => {}),
  ]);
  await day.locator('dialog').getByText(/was refused|It is held/).waitFor();
  await other.locator('dialog').getByText(/was refused|It is held/).waitFor();
  const after = JSON.parse(await field.fieldpeg('board', '--as', 'Ida', '--json'));
  const holders = after.rows.filter((r) => r.channel && r.channel.mhz === mhz).map((r) => r.transmitter);
  assert.ok(holders.length <= 1, holders.join());
  for (const page of [day, other]) {
    const pegs = await page.locator('#everybody .peg b').allTextContents();
    assert.equal(pegs.filter((p) => p === name).length, holders.length);
  }
});

test('the marshal admits a walk-up, enters a sighting, acts for others, nods and withdraws', async (t) => {
  const marshal = await field.phone('marshal', 'Mia');
  const began = Date.now();
  await button(marshal, 'Somebody walks up').click();
  await marshal.getByLabel('Name').fill('Jo');
  await marshal.keyboard.press('Enter');
  await marshal.getByText('It is held').waitFor();
  t.diagnostic(`a walk-up was admitted by machine in ${Date.now() - began} ms: one name typed, two taps`);
  await button(marshal, 'Close').click();
  await button(row(marshal, 'Jo'), 'Act for Jo').click();
  await button(card(marshal, 'Jo'), 'May I switch on?').click();
  await marshal.locator('#own').getByText('Switch on now').waitFor();
  await button(marshal, 'Done acting for them').click();

  await button(marshal, 'Something is seen').click();
  await marshal.getByLabel('Channel', {exact: true}).selectOption({label: 'R4 (5769 MHz)'});
  await marshal.getByLabel('Remark').fill('car park');
  await button(marshal, 'Enter it').click();
  const seen = marshal.locator('#everybody li.sighting');
  await seen.waitFor();
  assert.match(await seen.textContent(), /R4.*seen, unasked.*car park/s);
  await button(seen, 'It is gone').click();
  await seen.waitFor({state: 'detached'});

  const ann = await field.phone('pilot', 'Ann');
  await ann.getByText('Show this to the marshal').waitFor();
  assert.equal(await ann.getByRole('button', {name: /switch on|Hold/}).count(), 0);
  await button(marshal, 'Yes, it is Ann').click();
  await button(card(ann, 'Ann'), 'Hold to say: it is off').waitFor();
  await field.joinTerminal('marshal', 'Theo');
  await field.fieldpeg('pilot', 'withdraw', 'Ann', '--as', 'Theo');
  await ann.getByText('This phone acts for nobody any more: your key was withdrawn').waitFor();
});

test('a closed field is said on every phone, and nobody gets a yes until it is open', async () => {
  const marshal = await field.phone('marshal', 'Mia');
  const gil = await field.phone('pilot', 'Gil');
  await enterGear(gil);
  await button(marshal, 'Close the field').click();
  await button(marshal, 'Flights end, nobody switches on').click();
  assert.equal(await marshal.getByLabel('Why').count(), 1, 'not without a reason');
  await marshal.getByLabel('Why').fill('lunch');
  await button(marshal, 'Flights end, nobody switches on').click();
  await gil.locator('#own').getByText('The field is closed: lunch.').waitFor();
  await button(card(gil, 'Gil'), 'May I switch on?').click();
  await gil.getByText('do not switch on: wait until the marshal opens it').waitFor();
  await button(gil, 'Close').click();
  await button(marshal, 'Open the field').click();
  await gil.locator('#own').getByText('The field is closed').waitFor({state: 'detached'});
  await button(card(gil, 'Gil'), 'May I switch on?').click();
  await gil.locator('#own').getByText('Switch on now').waitFor();
});

test('the marshal calls a flight group, and the others hear whose turn it is', async () => {
  const marshal = await field.phone('marshal', 'Mia');
  const gil = await field.phone('pilot', 'Gil');
  await enterGear(gil);
  await field.joinTerminal('marshal', 'Theo');
  await field.fieldpeg('claim', 'best', '--for', 'Gil', '--group', '2', '--as', 'Theo');
  await field.fieldpeg('group', 'call', '2', '--as', 'Theo');
  await gil.locator('#everybody').getByText('Group 2 flies.').waitFor();
  await button(marshal, 'Whose turn?').click();
  await button(marshal, 'Whoever likes').click();
  await button(marshal, 'Close').click();
  await gil.locator('#everybody').getByText('Group 2 flies.').waitFor({state: 'detached'});
});

test('the marshal lets others pay, with a reason that stays in the log', async () => {
  const marshal = await field.phone('marshal', 'Mia');
  await enterGear(await field.phone('pilot', 'Gil'));
  await button(row(marshal, 'Gil'), 'Act for Gil').click();
  await card(marshal, 'Gil').locator('summary').click();
  await button(marshal, 'Another channel or power').click();
  await marshal.getByLabel('Channel', {exact: true}).selectOption({label: 'F6 (5840 MHz)'});
  await button(marshal, 'Hold it').click();
  await marshal.getByText('That was refused').waitFor();
  await button(marshal, 'Allow').click();
  assert.equal(await marshal.getByText('That was refused').count(), 1, 'not without a reason');
  await marshal.getByLabel('Allow it, because').fill('Edda has landed');
  await button(marshal, 'Allow').click();
  await marshal.getByText('It is held').waitFor();
  await button(marshal, 'Close').click();
  await row(marshal, 'Gil').getByText('allowed because Edda has landed').waitFor();
  await field.joinTerminal('onlooker', 'Olga');
  const log = JSON.parse(await field.fieldpeg('log', '--kind', 'claimed', '--json'));
  assert.equal(log.entries.at(-1).allowed_because, 'Edda has landed');
});

test('nothing is asked of anywhere else, and the page keeps to its own policy', async () => {
  const page = await field.page();
  const asked = [];
  page.on('request', (r) => asked.push(new URL(r.url()).host));
  const reply = await page.goto(field.address(true));
  await page.getByText('Live').waitFor();
  assert.deepEqual([...new Set(asked)], [`127.0.0.1:${field.board}`]);
  const policy = reply.headers()['content-security-policy'];
  assert.match(policy, /default-src 'none'/);
  assert.doesNotMatch(policy, /unsafe/);
  const ran = await page.evaluate(() => {
    const s = document.createElement('script');
    s.textContent = 'window.intruded = true';
    document.body.append(s);
    return Boolean(window.intruded);
  });
  assert.equal(ran, false);
});
