// Evidence that asks for less fuel by another thing's doing. The oracles are ratios: of stoichiometric air-fuel ratios (propane 15.68 by
// its formula C3H8, gasoline's scale 14.7), and of two straight lines, a lambda and the same number read through a voltage's scale.

import assert from 'node:assert/strict';
import { heldCells } from '../../server/src/fueling/doubts/gate.js';
import type { CellEvidence } from '../../server/src/fueling/evidence.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { randomOf, runSeed } from '../support/simulator/random.js';

const COLUMNS = 8,
  ROWS = 5,
  { next: random } = randomOf(runSeed());
const grid = [
  '# quantity: volumetric efficiency (%)',
  '# columns: engine speed (rpm)',
  '# rows: manifold pressure (kPa)',
  `, ${Array.from({ length: COLUMNS }, (_, column) => 1000 + 700 * column).join(', ')}`,
  ...[40, 60, 80, 130, 170].map((kPa) => `${kPa}, ${Array.from({ length: COLUMNS }, () => 80).join(', ')}`),
].join('\n');

const heldBy = async (factorAt: (row: number) => number, blend: string, byTrims = false) => {
  const cells = Array.from({ length: COLUMNS * ROWS }, (_, at) => {
    const row = Math.floor(at / COLUMNS);
    return {
      row,
      column: at % COLUMNS,
      value: 80,
      proof: 'firm',
      factor: factorAt(row) * (1 + 0.006 * (random() - 0.5)),
      targetLambda: row > 2 ? 0.82 : 1,
      measuredLambda: (row > 2 ? 0.82 : 1) * (byTrims ? 1 : factorAt(row)),
      manifoldPressureKPa: NaN,
    } as CellEvidence;
  });
  const held = heldCells(readTable(grid), { cells }, [], {
    vehicle: { fuel: { blend }, limits: { sharedCausePercent: 1000 } },
    target: undefined,
  });
  return (row: number) => new Set(Array.from({ length: COLUMNS }, (_, column) => held.get(COLUMNS * row + column)));
};

suite("fuel that is not the table's to give", () => {
  test('a lambda read through the scale of a voltage is far off at cruise, and takes nothing out under boost', async () => {
    // [[0, 0.5], [5, 1.5]] over a number that is lambda already: 0.5 + 0.2 λ. Cruise (λ 1) reads 0.70: 30.5 % with noise; boost, truly 0.90
    // for 0.82, reads 0.68: 17 % less fuel.
    const read = (lambda: number) => 0.5 + 0.2 * lambda;
    const held = await heldBy((row) => (row > 2 ? read(0.9) / 0.82 : read(0.97) / 1), 'E10');
    assert.deepEqual(held(0), new Set(['too-far']));
    assert.deepEqual(held(4), new Set(['far-beside']));
  });
  test("a target in AFR of propane that is read on gasoline's scale takes nothing out", async () => {
    const held = await heldBy(() => 14.7 / 15.68, 'LPG');
    for (let row = 0; row < ROWS; row++) assert.deepEqual(held(row), new Set(['scale']));
  });
  test("a table that holds 6 % too much for gasoline, some cells of it far more, or too little, is the table's", async () => {
    for (const held of [
      await heldBy(() => 14.7 / 15.68, 'E0'),
      await heldBy((row) => (row === 0 ? 0.92 : 0.95), 'LPG'),
      await heldBy(() => 15.68 / 14.7, 'LPG'),
      await heldBy(() => 14.7 / 15.68, 'LPG', true),
      await heldBy(() => 14.09 / 14.7, 'E10'),
    ])
      assert.deepEqual(held(4), new Set(['not-driven-since']));
  });
});
