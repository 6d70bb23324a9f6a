// A field for a test: a server with the demo's day in a folder of its own, terminals, and phones.

import {execFile, spawn} from 'node:child_process';
import {mkdtempSync, readFileSync, rmSync, cpSync, existsSync, writeFileSync} from 'node:fs';
import {tmpdir} from 'node:os';
import {join} from 'node:path';
import {promisify} from 'node:util';
import {chromium} from 'playwright-core';

const run = promisify(execFile);

let browser = null;
export async function launched() {
  browser ??= chromium.launch({
    executablePath: process.env.FIELDPEG_CHROMIUM,
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
      '--disable-component-update', '--disable-sync'],
  });
  return browser;
}
export async function closeBrowser() {
  await (await browser)?.close();
  browser = null;
}

export class Field {
  // Without a text the demo's day; null: none, for a day that begins empty.
  constructor(dayText) {
    this.folder = mkdtempSync(join(tmpdir(), 'fieldpeg-web-'));
    const day = join(this.folder, 'day.toml');
    if (dayText) writeFileSync(day, dayText);
    else if (dayText !== null) cpSync(join(process.env.FIELDPEG_SOURCE, 'client/demo_day.toml'), day);
    this.wire = 0;
    this.board = 0;
    this.contexts = [];
  }

  async start(...more) {
    const ports = ['--listen', `127.0.0.1:${this.wire}`, '--board', `127.0.0.1:${this.board}`];
    this.server = spawn(process.env.FIELDPEGD, ['--day', 'day.toml', ...ports, '--no-discovery', ...more], {cwd: this.folder});
    let text = '';
    await new Promise((ready, failed) => {
      this.server.stderr.on('data', (bytes) => {
        text += bytes;
        if (text.includes('stop with Ctrl-C')) ready();
      });
      this.server.on('exit', () => failed(new Error(`the server ended: ${text}`)));
    });
    this.said = () => text;
    this.wire = Number(/ at 127\.0\.0\.1:(\d+),/.exec(text)[1]);
    this.board = Number(/http:\/\/127\.0\.0\.1:(\d+)\//.exec(text)[1]);
  }

  async stop(signal = 'SIGTERM') {
    const {server} = this;
    if (!server) return;
    if (server.exitCode !== null || server.signalCode !== null) return;
    server.removeAllListeners('exit');
    const ended = new Promise((done) => server.once('exit', done));
    server.kill(signal);
    await ended;
  }

  async close() {
    for (const context of this.contexts) await context.close();
    await this.stop('SIGKILL');
    rmSync(this.folder, {recursive: true});
  }

  secret(role) {
    const lines = readFileSync(join(this.folder, 'day.tickets'), 'utf8').split('\n');
    return lines[lines.indexOf(`# ${role}`) + 1].split('/').pop();
  }

  // The terminal: standard output, or the error with what was said.
  async fieldpeg(...args) {
    const env = {...process.env, HOME: this.folder, XDG_CONFIG_HOME: join(this.folder, 'config'), XDG_STATE_HOME: join(this.folder, 'state')};
    const {stdout} = await run(process.env.FIELDPEG, args, {cwd: this.folder, env});
    return stdout;
  }
  async joinTerminal(role, name) {
    const file = join(this.folder, `${role}.ticket`);
    if (!existsSync(file)) {
      const lines = readFileSync(join(this.folder, 'day.tickets'), 'utf8').split('\n');
      writeFileSync(file, `${lines[lines.indexOf(`# ${role}`) + 1]}\n`, {mode: 0o600});
    }
    return this.fieldpeg('join', name, '--ticket', file);
  }

  async page(options = {}) {
    const context = await (await launched()).newContext({
      ignoreHTTPSErrors: true, viewport: {width: 360, height: 740}, hasTouch: true, locale: 'en-GB', ...options,
    });
    this.contexts.push(context);
    context.setDefaultTimeout(8000);
    const page = await context.newPage();
    page.faults = [];
    page.on('pageerror', (e) => page.faults.push(String(e)));
    // A certificate nobody vouches for keeps no worker, and a page opened anew may not shake yet: that is known.
    page.on('console', (m) => m.type() === 'error' && !/fetching the script|navigator\.vibrate/.test(m.text()) && page.faults.push(m.text()));
    return page;
  }
  address(secure, path = '/') {
    return `${secure ? 'https' : 'http'}://127.0.0.1:${this.board}${path}`;
  }
  // A phone that has scanned a ticket, with the name said. A listed name waits for the marshal's nod.
  async phone(role, name, options) {
    return this.joined(`/join#${this.secret(role)}`, name, options);
  }
  // A listed pilot with a ticket of their own, from the marshal's terminal: no nod is needed.
  async pilot(name, options) {
    const file = join(this.folder, `${name}.own`);
    await this.fieldpeg('ticket', '--pilot', name, '--file', file);
    return this.joined(`/join#${readFileSync(file, 'utf8').trim().split('\n').pop().split('/').pop()}`, name, options);
  }
  async joined(path, name, options) {
    const page = await this.page(options);
    await page.goto(this.address(true, path));
    await page.locator('#nick').fill(name);
    await page.locator('#next button').click();
    await page.locator('.foot').getByText(`This phone is for ${name}.`).waitFor();
    return page;
  }
}
