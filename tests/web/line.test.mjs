// The page's line to the server, without a browser: a server that dies under what it is asked.

import assert from 'node:assert/strict';
import {readFile} from 'node:fs/promises';
import {after, test} from 'node:test';

const source = await readFile(`${process.env.FIELDPEG_SOURCE}/server/board/page/line.js`, 'utf8');

// The line's own timers keep nobody waiting at the end.
const {setTimeout: timer} = globalThis;
globalThis.setTimeout = (...what) => timer(...what).unref();
const alive = setInterval(() => {}, 1000);
after(() => clearInterval(alive));
const pause = (ms) => new Promise((later) => timer(later, ms));

// A WebSocket that is opened at once and welcomed; what it hears goes to `server`.
function socketTo(server) {
  return class extends EventTarget {
    static OPEN = 1;
    readyState = 1;

    constructor() {
      super();
      setTimeout(() => this.say({welcome: {protocol: 1}}));
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

async function lineTo(server) {
  globalThis.document = new EventTarget();
  globalThis.window = new EventTarget();
  globalThis.location = {protocol: 'http:', host: 'pegs.example.org'};
  globalThis.WebSocket = socketTo(server);
  const {Line} = await import(`data:text/javascript,${encodeURIComponent(source)}`);
  return new Promise((live) => {
    const line = new Line({welcome() {}, change() {}, lost() {}, live() { live(line); }});
  });
}

const claim = {claim: {transmitter: 'Ann'}};

test('a command under which the server dies is sent once more, under its own name, and not again', async () => {
  const heard = [];
  const line = await lineTo((socket, frame) => {
    if (!frame.request?.command) return;
    heard.push(frame.request);
    socket.close();
  });
  const reply = await line.send(claim);
  assert.equal(reply.refusal.kind, 'no_answer');
  await pause(3000);
  assert.equal(heard.length, 2);
  assert.equal(heard[0].idempotency_key, heard[1].idempotency_key);
  line.drop();
  clearTimeout(line.retry);
});

test('where it dies once the command is answered', async () => {
  let times = 0;
  const line = await lineTo((socket, frame) => {
    if (!frame.request?.command) return;
    if (++times === 1) socket.close();
    else socket.say({response: {id: frame.request.id, reply: {done: {text: 'so be it'}}}});
  });
  const reply = await line.send(claim);
  assert.equal(reply.done.text, 'so be it');
  assert.equal(times, 2);
  line.drop();
  clearTimeout(line.retry);
});
