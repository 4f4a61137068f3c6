// What changed between two tables: verdicts and jumps by hand-made evidence, other breakpoints against values worked out by hand.

import assert from 'node:assert/strict';
import { readTable } from '../../server/src/formats/table/readTable.js';
import type { Table } from '../../server/src/formats/table/table.js';
import type { CellEvidence, Evidence, Proof } from '../../server/src/fueling/evidence.js';
import { diffTables, type TableDiff } from '../../server/src/fueling/change/tableDiff.js';

const table = (cells: string, head = 'volumetric efficiency (%)', rows = 'manifold pressure (kPa)'): Table =>
  readTable(`# quantity: ${head}\n# columns: engine speed (rpm)\n# rows: ${rows}\n${cells}`);
const GRID = ',1000,2000,3000\n40,50,52,54\n80,60,62,64\n120,70,72,74\n';
const changed = (old: Table, now: Table, evidence?: Evidence): TableDiff => {
  const diff = diffTables(old, now, evidence);
  assert.ok(!('refused' in diff), JSON.stringify(diff));
  return diff;
};
/** Every cell wants `factor` of what `old` holds, give or take `half`. */
const evidenceOn = (now: Table, old: Table, factor: number, half: number, proof: Proof): Evidence => ({
  sessions: [],
  cells: Array.from(now.values, (value, cell) => {
    const required = factor * old.values[cell];
    return {
      row: 0,
      column: 0,
      value,
      factor: required / value,
      factorLow: (required * (1 - half)) / value,
      factorHigh: (required * (1 + half)) / value,
      proof,
      samples: 100,
    } as unknown as CellEvidence;
  }),
});
const verdict = (newText: string, factor: number, half: number, proof: Proof): string | undefined => {
  const [old, now] = [table(GRID), table(GRID.replace('62', newText))];
  const { cells } = changed(old, now, evidenceOn(now, old, factor, half, proof));
  assert.equal(cells.length, 1);
  return cells[0].verdict;
};

suite('tableDiff', () => {
  test('what the evidence said of a change', () => {
    // 62 should be 1.08 × 62 = 66.96, from 65.62 to 68.30 (2 %).
    assert.equal(verdict('67', 1.08, 0.02, 'firm'), 'proven');
    assert.equal(verdict('64', 1.08, 0.02, 'firm'), 'proven', 'part of the way');
    assert.equal(verdict('70', 1.08, 0.02, 'firm'), 'against', 'past the interval');
    assert.equal(verdict('61', 1.08, 0.02, 'firm'), 'against', 'away from it');
    assert.equal(verdict('67', 1.08, 0.02, 'thin'), 'within');
    assert.equal(verdict('64', 1.08, 0.02, 'thin'), 'toward');
    assert.equal(verdict('60', 1.08, 0.02, 'thin'), 'against');
    assert.equal(verdict('62.5', 1, 0.02, 'firm'), 'within', 'nobody asked for it, and nothing speaks against it');
    assert.equal(verdict('59', 0.95, 0.01, 'firm'), 'proven', '58.9 is wanted');
    assert.equal(verdict('67', 1.08, 0.02, 'none'), 'no-evidence');
  });

  test('per cent, counts, order: what is to be looked at first comes first', () => {
    const [old, now] = [table(GRID), table(GRID.replace('50,', '55,').replace('74', '66.6'))];
    const { cells, counts, sameAxes } = changed(old, now);
    assert.equal(sameAxes, true);
    assert.deepEqual(
      cells.map(({ row, column, before, after, percent }) => [row, column, before, after, Number(percent.toFixed(6))]),
      [
        [0, 0, 50, 55, 10],
        [2, 2, 74, 66.6, -10],
      ],
    );
    assert.equal(counts.changed, 2);
    assert.deepEqual(
      changed(old, table(GRID.replaceAll(',', ' , ').replace('50', '50.00'))).cells,
      [],
      'spacing and decimals are no change',
    );
  });

  test('a change unlike that of every neighbour jumps; a raised block does not', () => {
    const raise = (factor: number, at: readonly number[]): TableDiff => {
      const old = table(GRID);
      let cell = -1;
      const text = GRID.split('\n')
        .map((line, row) =>
          row === 0
            ? line
            : line
                .split(',')
                .map((part, column) => {
                  if (column === 0 || part === '') return part;
                  cell++;
                  return at.includes(cell) ? String(Number(part) * factor) : part;
                })
                .join(','),
        )
        .join('\n');
      return changed(old, table(text));
    };
    assert.deepEqual(
      raise(1.06, [4]).cells.map(({ jumps }) => jumps),
      [true],
    );
    assert.deepEqual(
      raise(0.94, [8]).cells.map(({ jumps }) => jumps),
      [true],
      'in a corner too',
    );
    assert.deepEqual(
      raise(1.04, [4]).cells.map(({ jumps }) => jumps),
      [false],
    );
    assert.equal(raise(1.1, [3, 4, 5]).counts.jumps, 0);
  });

  test('other breakpoints: read between them, held at the edge, lost points told', () => {
    const old = table(GRID);
    // Bilinear by hand: 1500/60 is (50 + 52 + 60 + 62) / 4 = 56; 4000/120 is the edge, 74.
    const now = table(',1500,4000\n60,56,59\n120,71,80\n');
    const { cells, sameAxes, lost } = changed(old, now);
    assert.equal(sameAxes, false);
    assert.deepEqual(
      cells.map(({ row, column, before, after, beyondOld }) => [row, column, before, after, beyondOld]),
      [[1, 1, 74, 80, true]],
    );
    // At 3000/120 the new table reads 71 + 9 × 0.6 = 76.4 for 74.
    const point = lost.find(({ columnValue, rowValue }) => columnValue === 3000 && rowValue === 120)!;
    assert.ok(Math.abs(point.after - 76.4) < 1e-9 && point.before === 74);
  });

  test('one dimension, spark in degrees, blanks and zero', () => {
    const curve = (values: string): Table =>
      readTable(`# quantity: mass air flow (g/s)\n# columns: mass air flow signal (V)\n,1,2,3\n,${values}\n`);
    assert.deepEqual(
      changed(curve('2,10,40'), curve('2,11,40')).cells.map(({ column, percent, jumps }) => [column, Math.round(percent), jumps]),
      [[1, 10, true]],
    );
    const spark = (cell: string): Table => table(GRID.replace('62', cell), 'ignition advance (deg)');
    assert.deepEqual(
      changed(spark('62'), spark('59.5')).cells.map(({ jumps }) => jumps),
      [false],
    );
    assert.deepEqual(
      changed(spark('62'), spark('58')).cells.map(({ jumps }) => jumps),
      [true],
    );
    const [blank] = changed(table(GRID.replace('62', '')), table(GRID)).cells;
    assert.ok(Number.isNaN(blank.before) && Number.isNaN(blank.percent) && blank.after === 62);
    const [zero] = changed(spark('0'), spark('2')).cells;
    assert.ok(Number.isNaN(zero.percent) && zero.before === 0);
  });

  test('tables that do not hold the same are refused in plain words', () => {
    const refused = (old: Table, now: Table, says: RegExp): void => {
      const diff = diffTables(old, now);
      assert.ok('refused' in diff && says.test(diff.refused), JSON.stringify(diff));
    };
    refused(table(GRID), table(GRID, 'ignition advance (deg)'), /holds volumetric efficiency, the new one ignition advance/);
    refused(
      table(GRID),
      table(GRID, 'volumetric efficiency (%)', 'throttle (%)'),
      /rows of the old one are manifold pressure, those of the new one throttle/,
    );
    refused(table(GRID), table(',1000,2000\n40,50,52\n'), /grid and the other a single row/);
    refused(table(GRID), table(GRID.replace('2000', '900')), /columns differ, and those of the new one do not run one way/);
    refused(table(''), table(GRID), /no cells|holds|grid/);
  });
});
