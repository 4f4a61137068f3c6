// A flag of the cut that a log repeats between its readings: on the whole it stands half of its own period late, and nothing in it says so.
// Arithmetic on stated inputs.

import assert from 'node:assert/strict';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { cutIsOld, fuelCut } from '../../server/src/fueling/delay/fuelCut.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { randomFrom, sessionOf } from './tinyEngine.js';

suite('the moment of a fuel cut', () => {
  const timeS = Float64Array.from({ length: 4000 }, (_, row) => row / 20);
  const rpmAt = (row: number): number => 2500 + 800 * Math.sin(row / 40),
    cutAt = (row: number): number => (row % 200 >= 103 && row % 200 < 140 ? 1 : 0);
  /** Each channel new in every so-manieth row; `blank`: nothing stands between. */
  const signals = (rpmEvery: number, cutEvery: number, blank = false) => {
    const column = (of: (row: number) => number, every: number): Float64Array =>
      timeS.map((_, row) => (blank && row % every ? NaN : of(row - (row % every))));
    return analyse(
      sessionOf(timeS, [
        { quantity: 'engine-speed', values: column(rpmAt, rpmEvery) },
        { quantity: 'fuel-cut', values: column(cutAt, cutEvery) },
      ]),
      EMPTY_VEHICLE,
    );
  };

  test('is told by a flag that is new in every row, and by one that is blank between its readings', () => {
    assert.equal(cutIsOld(signals(1, 1)), false);
    assert.equal(cutIsOld(signals(4, 6, true)), false);
  });

  test('is not told where the engine speed is repeated between its readings, and the flag with it: it comes late, by up to its period', () => {
    const repeated = signals(4, 10),
      flag = fuelCut(repeated, repeated.held('engine-speed'))!;
    const lateS = Array.from({ length: 19 }, (_, drive) => timeS[flag.indexOf(1, 200 * drive + 50)] - timeS[200 * drive + 103]);
    assert.ok(
      lateS.every((late) => Math.abs(late - 0.35) < 1e-9),
      `${lateS.join(' ')}`,
    );
    assert.equal(cutIsOld(repeated), true);
  });

  test('nor where it is repeated whenever no reading came: it comes late by p / (1 − p) rows on the whole, where it stays in the share p of them', () => {
    const random = randomFrom(5);
    const repeated = (of: (row: number) => number): Float64Array => {
      let last = of(0);
      return timeS.map((_, row) => (last = random() < 0.7 ? last : of(row)));
    };
    const old = analyse(
      sessionOf(timeS, [
        { quantity: 'engine-speed', values: repeated(rpmAt) },
        { quantity: 'fuel-cut', values: repeated(cutAt) },
      ]),
      EMPTY_VEHICLE,
    );
    assert.equal(cutIsOld(old), true);
  });
});
