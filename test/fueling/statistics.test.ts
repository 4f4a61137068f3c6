// The statistics against printed tables and, where it is installed, SciPy.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { lagged, notYetFollowed } from '../../server/src/fueling/delay/filters.js';
import {
  autocorrelation,
  beyondChance,
  effectiveSamples,
  meanInterval95,
  medianOf,
  spreadOf,
  studentT95,
} from '../../server/src/fueling/solution/statistics.js';
import { pythonWith } from '../support/python.js';

const near = (actual: number, expected: number, tolerance: number): void =>
  assert.ok(Math.abs(actual - expected) <= tolerance, `${actual} is not ${expected} ± ${tolerance}`);

suite('statistics', () => {
  // NIST/SEMATECH e-Handbook, table of Student's t; six decimals and fractional degrees by SciPy 1.17.
  const T: [number, number][] = [
    [1, 12.706205],
    [2, 4.302653],
    [3, 3.182446],
    [5, 2.570582],
    [10, 2.228139],
    [20, 2.085963],
    [30, 2.042272],
    [60, 2.000298],
    [100, 1.983972],
    [4.263, 2.710179],
    [19.5, 2.089398],
    [20.5, 2.082707],
  ];
  for (const [freedom, expected] of T) test(`t for ${freedom} degrees of freedom`, () => near(studentT95(freedom), expected, 1e-5));

  // Benjamini and Hochberg 1995, section 4: the p values of fifteen end points, of which four are told; as deviations by SciPy 1.17.
  const SIZES = [3.8906, 3.5401, 3.1054, 2.5935, 2.3245, 2.2001, 2.1727, 2.1154, 1.9963, 0.9863, 0.7957, 0.5653, 0.4499, 0.3068, 0.0];
  test('of many that are compared those are told that differ by more than chance', () => {
    assert.equal(beyondChance(SIZES), 4);
    assert.equal(beyondChance(SIZES.slice(4)), 0);
    // One alone is told at 95 %, of the normal distribution's points (NIST e-Handbook).
    assert.deepEqual([[1.96], [1.95], [], [NaN, NaN]].map(beyondChance), [1, 0, 0, 0]);
  });

  test('t at its ends', () => {
    near(studentT95(Infinity), 1.959964, 1e-6); // NIST e-Handbook
    assert.equal(studentT95(0), Infinity);
  });

  test('t as SciPy has it, for any degrees of freedom', function () {
    const degrees = [0.7, 1.3, 2.5, 3.9, 7.2, 13.1, 33.3, 250.5];
    const python = pythonWith('scipy');
    if (!python) this.skip(); // no SciPy here (.ci/run installs it): the NIST table is held all the same
    const answer = execFileSync(
      python,
      ['-c', `from scipy.stats import t\nprint(" ".join(repr(float(t.ppf(0.975, v))) for v in ${JSON.stringify(degrees)}))`],
      { encoding: 'utf8' },
    );
    // SciPy 1.10 itself finds its quantile to about 1e-9 only.
    answer
      .trim()
      .split(' ')
      .forEach((value, at) => near(studentT95(degrees[at]) / Number(value), 1, 1e-8));
  });

  test('mean interval of a factor', () => {
    const [low, high] = meanInterval95(1.081, 0.042, 21.5);
    near(low, 1.06213, 1e-5);
    near(high, 1.09987, 1e-5);
    assert.equal(meanInterval95(1, 0.1, 1)[1], Infinity);
    // The ten values of the autocorrelation example: s 0.018856181, 2.0755 effective, 1.0755 degrees of freedom (SciPy 1.17).
    near(meanInterval95(0.9, 0.018856181, 2.075471698)[1] - 0.9, 0.14111, 1e-4);
  });

  test('interval of a factor from the interval of lambda: 0.93 ± 0.0162 at a target of 0.86', () => {
    // Derived: the target carries no error, so the bounds scale. Spread and number are chosen so that the half interval is 0.0162.
    const [low, high] = meanInterval95(0.93, (0.0162 / studentT95(20.5)) * Math.sqrt(21.5), 21.5);
    near(low / 0.86, 1.06256, 1e-5);
    near(high / 0.86, 1.10023, 1e-5);
  });

  test('autocorrelation (Wilks) and effective samples (Zwiers and von Storch 1995)', () => {
    near(autocorrelation([0.9, 0.91, 0.93, 0.92, 0.9, 0.88, 0.87, 0.88, 0.9, 0.91]), 21 / 32, 1e-9);
    near(effectiveSamples(10, 21 / 32), 2.075471698, 1e-9);
    near(effectiveSamples(134, 0.7235), 21.497534, 1e-6);
    near(effectiveSamples(600, 0.98), 6.060606, 1e-6);
    assert.equal(effectiveSamples(50, -0.3), 50);
  });

  test('median and robust spread', () => {
    near(medianOf([0.98, 1.0, 1.01, 0.99, 1.6]), 1, 1e-12);
    near(spreadOf([0.98, 1.0, 1.01, 0.99, 1.6].map((value) => value - 1)), 0.014826, 1e-6);
  });
});

suite('filters', () => {
  const timeS = Float64Array.from({ length: 200 }, (_, i) => i * 0.02);

  test('step response of a lag of 0.1 s (1 − e^(−t/τ))', () => {
    // A step between two samples is a ramp to this filter, so it starts from the missing sample before.
    const input = Float64Array.from(timeS, () => 1);
    const output = lagged(Float64Array.of(0, 0, ...input.slice(2)), timeS, 0.1);
    const late = (0.1 / 0.02) * (1 - Math.exp(-0.2)); // the ramp's own share of the first step
    near(output[2], 1 - late, 1e-9);
    near((1 - output[7]) / (1 - output[2]), 1 - 0.632120559, 1e-9);
    near((1 - output[12]) / (1 - output[2]), 1 - 0.864664717, 1e-9);
  });

  test('a ramp is followed at its slope times the lag', () => {
    const ramp = timeS.map((t) => 0.05 * t);
    near(notYetFollowed(ramp, timeS, 0.08)[150], 0.004, 1e-6);
  });

  test('missing stays missing and starts afresh', () => {
    const output = lagged(Float64Array.of(1, 1, NaN, 3, 3), Float64Array.of(0, 0.1, 0.2, 0.3, 0.4), 0.2);
    assert.ok(Number.isNaN(output[2]));
    assert.equal(output[3], 3);
  });
});
