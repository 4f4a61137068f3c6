// Edits of cells: the number alone changes, in its author's way, and not a byte elsewhere.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { TextDocument } from 'vscode-languageserver-textdocument';
import { setCells, type CellChange } from '../../server/src/formats/table/editTable.js';
import { readTable } from '../../server/src/formats/table/readTable.js';

const HEAD = '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n';
const edited = (text: string, ...cells: CellChange[]): string =>
  TextDocument.applyEdits(TextDocument.create('t', 'fuel-table', 1, text), setCells(readTable(text), text, cells));
/** The only row of values after an edit of its first cell. */
const row = (before: string, value: number, header = ', 800, 1200'): string =>
  edited(`${HEAD}${header}\n${before}\n45, 10.0, 11.5\n`, { row: 0, column: 0, value }).split('\n')[4];

suite('setCells', () => {
  test("decimals, width and alignment of the contract's table", () => {
    const text = `${HEAD}        ,  800, 1200, 1600, 2000\n     30 , 42.0, 44.5, 47.0, 49.5   # tuned on the dyno\n     45 , 48.0, 51.0, 54.0, 57.0\n`;
    assert.equal(
      edited(text, { row: 0, column: 1, value: 48.11 }, { row: 1, column: 3, value: 102.26 }, { row: 1, column: 0, value: 9.96 }),
      `${HEAD}        ,  800, 1200, 1600, 2000\n     30 , 42.0, 48.1, 47.0, 49.5   # tuned on the dyno\n     45 , 10.0, 51.0, 54.0,102.3\n`,
    );
  });
  test('a shorter number leaves blanks so that columns stay under each other', () =>
    assert.equal(row('30 , 42.0, 44.5', 7.04), '30 ,  7.0, 44.5'));
  test('without blanks around nothing is padded', () => {
    assert.equal(row('30,42.0,44.5', 7.04), '30,7.0,44.5');
    assert.equal(row('30,42.0,44.5', 107.04), '30,107.0,44.5');
  });
  test('a number at the left of its field grows and shrinks to the right', () => {
    assert.equal(row('30,42.0  ,44.5', 107.04), '30,107.0 ,44.5');
    assert.equal(row('30,42.0  ,44.5', 7.04), '30,7.0   ,44.5');
  });
  test('decimal comma, semicolon, tab', () => {
    assert.equal(row('30;42,0;44,5', 43.19, ';800;1200').replace(/;44,5$/, ''), '30;43,2');
    assert.equal(
      edited(`${HEAD}\t800\t1200\n30\t42,0\t44,5\n45\t1,0\t2,0\n`, { row: 0, column: 1, value: 43.19 }).split('\n')[4],
      '30\t42,0\t43,2',
    );
  });
  test('quotes stay', () => assert.equal(row('"30","42.0","44.5"', 43.19), '"30","43.2","44.5"'));
  test("the author's signs: plus, no zero before the point, exponent", () => {
    assert.equal(row('30, +4.0, 5', 6.51), '30, +6.5, 5');
    assert.equal(row('30, .95, 5', 0.87), '30, .87, 5');
    assert.equal(row('30, 1.05e2, 5', 98.7), '30, 9.87e1, 5');
    assert.equal(row('30, 1.0, 5', -0.01), '30, 0.0, 5'.replace('0.0', '0.0'));
  });
  test("a whole number takes the decimals of the table's finest cell", () => assert.equal(row('30, 42, 44.25', 43.19), '30,43.19, 44.25'));
  test('a blank cell is filled, a cell that is not there is not', () => {
    assert.equal(row('30, , 44.5', 43.19), '30,43.2, 44.5');
    assert.equal(
      edited(`${HEAD},800,1200\n30,42.0\n45,1.0,2.0\n`, { row: 0, column: 1, value: 5 }),
      `${HEAD},800,1200\n30,42.0\n45,1.0,2.0\n`,
    );
  });
  test('values that are no numbers, and cells that are no cells, change nothing', () => {
    const text = `${HEAD},800,1200\n30,42.0,44.5\n45,1.0,2.0\n`;
    assert.equal(
      edited(
        text,
        { row: 0, column: 0, value: NaN },
        { row: 0, column: 1, value: Infinity },
        { row: 9, column: 0, value: 1 },
        { row: 0, column: 9, value: 1 },
        { row: -1, column: 0, value: 1 },
      ),
      text,
    );
  });

  const number = fc
    .tuple(fc.integer({ min: 100, max: 9999 }), fc.integer({ min: 0, max: 3 }))
    .map(([digits, decimals]) => (digits / 100).toFixed(decimals));
  const blanks = fc.constantFrom('', ' ', '  ', '    ');
  const tableText = fc
    .record({
      cells: fc.array(fc.array(fc.tuple(blanks, number, blanks), { minLength: 3, maxLength: 3 }), { minLength: 2, maxLength: 4 }),
      style: fc.constantFrom([',', '.'], [';', ','], ['\t', ','], [';', '.']),
      ending: fc.constantFrom('\n', '\r\n'),
      comment: fc.constantFrom('', ' # ignore cell-lean', '# §1, "x"; y'),
    })
    .map(({ cells, style: [delimiter, point], ending, comment }) =>
      [
        '# quantity: volumetric efficiency (%)',
        '# columns: engine speed (rpm)',
        '# rows: manifold pressure (kPa)',
        ['', '800', '1200', '1600'].join(delimiter),
        ...cells.map(
          (fields, i) =>
            [`${30 + i}`, ...fields.map(([before, text, behind]) => `${before}${text.replace('.', point)}${behind}`)].join(delimiter) +
            comment,
        ),
        '# the end',
      ].join(ending),
    );

  test('putting back what was read changes no byte', () => {
    fc.assert(
      fc.property(tableText, (text) => {
        const table = readTable(text);
        const cells = Array.from(table.values, (value, i) => ({ row: Math.floor(i / 3), column: i % 3, value }));
        return setCells(table, text, cells).length === 0;
      }),
    );
  });
  test("an edit is read back to the author's decimals, and all else stays as it was", () => {
    fc.assert(
      fc.property(tableText, fc.double({ min: 1, max: 300, noNaN: true }), fc.nat(1), fc.nat(2), (text, value, row, column) => {
        const before = readTable(text);
        const after = edited(text, { row, column, value });
        const table = readTable(after);
        assert.ok(Math.abs(table.values[row * 3 + column] - value) <= 0.5 + 1e-9);
        table.values.forEach((each, i) => {
          if (i !== row * 3 + column) assert.equal(each, before.values[i]);
        });
        const [linesBefore, linesAfter] = [text.split('\n'), after.split('\n')];
        assert.equal(linesAfter.length, linesBefore.length);
        linesAfter.forEach((line, i) => {
          if (i !== 4 + row) assert.equal(line, linesBefore[i]);
        });
        for (let other = 0; other < 3; other++) if (other !== column) assert.equal(table.cellText(row, other), before.cellText(row, other));
        assert.equal(linesAfter[4 + row].replace(/[\s\d.,;]/g, ''), linesBefore[4 + row].replace(/[\s\d.,;]/g, ''));
      }),
    );
  });
});
