// The compiled loop of the reader: it is what its source says, and reads as the plain one does, odd rows among thousands of plain ones
// included.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { readSessionBy } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { digest } from './sessionTexts.js';

const BY_KERNEL = { chunkBytes: 1 << 20, everythingQuoted: false, kernelFromBytes: 0 },
  ALONE = { ...BY_KERNEL, kernelFromBytes: Infinity };

/** Cells as loggers write them, and those that the loop must leave to the others. */
const PLAIN = [
  '0',
  '-0',
  '7',
  '812',
  '-12.5',
  '-0.0',
  '+3',
  '0.001',
  '12345678',
  '-1234567',
  '1234.567',
  '-0.12345',
  '123456789',
  '1.',
  '.5',
  '-.5',
  '',
  '1714564800.123',
  '123456789012345',
  '0.00000000000001',
  '-999999999999.99',
  ' 5',
  '   -1.25',
];
const ODD = [
  '1234567890123456',
  '12345678901234567890',
  '1e3',
  '"4"',
  ' ',
  '   ',
  '\t7',
  '6 ',
  'n/a',
  '-',
  '+',
  '.',
  '-.',
  '1.2.3',
  '1-2',
  '--1',
  'on',
  '#',
  '1,5',
  '1.002,0',
  '1,002.5',
  '1 020',
  '1\u00a0020,5',
  '12\u202f345.25',
  '1.002.003',
  '1:2',
  '\u00001',
  '9\r',
];

suite('the compiled loop of the reader', () => {
  test('is what its source compiles to', async () => {
    const { TARGET, kernelText } = (await import('../../server/kernel/make.mjs' as string)) as {
      TARGET: URL;
      kernelText: () => Promise<string>;
    };
    assert.equal(readFileSync(TARGET, 'utf8'), await kernelText(), 'run npm run kernel');
  }).timeout(300_000);

  test('reads what the plain one reads: every value, place and problem of files of some thousand rows', () => {
    const cell = fc.oneof({ weight: 60, arbitrary: fc.constantFrom(...PLAIN) }, { weight: 1, arbitrary: fc.constantFrom(...ODD) });
    fc.assert(
      fc.property(
        fc.array(fc.array(cell, { minLength: 3, maxLength: 3 }), { minLength: 20, maxLength: 60 }),
        fc.constantFrom('\n', '\r\n', '\r'),
        fc.constantFrom(',', ';', '\t'),
        fc.constantFrom(700, 4099, 1 << 20),
        fc.integer({ min: 1, max: 80 }),
        (rows, lineEnd, delimiter, chunkBytes, times) => {
          // The same rows again and again, an odd one here and there: batches of the loop begin and end anywhere.
          const lines = Array.from({ length: 40 * times }, (_, row) =>
            [
              (row * 0.01).toFixed(2),
              ...rows[row % rows.length]!.map((each) => (row % 97 === 0 || PLAIN.includes(each) ? each : '1')),
            ].join(delimiter),
          );
          const text = ['Time (s)', 'Engine Speed (rpm)', 'Lambda', 'Aux (V)'].join(delimiter) + lineEnd + lines.join(lineEnd) + lineEnd;
          const read = readSessionBy(textSource(text), {}, { ...BY_KERNEL, chunkBytes });
          assert.deepEqual(digest(read), digest(readSessionBy(textSource(text), {}, { ...ALONE, chunkBytes })));
          assert.deepEqual(
            read.channels.map(({ filled }) => filled),
            read.channels.map(({ values }) => values.filter((value) => value === value).length),
          );
        },
      ),
      { numRuns: 12 },
    );
  });

  test('rows of other widths, whose cells may happen to fall into place, and line ends that change', () => {
    const row = fc.array(fc.constantFrom(...PLAIN, ...PLAIN, '1e3'), { minLength: 1, maxLength: 5 });
    fc.assert(
      fc.property(
        fc.array(fc.tuple(row, fc.constantFrom('\n', '\n', '\r\n', '\r')), { minLength: 1, maxLength: 40 }),
        fc.integer({ min: 1, max: 4 }),
        fc.integer({ min: 1, max: 30 }),
        (rows, width, times) => {
          // Long runs of good rows before each of the others.
          const good = Array.from(
            { length: 10 * times },
            (_, at) => Array.from({ length: width }, (_each, column) => String(at + column / 8)).join(',') + rows[0]![1],
          ).join('');
          const text =
            ['Time (s)', 'Lambda', 'Aux (V)', 'Throttle (%)'].slice(0, width).join(',') +
            '\n' +
            rows.map(([cells, lineEnd], at) => (at % 8 === 0 ? good : '') + cells.join(',') + lineEnd).join('');
          assert.deepEqual(digest(readSessionBy(textSource(text), {}, BY_KERNEL)), digest(readSessionBy(textSource(text), {}, ALONE)));
        },
      ),
      { numRuns: 100 },
    );
  });

  // ECMA-262: Number() gives the double nearest to a decimal text.
  test('numbers of up to sixteen signs are the nearest double, four alike or not', () => {
    const number = fc
      .tuple(
        fc.constantFrom('', '', '-', '+'),
        fc.bigInt({ min: 0n, max: 999_999_999_999_999n }),
        fc.integer({ min: 0, max: 14 }),
        fc.integer({ min: 0, max: 14 }),
      )
      .map(([sign, whole, digits, decimals]) => {
        const text = String(whole).slice(0, digits + 1);
        return (
          sign + (decimals === 0 ? text : `${text.slice(0, -decimals)}.${text.slice(-decimals).padStart(decimals > 4 ? 1 : decimals, '0')}`)
        );
      });
    fc.assert(
      fc.property(fc.array(fc.tuple(number, fc.integer({ min: 1, max: 9 })), { minLength: 10, maxLength: 40 }), (numbers) => {
        const written = numbers.flatMap(([text, times]) => Array<string>(times).fill(text));
        const session = readSessionBy(
          textSource(`Time (s),Aux\n${written.map((text, row) => `${row},${text}\n`).join('')}`),
          {},
          BY_KERNEL,
        );
        written.forEach((text, row) => {
          assert.ok(Object.is(session.channels[0]!.values[row], Number(text)), text);
        });
      }),
      { numRuns: 200 },
    );
  });

  test('columns of one number of decimals, blanks and minus zeros among them, that anywhere may hold another or an odd cell', () => {
    const column = fc.record({
      decimals: fc.integer({ min: 0, max: 8 }),
      size: fc.constantFrom(1, 1, 100, 1000, 1e7),
      blankEvery: fc.constantFrom(0, 0, 3, 50),
      blankUntil: fc.constantFrom(0, 0, 300),
      other: fc.constantFrom(
        '',
        '',
        '7',
        '0',
        '-0',
        '0.5',
        '-0.00',
        '12.345678',
        '3000000000',
        '123456789012345',
        '1.',
        ' 5',
        '1e3',
        '"4"',
      ),
      otherAt: fc.integer({ min: 0, max: 2999 }),
    });
    fc.assert(
      fc.property(
        fc.array(column, { minLength: 1, maxLength: 4 }),
        fc.constantFrom([',', '.'], [';', '.'], [';', ',']),
        fc.constantFrom('\n', '\r\n'),
        fc.constantFrom(4099, 1 << 20),
        (columns, [delimiter, point], lineEnd, chunkBytes) => {
          const written = columns.map(({ decimals, size, blankEvery, blankUntil, other, otherAt }) =>
            Array.from({ length: 3000 }, (_, row) => {
              if (row === otherAt && other !== '') return other;
              return row < blankUntil || (blankEvery > 0 && row % blankEvery === 0)
                ? ''
                : (size * Math.sin(row * row)).toFixed(decimals).replace('.', point!);
            }),
          );
          const lines = Array.from({ length: 3000 }, (_, row) =>
            [(row * 0.01).toFixed(2), ...written.map((cells) => cells[row])].join(delimiter),
          );
          const { channels } = readSessionBy(
            textSource(
              `${['Time (s)', ...columns.map((_, at) => `Aux ${at + 1}`)].join(delimiter)}${lineEnd}${lines.join(lineEnd)}${lineEnd}`,
            ),
            {},
            { ...BY_KERNEL, chunkBytes },
          );
          written.forEach((cells, at) => {
            assert.equal(channels[at]!.filled, cells.filter((cell) => cell !== '').length);
            cells.forEach((cell, row) => {
              assert.ok(
                Object.is(channels[at]!.values[row], cell === '' ? NaN : Number(cell.replaceAll('"', '').replace(',', '.'))),
                `column ${at}, row ${row}: ${channels[at]!.values[row]} for ${cell}`,
              );
            });
          });
        },
      ),
      { numRuns: 60 },
    );
  });

  test('an all-blank row is no sample, a minus before nothing no number', () => {
    const text = `Time (s),Lambda\n0,1\n,\n0.1,-\n0.2,0.98\n${'0.3,1\n'.repeat(5)}`;
    const { samples, channels } = readSessionBy(textSource(text), {}, BY_KERNEL);
    assert.equal(samples, 8);
    assert.deepEqual([...channels[0]!.values], [1, NaN, 0.98, 1, 1, 1, 1, 1]);
  });
});
