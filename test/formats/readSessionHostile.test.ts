// Files that are no sessions, or are out to break a reader: each gives problems and bounded work, never an error.

import assert from 'node:assert/strict';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { bytesSource, textSource } from '../../server/src/formats/source.js';
import { MOST_COLUMNS } from '../../server/src/formats/session/places.js';

const kinds = (text: string): string[] => readSession(textSource(text)).problems.map((problem) => `${problem.code} ${problem.kind}`);

suite('session reader: hostile files', () => {
  test('nothing, a mark, blank lines, notes alone', () => {
    for (const text of ['', '\ufeff', '\n\n', '# a note\n', '   '])
      assert.deepEqual(kinds(text), ['channel-missing empty'], JSON.stringify(text));
  });

  test('a header of 100 KB behind a note is read whole', () => {
    const session = readSession(textSource(`# a note\nTime (s),RPM,${'x'.repeat(100_000)}\n0,800,1\n1,810,1\n`));
    assert.deepEqual([session.samples, session.channels.length], [2, 2]);
  });

  test('header only', () => assert.deepEqual(kinds('Time (s),RPM\n'), ['channel-missing no-rows']));

  test('no header', () => {
    const session = readSession(textSource('0,800,1\n1,810,1\n'));
    assert.equal(session.samples, 2);
    assert.equal(session.problems[0].kind, 'no-header');
    assert.deepEqual(
      session.channels.map((channel) => channel.name),
      ['column 1', 'column 2', 'column 3'],
    );
  });

  test('a binary file', () => {
    assert.deepEqual(
      readSession(bytesSource(Uint8Array.from({ length: 5000 }, (_, index) => (index * 7919) % 256))).problems.map(
        (problem) => problem.kind,
      ),
      ['binary'],
    );
  });

  test('NUL bytes where the power went', () => {
    const session = readSession(textSource(`Time (s),RPM\n0,800\n1,810\n${'\0'.repeat(100_000)}`));
    assert.equal(session.samples, 2);
    assert.deepEqual(
      session.problems.map((problem) => problem.kind),
      ['cut-off'],
    );
    assert.equal(readSession(textSource('Time (s),RPM\n0,8\0\0\n1,810\n')).problems[0].kind, 'text');
  });

  test('a line of 10 MB between rows is left out', () => {
    const session = readSession(textSource(`Time (s),RPM\n0,800\n${'9'.repeat(10_000_000)}\n1,810\n`));
    assert.deepEqual([...session.channels[0].values], [800, 810]);
    assert.equal(session.problems.find((problem) => problem.kind === 'too-long')?.range.start.line, 2);
    assert.equal(session.places.lineOf(1), 3);
  });

  test('cells with 20 000 blanks in them', () => {
    const blanks = ' '.repeat(20_000);
    const lambdaOf = (cell: string): number[] => [
      ...readSession(
        textSource(`Time (s),Lambda,Note\n${Array.from({ length: 20 }, (_, row) => `${row},${cell},w${blanks}`).join('\n')}\n`),
      ).channels[0].values,
    ];
    assert.deepEqual(lambdaOf(`1.0${blanks}`), new Array(20).fill(1));
    assert.deepEqual(lambdaOf(`"${blanks}1.0${blanks}"`), new Array(20).fill(1));
    assert.deepEqual(lambdaOf(`1.0${blanks}x`), new Array(20).fill(NaN));
    assert.deepEqual(lambdaOf(`"1.0${blanks}x"`), new Array(20).fill(NaN));
  });

  test('a header of 10 MB', () => assert.ok(readSession(textSource('x'.repeat(10_000_000))).problems.length > 0));

  test('20 000 columns are capped and that is said', () => {
    const row = (cell: (index: number) => string): string => Array.from({ length: 20_000 }, (_, index) => cell(index)).join(',');
    const session = readSession(
      textSource(`${row((index) => (index === 0 ? 'Time (s)' : `c${index}`))}\n${row(String)}\n${row((index) => String(index + 1))}\n`),
    );
    assert.equal(session.channels.length, MOST_COLUMNS - 1);
    assert.equal(session.samples, 2);
    assert.deepEqual(
      session.problems.map((problem) => problem.kind),
      ['too-many-columns'],
    );
  });

  test('a row of a million delimiters: its cells are placed, what stands behind the last column is one more', () => {
    for (const cell of ['905', '"905"']) {
      const long = `1,${cell}${','.repeat(1_000_000)}`;
      const { places } = readSession(textSource(`Time (s),RPM\n0,900\n${long}\n2,910\n`));
      assert.equal(places.cellText(0, 1), '905');
      assert.deepEqual(places.cellRange(0, 1), { start: { line: 2, character: 2 }, end: { line: 2, character: 2 + cell.length } });
      assert.deepEqual(
        [places.channelAt(2, 3), places.channelAt(2, long.length - 1), places.sampleAt(2), places.sampleAt(3)],
        [0, undefined, 1, 2],
      );
    }
  });

  test('a header of a million delimiters: columns behind the last that is read are counted up to the last that holds something', () => {
    for (const name of ['Time (s)', '"Time (s)"']) {
      const leftOut = (rest: string, row: string): unknown =>
        readSession(textSource(`${name}${rest}\n0,${row}\n`)).problems.find(({ kind }) => kind === 'too-many-columns')?.data.leftOut;
      const blank = ','.repeat(1_000_000);
      assert.equal(leftOut(blank, '1'), undefined);
      assert.equal(leftOut(blank + '"a, b"', '1'), 1_000_001 - MOST_COLUMNS);
      assert.equal(leftOut(blank, `${','.repeat(1500)}1`), 1502 - MOST_COLUMNS);
    }
  });

  test('a row behind the last has no text', () => {
    const { places } = readSession(textSource('Time (s),RPM\n0,900\n'));
    assert.deepEqual([places.cellText(0, 0), places.cellText(0, 1), places.cellText(0, 1000)], ['900', '', '']);
  });

  test('a quote that never closes in a large file', () => {
    const rows = Array.from({ length: 50_000 }, (_, row) => `${row},${row === 10 ? '"800' : '800'}\n`).join('');
    const session = readSession(textSource(`Time (s),RPM\n${rows}`));
    assert.equal(session.samples, 50_000);
    assert.equal(session.problems.filter((problem) => problem.kind === 'quote-unclosed').length, 1);
  });

  test('quotes without end, line after line', () => {
    for (const line of ['"\n', '"""\n', '"a""\n', ',"\n', '""x\n', 'x"\n', '"x"y\n'])
      assert.ok(readSession(textSource(`Time (s),RPM\n${line.repeat(50_000)}`)).samples >= 0);
  });

  test('a name that is the name of a JavaScript property', () => {
    const session = readSession(textSource('Time (s),__proto__,constructor (toString)\n0,1,2\n1,1,2\n'));
    assert.deepEqual(
      session.channels.map((channel) => channel.quantity),
      [undefined, undefined],
    );
  });
});
