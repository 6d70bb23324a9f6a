// Names that try to be markup or script, in every field that takes text: shown as text, never obeyed.

import assert from 'node:assert/strict';
import {after, test} from 'node:test';
import {readFileSync, writeFileSync} from 'node:fs';
import {join} from 'node:path';
import {Field, closeBrowser} from './field.mjs';
import {press, view} from './phones.mjs';

after(() => closeBrowser());

const evil = [
  '<img src=x onerror=window.hit=1>',
  '"><svg onload=window.hit=1>',
  '</title><script>window.hit=1</script>',
];

test('the page, the report and the pictures take names as text', async () => {
  const source = readFileSync(join(process.env.FIELDPEG_SOURCE, 'client/demo_day.toml'), 'utf8');
  const q = (text) => JSON.stringify(text);
  const day = source
    .replaceAll('"Ann"', q(evil[0])).replaceAll('"Harvest fly-in"', q('</h1><script>window.hit=1</script>'))
    .replaceAll('"Alder Meadow"', q('<b onclick=hit()>'))
    .replaceAll('"line-1"', q('<i>line</i>')).replaceAll('"circuit"', q('\'"><script>hit=1</script>'))
    .replaceAll('"Finn\'s tripod"', q(evil[1]));
  const field = new Field(day);
  await field.start();
  try {
    await field.joinTerminal('marshal', 'Theo');
    await field.fieldpeg('seen', 'R4', '--note', evil[2]);
    const marshal = await field.phone('marshal', evil[2].slice(0, 40));
    await view(marshal, 'all');
    for (const name of [evil[0], evil[1], 'Somebody unknown']) await marshal.locator('#main').getByText(name).first().waitFor();
    for (const name of [evil[0], evil[1], 'Somebody unknown']) {
      await marshal.locator('#main li', {hasText: name}).first().locator('button').click();
      await marshal.locator('#sheet:visible').waitFor();
      if (name === 'Somebody unknown') await marshal.locator('#sheet').getByText(evil[2]).waitFor();
      await marshal.locator('#sheet .close').click();
      await marshal.locator('#sheet').waitFor({state: 'hidden'});
    }
    await view(marshal, 'field');
    await marshal.locator('.map').first().waitFor();
    await view(marshal, 'marshal');
    for (const name of ['Walk-up', 'Seen', 'Let in', 'Plan', 'It is down']) {
      await press(marshal.locator('#main'), name);
      await marshal.locator('#sheet:visible').waitFor();
      assert.equal(await marshal.locator('#sheet script, #sheet b[onclick], #sheet img:not(.qr)').count(), 0, name);
      await marshal.locator('#sheet .close').click();
      await marshal.locator('#sheet').waitFor({state: 'hidden'});
    }
    const monitor = await field.page({viewport: {width: 1280, height: 800}});
    await monitor.goto(field.address(false, '/board'));
    await monitor.getByText(evil[0]).first().waitFor();
    for (const page of [marshal, monitor]) {
      assert.equal(await page.evaluate(() => window.hit), undefined);
      assert.equal(await page.locator('script:not([type=module]), b[onclick], i i, #main img:not([src="/code.svg"])').count(), 0);
    }
    assert.equal(await marshal.locator('h1').textContent(), '</h1><script>window.hit=1</script>');

    const report = join(field.folder, 'report.html');
    await field.fieldpeg('report', '--out', report);
    const onPaper = await field.page();
    await onPaper.goto(`file://${report}`);
    await onPaper.getByText(evil[0]).first().waitFor();
    assert.equal(await onPaper.evaluate(() => window.hit), undefined);
    assert.equal(await onPaper.locator('script, img:not([src^="data:image/svg"])').count(), 0);

    const pegs = join(field.folder, 'pegs.html');
    await field.fieldpeg('pegs', '--out', pegs);
    await onPaper.goto(`file://${pegs}`);
    await onPaper.getByText(evil[0]).first().waitFor();
    assert.equal(await onPaper.evaluate(() => window.hit), undefined);
    assert.equal(await onPaper.locator('script, img').count(), 0);

    for (const [name, ...which] of [['field', 'field'], ['timeline', 'timeline'], ['spectrum', 'spectrum', 'Edda']]) {
      const picture = join(field.folder, `${name}.svg`);
      writeFileSync(picture, await field.fieldpeg('picture', ...which));
      const page = await field.page();
      await page.goto(`file://${picture}`);
      assert.equal(await page.evaluate(() => window.hit), undefined);
      assert.equal(await page.evaluate(() => document.querySelectorAll('script, image, foreignObject').length), 0);
      assert.equal(await page.evaluate(() => document.documentElement.tagName), 'svg');
    }
  } finally {
    await field.close();
  }
});
