// Where the day goes on when its server is gone: the page was told, and says it when no answer comes.

import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {strip} from './phones.mjs';

let field;
before(async () => {
  field = new Field();
  await field.start();
});
after(async () => {
  await field.close();
  await closeBrowser();
});

test('a phone whose server is gone is shown the second one', async () => {
  const page = await field.page();
  await page.routeWebSocket(/\/live$/, (phone) => {
    const server = phone.connectToServer();
    server.onMessage((message) => {
      const frame = typeof message === 'string' && JSON.parse(message);
      if (frame?.welcome) frame.welcome.elsewhere = ['192.0.2.8:7323/7324', '192.0.2.9:7323'];
      phone.send(frame ? JSON.stringify(frame) : message);
    });
  });
  await page.goto(field.address(false));
  await strip(page, 'Harvest fly-in');
  assert.equal(await page.locator('[data-of="lost"]').count(), 0);
  await field.stop('SIGKILL');
  const card = page.locator('[data-of="lost"]');
  await card.waitFor({timeout: 20000});
  assert.deepEqual(await card.locator('a').evaluateAll((all) => all.map((a) => a.href)), ['https://192.0.2.8:7324/']);
  assert.match(await card.innerText(), /second server/);
});
