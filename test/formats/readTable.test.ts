// Tables in every dress that the format allows, and in those it does not: read, placed, never thrown over.

import assert from 'node:assert/strict';
import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { tableFindings } from '../../server/src/findings/check.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { readGrid } from '../../server/src/formats/table/tableText.js';
import type { Range } from '../../server/src/formats/range.js';
import type { Table } from '../../server/src/formats/table/table.js';

const HEAD = '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n';
const CONTRACT = `${HEAD}        ,  800, 1200, 1600, 2000\n     30 , 42.0, 44.5, 47.0, 49.5\n     45 , 48.0, 51.0, 54.0, 57.0\n`;

const textAt = (text: string, { start, end }: Range): string => text.split(/\r\n|\r|\n/)[start.line].slice(start.character, end.character);
const kinds = (table: Table): string[] => table.problems.map(({ code, kind }) => `${code} ${kind}`);
const rows = (table: Table): number[][] =>
  Array.from(table.rows.values, (_, row) => [
    ...table.values.subarray(row * table.columns.values.length, (row + 1) * table.columns.values.length),
  ]);

suite('readTable', () => {
  test('the table of the contract', () => {
    const table = readTable(CONTRACT);
    assert.deepEqual(kinds(table), []);
    assert.equal(table.quantity, 'volumetric-efficiency');
    assert.equal(table.unit?.id, '%');
    assert.equal(table.dimensions, 2);
    assert.deepEqual(
      [table.columns.quantity, table.columns.unit?.id, [...table.columns.values]],
      ['engine-speed', 'rpm', [800, 1200, 1600, 2000]],
    );
    assert.deepEqual([table.rows.quantity, table.rows.unit?.id, [...table.rows.values]], ['manifold-pressure', 'kPa', [30, 45]]);
    assert.deepEqual(rows(table), [
      [42, 44.5, 47, 49.5],
      [48, 51, 54, 57],
    ]);
    assert.equal(table.cellText(1, 2), '54.0');
    assert.equal(textAt(CONTRACT, table.cellRange(1, 2)), '54.0');
    assert.equal(textAt(CONTRACT, table.columns.ranges[0]), '800');
    assert.equal(textAt(CONTRACT, table.rows.ranges[1]), '45');
    assert.equal(table.metadata.get('columns'), 'engine speed (rpm)');
  });
  test('what stands at a place', () => {
    const table = readTable(CONTRACT);
    const { start, end } = table.cellRange(1, 3);
    assert.deepEqual(table.at(start.line, start.character), { row: 1, column: 3 });
    assert.deepEqual(table.at(end.line, end.character), { row: 1, column: 3 });
    assert.deepEqual(table.at(3, 12), { row: -1, column: 0 });
    assert.deepEqual(table.at(4, 5), { row: 0, column: -1 });
    for (const [line, character] of [
      [0, 5],
      [3, 2],
      [99, 0],
    ])
      assert.equal(table.at(line, character), undefined, `${line}:${character}`);
  });

  const same = (name: string, text: string): Mocha.Test =>
    test(`${name} reads the same`, () => {
      const table = readTable(text);
      assert.deepEqual(kinds(table), []);
      assert.deepEqual(rows(table), [
        [42, 44.5],
        [48, 51.25],
      ]);
      assert.deepEqual([...table.columns.values, ...table.rows.values], [800, 1200, 30, 45]);
      for (const [row, column, value] of [
        [0, 1, 44.5],
        [1, 1, 51.25],
      ])
        assert.equal(Number(textAt(text, table.cellRange(row, column)).replace(',', '.')), value);
    });
  same('a comma', `${HEAD},800,1200\n30,42,44.5\n45,48,51.25\n`);
  same('a semicolon with decimal commas', `${HEAD};800;1200\n30;42,0;44,5\n45;48,0;51,25\n`);
  same('a tab with decimal commas', `${HEAD}\t800\t1200\n30\t42,0\t44,5\n45\t48,0\t51,25\n`);
  same('a semicolon with decimal points', `${HEAD};800;1200\n30;42.0;44.5\n45;48.0;51.25\n`);
  same('CR LF', `${HEAD},800,1200\n30,42,44.5\n45,48,51.25\n`.replaceAll('\n', '\r\n'));
  same('CR alone', `${HEAD},800,1200\n30,42,44.5\n45,48,51.25\n`.replaceAll('\n', '\r'));
  same('a byte order mark', `\ufeff${HEAD},800,1200\n30,42,44.5\n45,48,51.25\n`);
  same(
    'trailing delimiters, also behind the head lines',
    `# quantity: volumetric efficiency (%),,,\n# columns: engine speed (rpm),,,\n# rows: manifold pressure (kPa),,,\n,800,1200,\n30,42,44.5,\n45,48,51.25,\n`,
  );
  same('quotes', `${HEAD}"","800","1200"\n"30","42"," 44.5 "\n"45","48","51,25"\n`);
  same(
    'comments and blank lines anywhere',
    `# free words\n${HEAD}\n,800,1200 # header\n# between: yes\n30,42,44.5 # behind\n\n45,48,51.25\n# at the end`,
  );
  same(
    'head lines in square brackets and other case',
    '# Quantity: VE [%]\n# COLUMNS: RPM [1/min]\n# Rows: MAP [kPa abs]\n,800,1200\n30,42,44.5\n45,48,51.25\n',
  );
  same('an empty spreadsheet line before the grid', `${HEAD},,,,\n,800,1200,,\n30,42,44.5,,\n45,48,51.25,,\n`);
  same('head lines below the grid', `,800,1200\n30,42,44.5\n45,48,51.25\n${HEAD}`);
  same('blanks and tabs between commas', `${HEAD}\t ,\t800,\t1200\n30,\t42.0,\t44.5\n45 ,\t48.0,\t51.25\n`);

  const CURVE = '# quantity: mass air flow (g/s)\n# columns: mass air flow signal (V)\n';
  test('one row: a transfer curve, the head empty, a number or a word, rows left out', () => {
    for (const head of ['', '0', 'flow', '1']) {
      const table = readTable(`${CURVE},1.0,2.0,4.0\n${head},3,12,60\n`);
      assert.deepEqual(kinds(table), [], head);
      assert.equal(table.dimensions, 1);
      assert.deepEqual(
        [table.columns.quantity, [...table.columns.values], [...table.values]],
        ['mass-air-flow-signal', [1, 2, 4], [3, 12, 60]],
      );
      assert.equal(table.rows.values.length, 1);
    }
  });
  test('one column: the same curve standing up', () => {
    for (const head of ['', '0', ' ']) {
      for (const lines of [CURVE, CURVE.replace('# columns', '# rows')]) {
        const table = readTable(`${lines},${head}\n1.0,3\n2.0,12\n4.0,60\n`);
        assert.deepEqual(kinds(table), []);
        assert.equal(table.dimensions, 1);
        assert.deepEqual(
          [table.rows.quantity, [...table.rows.values], [...table.values]],
          ['mass-air-flow-signal', [1, 2, 4], [3, 12, 60]],
        );
        assert.equal(table.columns.values.length, 1);
      }
    }
  });
  test('a curve without a line of heads: its first point is not dropped in silence', () => {
    assert.deepEqual(kinds(readTable(`${CURVE}1.0,3\n2.0,12\n4.0,60\n`)), ['row-ragged corner-number']);
  });
  test('a header without a corner is read, and said', () => {
    const table = readTable(`${HEAD}800,1200\n30,42,44.5\n45,48,51\n`);
    assert.deepEqual(kinds(table), ['row-ragged corner-left-out']);
    assert.deepEqual([...table.columns.values], [800, 1200]);
    assert.deepEqual(table.at(3, 0), { row: -1, column: 0 });
  });

  test('axes down are sound; a repeat and a turn are told at the breakpoint', () => {
    assert.deepEqual(kinds(readTable(`${HEAD},2000,800\n45,42,44\n30,48,51\n`)), []);
    const text = `${HEAD},800,800,1600\n30,42,44,46\n60,48,51,54\n45,48,51,54\n75,48,51,54\n`;
    const table = readTable(text);
    assert.deepEqual(kinds(table), ['axis-not-monotonic repeated', 'axis-not-monotonic turns']);
    assert.deepEqual(
      table.problems.map(({ range: place }) => [place.start.line, textAt(text, place)]),
      [
        [3, '800'],
        [6, '45'],
      ],
    );
  });
  test("a target as fuel over air is lambda's inverse", () => {
    // Heywood ch. 3: φ = 1/λ.
    for (const [head, unit] of [
      ['target equivalence ratio (φ)', 'phi'],
      ['target phi', 'phi'],
      ['target lambda (φ)', 'phi'],
      ['equivalence ratio (λ)', 'lambda'],
    ] as const) {
      const table = readTable(`${HEAD.replace(/# quantity:.*/, `# quantity: ${head}`)},800,1600\n30,1.25,1\n60,1,1.25\n`);
      assert.deepEqual([table.quantity, table.unit?.id], ['target-lambda', unit]);
    }
  });
  test('a breakpoint that no engine has is told in its own unit and in the usual one', () => {
    const table = readTable(`${HEAD.replace('manifold pressure (kPa)', 'manifold pressure (psi)')},800,1600\n30,42,44\n80,48,51\n`);
    // 1 psi = 6.894757 kPa, NIST SP 811.
    assert.match(
      tableFindings({ table, vehicle: undefined, evidence: undefined }).find(({ code }) => code === 'value-implausible')!.message,
      /^80 psi \(552 kPa\) is no manifold pressure/,
    );
  });
  test('a title and empty lines above the grid, and empty columns behind it, as a spreadsheet exports them, are passed over', () => {
    const grid = ';800;1200;1600;;\n30;42,1;44,5;46,0;;\n45;48,0;51,5;54,0;;\n;;;;;\n',
      plain = readTable(HEAD + grid);
    for (const above of ['Fuel map Rev C;;;;;\n;;;;;\n', ';;;;;\nFuel map\nRev C;;;;;\n']) {
      const table = readTable(HEAD + above + grid);
      assert.deepEqual([kinds(table), rows(table), [...table.columns.values]], [[], rows(plain), [800, 1200, 1600]]);
      assert.equal(table.cellRange(0, 0).start.line, plain.cellRange(0, 0).start.line + above.split('\n').length - 1);
    }
    // A row of one text that nothing but numbers follows may be a header without its breakpoints: that is told.
    assert.ok(readTable(`${HEAD}rpm;;;\n30;42;44;46\n45;48;51;54\n`).problems.length > 0);
  });
  test('ragged and cut-off rows', () => {
    const table = readTable(`${HEAD},800,1200,1600\n30,42,44\n45,48,51,54,57\n60,48,5`);
    assert.deepEqual(kinds(table), ['row-ragged too-few', 'row-ragged too-many', 'row-ragged cut-off', 'value-implausible cell']);
    assert.deepEqual(rows(table), [
      [42, 44, NaN],
      [48, 51, 54],
      [48, 5, NaN],
    ]);
    assert.deepEqual(table.problems[0].data, { expected: 3, found: 2 });
  });
  test('cells that are no numbers, at their places', () => {
    const text = `${HEAD},800,x,1600\n30,4O.0,,1e999\n`;
    const table = readTable(text.replace('30,', '30,').concat('45,48,51,54\n'));
    assert.deepEqual(kinds(table), [
      'value-not-a-number breakpoint-text',
      'value-not-a-number text',
      'value-not-a-number blank',
      'value-not-a-number too-large',
    ]);
    assert.deepEqual(
      table.problems.map(({ range: place }) => textAt(text, place)),
      ['x', '4O.0', '', '1e999'],
    );
    assert.deepEqual(rows(table), [
      [NaN, NaN, NaN],
      [48, 51, 54],
    ]);
  });
  test('columns count in UTF-16', () => {
    const text = `${HEAD},800,1200\n30,"𝄞",44\n45,48,51\n`;
    const table = readTable(text);
    assert.equal(textAt(text, table.cellRange(0, 1)), '44');
    assert.deepEqual(table.cellRange(0, 0), { start: { line: 4, character: 4 }, end: { line: 4, character: 6 } });
  });
  test('what silences findings: the file and single rows', () => {
    const table = readTable(`# ignore: cell-lean, cell-rough\n${HEAD},800,1200\n30,42,44 # ignore cell-rich\n45,48,51 # was 50\n`);
    assert.deepEqual(table.ignored, ['cell-lean', 'cell-rough']);
    assert.deepEqual([...table.ignoredInRow], [[0, ['cell-rich']]]);
  });

  const named = (quantity: string): [string | undefined, string | undefined, string | undefined, string[]] => {
    const table = readTable(`# quantity: ${quantity}\n# columns: engine speed (rpm)\n# rows: throttle (%)\n,800,1200\n10,1,1\n20,1,1\n`);
    return [table.quantity, table.unit?.id, table.unit?.fuel, kinds(table).filter((kind) => !kind.startsWith('value'))];
  };
  test('every quantity of the contract', () => {
    for (const [text, quantity, unit, fuel] of [
      ['volumetric efficiency (%)', 'volumetric-efficiency', '%'],
      ['fuel mass (mg)', 'fuel-mass', 'mg'],
      ['injector pulse width (ms)', 'injector-pulse-width', 'ms'],
      ['mass air flow (g/s)', 'mass-air-flow', 'g/s'],
      ['multiplier', 'multiplier', 'count'],
      ['target lambda', 'target-lambda', 'lambda'],
      ['target AFR', 'target-afr', 'afr'],
      ['target AFR (E85)', 'target-afr', 'afr', 'E85'],
      ['target AFR E85', 'target-afr', 'afr', 'E85'],
      ['ignition advance (deg)', 'ignition-advance', 'deg'],
      ['manifold pressure target (kPa)', 'manifold-pressure-target', 'kPa'],
      ['target lambda (λ)', 'target-lambda', 'lambda'],
      ['injector-pulse-width (us)', 'injector-pulse-width', 'us'],
      ['target AFR (AFR E10)', 'target-afr', 'afr', 'E10'],
      ['multiplier (%)', 'multiplier', '%'],
    ])
      assert.deepEqual(named(text), [quantity, unit, fuel, []], text);
  });
  test('what is missing or unknown is assumed and said', () => {
    assert.deepEqual(named('volumetric efficiency'), ['volumetric-efficiency', '%', undefined, ['unit-unknown unit-missing']]);
    assert.deepEqual(named('fuel mass (stone)'), ['fuel-mass', 'mg', undefined, ['unit-unknown unit-unknown']]);
    assert.deepEqual(named('happiness (%)'), [undefined, '%', undefined, ['unit-unknown quantity-unknown']]);
    assert.deepEqual(kinds(readTable(',800,1200\n30,42,44\n45,48,51\n')), [
      'unit-unknown line-missing',
      'unit-unknown line-missing',
      'unit-unknown line-missing',
    ]);
    const axis = readTable(
      '# quantity: VE (%)\n# columns: engine speed (furlong)\n# rows: manifold pressure\n,800,1200\n30,42,44\n45,48,51\n',
    );
    assert.deepEqual(
      axis.problems.map(({ kind, data }) => [kind, data.assumed]),
      [
        ['unit-unknown', 'rpm'],
        ['unit-missing', 'kPa'],
      ],
    );
  });
  test('a gauge axis is made absolute, and the air it assumes is said', () => {
    const text =
      '# quantity: VE (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (psi gauge)\n,800,1200\n0,42,44\n14.5,48,51\n';
    const assumed = readTable(text);
    assert.deepEqual(kinds(assumed), ['unit-unknown barometer-assumed']);
    assert.ok(Math.abs(assumed.rows.canonical[1] - 201.299) < 0.001);
    const known = readTable(text, { barometerKPa: 84 });
    assert.deepEqual(kinds(known), []);
    assert.ok(Math.abs(known.rows.canonical[1] - 183.974) < 0.001);
  });
  test('values that no engine has', () => {
    const table = readTable(`${HEAD},800,1200\n30,4.2,44\n45,48,510\n`);
    assert.deepEqual(
      table.problems.map(({ kind, data }) => [kind, data.written]),
      [
        ['cell', 4.2],
        ['cell', 510],
      ],
    );
  });
  test('behind a throttle that is nearly closed an engine may fill to a few per cent of the air outside, and never to nothing', () => {
    const table = readTable(
      '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: throttle (%)\n,800,4000,8000\n0,42.9,9.7,5.6\n4,50.2,13.7,0.4\n48,60.6,8.3,85.2\n',
    );
    assert.deepEqual(
      table.problems.map(({ kind, data }) => [kind, data.written]),
      [
        ['cell', 0.4],
        ['cell', 8.3],
      ],
    );
  });

  test('nothing, a binary, and what is no table', () => {
    assert.deepEqual(kinds(readTable('')), ['row-ragged no-grid']);
    assert.deepEqual(kinds(readTable('\u0000\u0001PNG')), ['value-not-a-number binary']);
    assert.deepEqual(kinds(readTable('# quantity: VE (%)\n')), ['row-ragged no-grid']);
    assert.ok(readTable('to whom it may concern\nhello\n').problems.length > 0);
    assert.ok(readTable('"never closed, 800\n30, 42').problems.length > 0);
  });
  test('more rows or columns than a table has are left out and said', () => {
    const wide = `${HEAD},${Array.from({ length: 20_000 }, (_, i) => i).join(',')}\n${'30,42\n'.repeat(20_000)}`;
    const table = readTable(wide);
    assert.deepEqual([table.columns.values.length, table.rows.values.length], [512, 512]);
    assert.ok(kinds(table).includes('row-ragged rows-left-out') && kinds(table).includes('row-ragged columns-left-out'));
    assert.ok(table.problems.length < 200);
  });
  test('long hostile texts come to an end', () => {
    for (const text of [
      '('.repeat(1e6),
      `# columns: ${'('.repeat(1e6)}\n,1\n`,
      '1'.repeat(1e6),
      '"'.repeat(1e6),
      ','.repeat(1e6),
      '#'.repeat(1e6),
      '\n'.repeat(1e6),
      ' '.repeat(1e6),
      `# ${' '.repeat(1e6)}x`,
      '#,;"'.repeat(2e5),
      `,${' '.repeat(1e6)}1`,
    ]) {
      assert.ok(readTable(text).problems.length > 0, `nothing is said of ${text.slice(0, 20)}…`);
    }
  });

  test('splits fields as csv-parse does', () => {
    const cell = fc.oneof(fc.constantFrom('', '1', '2.5', ' 3 ', '"4"', '"a,b"', '"c""d"', 'x y'));
    fc.assert(
      fc.property(fc.array(fc.array(cell, { minLength: 2, maxLength: 6 }), { minLength: 1, maxLength: 5 }), (cells) => {
        const text = [['', '1', '2', '3', '4', '5'], ...cells].map((row) => row.join(',')).join('\n');
        const theirs = (parse(text, { relax_column_count: true, trim: true, skip_records_with_empty_values: true }) as string[][]).map(
          (row) => row.map((field) => field.trim()),
        );
        assert.deepEqual(
          readGrid(text).rows.map(({ fields }) => fields.map((field) => field.text)),
          theirs,
        );
      }),
    );
  });
  const anyText = fc.oneof(
    fc.string({ unit: 'binary', maxLength: 300 }),
    fc
      .array(
        fc.constantFrom(
          ',',
          ';',
          '\t',
          '"',
          '#',
          '\n',
          '\r\n',
          '\r',
          ' ',
          '1',
          '2.5',
          '3,5',
          '-',
          'e',
          '# quantity: VE (%)\n',
          '# columns: engine speed (rpm)\n',
          '# rows: MAP (psi gauge)\n',
          '# ignore: cell-lean\n',
          '𝄞',
          '\ufeff',
          '\0',
        ),
        { maxLength: 120 },
      )
      .map((parts) => parts.join('')),
  );
  test('any text is read without a throw, and every place lies inside it', () => {
    fc.assert(
      fc.property(anyText, (text) => {
        const table = readTable(text);
        const lines = text.split(/\r\n|\r|\n/);
        const check = ({ start, end }: Range): void => {
          assert.ok(start.line === end.line && start.line >= 0 && start.line < lines.length, 'line');
          assert.ok(
            start.character >= 0 && start.character <= end.character && end.character <= lines[end.line].length,
            `${start.character} ${end.character} in ${JSON.stringify(lines[end.line])}`,
          );
        };
        check(table.headRange);
        for (const problem of table.problems) check(problem.range);
        for (const place of [...table.columns.ranges, ...table.rows.ranges]) check(place);
        assert.equal(table.values.length, table.rows.values.length * table.columns.values.length);
        for (let row = 0; row < table.rows.values.length; row++)
          for (let column = 0; column < table.columns.values.length; column++) {
            check(table.cellRange(row, column));
            if (!table.cellText(row, column).includes('"'))
              assert.equal(textAt(text, table.cellRange(row, column)).replaceAll('""', '"'), table.cellText(row, column));
          }
      }),
      { numRuns: 1000 },
    );
  });
});
