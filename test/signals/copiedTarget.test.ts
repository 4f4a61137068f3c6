// The target logged a second time as lambda. A sensor sees the mixture later than it is asked for, through its lag, and with noise: those
// three are laid down here.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { believed } from '../../server/src/signals/drive/operating.js';
import { everyS, sessionOf } from './sessionOf.js';

const signalsOf = (
  stepS: number,
  lambdaOf: (target: Float64Array, i: number) => number,
  targetOf = (t: number): number => 1 - 0.12 * Math.max(0, Math.sin(t / 4)),
) => {
  const timeS = everyS(stepS, 120),
    target = timeS.map((t) => Math.round(1000 * targetOf(t)) / 1000);
  return analyse(
    sessionOf(timeS, {
      'engine-speed': timeS.map((t, i) => Math.round(2600 + 900 * Math.sin(t / 4) + 7 * Math.sin(i * 1.9))),
      'manifold-pressure': timeS.map((t, i) => 70 + 30 * Math.sin(t / 4) + 0.4 * Math.sin(i * 2.3)),
      'target-lambda': target,
      lambda: timeS.map((_, i) => lambdaOf(target, i)),
    }),
    EMPTY_VEHICLE,
  );
};
const told = (signals: ReturnType<typeof signalsOf>) => sessionFindings(signals).filter(({ data }) => data?.kind === 'is-target');

suite('a lambda that is the target', () => {
  test('is told once, as an error, and believed nowhere', () => {
    // Also where the one is rounded as an AFR of two decimals, and where a few rows are missing.
    for (const copy of [
      (t: Float64Array, i: number) => t[i],
      (t: Float64Array, i: number) => Math.round(t[i] * 1470) / 1470,
      (t: Float64Array, i: number) => (i % 50 === 3 ? NaN : t[i]),
    ]) {
      const signals = signalsOf(0.1, copy),
        found = told(signals);
      assert.deepEqual(
        found.map(({ code, severity }) => [code, severity]),
        [['value-implausible', 'error']],
      );
      assert.ok(believed(signals, 'lambda')!.every(Number.isNaN));
    }
  });
  test('is told of a target that goes slowly in a fast log, and a sensor is none there', () => {
    const slow = (t: number): number => 1 - 0.1 * Math.max(0, Math.sin(t / 9));
    assert.equal(told(signalsOf(0.02, (t, i) => t[i], slow)).length, 1);
    assert.equal(
      told(
        signalsOf(
          0.02,
          (t, i) => Math.round(1000 * t[Math.max(0, i - 10)] * (1 + 0.004 * Math.sin(i * 12.9898) * Math.cos(i * 4.1))) / 1000,
          slow,
        ),
      ).length,
      0,
    );
  });
  test('a sensor that is on target is none, fast or slow logged, coarse or fine', () => {
    for (const stepS of [0.05, 0.1, 0.5, 1])
      for (const digit of [0.001, 0.01]) {
        const late = (t: Float64Array, i: number): number =>
          t[Math.max(0, Math.round(i - 0.2 / stepS))] * (1 + 0.006 * Math.sin(i * 12.9898) * Math.cos(i * 4.1));
        assert.equal(told(signalsOf(stepS, (t, i) => Math.round(late(t, i) / digit) * digit)).length, 0, `${stepS} s, ${digit}`);
      }
  });
  test('a target that never moves tells nothing', () =>
    assert.equal(
      told(
        signalsOf(
          0.1,
          (t, i) => t[i],
          () => 1,
        ),
      ).length,
      0,
    ));
});
