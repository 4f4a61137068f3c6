// A text as bytes: of any length and any letters they are what Node's own encoder makes of it.

import assert from 'node:assert/strict';
import { utf8 } from '../../server/src/formats/source.js';

suite('source: a text as UTF-8', () => {
  test('long and short, plain, accented and beyond the basic plane', () => {
    for (const [letters, most] of [
      ['a', 3e6],
      ['time [°C]', 200_000],
      ['ü', 1.5e6],
      [`${'x'.repeat(1000)}😀`, 2000],
      ['', 1],
    ] as const) {
      for (const count of [1, most]) {
        const text = letters.repeat(count);
        assert.ok(Buffer.from(text, 'utf8').equals(utf8(text)), `${count} times ${letters.slice(-9)}`);
      }
    }
    assert.ok(Buffer.from('\ud800'.repeat(2e6), 'utf8').equals(utf8('\ud800'.repeat(2e6))), 'halves of pairs');
  });
});
