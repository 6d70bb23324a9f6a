// Who looks, who joins, who is known: the way in and out of the day.

import assert from 'node:assert/strict';
import {readFileSync} from 'node:fs';
import {join} from 'node:path';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {button, boardOf, close, noSheet, press, row, sheet, strip, stripText, textOf, view} from './phones.mjs';

let field;
before(async () => {
  field = new Field();
  await field.start();
  await field.joinTerminal('marshal', 'Theo');
});
after(async () => {
  await field.close();
  await closeBrowser();
});

test('an onlooker sees everybody over plain HTTP, without a cookie and without a way to act', async () => {
  const page = await field.page();
  const reply = await page.goto(field.address(false));
  await strip(page, 'Harvest fly-in');
  assert.match(await textOf(page.locator('#main')), /You are looking/);
  assert.equal(await textOf(page.locator('#next')), 'Take part');
  await view(page, 'all');
  for (const name of ['Ann', 'Ben', 'Cem', 'Edda', 'Dee', 'Finn', "Finn's tripod"]) await row(page, name).waitFor();
  assert.match(await row(page, 'Ann').textContent(), /R2.*5695\sMHz.*Ann/s);
  assert.equal(reply.headers()['set-cookie'], undefined);
  assert.deepEqual(await page.context().cookies(), []);
  for (const name of ['Edda', "Finn's tripod"]) {
    await row(page, name).locator('button').click();
    await sheet(page, name);
    assert.equal(await page.getByRole('button', {name: /switch on|off|Act for|Check it|down/i}).count(), 0, name);
    await close(page);
    await noSheet(page);
  }
  await row(page, 'Edda').locator('button').click();
  await press(page.locator('#sheet'), 'Why?');
  await sheet(page, 'Why clash?');
  await sheet(page, "Loudest neighbour: Finn's tripod");
  assert.deepEqual(page.faults, []);
});

test('what the page shows of everybody is what the terminal says', async () => {
  const words = {too_far: 'too far', too_close: 'too close', no_picture: 'no picture', control_at_risk: 'control!'};
  const {rows} = await boardOf(field);
  const page = await field.page();
  await page.goto(field.address(false));
  await view(page, 'all');
  await row(page, 'Ann').waitFor();
  const flying = rows.filter((r) => r.result && r.stage === 'on_air' && !r.is_relay);
  assert.ok(flying.length >= 6);
  for (const one of flying) {
    const text = await textOf(row(page, one.transmitter));
    assert.ok(text.includes(words[one.result.verdict] || one.result.verdict), `${one.transmitter}: ${text}, ${one.result.verdict}`);
    assert.ok(text.includes(one.channel.name || String(one.channel.mhz)), text);
  }
});

test('decibels in the page are those of the terminal, and 0 dB is shown as 0.0 dB', async () => {
  const {rows} = await boardOf(field);
  const ann = rows.find((r) => r.transmitter === 'Ann');
  const page = await field.page();
  await page.goto(field.address(false));
  await view(page, 'all');
  await row(page, 'Ann').locator('button').click();
  await press(page.locator('#sheet'), 'Why?');
  await page.locator('#sheet summary', {hasText: 'In decibels'}).first().click();
  const shown = (await page.locator('#sheet dl').first().innerText()).replaceAll('\u2212', '-');
  const margin = ann.result.margin_ref_db;
  assert.ok(shown.includes(`${margin < 0 ? '-' : '+'}${Math.abs(margin).toFixed(1)}`), `${margin}: ${shown}`);
});

test('0 dB is shown as 0.0 dB, and what is short of it shows its sign', async () => {
  const source = readFileSync(join(process.env.FIELDPEG_SOURCE, 'server/board/page/figures.js'), 'utf8')
    .replace(/^import .*$/m, 'const language = "en", t = (key) => key;');
  const {decibelText} = await import(`data:text/javascript,${encodeURIComponent(source)}`);
  assert.equal(decibelText(0), '0.0\u00a0dB');
  assert.equal(decibelText(-0.04), '\u22120.04\u00a0dB');
  assert.equal(decibelText(3.25), '+3.3\u00a0dB');
});

test('a ticket lets in, its secret leaves the address, and no script can read the cookie', async () => {
  const page = await field.page();
  await page.goto(field.address(true, `/join#${'a'.repeat(26)}`));
  await page.locator('#nick').fill('Gil');
  await press(page.locator('#next'), 'Join the day');
  await sheet(page, 'this ticket is not good');
  const gil = await field.phone('pilot', 'Gil');
  assert.equal(new URL(gil.url()).hash, '');
  assert.equal(new URL(gil.url()).pathname, '/');
  const cookies = await gil.context().cookies();
  const cookie = cookies.find((c) => c.name === '__Host-fieldpeg');
  assert.deepEqual([cookie.httpOnly, cookie.secure, cookie.sameSite, cookie.path], [true, true, 'Strict', '/']);
  assert.doesNotMatch(await gil.evaluate('document.cookie'), /__Host/);
  await gil.reload();
  await strip(gil, 'Hello, Gil');
  await press(gil.locator('.foot'), 'Forget me on this phone');
  await button(gil.locator('#next'), 'Take part').waitFor();
  assert.deepEqual(await gil.context().cookies(), []);
});

test('a pilot\'s own ticket needs no nod, until another is given out', async () => {
  const cem = await field.pilot('Cem');
  await strip(cem, 'on the air');
  const old = readFileSync(join(field.folder, 'Cem.own'), 'utf8').trim().split('/').pop();
  await field.fieldpeg('ticket', '--pilot', 'Cem', '--file', join(field.folder, 'Cem.next'));
  const other = await field.page();
  await other.goto(field.address(true, `/join#${old}`));
  await other.locator('#nick').fill('Cem');
  await press(other.locator('#next'), 'Join the day');
  await sheet(other, 'this ticket is not good');
});

test('plain http knows a phone that joined, by its name alone', async () => {
  const ida = await field.phone('pilot', 'Ida');
  await ida.goto(field.address(false, '/hello'));
  await ida.getByText('This phone has joined as Ida.').waitFor();
  await press(ida.locator('#next'), 'To my page');
  await strip(ida, 'Hello, Ida');
  const stranger = await field.page();
  await stranger.goto(field.address(false, '/hello'));
  await button(stranger.locator('#next'), 'Go on').waitFor();
  assert.equal(await stranger.getByText('has joined as').count(), 0);
});

test('rejoining after lost cookies needs one nod and no ticket', async () => {
  const marshal = await field.phone('marshal', 'Mia');
  const lou = await field.phone('pilot', 'Lou');
  await lou.context().clearCookies();
  await lou.reload();
  await lou.getByText('This phone is not in any more').first().waitFor();
  await press(lou.locator('#next'), 'Join again');
  assert.equal(await lou.locator('#nick').inputValue(), 'Lou', 'the name is there already');
  await press(lou.locator('#next'), 'Join the day');
  await lou.getByText('Show this to the marshal').waitFor();
  assert.equal(await lou.locator('#next button:enabled').count(), 0, 'and nothing to press meanwhile');
  await press(marshal.locator('[data-of="nodLou"]'), 'Yes, Lou');
  await strip(lou, 'Hello, Lou');
  await button(lou.locator('#next'), 'My gear').waitFor();
  assert.equal(await marshal.locator('[data-of="nodLou"]').count(), 0);
});

test('a tab of another day says that it is not in any more', async () => {
  const nia = await field.phone('pilot', 'Nia');
  const other = new Field();
  other.board = field.board;
  await field.stop();
  await other.start();
  try {
    await nia.getByText('This phone is not in any more').first().waitFor({timeout: 15000});
    assert.equal(await textOf(nia.locator('#next')), 'Join again');
    assert.doesNotMatch(await stripText(nia), /Hello, Nia/);
  } finally {
    await other.close();
    await field.start();
  }
});

test('nothing is asked of anywhere else, and the page keeps to its own policy', async () => {
  const page = await field.page();
  const asked = [];
  page.on('request', (r) => asked.push(new URL(r.url()).host));
  const reply = await page.goto(field.address(true));
  await strip(page, 'Harvest fly-in');
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
