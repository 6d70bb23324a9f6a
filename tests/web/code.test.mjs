// The code that leads other phones here: drawn by a browser, read by a library for QR codes (jsQR).

import assert from 'node:assert/strict';
import {after, test} from 'node:test';
import jsQR from 'jsqr';
import {Field, closeBrowser} from './field.mjs';

after(() => closeBrowser());

// [ISO.18004]: dark on light; the quiet zone is white.
test('a scanner reads from /code.svg where the page begins', async () => {
  const field = new Field();
  await field.start();
  try {
    const page = await field.page();
    await page.goto(field.address(false));
    for (const size of [66, 240, 600]) {
      const {pixels, rim} = await page.evaluate(async (width) => {
        const image = new Image();
        image.src = '/code.svg';
        image.width = image.height = width;
        await image.decode();
        const canvas = document.createElement('canvas');
        canvas.width = canvas.height = width;
        const draw = canvas.getContext('2d');
        draw.fillStyle = '#888';
        draw.fillRect(0, 0, width, width);
        draw.drawImage(image, 0, 0, width, width);
        return {
          pixels: [...draw.getImageData(0, 0, width, width).data],
          rim: [...draw.getImageData(0, 0, width, Math.floor(width * 4 / 33)).data],
        };
      }, size);
      assert.ok(rim.every((v) => v === 255), 'four white modules above it');
      const read = jsQR(Uint8ClampedArray.from(pixels), size, size);
      assert.equal(read?.data, field.address(false, '/hello'), `${size} pixels wide`);
    }
    const answer = await fetch(field.address(false, '/code.svg'));
    assert.equal(answer.headers.get('cache-control'), 'no-store');
    assert.equal(answer.headers.get('content-type'), 'image/svg+xml');
  } finally {
    await field.close();
  }
});
