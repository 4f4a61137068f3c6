// The fast reader held against csv-parse, against itself in other chunks, and against `Number()`: some thousand files here, 100 000 by `npm
// run nightly`.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { readSession, readSessionBy } from '../../server/src/formats/session/readSession.js';
import { bytesSource, textSource } from '../../server/src/formats/source.js';
import type { Session } from '../../server/src/formats/session/session.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { sessionFindings } from '../../server/src/findings/check.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { readNumber } from '../../server/src/formats/csv/number.js';
import { RUNS, digest, sessionText } from './sessionTexts.js';

const WHOLE = { chunkBytes: 1 << 20, everythingQuoted: false, kernelFromBytes: 0 };

const findingsOf = (session: Session) => sessionFindings(analyse(session, EMPTY_VEHICLE));

suite('session reader, properties', () => {
  for (const quotes of [false, true]) {
    test(`the fast way and csv-parse agree on every value, place, problem and finding of a file ${quotes ? 'with' : 'without'} quotes`, () => {
      fc.assert(
        fc.property(sessionText(quotes), ({ text }) => {
          const fast = readSessionBy(textSource(text), {}, WHOLE),
            whole = readSessionBy(textSource(text), {}, { ...WHOLE, everythingQuoted: true });
          assert.deepEqual(digest(fast), digest(whole));
          assert.deepEqual(digest(readSessionBy(textSource(text), {}, { ...WHOLE, kernelFromBytes: Infinity })), digest(whole));
          assert.deepEqual(digest(readSessionBy(textSource(text), {}, { ...WHOLE, packFromBytes: 0 })), digest(whole));
          assert.deepEqual(findingsOf(fast), findingsOf(whole));
        }),
        { numRuns: quotes ? Math.ceil(RUNS / 2) : RUNS },
      );
    });
  }

  test('chunks of any size give the same session, quotes included', () => {
    fc.assert(
      fc.property(sessionText(true), fc.integer({ min: 1, max: 64 }), ({ text }, chunkBytes) => {
        assert.deepEqual(
          digest(readSessionBy(textSource(text), {}, { ...WHOLE, chunkBytes })),
          digest(readSessionBy(textSource(text), {}, WHOLE)),
        );
      }),
      { numRuns: Math.ceil(RUNS / 4) },
    );
  });

  test('a file cut off at any byte reads without an error', () => {
    fc.assert(
      fc.property(sessionText(true), ({ text }) => {
        const bytes = new TextEncoder().encode(text);
        for (let length = 0; length <= bytes.length; length++) assert.ok(readSession(bytesSource(bytes.subarray(0, length))).samples >= 0);
      }),
      { numRuns: Math.ceil(RUNS / 100) },
    );
  });

  test('any bytes read without an error', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), (bytes) => {
        const session = readSession(bytesSource(bytes));
        assert.equal(session.timeS.length, session.samples);
      }),
      { numRuns: Math.ceil(RUNS / 4) },
    );
  });

  test('every cell range of a session holds the text of its cell', () => {
    fc.assert(
      fc.property(sessionText(false), ({ text }) => {
        const lines = text.split(/\r\n|\n|\r/);
        const session = readSession(textSource(text));
        for (let sample = 0; sample < session.samples; sample++) {
          for (const channel of session.channels.keys()) {
            const { start, end } = session.places.cellRange(channel, sample);
            const cell = session.places.cellText(channel, sample);
            if (cell !== '') assert.equal(lines[start.line].slice(start.character, end.character), cell);
          }
        }
      }),
      { numRuns: Math.ceil(RUNS / 4) },
    );
  });

  // IEEE 754 and ECMA-262: Number() rounds a decimal text to the nearest double.
  test('decimal texts are rounded as Number() rounds them', () => {
    const digits = fc.string({ unit: fc.constantFrom(...'0123456789'), minLength: 1, maxLength: 22 });
    const text = fc
      .tuple(
        fc.constantFrom('', '-', '+'),
        digits,
        fc.option(digits, { nil: undefined }),
        fc.option(fc.integer({ min: -330, max: 330 }), { nil: undefined, freq: 8 }),
      )
      .map(
        ([sign, whole, decimals, exponent]) =>
          sign + whole + (decimals === undefined ? '' : `.${decimals}`) + (exponent === undefined ? '' : `e${exponent}`),
      );
    fc.assert(
      fc.property(text, (written) => {
        const bytes = new TextEncoder().encode(written);
        assert.ok(Object.is(readNumber(bytes, 0, bytes.length, 44), Number(written)), written);
        const session = readSession(textSource(`Time (s),Aux\n0,${written}\n1,0\n`));
        if (Number.isFinite(Number(written))) assert.ok(Object.is(session.channels[0].values[0], Number(written)), written);
      }),
      { numRuns: RUNS },
    );
  });
});
