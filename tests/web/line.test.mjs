// The page's line to the server, without a browser: a server that dies under what it is asked, and facts that are kept.

import assert from 'node:assert/strict';
import {readFile} from 'node:fs/promises';
import {after, beforeEach, test} from 'node:test';

const source = await readFile(`${process.env.FIELDPEG_SOURCE}/server/board/page/line.js`, 'utf8');

// The line's own timers keep nobody waiting at the end.
const {setTimeout: timer} = globalThis;
globalThis.setTimeout = (...what) => timer(...what).unref();
const alive = setInterval(() => {}, 1000);
after(() => clearInterval(alive));
const pause = (ms) => new Promise((later) => timer(later, ms));

let opened = 0;
// A WebSocket that is opened at once and welcomed; what it hears goes to `server`.
function socketTo(server, welcome) {
  return class extends EventTarget {
    static OPEN = 1;
    readyState = 1;

    constructor() {
      super();
      ++opened;
      setTimeout(() => this.say({welcome}));
    }

    say(frame) {
      const event = new Event('message');
      event.data = JSON.stringify(frame);
      this.dispatchEvent(event);
    }

    send(text) { server(this, JSON.parse(text)); }

    close() {
      if (this.readyState !== 1) return;
      this.readyState = 3;
      this.dispatchEvent(new Event('close'));
    }
  };
}

const told = [];
async function lineTo(server, welcome = {protocol: 1}) {
  globalThis.document = new EventTarget();
  globalThis.window = new EventTarget();
  globalThis.location = {protocol: 'http:', host: 'pegs.example.org'};
  globalThis.WebSocket = socketTo(server, welcome);
  const {Line} = await import(`data:text/javascript,${encodeURIComponent(source)}`);
  return new Promise((live) => {
    const line = new Line({welcome() {}, change() {}, lost() {}, live() { live(line); }, told(...what) { told.push(what); }});
  });
}
beforeEach(() => {
  const all = new Map();
  globalThis.localStorage = {getItem: (name) => all.get(name) ?? null, setItem: (name, text) => all.set(name, text), removeItem: (name) => all.delete(name)};
  told.length = 0;
});
async function until(what) {
  for (const end = Date.now() + 8000; !what();) {
    assert.ok(Date.now() < end, `never: ${what}`);
    await pause(10);
  }
}

const claim = {claim: {transmitter: 'Ann'}};
const off = {off: {transmitter: 'Ann'}};
const done = (frame, text = 'so be it') => ({response: {id: frame.request.id, reply: {done: {text}}}});

test('a command under which the server dies is sent once more, under its own name, and not again', async () => {
  const heard = [];
  const line = await lineTo((socket, frame) => {
    if (!frame.request?.command) return;
    heard.push(frame.request);
    socket.close();
  });
  const reply = await line.send(claim);
  assert.equal(reply.refusal.kind, 'no_answer');
  assert.equal(reply.refusal.wasSent, true, 'it may have been done');
  const before = opened;
  await until(() => opened > before + 1 || line.isLive);
  await pause(100);
  assert.equal(heard.length, 2);
  assert.equal(heard[0].idempotency_key, heard[1].idempotency_key);
  assert.match(heard[0].idempotency_key, /^[0-9a-f]{32}$/);
  line.drop();
  clearTimeout(line.retry);
});

test('where it dies once the command is answered', async () => {
  let times = 0;
  const line = await lineTo((socket, frame) => {
    if (!frame.request?.command) return;
    if (++times === 1) socket.close();
    else socket.say(done(frame));
  });
  const reply = await line.send(claim);
  assert.equal(reply.done.text, 'so be it');
  assert.equal(times, 2);
  line.drop();
  clearTimeout(line.retry);
});

test('what is asked for without a line is refused at once, and was not sent', async () => {
  const heard = [];
  const line = await lineTo((socket, frame) => heard.push(frame));
  line.drop();
  assert.deepEqual((await line.send(claim)).refusal, {kind: 'no_answer', wasSent: false});
  assert.equal(heard.filter((f) => f.request?.command).length, 0);
  clearTimeout(line.retry);
});

test('a fact said without a line is kept, and sent once it is back, under one name until it is answered', async () => {
  const heard = [];
  let deaf = true;
  const line = await lineTo((socket, frame) => {
    if (!frame.request?.command) return;
    heard.push(frame.request);
    if (deaf) socket.close();
    else socket.say(done(frame));
    deaf = false;
  }, {protocol: 1, person: {name: 'Ann'}});
  line.drop();
  assert.deepEqual(await line.keep(off), {kept: true});
  assert.equal(line.kept().length, 1);
  assert.ok(Math.abs(line.kept()[0].atMs - Date.now()) < 5000, 'with the time it was said at');
  await until(() => line.kept().length === 0);
  assert.deepEqual(heard[0].command, off);
  assert.ok(heard.length >= 2);
  assert.equal(new Set(heard.map((one) => one.idempotency_key)).size, 1);
  assert.deepEqual(told[0], [off, {done: {text: 'so be it'}}]);
  line.drop();
  clearTimeout(line.retry);
});

test('facts that are kept wait until the server knows who says them', async () => {
  const heard = [];
  const line = await lineTo((socket, frame) => {
    if (frame.request?.command) heard.push(frame.request.command);
  });
  line.drop();
  await line.keep(off);
  await until(() => line.isLive);
  await pause(50);
  assert.deepEqual(heard, []);
  assert.equal(line.kept().length, 1);
  line.drop();
  clearTimeout(line.retry);
});
