// A fuel-cut flag against the exhaust: without fuel an engine breathes out air (20.95 % oxygen, lambda without end), with fuel a mixture.
// Nothing else is laid down here.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { fuelCut } from '../../server/src/fueling/delay/fuelCut.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

/** 40 s at part load, 10 s at full load, 10 s of overrun, again and again; lambda at full load is as given. */
const drive = (flagOf: (isCut: boolean, t: number) => number, fullLoadLambda = 1.02, airAfterS = 0.25) => {
  const timeS = everyS(0.05, 180),
    phase = (t: number) => t % 60,
    isCut = (t: number) => phase(t) >= 50,
    isFull = (t: number) => phase(t) >= 40 && phase(t) < 50;
  const noise = (i: number) => 0.006 * Math.sin(i * 12.9898) * Math.cos(i * 4.1);
  // The sensor sees the air a quarter of a second late.
  const lambda = timeS.map((t, i) => (isCut(t) && phase(t) > 50 + airAfterS ? 1.6 : (isFull(t) ? fullLoadLambda : 1) + noise(i)));
  return analyse(
    sessionOf(timeS, {
      'engine-speed': timeS.map(
        (t, i) => (isFull(t) ? 2500 + 350 * (phase(t) - 40) : isCut(t) ? 5500 - 300 * (phase(t) - 50) : 2500) + 6 * Math.sin(i * 1.9),
      ),
      'manifold-pressure': timeS.map((t, i) => (isFull(t) ? 98 : isCut(t) ? 24 : 45) + 0.3 * Math.sin(i * 2.3)),
      throttle: timeS.map((t, i) => (isFull(t) ? 100 : isCut(t) ? 0 : 18 + 0.2 * Math.sin(i * 3.1))),
      lambda: lambda,
      'target-lambda': timeS.map((t) => (isFull(t) ? 0.88 : 1)),
      'fuel-cut': timeS.map((t) => flagOf(isCut(t), t)),
    }),
    EMPTY_VEHICLE,
  );
};
const told = (signals: ReturnType<typeof drive>) => sessionFindings(signals).filter(({ data }) => data?.kind === 'burnt-cut');
const leanErrors = (signals: ReturnType<typeof drive>) =>
  sessionFindings(signals).filter(({ code, severity }) => code === 'lean-under-load' && severity === 'error').length;

suite('a fuel-cut flag', () => {
  test('the other way round, or always set, is told and hides no lean pull', () => {
    for (const [flagOf, isTurned] of [
      [(cut: boolean) => (cut ? 0 : 1), 1],
      [() => 1, 0],
    ] as const) {
      const signals = drive(flagOf),
        found = told(signals);
      assert.deepEqual(
        found.map(({ code, severity, data }) => [code, severity, data!.isTurned]),
        [['value-implausible', 'warning', isTurned]],
      );
      assert.equal(leanErrors(signals), 3);
      assert.equal(fuelCut(signals, signals.held('engine-speed'))?.includes(1) ?? false, false);
    }
  });
  test('that is true is believed, and so is one that is set a moment long where fuel flows', () => {
    for (const flagOf of [(cut: boolean) => (cut ? 1 : 0), (cut: boolean, t: number) => (cut || t % 20 < 0.4 ? 1 : 0)]) {
      const signals = drive(flagOf, 0.88);
      assert.equal(told(signals).length, 0);
      assert.ok(signals.events.some(({ kind }) => kind === 'overrun'));
      assert.equal(leanErrors(signals), 0);
    }
  });
  test('that is true is no worse for a sensor behind a catalyst, whose stored oxygen keeps the overrun from it for seconds', () => {
    const signals = drive((cut) => (cut ? 1 : 0), 0.88, 8);
    assert.equal(told(signals).length, 0);
    assert.equal(fuelCut(signals, signals.held('engine-speed'))?.includes(1), true);
  });
  test('is not doubted by a sensor that stands still', () => {
    const timeS = everyS(0.05, 120);
    const signals = analyse(
      sessionOf(timeS, {
        'engine-speed': timeS.map((_, i) => 3000 + 6 * Math.sin(i)),
        throttle: timeS.map((_, i) => Math.sin(i) + 1),
        lambda: timeS.map(() => 0.82),
        'fuel-cut': timeS.map(() => 1),
      }),
      EMPTY_VEHICLE,
    );
    assert.equal(told(signals).length, 0);
  });
});
