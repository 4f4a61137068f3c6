// Looking up in tables: worked examples, and what any bilinear surface must do.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { lookup, weightsOn } from '../../server/src/formats/table/tableLookup.js';

const HEAD = '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n';
// c = 50, 60, 70, 90 at 1000 and 2000 rpm, 40 and 80 kPa: the corners of the worked example.
const UP = readTable(`${HEAD},1000,2000\n40,50,60\n80,70,90\n`);
const DOWN = readTable(`${HEAD},2000,1000\n80,90,70\n40,60,50\n`);

suite('lookup', () => {
  for (const [rpm, kPa, expected] of [
    [1500, 60, 67.5],
    [1250, 50, 58.125],
    [1000, 80, 70],
    [1750, 44, 60.25],
    [2600, 60, 75],
    [900, 20, 50],
  ]) {
    test(`at ${rpm} rpm, ${kPa} kPa: ${expected}, with axes up and down (derived by hand)`, () => {
      assert.equal(lookup(UP, rpm, kPa), expected);
      assert.ok(Math.abs(lookup(DOWN, rpm, kPa) - expected) < 1e-12);
    });
  }
  const CURVE = '# quantity: mass air flow (g/s)\n# columns: mass air flow signal (V)\n';
  test('a curve lying down and standing up: 24 g/s at 2.5 V, held at 4.7 V (derived by hand)', () => {
    const lying = readTable(`${CURVE},1,2,4\n,3,12,60\n`),
      standing = readTable(`${CURVE},\n1,3\n2,12\n4,60\n`);
    for (const [volts, expected] of [
      [2.5, 24],
      [4.7, 60],
      [0.2, 3],
    ]) {
      assert.equal(lookup(lying, volts, NaN), expected);
      assert.equal(lookup(standing, NaN, volts), expected);
    }
  });
  test('canonical units: a gauge axis in psi, a speed axis in krpm', () => {
    const table = readTable(
      '# quantity: VE (%)\n# columns: engine speed (krpm)\n# rows: manifold pressure (psi gauge)\n,1,2\n0,50,60\n10,70,90\n',
    );
    assert.ok(Math.abs(lookup(table, 1500, 101.325 + 5 * 6.894757293168) - 67.5) < 1e-9);
  });
  test('nothing is read off an unsound axis, a missing reading or a blank cell', () => {
    assert.ok(Number.isNaN(lookup(readTable(`${HEAD},1000,900,2000\n40,50,60,70\n80,70,90,95\n`), 1500, 60)));
    assert.ok(Number.isNaN(lookup(UP, NaN, 60)));
    const blank = readTable(`${HEAD},1000,2000\n40,50,\n80,70,90\n`);
    assert.ok(Number.isNaN(lookup(blank, 1500, 60)));
    assert.equal(lookup(blank, 1000, 60), 60); // the blank cell has no weight there
    assert.ok(Number.isNaN(lookup(readTable(''), 1, 1)));
  });

  const axis = (min: number): fc.Arbitrary<number[]> =>
    fc.uniqueArray(fc.integer({ min, max: min + 9000 }), { minLength: 2, maxLength: 6 }).map((values) => values.sort((a, b) => a - b));
  test('a plane comes back as the plane, inside; the edge is held outside', () => {
    fc.assert(
      fc.property(
        axis(500),
        axis(10),
        fc.boolean(),
        fc.double({ min: -1, max: 2, noNaN: true }),
        fc.double({ min: -1, max: 2, noNaN: true }),
        (columns, rows, down, u, v) => {
          const plane = (x: number, y: number): number => 3 + x / 100 + y / 10;
          if (down) rows.reverse();
          const table = readTable(
            `${HEAD},${columns.join(',')}\n${rows.map((y) => [y, ...columns.map((x) => plane(x, y))].join(',')).join('\n')}\n`,
          );
          const [low, high] = [Math.min(...rows), Math.max(...rows)];
          const x = columns[0] + u * (columns[columns.length - 1] - columns[0]),
            y = low + v * (high - low);
          const held = (value: number, from: number, to: number): number => Math.min(Math.max(value, from), to);
          assert.ok(Math.abs(lookup(table, x, y) - plane(held(x, columns[0], columns[columns.length - 1]), held(y, low, high))) < 1e-6);
          const { index, fraction } = weightsOn(table.columns, x);
          assert.ok(index >= 0 && index <= columns.length - 2 && fraction >= 0 && fraction <= 1);
        },
      ),
    );
  });
});
