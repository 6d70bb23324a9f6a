// What people do with the page, and where they look: for the tests of its flows.

// A button that can be pressed now, by the beginning of its words.
export const button = (within, words) => within.locator('button:visible:not(:disabled):not([inert] *)')
  .filter({hasText: typeof words === 'string' ? new RegExp(`^\\s*${words.replace(/[.*+?^${}()|[\]\\]/g, '\\$&')}`) : words}).first();
export const press = (within, words) => button(within, words).click();
export const strip = (page, words) => page.locator('#strip .say').filter({hasText: words}).waitFor()
  .catch(async () => { throw new Error(`the strip says '${await stripText(page)}', not ${words}`); });
export const stripText = async (page) => (await page.locator('#strip .say').innerText()).replaceAll('\u00a0', ' ').replace(/\s+/g, ' ').trim();
export const sheet = (page, words) => page.locator('#sheet:visible').filter({hasText: words}).waitFor();
export const title = async (page) => (await page.locator('#sheet-title').textContent()).trim();
export const noSheet = (page) => page.locator('#sheet').waitFor({state: 'hidden'});
export const row = (page, name) => page.locator(`#main li[data-of="${name}"]`);
export const textOf = async (of) => (await of.innerText()).replaceAll('\u00a0', ' ').replace(/\s+/g, ' ').trim();

export async function close(page) {
  await page.locator('#sheet .close').click();
}
export async function view(page, name) {
  await page.locator(`#tab-${name}`).click();
  await page.locator(`#tab-${name}[aria-current]`).waitFor();
}
// An alarm that has come and takes taps.
export async function alarm(page, words) {
  const shown = page.locator('#alarm:visible').filter({hasText: words});
  await shown.waitFor();
  await page.waitForFunction(() => !document.getElementById('alarm').inert);
  return shown;
}
export const noAlarm = (page) => page.locator('#alarm').waitFor({state: 'hidden', timeout: 12000});

// By a finger that stays for so long.
export async function hold(page, target, ms = 1000) {
  await target.scrollIntoViewIfNeeded();
  const box = await target.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.waitForTimeout(ms);
  await page.mouse.up();
}

// The goggles are tuned, the answer is snow: the server is asked.
export async function lookAndAsk(page) {
  await press(page.locator('#next'), 'May I switch on?');
  await sheet(page, 'Tune your goggles to');
  await press(page.locator('#sheet'), 'Only snow');
}
export async function switchOn(page) {
  await lookAndAsk(page);
  await strip(page, 'Switch on now');
  await press(page.locator('#sheet .acts'), 'It is on');
  await strip(page, 'on the air');
  await noSheet(page);
}
export async function switchOff(page) {
  await hold(page, button(page.locator('#next'), 'Hold: it is off'));
  await strip(page, 'still yours');
}
// Six taps from nothing to a peg.
export async function takeGear(page) {
  await press(page.locator('#next'), 'My gear');
  for (const answer of ['Snow', 'Two stubbies', 'Stubby, with a cap', '25 and 200', 'I don\u2019t know'])
    await press(page.locator('#sheet .tiles'), answer);
  const take = button(page.locator('#sheet .acts'), 'Take ');
  const channel = /Take (\S+)/.exec(await take.textContent())[1];
  await take.click();
  await noSheet(page);
  await strip(page, 'Held');
  return channel;
}
export const boardOf = async (field) => JSON.parse(await field.fieldpeg('board', '--json'));
export const rowOf = async (field, name) => (await boardOf(field)).rows.find((r) => r.transmitter === name);
