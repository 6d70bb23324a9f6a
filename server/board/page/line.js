// The line to the server: one WebSocket that carries the messages of the wire as JSON. What changes
// the day is sent under a name of its own, so that sending it twice does it once.

const beatMs = 4000;      // between two signs of life that are asked for
const answerMs = 3000;    // for one to come back
const resendMs = 20000;   // a command younger than this is sent again after a loss
const sendsMost = 2;      // and not a third time: a server that was lost twice may have been lost by it
const firstWaitMs = 400, longestWaitMs = 4000;

// Nothing came back; `wasSent` where it may have been done all the same.
const noAnswer = (wasSent) => ({kind: 'no_answer', wasSent});
const keptName = 'kept';  // facts that wait for the server, on this phone

function idempotencyKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (b) => b.toString(16).padStart(2, '0')).join('');
}

// What is long comes with gzip to whoever asks for it.
const protocols = globalThis.DecompressionStream ? ['fieldpeg.gzip'] : [];
async function frameOf(data) {
  if (typeof data === 'string') return JSON.parse(data);
  return new Response(data.stream().pipeThrough(new DecompressionStream('gzip'))).json();
}

export class Line {
  // watcher: {welcome(w), change(c), live(), lost(goodbye), told(command, reply)}
  constructor(watcher) {
    this.watcher = watcher;
    this.waiting = new Map();
    this.lastId = 0;
    this.waitMs = firstWaitMs;
    this.isLive = false;
    this.lastHeardMs = 0;
    this.goodbye = null;
    document.addEventListener('visibilitychange', () => {
      if (!document.hidden) this.hurry();
    });
    window.addEventListener('online', () => this.hurry());
    window.addEventListener('offline', () => this.drop());
    this.connect();
  }

  connect() {
    clearTimeout(this.retry);
    const scheme = location.protocol === 'https:' ? 'wss' : 'ws';
    const socket = new WebSocket(`${scheme}://${location.host}/live`, protocols);
    this.socket = socket;
    this.goodbye = null;
    this.opening = setTimeout(() => this.drop(), 5000);
    let turn = Promise.resolve();  // each after the one before, the end last
    const inTurn = (act) => {
      turn = turn.then(() => socket === this.socket && act()).catch((e) => setTimeout(() => { throw e; }));
    };
    socket.addEventListener('message', (m) => {
      const coming = frameOf(m.data).catch(() => null);
      inTurn(async () => {
        const frame = await coming;
        if (socket !== this.socket) return;
        if (frame) this.heard(frame);
        else this.drop();
      });
    });
    socket.addEventListener('close', () => inTurn(() => this.drop()));
  }

  // The connection is gone, or taken for gone.
  drop() {
    const socket = this.socket;
    if (!socket) return;
    this.socket = null;
    clearTimeout(this.opening);
    clearTimeout(this.beat);
    clearTimeout(this.due);
    socket.close();
    this.isLive = false;
    for (const [id, one] of this.waiting) {
      if (one.frame.request.command) continue;
      this.waiting.delete(id);
      one.done({refusal: noAnswer(true)});
    }
    this.watcher.lost(this.goodbye);
    this.retry = setTimeout(() => this.connect(), this.waitMs * (0.75 + Math.random() / 2));
    this.waitMs = Math.min(longestWaitMs, this.waitMs * 1.7);
  }

  // Somebody looks: no waiting now.
  hurry() {
    if (this.socket && this.isLive) this.askForLife();
    else if (!this.socket) this.connect();
  }

  heard(frame) {
    this.lastHeardMs = Date.now();
    clearTimeout(this.due);
    if (frame.welcome) this.begin(frame.welcome);
    if (frame.change) this.watcher.change(frame.change);
    if (frame.goodbye) this.goodbye = frame.goodbye;
    if (frame.response) {
      const one = this.waiting.get(Number(frame.response.id || 0));
      const what = frame.response.reply || frame.response.answer;
      if (one && what) {
        this.waiting.delete(Number(frame.response.id));
        one.done(what);
      }
    }
    clearTimeout(this.beat);
    this.beat = setTimeout(() => this.askForLife(), beatMs);
  }

  begin(welcome) {
    clearTimeout(this.opening);
    this.isLive = true;
    this.waitMs = firstWaitMs;
    this.watcher.welcome(welcome);
    this.write({request: {id: ++this.lastId, watch_changes: true}});
    for (const [id, one] of this.waiting) {
      if (one.sends < sendsMost && Date.now() - one.atMs < resendMs) {
        ++one.sends;
        this.write(one.frame);
      } else {
        this.waiting.delete(id);
        one.done({refusal: noAnswer(true)});
      }
    }
    this.watcher.live();
    if (welcome.person) this.sendKept();
  }

  // A fact that is true whether the server hears of it or not: told now, or once it is back.
  keep(command) {
    if (this.isLive) return this.send(command);
    const all = [...this.kept(), {command, key: idempotencyKey(), atMs: Date.now()}];
    localStorage.setItem(keptName, JSON.stringify(all));
    return Promise.resolve({kept: true});
  }

  kept() {
    try {
      return JSON.parse(localStorage.getItem(keptName) || '[]');
    } catch {
      return [];
    }
  }

  async sendKept() {
    for (const {command, key} of this.kept()) {
      const reply = await this.request({command, idempotency_key: key});
      if (reply.refusal?.kind === 'no_answer') return;
      localStorage.setItem(keptName, JSON.stringify(this.kept().filter((one) => one.key !== key)));
      this.watcher.told(command, reply);
    }
  }

  askForLife() {
    this.write({ping: true});
    clearTimeout(this.due);
    this.due = setTimeout(() => this.drop(), answerMs);
  }

  write(frame) {
    if (this.socket && this.socket.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify(frame));
  }

  request(what) {
    return new Promise((done) => {
      const id = ++this.lastId;
      const frame = {request: {id, ...what}};
      if (!this.isLive) {
        done({refusal: noAnswer(false)});
        return;
      }
      this.waiting.set(id, {frame, done, atMs: Date.now(), sends: 1});
      setTimeout(() => {
        if (!this.waiting.delete(id)) return;
        done({refusal: noAnswer(true)});
      }, resendMs);
      this.write(frame);
    });
  }

  // The answer to a question; with `refusal` where there is none.
  ask(query) {
    return this.request({query});
  }

  // The reply to a command, likewise.
  send(command) {
    return this.request({command, idempotency_key: idempotencyKey()});
  }
}
