// A board that is told by what changes on it is the board that is told whole.

import assert from 'node:assert/strict';
import {readFile} from 'node:fs/promises';
import {after, test} from 'node:test';
import {Field, closeBrowser} from './field.mjs';

const source = await readFile(`${process.env.FIELDPEG_SOURCE}/server/board/page/changes.js`, 'utf8');
const {applied} = await import(`data:text/javascript;base64,${Buffer.from(source).toString('base64')}`);

after(() => closeBrowser());

const row = (transmitter, note) => ({transmitter, note});
const before = Object.freeze({version: '4', closed: {}, rows: Object.freeze([row('Ann', 'a'), row('Bob', 'b'), row('Cem', 'c')])});

test('a change without `since` is the board', () => {
  const board = {version: '9', rows: [row('Dee')]};
  assert.equal(applied(before, {version: '9', board}), board);
  assert.deepEqual(applied(before, {version: '9'}), {});
});

test('rows go, change in their place and come last; the others are the same objects', () => {
  const next = applied(before, {since: '4', board: {version: '5', rows: [row('Cem', 'new'), row('Dee', 'd')]}, gone: ['Bob']});
  assert.deepEqual(next, {version: '5', rows: [row('Ann', 'a'), row('Cem', 'new'), row('Dee', 'd')]});
  assert.equal(next.rows[0], before.rows[0]);
  assert.equal(before.rows.length, 3);
});

test('where an order is told, rows stand in it', () => {
  const next = applied(before, {since: '4', board: {rows: [row('Dee', 'd')]}, order: ['Dee', 'Cem', 'Ann', 'Bob']});
  assert.deepEqual(next.rows.map((r) => r.transmitter), ['Dee', 'Cem', 'Ann', 'Bob']);
  assert.equal(next.rows[2], before.rows[0]);
});

test('what else is on the board is told anew each time, and a board may lose its last row', () => {
  assert.deepEqual(applied(before, {since: '4', board: {version: '5'}, gone: ['Ann', 'Bob', 'Cem']}), {version: '5', rows: []});
});

test('both are the same after whatever is done at the terminal', async () => {
  const field = new Field();
  await field.start();
  try {
    const page = await field.page();
    await page.goto(field.address(false));
    await page.evaluate((text) => {
      const apply = new Function(`${text.replace('export ', '')}; return applied;`)();
      const watch = (how) => {
        const seen = {board: {}, parts: 0, bytes: 0};
        const socket = new WebSocket(`ws://${location.host}/live`);
        socket.onopen = () => socket.send(JSON.stringify({request: {id: 1, [how]: true}}));
        socket.onmessage = (m) => {
          const {change} = JSON.parse(m.data);
          if (!change) return;
          if (change.since) seen.parts++;
          seen.bytes += m.data.length;
          seen.board = apply(seen.board, change);
        };
        return seen;
      };
      window.whole = watch('watch');
      window.parts = watch('watch_changes');
    }, source);
    await field.joinTerminal('marshal', 'Max');
    let last = {};
    for (const words of [['seen', 'E5', '--note', 'nobody knows'], ['seen', 'A1'], ['off', 'Ben'], ['pilot', 'remove', 'Ben'],
      ['field', 'close', '--because', 'lunch'], ['field', 'open'], ['off', 'Ann', '--down']]) {
      await field.fieldpeg(...words);
      await page.waitForFunction(({version}) => window.whole.board.version && window.whole.board.version !== version &&
        window.whole.board.version === window.parts.board.version, last);
      const [whole, parts] = await page.evaluate(() => [window.whole, window.parts]);
      assert.deepEqual(parts.board, whole.board, words.join(' '));
      last = {version: whole.board.version};
    }
    const [whole, parts] = await page.evaluate(() => [window.whole, window.parts]);
    assert.ok(parts.parts >= 7 && whole.parts === 0);
    assert.ok(parts.bytes < whole.bytes);
  } finally {
    await field.close();
  }
});
