// The page while the server is away, where the browser lets a worker keep it: this machine's own
// address counts as trusted without a certificate.

import assert from 'node:assert/strict';
import {after, afterEach, beforeEach, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';

let field, page;
beforeEach(async () => {
  field = new Field();
  await field.start();
  page = await field.page({ignoreHTTPSErrors: false});
  await page.goto(field.address(false));
  await page.evaluate(async () => {
    await navigator.serviceWorker.register('/sw.js');
    await navigator.serviceWorker.ready;
    while (!navigator.serviceWorker.controller) await new Promise((later) => setTimeout(later, 20));
  });
});
afterEach(() => field.close());
after(() => closeBrowser());

const kept = () => page.evaluate(async () => {
  const all = {};
  for (const name of await caches.keys()) {
    all[name] = (await (await caches.open(name)).keys()).map((r) => r.url.replace(location.origin, '')).sort();
  }
  return all;
});

test('it opens with the server gone, by each of its paths, and says that it is not connected', async () => {
  await field.stop();
  for (const path of ['/', '/join#secret', '/hello', '/board', '/join?from=code']) {
    await page.goto('about:blank');
    await page.goto(field.address(false, path));
    await page.locator(path === '/board' ? '.bigtop' : '#strip').getByText(path === '/board' ? 'Old' : 'No contact').waitFor();
    assert.equal(await page.evaluate(() => document.styleSheets.length), 1);
  }
  assert.ok(!JSON.stringify(await kept()).includes('secret'));
});

test('it keeps the page and what belongs to it, and nothing else', async () => {
  await page.evaluate(() => Promise.all(['/code.svg', '/enter', '/leave', '/none'].map((path) => fetch(path))));
  const names = Object.keys(await kept());
  assert.equal(names.length, 1);
  const [paths] = Object.values(await kept());
  assert.equal(paths[0], '/');
  assert.equal(paths.length, 5);
  for (const path of paths.slice(1)) assert.match(path, /^\/(board|words_de|icon)-[a-z2-7]{16}\.(js|css|svg)$/);
});

test('what is asked of the server goes to the server', async () => {
  await field.stop();
  const answers = await page.evaluate(() => Promise.all(['/code.svg', '/enter', '/live', '/sw.js'].map(
    (path) => fetch(path).then(() => 'answered', () => 'failed'))));
  assert.deepEqual(answers, ['failed', 'failed', 'failed', 'failed']);
});

test('with the server there the page is the server\'s', async () => {
  await page.evaluate(async () => {
    const [name] = await caches.keys();
    await (await caches.open(name)).put('/', new Response('<p>old</p>', {headers: {'Content-Type': 'text/html'}}));
  });
  await page.goto(field.address(false, '/join'));
  await page.locator('#strip b').first().waitFor({state: 'attached'});
  await field.stop();
  await page.goto(field.address(false, '/join'));
  await page.getByText('old').waitFor();
});

test('a server that does not answer is waited for two seconds', async () => {
  field.server.kill('SIGSTOP');
  await page.goto(field.address(false));
  await page.locator('#strip').getByText('No contact').waitFor();
  field.server.kill('SIGCONT');
});

test('another page has another worker, and what was kept before goes', async () => {
  const [before] = Object.keys(await kept());
  await field.stop();
  const other = new Field();  // another day, another certificate, at the same address
  other.board = field.board;
  try {
    await other.start();
    await page.goto(other.address(false));
    await page.evaluate(async () => (await navigator.serviceWorker.getRegistration()).update());
    for (let i = 0; i < 100 && Object.keys(await kept()).includes(before); ++i) await page.waitForTimeout(50);
    const names = Object.keys(await kept());
    assert.equal(names.length, 1);
    assert.notEqual(names[0], before);
  } finally {
    await other.close();
  }
});
