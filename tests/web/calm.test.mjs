// While the field is busy nothing that a reader has under the eyes or the finger changes its place: scroll, focus,
// what is open, half typed, pulled [the page's design, 6: "A redraw keeps ..."].

import assert from 'node:assert/strict';
import {after, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {Tour, settled} from './tour.mjs';

after(() => closeBrowser());

// The browser's own word on the worker of a certificate that it does not trust; the worker is tested elsewhere.
const isOwnFault = (fault) => !/fetching the script/.test(fault);

// Somebody acts every 200 ms, over a line of their own: each of these in turn.
async function busy(page, commands, {everyMs = 200, forMs = 3000} = {}) {
  return page.evaluate(({all, every, lasts}) => new Promise((done, failed) => {
    const socket = new WebSocket(`wss://${location.host}/live`);
    let n = 0, answered = 0, timer = 0, refused = '';
    socket.onmessage = (m) => {
      const frame = JSON.parse(m.data);
      if (frame.welcome) timer = setInterval(() => {
        ++n;
        socket.send(JSON.stringify({request: {id: n, command: all[n % all.length], idempotency_key: `busy-${performance.now()}-${n}`}}));
      }, every);
      const reply = frame.response?.reply;
      if (reply) ++answered;
      const refusal = reply && (reply.refusal || Object.values(reply).find((part) => part?.refusal)?.refusal);
      if (refusal) refused = JSON.stringify(refusal);
    };
    socket.onerror = () => failed(new Error('no line'));
    setTimeout(() => { clearInterval(timer); socket.close(); done({answered, refused}); }, lasts);
  }), {all: commands, every: everyMs, lasts: forMs});
}

const on = (transmitter, mw) => ({on: {transmitter, already: true, power_dbm: 10 * Math.log10(mw)}});
// What changes how somebody stands, and what makes the lists longer and shorter.
const louder = [on('Ann', 200), on('Ann', 25), on('Ben', 200), on('Ben', 25)];
const comeAndGo = [on('Oda', 25), {off: {transmitter: 'Oda', yes_anyway: true}}];

async function fieldOf(run, text = dayText()) {
  const field = new Field(text);
  await field.start();
  try {
    const tour = new Tour(field, {viewport: {width: 360, height: 560}});
    await field.joinTerminal('marshal', 'Max');
    const marshal = await tour.phone('marshal', 'Mia');
    await run(tour, marshal);
    for (const page of tour.pages) assert.deepEqual(page.faults.filter(isOwnFault), []);
  } finally {
    await field.close();
  }
}
async function isBusy(page, commands, how) {
  const {answered, refused} = await busy(page, commands, how);
  assert.ok(answered > 5 && !refused, `it was busy: ${answered} ${refused}`);
}

test('half-typed names, open parts, sliders and sheets stay as they are while the field is busy', () => fieldOf(async (tour, marshal) => {
  const typing = await tour.page(`/join#${tour.field.secret('pilot')}`);
  await typing.locator('#nick').pressSequentially('Pau');
  await typing.keyboard.press('ArrowLeft');
  await tour.terminal('off', 'Finn\'s tripod', '--yes');
  const pulling = await tour.pilot('Finn');
  await tour.answerAlarms(pulling);
  await pulling.locator('section:has(> .mast) .two button').first().click();
  await tour.sheet(pulling, 'relay');
  await pulling.locator('#power').focus();
  await pulling.keyboard.press('Home');
  await pulling.keyboard.press('ArrowRight');
  const pulled = await pulling.locator('#power').inputValue();
  const opened = await tour.phone('marshal', 'Lea', {viewport: {width: 360, height: 560}});
  await opened.locator('[data-of=turn] button').filter({hasText: tour.t('let.in')}).click();
  await tour.sheet(opened, 'letin');
  await opened.locator('summary').click();
  await opened.evaluate(() => { document.querySelector('.sheet-in').scrollTop = 200; });
  const looking = await tour.pilot('Dee');
  await tour.answerAlarms(looking);
  await tour.view(looking, 'all');
  await looking.locator('#flying button').nth(2).click();
  await tour.sheet(looking, 'person');
  const title = await looking.locator('#sheet-title').textContent();

  const state = async () => ({
    typed: await typing.evaluate(() => { const nick = document.getElementById('nick'); return [nick.value, nick.selectionStart, document.activeElement === nick]; }),
    pulled: await pulling.evaluate(() => [document.getElementById('power').value, document.activeElement.id]),
    opened: await opened.evaluate(() => [document.querySelector('details').open, document.querySelector('.sheet-in').scrollTop]),
    title: await looking.evaluate(() => [document.getElementById('sheet-title').textContent, document.activeElement.id]),
  });
  const before = await state();
  assert.deepEqual(before.typed, ['Pau', 2, true]);
  assert.deepEqual(before.pulled, [pulled, 'power']);
  assert.deepEqual(before.title, [title, 'sheet-title']);
  assert.ok(before.opened[0] && before.opened[1] > 50, String(before.opened));
  await isBusy(marshal, [...louder, on('Cem', 25), {off: {transmitter: 'Cem', yes_anyway: true}}], {forMs: 3500});
  assert.deepEqual(await state(), before);
}, ''));

test('a row under the finger stays where it is, scrolled or not, and keeps the focus', () => fieldOf(async (tour, marshal) => {
  const page = await tour.pilot('Gil');
  await page.locator('[data-of=dial] .spots').waitFor();
  await tour.view(page, 'all');
  const place = (name) => page.evaluate((of) => {
    const row = document.querySelector(`li[data-of="${of}"]`);
    return [Math.round(row.getBoundingClientRect().top), document.activeElement.closest('li')?.dataset.of];
  }, name);
  for (const [name, scroll, commands] of [['Edda', 0, louder], ['Hana', 180, louder], ['Hana', 180, comeAndGo]]) {
    await page.evaluate((y) => scrollTo(0, y), scroll);
    await page.locator(`li[data-of="${name}"] button`).evaluate((button) => button.focus({preventScroll: true}));
    await page.mouse.wheel(0, 0);
    await settled(page);
    const before = await place(name);
    const moved = page.evaluate(({of, ms}) => new Promise((done) => {
      const row = document.querySelector(`li[data-of="${of}"]`), tops = new Set();
      const end = performance.now() + ms;
      const look = () => {
        tops.add(Math.round(row.getBoundingClientRect().top));
        if (performance.now() < end && row.isConnected) requestAnimationFrame(look);
        else done([...tops]);
      };
      requestAnimationFrame(look);
    }), {of: name, ms: 2000});
    await isBusy(marshal, commands, {forMs: 2000});
    assert.deepEqual(await moved, [before[0]], `${name}, ${commands === louder ? 'louder and softer' : 'coming and going'}`);
    assert.deepEqual(await place(name), before);
  }
}));

test('what is refused shows its buttons where they stay', () => fieldOf(async (tour) => {
  const page = await tour.pilot('Hana');
  await tour.button(page, 'may.i').waitFor();
  await page.evaluate(() => {
    window.places = {};
    const look = () => {
      if (document.querySelector('#sheet .sheet-in[data-of$=refused]'))
        for (const button of document.querySelectorAll('#sheet .stack button, #sheet .acts button'))
          (window.places[button.textContent] ??= new Set()).add(Math.round(button.getBoundingClientRect().top));
      requestAnimationFrame(look);
    };
    look();
  });
  await tour.press(page, 'may.i');
  await tour.sheet(page, 'look');
  await page.locator('.acts .tiles button').nth(1).click();
  await page.locator('#sheet .go').waitFor();
  await page.waitForTimeout(500);
  const places = await page.evaluate(() => Object.entries(window.places).map(([words, tops]) => [words, [...tops].length]));
  assert.ok(places.length > 1);
  assert.deepEqual(places.filter(([, tops]) => tops > 1), []);
}));
