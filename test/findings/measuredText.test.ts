// What is said beside λ measured and λ asked for: trims are named where they were logged and hide the want, and nowhere else.
// The numbers are arithmetic: fuel wanted = (λ measured / λ asked for) × (1 + trims), and a table is straight between its cells.

import assert from 'node:assert/strict';
import { measuredText } from '../../server/src/findings/cellEvidence.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import type { CellEvidence } from '../../server/src/fueling/evidence.js';
import { judge, weighSession } from '../../server/src/fueling/weigh.js';
import type { QuantityId } from '../../server/src/quantities/quantity.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { normalFrom, randomFrom, sessionOf } from '../fueling/tinyEngine.js';

const TABLE = readTable(
  '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,1000,2000,3000\n40,80,80,80\n70,80,80,80\n100,80,80,80\n',
);
const NOISE = normalFrom(randomFrom(3));

/** Two minutes at 70 kPa, half a minute at each speed; `of` gives the other columns by the speed. */
const weighed = (
  speeds: readonly number[],
  of: (rpm: number) => Partial<Record<QuantityId, number>>,
  now = TABLE,
): readonly CellEvidence[] => {
  const timeS = Array.from({ length: 3000 }, (_, i) => i * 0.04),
    rpmAt = (t: number): number => speeds[Math.floor(t / 30) % speeds.length];
  const names = Object.keys(of(speeds[0])) as QuantityId[];
  const signals = analyse(
    sessionOf(timeS, [
      { quantity: 'engine-speed', values: Float64Array.from(timeS, rpmAt) },
      { quantity: 'manifold-pressure', values: Float64Array.from(timeS, (t) => 70 + 0.3 * Math.sin(5 * t) + 0.1 * NOISE()) },
      ...names.map((quantity) => ({
        quantity,
        values: Float64Array.from(timeS, (t) => of(rpmAt(t))[quantity]! * (quantity === 'lambda' ? Math.exp(0.002 * NOISE()) : 1)),
      })),
    ]),
    EMPTY_VEHICLE,
  );
  return judge(now, [weighSession(signals, TABLE)]).cells;
};

suite('λ measured and asked for, in words', () => {
  test('trims that were logged and carry what the cell lacks are named', () => {
    const cell = weighed([2000], () => ({ lambda: 1, 'target-lambda': 1, 'short-term-fuel-trim': 4, 'long-term-fuel-trim': 8 }))[4];
    assert.ok(Math.abs(cell.trimmed - 0.1232) < 0.002 && Math.abs(cell.factor - 1.1232) < 0.002, `${cell.trimmed}, ${cell.factor}`);
    assert.equal(measuredText(cell), 'λ 1.00 measured, λ 1.00 asked for; the fuel trims make up the difference');
  });

  test('a cell further off than the readings between it and its neighbour is not the work of trims that nobody logged', () => {
    // The cell at 2000 is right and that at 3000 lacks 15 %: at 2400, four tenths of the way, 6 % are lacking.
    const cell = weighed([2000, 2400], (rpm) => ({ lambda: 0.9 * (1 + (0.15 * (rpm - 2000)) / 1000), 'target-lambda': 0.9 }))[5];
    assert.ok(
      cell.factor > 1.12 && Math.log(cell.measuredLambda / cell.targetLambda) < 0.5 * Math.log(cell.factor),
      `${cell.factor}, ${cell.measuredLambda}`,
    );
    assert.equal(measuredText(cell), 'λ 0.95 measured, λ 0.90 asked for');
  });

  test('a lambda read with another table is told as it would be with the one of now', () => {
    // 10 % lean with 80; with 84 there 10 % less 5 %: 0.8 × 1.1 × 80 / 84. Of two cells whose neighbour alone was changed, the readings
    // between them go half the way.
    const lean = (): Partial<Record<QuantityId, number>> => ({ lambda: 0.88, 'target-lambda': 0.8 });
    const changed = (...cells: number[]): typeof TABLE => ({
      ...TABLE,
      values: TABLE.values.map((value, at) => (cells.includes(at) ? 84 : value)),
    });
    assert.match(
      measuredText(weighed([2000], lean, changed(3, 4, 5))[4]),
      /^λ 0\.84 measured, reckoned for the table as it is now, λ 0\.80 asked for/,
    );
    const between = weighed([2500], lean, changed(5))[4];
    assert.ok(
      Math.abs(between.measuredLambda - 0.88 / 1.025) < 0.002 && Math.abs(between.loggedOverNow - 1 / 1.025) < 0.002,
      `${between.measuredLambda}`,
    );
    assert.match(measuredText(weighed([2000], lean)[4]), /^λ 0\.88 measured, λ 0\.80/);
  });

  test('a lambda that tells the whole want needs no word of trims, logged or not', () => {
    const cell = weighed([2000], () => ({ lambda: 0.93, 'target-lambda': 0.86, 'short-term-fuel-trim': 0 }))[4];
    assert.equal(measuredText(cell), 'λ 0.93 measured, λ 0.86 asked for');
  });
});
