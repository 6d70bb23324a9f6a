// A tour of one field by phones in one language: joins, presses, waits. What is pressed is found by the page's
// own books, so that the tour can be made in each language.

import {join} from 'node:path';
import {readFileSync} from 'node:fs';

export const pageFolder = join(process.env.FIELDPEG_SOURCE, 'server/board/page');
export const sourceOf = (name) => readFileSync(join(pageFolder, name), 'utf8');
// A module of the page that imports nothing, here.
export const moduleOf = (name) => import(`data:text/javascript;base64,${Buffer.from(sourceOf(name)).toString('base64')}`);
export const books = {en: (await moduleOf('words_en.js')).english, de: (await moduleOf('words_de.js')).german};

export function textsOf(language) {
  return (key, values = {}) => {
    const text = books[language][key];
    if (text === undefined) throw new Error(`no text for ${key}`);
    return typeof text === 'function' ? text(values) : text.replace(/\{(\w+)\}/g, (_, name) => String(values[name] ?? ''));
  };
}

export const small = {width: 360, height: 740};

// Drawn, and no longer on the move: nothing is animated, and an alarm takes taps.
export async function settled(page) {
  await page.evaluate(async () => {
    const frame = () => new Promise((done) => requestAnimationFrame(done));
    await frame();
    await frame();
    await Promise.all(document.getAnimations().map((a) => a.finished.catch(() => {})));
  });
  await page.waitForFunction(() => !document.getElementById('alarm').inert);
}

// Phones of one field, in one language.
export class Tour {
  constructor(field, options = {}) {
    this.field = field;
    this.options = {viewport: small, hasTouch: true, locale: 'en-GB', ...options};
    this.t = textsOf(this.options.locale.slice(0, 2));
    this.pages = [];
  }

  async page(path, isSecure = true, options = {}) {
    const page = await this.field.page({...this.options, ...options});
    page.setDefaultTimeout(8000);
    this.pages.push(page);
    await page.goto(this.field.address(isSecure, path));
    return page;
  }
  // A phone that joined with a ticket of this role.
  async phone(role, name, options = {}) {
    return this.joined(await this.page(`/join#${this.field.secret(role)}`, true, options), name);
  }
  // One of those the day knows, with a ticket of their own: no nod is needed.
  async pilot(name, options = {}) {
    return this.joined(await this.page(`/join#${await this.ownSecret(name)}`, true, options), name);
  }
  async ownSecret(name) {
    const file = join(this.field.folder, `${name}.own`);
    await this.terminal('ticket', '--pilot', name, '--file', file);
    return readFileSync(file, 'utf8').trim().split('\n').pop().split('/').pop();
  }
  async joined(page, name) {
    await page.locator('#nick').fill(name);
    await page.locator('#next button').click();
    await page.waitForFunction(() => location.pathname === '/' && document.querySelector('#strip .say span')?.textContent);
    return page;
  }

  // A button or link that is to be seen, by the key of its words.
  button(page, key, values) {
    return page.locator('button:visible:not([inert] *)').filter({hasText: this.t(key, values)}).first();
  }
  press(page, key, values) {
    return this.button(page, key, values).click();
  }
  async sheet(page, key) {
    await page.locator(`#sheet:visible .sheet-in[data-of$="${key}"]`).waitFor();
  }
  async noSheet(page) {
    await page.locator('#sheet').waitFor({state: 'hidden'});
  }
  async close(page) {
    await page.locator('.close').click();
    await this.noSheet(page);
  }
  async view(page, name) {
    await page.locator(`#tab-${name}`).click();
    await page.locator(`#tab-${name}[aria-current]`).waitFor();
  }
  async alarm(page, words) {
    const title = page.locator('#alarm:visible h2');
    await (words ? title.filter({hasText: words}) : title).waitFor();
    await page.waitForFunction(() => !document.getElementById('alarm').inert);
  }
  async strip(page, look) {
    await page.waitForFunction((name) => document.documentElement.classList.contains(`s-${name}`), look);
  }
  // By the keyboard, as long as it takes.
  async hold(page, button) {
    await button.focus();
    await page.keyboard.down('Enter');
    await page.waitForTimeout(1000);
    await page.keyboard.up('Enter');
  }
  // Answers whatever alarm comes within a moment.
  async answerAlarms(page) {
    for (const end = Date.now() + 1000; Date.now() < end; await page.waitForTimeout(50)) {
      const know = page.locator('#alarm:visible:not([inert]) button').filter({hasText: this.t('i.know')}).first();
      if (await know.count()) await know.click({timeout: 500}).catch(() => {});
    }
  }
  // What each phone shows, into the folder of FIELDPEG_PICTURES: for who looks into a failure.
  async pictures() {
    if (!process.env.FIELDPEG_PICTURES) return;
    for (const [i, page] of this.pages.entries()) await page.screenshot({path: `${process.env.FIELDPEG_PICTURES}/failed-${i}.png`}).catch(() => {});
  }
  // Whatever was seen is not there any more.
  async goneAgain() {
    const board = JSON.parse(await this.terminal('board', '--json'));
    for (const row of JSON.stringify(board).match(/"transmitter":\s*"sighting (\d+)"/g) || []) await this.terminal('seen', '--gone', row.match(/\d+/)[0]);
  }
  terminal(...args) {
    return this.field.fieldpeg(...args);
  }
}
