// Up-sweeps and down-sweeps of the sample drive: one pull up, one fall after it.

import assert from 'node:assert/strict';
import { analyse } from '../../server/src/signals/analyse.js';
import { sweepsOf } from '../../server/src/signals/drive/sweeps.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';

const sweeps = (rpmAt: (timeS: number) => number, lastsS: number, throttle = (_timeS: number): number => 100) => {
  const rows = Array.from(
    { length: lastsS * 20 },
    (_, i) => `${(i / 20).toFixed(2)},${rpmAt(i / 20).toFixed(0)},${throttle(i / 20) > 50 ? 100 : 30},${throttle(i / 20)}`,
  );
  const signals = analyse(
    readSession(textSource(`Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%)\n${rows.join('\n')}\n`), {}),
    EMPTY_VEHICLE,
  );
  return { signals, found: sweepsOf(signals) };
};

suite('sweeps', () => {
  test('a pull rises, the overrun behind it falls', () => {
    const { signals, found } = sweeps(
      (t) => (t < 5 ? 2000 : t < 15 ? 2000 + 450 * (t - 5) : t < 21 ? 6500 - 700 * (t - 15) : 2300) + 8 * Math.sin(7 * t),
      30,
      (t) => (t > 5 && t < 15 ? 100 : t < 5 ? 15 : 0),
    );
    assert.equal(signals.pulls.length, 1);
    assert.deepEqual(
      found.map(({ direction, pull }) => [direction, pull]),
      [
        ['up', 0],
        ['down', undefined],
      ],
    );
    const fall = found[1]!;
    assert.ok(
      Math.abs(signals.timeS[fall.from]! - 15) < 0.5 && Math.abs(signals.timeS[fall.to - 1]! - 21) < 0.5,
      'where the fall was made',
    );
  });

  test('steady running is no sweep, and a log without engine speed has none', () => {
    assert.deepEqual(
      sweeps(
        (t) => 2500 + 60 * Math.sin(t),
        30,
        () => 15,
      ).found,
      [],
    );
    assert.deepEqual(sweepsOf(analyse(readSession(textSource('Time (s),Lambda\n0,1\n1,1\n'), {}), EMPTY_VEHICLE)), []);
  });
});
