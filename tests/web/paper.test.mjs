// What leaves the field on paper, as a browser prints it on A4.

import assert from 'node:assert/strict';
import {after, test} from 'node:test';
import {readFileSync} from 'node:fs';
import {join} from 'node:path';
import {Field, closeBrowser} from './field.mjs';

after(() => closeBrowser());

const groups = readFileSync(join(process.env.FIELDPEG_SOURCE, 'tests/sessions/groups.toml'), 'utf8');

// A page object of the PDF for each [ISO 32000-1, 7.7.3.3].
const pages = (pdf) => (pdf.toString('latin1').match(/\/Type\s*\/Page\b(?!s)/g) ?? []).length;
const printed = async (page) => pages(await page.pdf({preferCSSPageSize: true}));

// The page opened, and whatever it asked for beside itself.
async function opened(field, file) {
  const page = await field.page({viewport: {width: 1000, height: 800}});
  const asked = [];
  page.on('request', (request) => asked.push(request.url()));
  await page.goto(`file://${file}`);
  assert.deepEqual(asked.filter((url) => !url.startsWith('data:')), [`file://${file}`]);
  assert.deepEqual(page.faults, []);
  return page;
}

function crowd(count, name) {
  const pilots = Array.from({length: count}, (_, i) => `[[pilot]]
name = ${JSON.stringify(name(i))}
place = "line-1"
area = "box"
kit = "usual-quad"
[pilot.claim]
channel = "R${i % 8 + 1}"
power_mw = 25
group = ${Math.floor(i / 4) % 8 + 1}
`);
  return `${groups.slice(0, groups.indexOf('[[pilot]]'))}${pilots.join('')}`;
}

const days = {
  'fourteen': [groups, 15],
  'sixty': [crowd(60, (i) => `Pilot ${i}`), 60],
  'sixty with long names': [crowd(60, (i) => `${i} of the Hazel Hill Flyers, West Wing`), 60],
  'sixty in capital letters': [crowd(60, (i) => `${i} ${'W'.repeat(36)}`), 60],
  'two hundred': [crowd(200, (i) => `Pilot ${i}`), 200],
};

for (const [name, [day, count]] of Object.entries(days)) {
  test(`the roster is one sheet, and no peg is cut in two: ${name}`, async () => {
    const field = new Field(day);
    try {
      const file = join(field.folder, 'pegs.html');
      await field.fieldpeg('pegs', '--day', 'day.toml', '--out', file);
      const page = await opened(field, file);
      assert.equal(await page.locator('.peg').count(), count);
      assert.equal(await page.locator('.roster tbody tr').count(), name === 'fourteen' ? count + 1 : count);
      await page.emulateMedia({media: 'print'});
      const cramped = await page.evaluate(() => [...document.querySelectorAll('.peg, .peg *, .roster table')]
        .filter((e) => e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0).map((e) => e.textContent));
      assert.deepEqual(cramped, [], 'texts that leave their place');
      await page.addStyleTag({content: '.pegs { display: none } .roster { break-after: auto !important }'});
      assert.equal(await printed(page), 1);
    } finally {
      await field.close();
    }
  });
}

// Fourteen pilots, three flights each, a lost aircraft, somebody unasked, a closed field, harms.
async function flyADay(field) {
  const fly = (...words) => field.fieldpeg(...words, '--day', 'day.toml');
  const names = [...groups.matchAll(/\[\[pilot\]\]\nname = "(\w+)"/g)].map((m) => m[1]).filter((n) => n !== 'Otto');
  for (let round = 0; round < 3; ++round) {
    for (let first = 0; first < names.length; first += 4) {
      await fly('group', 'call', String(first / 4 + 1));
      const group = names.slice(first, first + 4);
      for (const who of group) await fly('on', who, '--yes');
      if (round === 1 && first === 4) await fly('on', '--already', 'mast', '--channel', 'R6', '--power', '600mW');
      if (round === 1 && first === 8) {
        await fly('seen', 'R3', '--note', 'behind the hedge');
        await fly('off', group[0], '--down');
        await fly('field', 'close', '--now', '--because', 'a walker on the strip');
        await fly('field', 'open');
        await fly('off', group[0], '--silent');
      }
      for (const who of group) await fly('off', who);
      await fly('off', 'mast', '--yes');
    }
  }
}

test('the report of fourteen pilots is four sheets, the first of them to be sent', async () => {
  const field = new Field(groups);
  try {
    await flyADay(field);
    const file = join(field.folder, 'report.html');
    await field.fieldpeg('report', '--day', 'day.toml', '--out', file);
    const page = await opened(field, file);
    for (const part of ['Who flew', 'What went wrong', 'What was found out'])
      assert.ok(await page.getByRole('heading', {name: part}).isVisible(), part);
    assert.ok(await page.getByText('everybody had to land: a walker on the strip').isVisible());
    assert.ok(!(await page.getByText('hash begins').isVisible()), 'the log is folded on a screen');
    await page.locator('summary', {hasText: 'The log'}).click();
    assert.ok(await page.getByText('hash begins').isVisible());
    await page.locator('summary', {hasText: 'The log'}).click();
    await page.emulateMedia({media: 'print'});
    assert.ok(await page.getByText('from, and how long').isVisible(), 'every flight is printed, though folded');
    assert.ok(!(await page.getByText('hash begins').isVisible()), 'the log is not printed');
    const sheets = await printed(page);
    assert.ok(sheets <= 4 && sheets >= 2, `${sheets} sheets`);
    await page.addStyleTag({content: 'details, .paper { display: none !important }'});
    assert.equal(await printed(page), 1, 'the first page is one');
  } finally {
    await field.close();
  }
});
