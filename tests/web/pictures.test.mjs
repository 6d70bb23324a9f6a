// Pictures as a browser draws them: no text lies on another, none leaves the picture, on paper and on
// a phone. The layout goes by the widths of one wide typeface; this goes by what the browser has.

import assert from 'node:assert/strict';
import {after, test} from 'node:test';
import {readFileSync, writeFileSync} from 'node:fs';
import {join} from 'node:path';
import {Field, closeBrowser} from './field.mjs';

after(() => closeBrowser());

const demo = readFileSync(join(process.env.FIELDPEG_SOURCE, 'client/demo_day.toml'), 'utf8');

// The demo's people and places under other names, and all of their places within a few metres.
function renamed(names) {
  let day = demo;
  ['Ann', 'Ben', 'Cem', 'Edda', 'Dee', 'Finn'].forEach((name, i) => {
    day = day.replaceAll(`"${name}"`, JSON.stringify(names[i]));
  });
  return day;
}
const crowded = (day) => day.replace(/at_m = \[([-\d]+), ([-\d]+)\]/g, (_, x, y) => `at_m = [${x / 20}, ${y / 20}]`);

const days = {
  'the demo': demo,
  'long names': renamed(['A', 'B', 'C', 'D', 'E', 'F'].map((c) => `${c} of the Hazel Hill Flyers, West Wing`)),
  'capital letters': renamed(['W', 'M', 'Q', 'G', 'O', 'D'].map((c) => c.repeat(40))),
  'other alphabets': renamed(['Ида Жукова', 'Κώστας Ωραίος', 'محمود', '李明', 'Zoë Ñandú', 'שרה']),
  'no room': crowded(demo),
  'no room for long names': crowded(renamed(['A', 'B', 'C', 'D', 'E', 'F'].map((c) => `${c} ${'Жщ'.repeat(19)}`))),
};

function boxes() {
  const root = document.documentElement;
  return {
    width: root.viewBox.baseVal.width,
    height: root.viewBox.baseVal.height,
    texts: [...document.querySelectorAll('text')].map((text) => {
      const {x, y, width, height} = text.getBBox();
      return {words: text.textContent, left: x, right: x + width, top: y, bottom: y + height};
    }),
  };
}

function faults({width, height, texts}) {
  const found = [];
  const near = 0.5;
  texts.forEach((a, i) => {
    if (a.left < -near || a.right > width + near || a.top < -near || a.bottom > height + near)
      found.push(`"${a.words}" leaves the picture`);
    for (const b of texts.slice(i + 1))
      if (a.left + near < b.right && b.left + near < a.right && a.top + near < b.bottom && b.top + near < a.bottom)
        found.push(`"${a.words}" lies on "${b.words}"`);
  });
  return found;
}

for (const [name, text] of Object.entries(days)) {
  test(`pictures can be read: ${name}`, async () => {
    const field = new Field(text);
    try {
      const pilot = /\[\[pilot\]\]\nname = "(.*)"/.exec(text)[1];
      const page = await field.page();
      for (const which of [['field'], ['spectrum', pilot]]) {
        for (const form of [[], ['--phone']]) {
          const file = join(field.folder, 'picture.svg');
          writeFileSync(file, await field.fieldpeg('picture', ...which, ...form, '--day', 'day.toml'));
          await page.goto(`file://${file}`);
          const drawn = await page.evaluate(boxes);
          assert.ok(drawn.texts.length > 8);
          assert.deepEqual(faults(drawn), [], `${which} ${form}`);
        }
      }
    } finally {
      await field.close();
    }
  });
}
