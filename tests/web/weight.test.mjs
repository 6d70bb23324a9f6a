// How much it costs to look, over a club's weak access point: bytes as the browser counts them on the wire
// (Chrome DevTools Protocol, Network: encodedDataLength). The budgets are the page's own.

import assert from 'node:assert/strict';
import {after, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';

after(() => closeBrowser());

// What goes over the wire from here on.
async function counted(page) {
  const devtools = await page.context().newCDPSession(page);
  const seen = {requests: [], bytes: 0, sockets: 0, frames: []};
  const urls = new Map(), heads = new Map();
  devtools.on('Network.requestWillBeSent', ({requestId, request}) => { urls.set(requestId, request.url); });
  // What was asked for again and had not changed comes as a head alone, which only the response tells.
  devtools.on('Network.responseReceived', ({requestId, response}) => { heads.set(requestId, response.fromDiskCache ? 0 : response.encodedDataLength); });
  devtools.on('Network.loadingFinished', ({requestId, encodedDataLength}) => {
    const bytes = Math.max(encodedDataLength, heads.get(requestId) || 0);
    if (!urls.has(requestId) || !bytes) return;   // from this browser's own cache
    seen.requests.push(new URL(urls.get(requestId)).pathname);
    seen.bytes += bytes;
  });
  devtools.on('Network.webSocketCreated', () => { ++seen.sockets; });
  devtools.on('Network.webSocketFrameReceived', ({response}) => {
    // Binary comes as base64.
    seen.frames.push(response.opcode === 2 ? Math.floor(response.payloadData.length * 3 / 4) : Buffer.byteLength(response.payloadData));
  });
  await devtools.send('Network.enable');
  return {seen, devtools};
}
const drawn = async (page) => {
  await page.locator('.dial .hump').first().waitFor();
  await page.waitForLoadState('networkidle');
};
const isVersioned = (path) => /-[a-z2-7]{16}\.\w+$/.test(path);

async function onField(run) {
  const field = new Field(dayText());
  await field.start();
  try {
    await run(field);
  } finally {
    await field.close();
  }
}

test('a first look is 60 kB at most in six requests at most; a second one 5 kB and the board', (t) => onField(async (field) => {
  const page = await field.page({viewport: {width: 360, height: 740}});
  const {seen} = await counted(page);
  await page.goto(field.address(false, '/'));
  await drawn(page);
  t.diagnostic(`first look: ${seen.bytes} bytes in ${seen.requests.length} requests and ${seen.sockets} line, frames of ${seen.frames.join(', ')} bytes`);
  assert.ok(seen.bytes <= 60000, `${seen.bytes} bytes: ${seen.requests}`);
  assert.equal(seen.sockets, 1);
  assert.ok(seen.requests.length + seen.sockets <= 6, String(seen.requests));
  assert.ok(seen.requests.some(isVersioned), String(seen.requests));

  const first = seen.bytes;
  seen.requests.length = seen.frames.length = 0;
  await page.reload();
  await drawn(page);
  t.diagnostic(`again: ${seen.bytes - first} bytes in ${seen.requests.length} requests, frames of ${seen.frames.join(', ')} bytes`);
  assert.ok(seen.bytes - first <= 5000, `${seen.bytes - first} bytes: ${seen.requests}`);
  assert.ok(seen.requests.includes('/'), 'the page itself was asked for');
  assert.deepEqual(seen.requests.filter(isVersioned), [], 'what bears its version is not asked for again');
}));

test('over 1.6 Mbit/s and 150 ms the first row comes', (t) => onField(async (field) => {
  const page = await field.page({viewport: {width: 360, height: 740}});
  const {devtools} = await counted(page);
  await devtools.send('Network.emulateNetworkConditions', {offline: false, latency: 150, downloadThroughput: 200000, uploadThroughput: 100000});
  await page.goto(field.address(false, '/hello'));
  await page.locator('.links button').first().waitFor();
  await page.goto('about:blank');
  await devtools.send('Network.clearBrowserCache');
  const before = Date.now();
  await page.goto(field.address(false, '/'), {waitUntil: 'commit'});
  await page.locator('.dial .hump').first().waitFor();
  await page.locator('#tab-all').click();
  await page.locator('#flying li').first().waitFor();
  t.diagnostic(`first row after ${Date.now() - before} ms`);
}));
