// Texts out of bytes and back, byte for byte.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { bytesSource } from '../../server/src/formats/source.js';
import { decoded, encoded, rewritten } from '../../server/src/service/text.js';

suite('service: text', () => {
  test('any bytes that are a text in some form come out as they were', () => {
    const utf16 = (mark: readonly number[]) =>
      fc
        .array(fc.integer({ min: 0x20, max: 0xd7ff }))
        .map((codes) =>
          Uint8Array.from([...mark, ...codes.flatMap((code) => (mark[0] === 0xff ? [code & 255, code >> 8] : [code >> 8, code & 255]))]),
        );
    const utf8 = fc.string({ unit: 'grapheme' }).map((text) => new TextEncoder().encode(text));
    const marked = utf8.map((bytes) => Uint8Array.from([0xef, 0xbb, 0xbf, ...bytes]));
    // A mark of UTF-16 at the start makes any bytes UTF-16, where an odd number of them cannot come back.
    const single = fc.uint8Array().filter((bytes) => !(bytes[0] >= 0xfe && bytes[1] >= 0xfe));
    fc.assert(
      fc.property(fc.oneof(utf8, marked, single, utf16([0xff, 0xfe]), utf16([0xfe, 0xff])), (bytes) => {
        const { text, form } = decoded(bytesSource(bytes));
        assert.deepEqual(encoded(text, form), bytes);
      }),
    );
  });

  test('a degree sign as loggers write it is Windows-1252', () => {
    // Code page 1252: B0 is the degree sign, 80 the euro sign.
    assert.equal(decoded(bytesSource(Uint8Array.of(0xb0, 0x43, 0x80))).text, '°C€');
  });

  test('a file is written again only where nothing is lost', () => {
    const twice = (text: string): string => text + text;
    assert.deepEqual(rewritten(bytesSource(Uint8Array.of(0x61, 0xb0)), twice), Uint8Array.of(0x61, 0xb0, 0x61, 0xb0));
    assert.equal(rewritten(bytesSource(Uint8Array.of(0xff, 0xfe, 0x61, 0, 0x62)), twice), undefined, 'half a character of UTF-16');
    assert.equal(rewritten(bytesSource(Uint8Array.of(0xff, 0xfe, 0x00, 0xd8)), twice), undefined, 'half a pair of UTF-16');
    assert.equal(
      rewritten(bytesSource(Uint8Array.of(0xb0)), (text) => `${text}Ω`),
      undefined,
      'Windows-1252 has no Ω',
    );
    const long = 33 << 20;
    assert.equal(
      rewritten({ size: long, read: (start, end) => new Uint8Array(Math.min(end, long) - start).fill(0x20) }, twice),
      undefined,
      'longer than is read',
    );
  });
});
