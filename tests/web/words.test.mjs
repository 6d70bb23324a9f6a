// Words and numbers of the page, without a browser.

import assert from 'node:assert/strict';
import {test} from 'node:test';
import {readFileSync} from 'node:fs';
import {join} from 'node:path';

const source = readFileSync(join(process.env.FIELDPEG_SOURCE, 'server/board/page/words.js'), 'utf8');
const {dbText, harmText} = await import(`data:text/javascript;base64,${Buffer.from(source).toString('base64')}`);

test('decibels never show a sign that is none, nor hide one that decides a verdict', () => {
  assert.equal(dbText(0), '0.0 dB');
  assert.equal(dbText(-0.0), '0.0 dB');
  assert.equal(dbText(-0.04), '\u22120.04 dB');
  assert.equal(dbText(1.26), '+1.3 dB');
  assert.equal(dbText(-10.04), '\u221210.0 dB');
  assert.equal(dbText(undefined), '-');
});

test('a harm says its zeros, and no word that becomes itself', () => {
  assert.equal(harmText({before: 'tight', after: 'shaky', margin_after_db: -0.04}),
    'tight becomes shaky (0.0 dB to \u22120.04 dB)');
  assert.equal(harmText({before: 'clash', after: 'clash', margin_before_db: -1, margin_after_db: -5}),
    'clash as it was, with less left (\u22121.0 dB to \u22125.0 dB)');
  assert.equal(harmText({before: 'steady', after: 'control_at_risk'}), 'steady becomes control at risk');
});
