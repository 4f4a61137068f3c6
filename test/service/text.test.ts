// Texts out of bytes and back, byte for byte.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { bytesSource } from '../../server/src/formats/source.js';
import { decoded, encoded } from '../../server/src/service/text.js';

suite('service: text', () => {
  test('any bytes that are a text in some form come out as they were', () => {
    const utf16 = (mark: readonly number[]) => fc.array(fc.integer({ min: 0x20, max: 0xd7ff })).map((codes) =>
      Uint8Array.from([...mark, ...codes.flatMap((code) => (mark[0] === 0xff ? [code & 255, code >> 8] : [code >> 8, code & 255]))]));
    const utf8 = fc.string({ unit: 'grapheme' }).map((text) => new TextEncoder().encode(text));
    const marked = utf8.map((bytes) => Uint8Array.from([0xef, 0xbb, 0xbf, ...bytes]));
    // A mark of UTF-16 at the start makes any bytes UTF-16, where an odd number of them cannot come back.
    const single = fc.uint8Array().filter((bytes) => !(bytes[0] >= 0xfe && bytes[1] >= 0xfe));
    fc.assert(fc.property(fc.oneof(utf8, marked, single, utf16([0xff, 0xfe]), utf16([0xfe, 0xff])), (bytes) => {
      const { text, form } = decoded(bytesSource(bytes));
      assert.deepEqual(encoded(text, form), bytes);
    }));
  });

  test('a degree sign as loggers write it is Windows-1252', () => {
    // Code page 1252: B0 is the degree sign, 80 the euro sign.
    assert.equal(decoded(bytesSource(Uint8Array.of(0xb0, 0x43, 0x80))).text, '°C€');
  });
});
