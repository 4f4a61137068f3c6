// Boost that a manifold pressure sensor does not show. By hand: the engine draws in proportion to its true pressure (12 kPa of it is burnt
// gas); the computer fuels for the pressure that it is shown, so that lambda is the one over the other, and duty is speed times what was
// asked for.

import assert from 'node:assert/strict';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.05, 180);
const unrest = (i: number): number => Math.sin(i * 1.9) + Math.sin(i * 0.73) + Math.sin(i * 2.71);
const TURBO: Vehicle = { ...EMPTY_VEHICLE, engine: { aspiration: 'turbocharged' } };

/** Full throttle for ten seconds of each half minute, at which the manifold truly reaches `fullKPa`. */
const clipped = (fullKPa: number, shownOf: (kPa: number) => number, vehicle = TURBO): string[] => {
  const isFull = (t: number): boolean => t % 30 > 15 && t % 30 < 25;
  const rpm = timeS.map((t, i) => (isFull(t) ? 3000 + 300 * ((t % 30) - 15) : 2500 + 700 * Math.sin(t / 4)) + 4 * unrest(i));
  const kPa = timeS.map((t, i) => (isFull(t) ? fullKPa : 62 + 18 * Math.sin(t / 3)) + 0.4 * unrest(i)),
    shown = kPa.map(shownOf);
  const target = timeS.map((t) => (isFull(t) ? 0.88 : 1));
  return analyse(
    sessionOf(timeS, {
      'engine-speed': rpm.map(Math.round),
      throttle: timeS.map((t, i) => (isFull(t) ? 99 : 30 + 10 * Math.sin(t / 3)) + 0.2 * unrest(i)),
      'manifold-pressure': shown.map((each) => Math.round(10 * each) / 10),
      lambda: kPa.map((each, i) => (target[i] * (each - 12)) / (shown[i] - 12) + 0.003 * unrest(i)),
      'injector-duty': shown.map((each, i) => (rpm[i] * (each - 12)) / target[i] / 6000),
      'target-lambda': target,
    }),
    vehicle,
  )
    .faults.filter(({ channel, kind }) => channel.quantity === 'manifold-pressure' && kind === 'clipped-high')
    .map(({ shape }) => shape);
};

suite('boost that the sensor does not show', () => {
  test('a turbocharged engine whose manifold never leaves the barometer while its air does is told at each full load', () => {
    assert.deepEqual(
      clipped(155, (kPa) => (kPa > 100 ? 100 + 0.01 * (kPa - 100) : kPa)),
      Array(6).fill('at-barometer'),
    );
  });
  test('not one driven without boost, one whose boost is shown, or an engine that breathes by itself', () => {
    assert.deepEqual(
      clipped(100, (kPa) => kPa),
      [],
    );
    assert.deepEqual(
      clipped(155, (kPa) => kPa),
      [],
    );
    assert.deepEqual(
      clipped(100, (kPa) => kPa, { ...EMPTY_VEHICLE, engine: { aspiration: 'natural' } }),
      [],
    );
  });
});
