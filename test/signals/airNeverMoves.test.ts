// Intake air that keeps one digit. By hand: air that stands over a hot engine warms by degrees in half a minute, and at road speed it is
// the day's again.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.2, 480);
const unrest = (i: number): number => Math.sin(i * 1.9) + Math.sin(i * 0.73) + Math.sin(i * 2.71);
/** A minute's drive out of each two, between a standstill and 110 km/h. */
const kmh = timeS.map((t) => (t % 120 < 60 ? 55 * (1 - Math.cos((2 * Math.PI * (t % 120)) / 60)) : 0));

const stuckAir = (airC: (t: number) => number, coolantC: (t: number) => number = (t) => Math.round(85 + t / 160), roadKmh = kmh) =>
  sessionFindings(
    analyse(
      sessionOf(timeS, {
        'engine-speed': kmh.map((each, i) => Math.round(850 + 25 * each + 5 * unrest(i))),
        throttle: kmh.map((each, i) => (each > 0 ? 20 + 20 * Math.sin(i / 40) ** 2 : 2) + 0.1 * unrest(i)),
        'manifold-pressure': kmh.map((each, i) => 35 + 0.5 * each + 0.3 * unrest(i)),
        lambda: kmh.map((_, i) => 1 + 0.004 * unrest(i)),
        'vehicle-speed': roadKmh,
        'coolant-temperature': timeS.map(coolantC),
        'intake-air-temperature': timeS.map(airC),
      }),
      EMPTY_VEHICLE,
    ),
  )
    .filter(({ code, channel }) => code === 'channel-stuck' && channel === 'intake-air-temperature')
    .map(({ severity }) => severity);

suite('intake air that never moves', () => {
  test('is told: as a warning where it is hot, else for information', () => {
    assert.deepEqual(
      stuckAir(() => 65),
      ['warning'],
    );
    assert.deepEqual(
      stuckAir(() => 22),
      ['information'],
    );
  });
  test('not where it moved by a digit, no other heat moved, or the car stood on a dynamometer', () => {
    assert.deepEqual(
      stuckAir((t) => (t > 200 ? 23 : 22)),
      [],
    );
    assert.deepEqual(
      stuckAir(
        () => 22,
        () => 88,
      ),
      [],
    );
    assert.deepEqual(
      stuckAir(
        () => 22,
        undefined,
        kmh.map(() => 0),
      ),
      [],
    );
  });
});
