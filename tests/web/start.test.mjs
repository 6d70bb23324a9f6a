// docs/start.md, word for word: each command that it has somebody type, and each tap, on a day that begins empty.

import assert from 'node:assert/strict';
import {readFileSync} from 'node:fs';
import {join} from 'node:path';
import {after, before, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {boardOf, button, hold, noSheet, sheet, strip, textOf} from './phones.mjs';

const guide = readFileSync(join(process.env.FIELDPEG_SOURCE, 'docs/start.md'), 'utf8');
const typed = [...guide.matchAll(/^\$ (.+)$/gm)].map((m) => m[1]);
const words = (line) => [...line.matchAll(/"([^"]*)"|(\S+)/g)].map((m) => m[1] ?? m[2]);
const tapped = new Set();

let field;
before(() => { field = new Field(null); });
after(async () => {
  await field.close();
  await closeBrowser();
});

// The next command of the guide, typed as it stands there. Some say with their status that something wants a look.
async function types(begins) {
  const line = typed.shift();
  assert.ok(line.startsWith(begins), `the guide has '${line}', not '${begins}'`);
  return field.fieldpeg(...words(line).slice(1)).catch((e) => (e.code <= 3 ? e.stdout : Promise.reject(e)));
}
async function taps(target) {
  tapped.add(await textOf(target));
  await target.click();
}

async function joins(name, place) {
  const page = await field.page();
  await page.goto(field.address(true, `/join#${field.secret('pilot')}`));
  await page.locator('#nick').fill(name);
  await taps(button(page.locator('#next'), ''));
  await page.locator('.foot').getByText(`This phone is for ${name}.`).waitFor();
  await taps(button(page.locator('#next'), 'My gear'));
  for (const answer of ['Snow', 'Stubby and patch', 'Bent wire leaves', '25 and 200'])
    await taps(button(page.locator('#sheet .tiles'), answer));
  await sheet(page, 'Where do you stand?');
  await taps(page.locator(`#sheet .tiles button[data-of="${place}"]`));
  await sheet(page, 'is best for you');
  await taps(button(page.locator('#sheet .acts'), 'Take '));
  await noSheet(page);
  await strip(page, 'Held');
  return page;
}

test('from an empty folder to three phones on the air', async () => {
  const first = words(typed.shift());
  assert.equal(first.shift(), 'fieldpegd');
  await field.start('--new', ...first);
  assert.match(field.said(), /an empty day is begun/);
  await types('fieldpeg join');
  assert.match(await types('fieldpeg rules'), /cept-25mw/);
  assert.match(await types('fieldpeg ready'), /8 places, 1 flying areas/);

  const phones = [await joins('Ann', 'line-1'), await joins('Ben', 'line-2'), await joins('Cem', 'line-3')];
  await types('fieldpeg pilot add');
  assert.match(await types('fieldpeg claim'), /Dora holds/);
  for (const phone of phones) {
    await taps(button(phone.locator('#next'), 'May I switch on?'));
    await sheet(phone, 'Tune your goggles to');
    await taps(button(phone.locator('#sheet'), 'Only snow'));
    await strip(phone, 'Switch on now');
    await taps(button(phone.locator('#sheet .acts'), 'It is on'));
    await strip(phone, 'on the air');
  }
  await types('fieldpeg board');
  const {rows} = await boardOf(field);
  assert.equal(rows.filter((r) => r.stage === 'on_air').length, 3);
  assert.equal(new Set(rows.map((r) => r.channel.mhz)).size, 4);

  for (const phone of phones) {
    const off = button(phone.locator('#next'), 'Hold: it is off');
    tapped.add(await textOf(off));
    await hold(phone, off);
    await strip(phone, 'still yours');
    assert.deepEqual(phone.faults, []);
  }
  await types('fieldpeg day end');
  await types('fieldpeg report');
  assert.match(readFileSync(join(field.folder, 'saturday.html'), 'utf8'), /Saturday at the meadow/);
  assert.deepEqual(typed, [], 'the guide has somebody type more than was played');
});

test('the guide names each thing that is tapped as the page does', () => {
  const named = [...guide.matchAll(/(?:[Tt]ap|hold|see:|pilot) \*\*([^*]+)\*\*/g)].map((m) => m[1]);
  assert.ok(named.length >= 10, `only ${named.length} taps are named`);
  for (const name of named)
    assert.ok([...tapped].some((text) => text.startsWith(name) || text.endsWith(` ${name}`)), `nobody tapped '${name}', but ${[...tapped].join(' | ')}`);
});

test('a day file that was named is missed, not made', async () => {
  const other = new Field(null);
  await assert.rejects(other.start(), /there is no such day file.*--new/s);
  await other.close();
});
