// What is said on the page is for fliers: no command to type anywhere, and the marshal is not sent to the marshal.

import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {button, close, press, row, sheet, strip, view} from './phones.mjs';

let field;
before(async () => {
  field = new Field(dayText());
  await field.start();
  await field.joinTerminal('marshal', 'Max');
});
after(async () => {
  await field.close();
  await closeBrowser();
});

const command = /--\w|\bfieldpeg\b(?!:)|'[a-z]+ [a-z-]+'|<[a-z]+>/;
// All that can be read, folded away or not, with what is only spoken.
const words = (page) => page.evaluate(() => [document.title, ...[...document.querySelectorAll('body *')].flatMap((n) =>
  [...[...n.childNodes].filter((c) => c.nodeType === 3 && !/^(SCRIPT|STYLE|NOSCRIPT)$/.test(n.nodeName)).map((c) => c.data),
    ...['aria-label', 'alt', 'title', 'placeholder'].map((a) => n.getAttribute(a) || '')])].join('\n'));

// Presses every button that opens something, and reads what it opened.
async function crawl(page, name, read) {
  await page.locator('#main').waitFor();
  read(`${name}`, await words(page));
  const openers = page.locator('#main button:visible:not(.hold)');
  // One row of a list is like the next.
  const all = await openers.evaluateAll((list) => list.map((b) => (b.closest('li:nth-child(n+3), .spots button:nth-of-type(n+3)') ? 'Forget me' : b.textContent)));
  const skip = /Forget me|As the phone|^Day$|^Dusk$|Give it back|It is on already|Bench|Try the bell|First$|Yes,|^No$|Open the field|All told|have moved/;
  for (const [i, label] of all.entries()) {
    if (skip.test(label)) continue;
    await openers.nth(i).click();
    await page.locator('#sheet:visible').waitFor({timeout: 500}).catch(() => {});
    if (!await page.locator('#sheet:visible').count()) continue;
    await page.locator('#sheet-title').waitFor();
    await page.waitForFunction(() => !/Looking …/.test(document.getElementById('sheet').textContent), null, {timeout: 1500}).catch(() => {});
    read(`${name} > ${label}`, await words(page));
    for (let n = 0; n < 4 && await page.locator('#sheet:visible').count(); ++n) await page.locator('#sheet .close').click();
    await page.locator('#sheet').waitFor({state: 'hidden'});
  }
}

test('no text on the page is a command to type, in any view, of any role', async () => {
  const gil = await field.pilot('Gil');
  const onlooker = await field.page();
  await onlooker.goto(field.address(false));
  const read = (where, text) => assert.doesNotMatch(text, command, where);
  for (const [page, views] of [[gil, ['mine', 'all', 'field']], [onlooker, ['mine', 'all']]])
    for (const one of views) {
      await view(page, one);
      await crawl(page, one, read);
    }
  for (const path of ['/hello', '/board']) {
    await onlooker.goto(field.address(false, path));
    await onlooker.locator('#main').getByText(/./).first().waitFor();
    read(path, await words(onlooker));
  }
});

test('the marshal is not told to ask the marshal, nor given a command', async () => {
  const marshal = await field.phone('marshal', 'Mia');
  const read = (where, text) => {
    assert.doesNotMatch(text, command, where);
    assert.doesNotMatch(text.replace(/Only the marshal[^.]*\./g, ''), /(ask|tell) the marshal/i, where);
  };
  for (const one of ['marshal', 'all']) {
    await view(marshal, one);
    await crawl(marshal, one, read);
  }
});

test('a no of the server says what to do on the page, not what to type', async () => {
  const marshal = await field.phone('marshal', 'Nell');
  const gil = await field.pilot('Edda');
  for (const [page, asked] of [[marshal, {claim: {transmitter: 'Nobody'}}], [marshal, {release: {transmitter: 'Ann'}}], [marshal, {see: {channel: {mhz: 99}}}],
    [gil, {call_group: {group: 2}}], [gil, {release: {transmitter: 'Ann'}}], [gil, {nod: {name: 'Ann'}}]]) {
    const said = await page.evaluate(async (what) => {
      const socket = new WebSocket(`wss://${location.host}/live`);
      return new Promise((done) => {
        socket.onmessage = (m) => {
          const frame = JSON.parse(m.data);
          if (frame.welcome) socket.send(JSON.stringify({request: {id: 1, command: what, idempotency_key: `k${Math.random()}`}}));
          if (frame.response) { socket.close(); done(frame.response); }
        };
      });
    }, asked);
    const {refusal} = said.reply || {};
    assert.ok(refusal || said.reply?.claim?.refusal, JSON.stringify(said));
    // What the page shows of it: where and why.
    const {where = '', why = ''} = refusal || said.reply.claim.refusal;
    assert.doesNotMatch(`${where}: ${why}`, command, JSON.stringify(asked));
  }
});

test('what the server refuses is said without what one would type', async () => {
  const marshal = await field.phone('marshal', 'Nora');
  await press(marshal.locator('#main'), 'Walk-up');
  await marshal.locator('#who').fill('Ann');
  await press(marshal.locator('#sheet .tiles'), 'Snow');
  await sheet(marshal, 'That was not done');
  const said = await marshal.locator('#sheet').textContent();
  assert.match(said, /Ann/);
  assert.doesNotMatch(said, command);
  assert.doesNotMatch(said, /\b(pilot|relay) (add|change)\b/);
});
