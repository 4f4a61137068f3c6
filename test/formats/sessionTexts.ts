// Session files drawn at random for property tests, and sessions brought into a form that can be compared.

import fc from 'fast-check';
import type { Session } from '../../server/src/formats/session/session.js';

/** How many files a property tries; the nightly run sets more. */
export const RUNS = Number(process.env.LEANSPOT_PROPERTY_RUNS ?? 2000);

const decimal = fc
  .tuple(fc.integer({ min: -99_999, max: 99_999 }), fc.integer({ min: 0, max: 6 }))
  .map(([whole, decimals]) => (whole / 10 ** Math.min(decimals, 3)).toFixed(decimals));
const longNumber = fc.tuple(fc.bigInt({ min: 0n, max: 10n ** 20n }), fc.integer({ min: 0, max: 18 })).map(([digits, point]) => {
  const text = digits.toString().padStart(point + 1, '0');
  return point === 0 ? text : `${text.slice(0, -point)}.${text.slice(-point)}`;
});
const number = fc.oneof(
  { weight: 8, arbitrary: decimal },
  { weight: 1, arbitrary: longNumber },
  { weight: 1, arbitrary: fc.double({ noNaN: true }).map(String) },
);
const oddCell = fc.constantFrom(
  'nan',
  'n/a',
  '-',
  '---',
  'NULL',
  'err',
  '1e999',
  '1..2',
  '+',
  '-.',
  '.5',
  '5.',
  '+7',
  'true',
  'P0171',
  'N',
  '°',
  'é',
  '😀',
  '1 2',
  '1 020',
  '1.002,0',
  '1\u202f020',
  '12,345.5',
  '0x10',
  '--1',
  '1e5',
  '1E-3',
  '1e',
  ' ',
);
const blanks = fc.constantFrom('', '', '', ' ', '  ');

export interface Drawn {
  readonly text: string;
  readonly delimiter: string;
}

const HEADERS = [
  'Time (s)',
  'Engine speed (rpm)',
  'Manifold pressure (kPa)',
  'Lambda',
  'Gear',
  'Fuel cut',
  'Note',
  'Trouble code',
  'Boost (psi)',
  'Ä temperature [°C]',
  'Lambda',
];

/** Files without a quote; with `quotes`, some cells are quoted, well or badly. */
export const sessionText = (quotes: boolean): fc.Arbitrary<Drawn> =>
  fc
    .record({
      delimiter: fc.constantFrom(',', ';', '\t'),
      width: fc.integer({ min: 2, max: 7 }),
      lineEnd: fc.constantFrom('\n', '\r\n', '\r'),
      trailing: fc.boolean(),
      lastLineEnd: fc.boolean(),
      startS: fc.integer({ min: 0, max: 100 }),
    })
    .chain(({ delimiter, width, lineEnd, trailing, lastLineEnd, startS }) => {
      const plainCell = fc
        .tuple(
          blanks,
          fc.oneof({ weight: 12, arbitrary: number }, { weight: 2, arbitrary: fc.constant('') }, { weight: 1, arbitrary: oddCell }),
          blanks,
        )
        .map((parts) => parts.join(''));
      const quotedCell = fc.oneof(
        plainCell.map((cell) => `"${cell}"`),
        plainCell.map((cell) => ` "${cell}" `),
        fc.constantFrom('"a""b"', '"x,y;z"', '"1,5"', '"two\nlines"', '5" pipe', '"open', 'a"', '""', '"a"b', '"""'),
      );
      const cell = quotes ? fc.oneof({ weight: 12, arbitrary: plainCell }, { weight: 1, arbitrary: quotedCell }) : plainCell;
      const row = (cells: number): fc.Arbitrary<string[]> => fc.array(cell, { minLength: cells, maxLength: cells });
      const line = fc.oneof(
        { weight: 20, arbitrary: row(width - 1) },
        { weight: 1, arbitrary: fc.integer({ min: 0, max: width + 1 }).chain(row) },
        { weight: 1, arbitrary: fc.constantFrom('# a note', '', '  ', '# ignore: time-gap', quotes ? '# say "hi' : '#') },
      );
      return fc.array(line, { maxLength: 12 }).map((lines) => {
        const header = HEADERS.slice(0, width).join(delimiter) + (trailing ? delimiter : '');
        const texts = lines.map((cells, index) =>
          typeof cells === 'string' ? cells : [String(startS + index / 10), ...cells].join(delimiter) + (trailing ? delimiter : ''),
        );
        return { delimiter, text: [header, ...texts].join(lineEnd) + (lastLineEnd ? lineEnd : '') };
      });
    });

/** Everything a session says, ranges of all cells included, as plain data. NaN is kept apart from a number by its text. */
export const digest = (session: Session): unknown => ({
  samples: session.samples,
  timeS: [...session.timeS].map(String),
  recordingStarts: session.recordingStarts,
  time: session.time,
  channels: session.channels.map(({ toCanonical: _, values, ...rest }) => ({
    ...rest,
    values: [...values].map((value) => (Object.is(value, -0) ? '-0' : String(value))),
  })),
  codes: session.codes,
  notes: session.notes,
  metadata: [...session.metadata],
  ignored: session.ignored,
  problems: session.problems,
  headerRange: session.headerRange,
  form: session.form,
  encoding: session.encoding,
  delimiter: session.delimiter,
  decimalComma: session.decimalComma,
  cells: Array.from({ length: session.samples }, (_, sample) =>
    [-1, ...session.channels.keys()].map((channel) => {
      const range = session.places.cellRange(channel, sample);
      return [range, session.places.cellText(channel, sample), session.places.sampleAt(range.start.line), session.places.lineOf(sample)];
    }),
  ),
});
