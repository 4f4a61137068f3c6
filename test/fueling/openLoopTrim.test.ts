// A long-term trim that is shown at full load. That many computers show it there and do without it is common practice, no source; the
// factor itself is the contract's: measured / target × (1 + short) × (1 + long).

import assert from 'node:assert/strict';
import { judgedOnStreet, streetDrive } from '../support/oneTableCar.js';

interface Car {
  readonly target: number;
  readonly long: number;
  readonly swings?: boolean;
  readonly rests?: number;
  readonly trims?: readonly string[];
  readonly lambda?: string;
}

const judged = ({
  target,
  long,
  swings = false,
  rests = 0,
  trims = ['Short Term Fuel Trim (%)', 'Long Term Fuel Trim (%)'],
  lambda = 'Lambda (λ)',
}: Car) =>
  judgedOnStreet(
    streetDrive(['Coolant Temperature (°C),Target Lambda (λ)', lambda, ...trims].join(','), (timeS, row) => [
      '88',
      target.toFixed(3),
      (target * (1 + 0.004 * Math.sin(row * 2.3))).toFixed(3),
      ...(trims.length > 1 ? [(swings ? 1.2 * Math.sin(timeS * 4.4) : rests).toFixed(1)] : []),
      long.toFixed(1),
    ]),
  );

suite('a long-term trim in open loop', () => {
  test('that takes fuel away on a rich target is weighed, and none is taken out by it', async () => {
    const { cells, offered, held } = await judged({ target: 0.86, long: -9 });
    const proven = cells.filter(({ proof }) => proof === 'firm');
    assert.ok(proven.length > 2);
    for (const { factorLow, factorHigh } of proven) assert.ok(factorLow < 0.91 && factorHigh > 0.91, `${factorLow} to ${factorHigh}`);
    assert.deepEqual([[...held], offered], [['open-loop-trim'], 0]);
  });
  test('is one where the short trim rests beside nought, where none is logged, and on bank 2', async () => {
    for (const car of [
      { target: 0.86, long: -9, rests: -0.8 },
      { target: 0.86, long: -9, trims: ['Long Term Fuel Trim (%)'] },
      { target: 0.86, long: -9, trims: ['Short Term Fuel Trim Bank 2 (%)', 'Long Term Fuel Trim Bank 2 (%)'], lambda: 'Lambda Bank 2 (λ)' },
    ]) {
      const { offered, held } = await judged(car);
      assert.deepEqual([[...held], offered], [['open-loop-trim'], 0], JSON.stringify(car));
    }
  });
  test('is no doubt where it adds, where the loop is closed, or on a target of λ 1', async () => {
    for (const car of [
      { target: 0.86, long: 9 },
      { target: 0.86, long: -9, swings: true },
      { target: 1, long: -9 },
    ]) {
      const { held } = await judged(car);
      assert.ok(![...held].includes('open-loop-trim'), JSON.stringify(car));
    }
  });
});
