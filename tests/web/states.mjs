// Brings the page into each of its states by name, one after the other, on two fields: a day of fourteen in
// three groups, and the demo's day with its relays.

import {Field} from './field.mjs';
import {dayText} from './fourteen.mjs';
import {Tour, settled} from './tour.mjs';

// So much later on this phone alone; back with 0.
const later = (page, ms) => page.evaluate((by) => {
  const now = window.realNow ??= Date.now;
  Date.now = () => now() + by;
}, ms);

// A newcomer, from the code on the monitor to a peg.
async function* newcomer(tour) {
  const hello = await tour.page('/hello', false);
  await hello.locator('.print').first().waitFor();
  yield {name: 'hello', page: hello};
  const onlooker = await tour.page('/', false);
  await onlooker.locator('.dial').waitFor();
  yield {name: 'onlooker', page: onlooker};
  const joining = await tour.page(`/join#${tour.field.secret('pilot')}`);
  await joining.locator('#nick').waitFor();
  yield {name: 'join', page: joining};
  const page = await tour.phone('pilot', 'Paul');
  await tour.button(page, 'my.gear').waitFor();
  yield {name: 'own-new', page};
  await page.locator('#next button').click();
  for (const [i, question] of ['picture', 'goggles', 'aerial', 'powers', 'place'].entries()) {
    await tour.sheet(page, `q${question}`);
    yield {name: `gear-${i + 1}`, page};
    await page.locator('#sheet .tiles button').nth(question === 'powers' ? 1 : 0).click();
  }
  await tour.sheet(page, 'best');
  yield {name: 'gear-6', page};
  await page.locator('#sheet .acts button').first().click();
  await tour.noSheet(page);
  await page.locator('[data-of=dial] .spots').waitFor();
  yield {name: 'own-held-new', page};
}

// A phone that says a name the day knows.
async function* nodding(tour, marshal) {
  const page = await tour.phone('pilot', 'Kim');
  await page.locator('#next button:disabled').waitFor();
  yield {name: 'awaits', page};
  await marshal.locator('[data-of=nodKim]').waitFor();
  yield {name: 'nod', page: marshal};
  await marshal.locator('[data-of=nodKim] .two button').first().click();
}

// From a peg that is held to off again.
async function* asking(tour) {
  const page = await tour.pilot('Gil');
  await page.locator('[data-of=dial] .spots').waitFor();
  yield {name: 'own-held', page};
  await tour.press(page, 'change');
  await tour.sheet(page, 'try');
  await page.locator('#sheet .spots').first().locator('button:not([aria-pressed=true])').first().click();
  await page.waitForFunction((looks) => document.querySelector('[data-of=verdict]')?.textContent !== looks, tour.t('try.looks'));
  yield {name: 'try', page};
  await tour.close(page);
  await tour.press(page, 'my.gear');
  await tour.sheet(page, 'gear');
  yield {name: 'gear-change', page};
  await tour.close(page);
  await tour.press(page, 'may.i');
  await tour.sheet(page, 'look');
  yield {name: 'ask-1', page};
  await page.locator('.acts .tiles button').nth(0).click();
  await tour.sheet(page, 'taken');
  yield {name: 'ask-2', page};
  await tour.press(page, 'taken.none');
  await page.mouse.move(0, 0);   // a toast stays while it is pointed at
  await tour.sheet(page, 'there');
  yield {name: 'ask-2-there', page};
  await tour.goneAgain();
  await tour.press(page, 'taken.snow');
  await tour.sheet(page, 'look');
  await page.locator('.acts .tiles button').nth(1).click();
  await tour.strip(page, 'go');
  await page.locator('#sheet .ringwrap').waitFor();
  yield {name: 'go', page};
  await later(page, 61000);
  await page.locator('#sheet .ringwrap').waitFor({state: 'detached'});
  yield {name: 'late', page};
  await later(page, 0);
  await page.locator('#sheet .ringwrap').waitFor();
  await tour.press(page, 'it.is.on');
  await tour.strip(page, 'air');
  await tour.noSheet(page);
  yield {name: 'own-on', page};
  await tour.press(page, 'why');
  await page.locator('#sheet .why, #sheet dl, #sheet details').first().waitFor();
  yield {name: 'why', page};
  await tour.close(page);
  await page.locator('#next .hold').dispatchEvent('click');
  await page.locator('#sheet .acts .two').waitFor();
  yield {name: 'asked-back', page};
  await page.locator('#sheet .acts .two button').first().click();
  await tour.noSheet(page);
  await page.locator('#toast:visible').waitFor();
  yield {name: 'own-off', page};
}

// Whose channel somebody else flies on: refused, in line, called.
async function* waiting(tour) {
  const page = await tour.pilot('Hana');
  await tour.press(page, 'may.i');
  await tour.sheet(page, 'look');
  await page.locator('.acts .tiles button').nth(1).click();
  await tour.sheet(page, 'refused');
  await page.locator('#sheet .stack .go').waitFor();
  yield {name: 'refused', page};
  await tour.press(page, 'when.free', {channel: 'R1'});
  await tour.noSheet(page);
  await tour.button(page, 'line.leave').waitFor();
  yield {name: 'queued', page};
  await tour.terminal('off', 'Ann', '--yes');
  await tour.alarm(page);
  yield {name: 'free', page};
  await page.locator('#alarm .flat').click();
  await page.locator('#alarm').waitFor({state: 'hidden'});
}

async function* looking(tour, page) {
  await tour.view(page, 'all');
  await page.locator('#flying li').first().waitFor();
  yield {name: 'everybody', page};
  await page.locator('#flying button').first().click();
  await tour.sheet(page, 'person');
  yield {name: 'person', page};
  await tour.close(page);
  for (const paper of ['report', 'pegs']) {
    await tour.press(page, paper);
    await page.locator('#sheet:visible').waitFor();
    yield {name: paper, page};
    await tour.close(page);
  }
  await tour.view(page, 'field');
  await page.locator('.map').waitFor();
  yield {name: 'field', page};
  await tour.view(page, 'mine');
}

async function* marshalling(tour, page) {
  await tour.view(page, 'marshal');
  await page.locator('[data-of=turn]').waitFor();
  yield {name: 'marshal', page};
  for (const [name, key, has] of [['walkup', 'walk.up', '.tiles'], ['let-in', 'let.in', '.qr'], ['seen', 'seen.do', '.spots'],
    ['who-is-down', 'is.down', '.rows'], ['plan', 'plan', 'button'], ['turns', 'whose.turn', '.hold']]) {
    await page.locator('[data-of=turn] button').filter({hasText: tour.t(key)}).click();
    await page.locator(`#sheet:visible ${has}`).first().waitFor();
    yield {name, page};
    await tour.close(page);
  }
  await tour.hold(page, page.locator('[data-of=close] .hold'));
  await tour.sheet(page, 'closing');
  yield {name: 'closing', page};
  await tour.close(page);
  await tour.view(page, 'all');
  await page.locator('#flying button').first().click();
  await tour.sheet(page, 'person');
  yield {name: 'acting', page};
  await tour.close(page);
  await tour.view(page, 'marshal');
}

async function* endings(tour, marshal, page) {
  await tour.terminal('off', 'Cem', '--down', '--near', 'tall grass');
  await tour.view(marshal, 'all');
  await marshal.locator('li[data-of=Cem] button').click();
  await tour.sheet(marshal, 'person');
  await tour.press(marshal, 'find');
  await marshal.locator('#sheet-title').filter({hasText: 'tall grass'}).waitFor();
  yield {name: 'lost-craft', page: marshal};
  await marshal.locator('.close').click();
  await tour.sheet(marshal, 'person');
  await tour.close(marshal);
  await tour.view(marshal, 'marshal');
  await tour.hold(marshal, marshal.locator('#next .hold'));
  await tour.sheet(marshal, 'groups');
  yield {name: 'groups', page: marshal};
  await tour.close(marshal);
  await tour.terminal('field', 'close', '--because', 'Sandwiches');
  await tour.view(marshal, 'all');
  await marshal.locator('.news').first().waitFor();
  yield {name: 'closed', page: marshal};
  await tour.terminal('field', 'open');
  await tour.terminal('field', 'close', '--because', 'Balloon over the wood', '--now');
  await tour.alarm(page);
  yield {name: 'closed-now', page};
  await tour.terminal('field', 'open');
  await page.locator('#alarm').waitFor({state: 'hidden', timeout: 12000});
  const big = await tour.page('/board', false, {viewport: {width: 1280, height: 800}});
  await big.locator('.hang li').first().waitFor();
  yield {name: 'big', page: big};
  await tour.field.stop('SIGKILL');
  await tour.strip(page, 'lost');
  yield {name: 'lost', page};
}

async function* dayOfFourteen(tour) {
  await tour.field.joinTerminal('marshal', 'Max');
  const marshal = await tour.phone('marshal', 'Mia');
  yield* newcomer(tour);
  yield* nodding(tour, marshal);
  let own = null;
  for await (const state of asking(tour)) {
    own = state.page;
    yield state;
  }
  yield* waiting(tour);
  yield* looking(tour, own);
  yield* marshalling(tour, marshal);
  yield* endings(tour, marshal, own);
}

// A relay that takes a neighbour's picture.
async function* trouble(tour) {
  const marshal = await tour.phone('marshal', 'Mia');
  const finn = await tour.pilot('Finn');
  const edda = await tour.pilot('Edda');
  await finn.locator('[data-of="Finn\'s tripod"]').first().waitFor();
  yield {name: 'own-relay', page: finn};
  await tour.terminal('off', 'Finn\'s tripod', '--yes');
  await tour.answerAlarms(finn);
  await finn.locator('[data-of="Finn\'s tripod"] .two button').first().click();
  await tour.sheet(finn, 'relay');
  yield {name: 'relay', page: finn};
  await tour.close(finn);
  await tour.terminal('on', 'Finn\'s tripod', '--already');
  await tour.alarm(finn);
  await tour.strip(finn, 'stop');
  yield {name: 'culprit', page: finn};
  await marshal.locator('.shout').waitFor();
  yield {name: 'callout', page: marshal};
  await tour.alarm(edda);
  yield {name: 'alarm', page: edda};
  await tour.terminal('off', 'Finn\'s tripod', '--yes');
  await edda.locator('#alarm.good').waitFor();
  yield {name: 'over', page: edda};
}

async function* demoDay(tour) {
  await tour.field.joinTerminal('marshal', 'Max');
  yield* trouble(tour);
}

// All states: for await (const {name, page} of states({locale: 'de-DE'})). The window is as it was before each.
export async function* states(options = {}) {
  for (const [day, text] of [[dayOfFourteen, dayText()], [demoDay, '']]) {
    const field = new Field(text);
    await field.start();
    const tour = new Tour(field, options);
    try {
      for await (const state of day(tour)) yield* shown(state);
    } catch (e) {
      await tour.pictures();
      throw e;
    } finally {
      await field.close();
    }
  }
}

async function* shown({name, page}) {
  const before = page.viewportSize();
  await settled(page);
  if (process.env.FIELDPEG_PICTURES) await page.screenshot({path: `${process.env.FIELDPEG_PICTURES}/${name}.png`});
  yield {name, page};
  const after = page.viewportSize();
  if (after.width !== before.width || after.height !== before.height) await page.setViewportSize(before);
}
