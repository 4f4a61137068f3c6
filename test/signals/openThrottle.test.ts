// A throttle that never reads open. By SAE J1979, PID 11: closed it usually reads more than 0 %, and wide open less than 100 %. By hand: 14
// % closed, 78 % at its stop.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.1, 200);
const isPressed = (t: number): boolean => t % 40 > 20 && t % 40 < 26;

/** How many pulls are found: five times the pedal is pressed, `pressedPercent` far, and the engine speed rises. */
const pulls = (pressedPercent: (time: number) => number, more: Record<string, number[]> = {}, vehicle: Vehicle = EMPTY_VEHICLE): number =>
  analyse(
    sessionOf(timeS, {
      'engine-speed': [...timeS].map((t, i) =>
        Math.round((isPressed(t) ? 2500 + 600 * ((t % 40) - 20) : 2200 + 400 * Math.sin(t / 5)) + 5 * Math.sin(1.7 * i)),
      ),
      throttle: [...timeS].map(
        (t, i) =>
          Math.round(10 * ((isPressed(t) ? pressedPercent(Math.floor(t / 40)) : 20 + 5 * Math.sin(t / 6)) + 0.2 * Math.sin(2.3 * i))) / 10,
      ),
      lambda: [...timeS].map((t, i) => (isPressed(t) ? 0.9 : 1) + 0.004 * Math.sin(1.9 * i)),
      ...more,
    }),
    vehicle,
  ).events.filter(({ kind }) => kind === 'pull').length;

suite('a throttle that reads less than its limit where it is open', () => {
  test('is open at the stop that it was pressed to again and again', () =>
    assert.equal(
      pulls(() => 78),
      5,
    ));
  test('not where a foot that ends anywhere comes as far now and then', () => {
    // In each of eight drives it goes sixty times somewhere between 36 and 72 %, the middle more often (a sum of three even chances): the
    // furthest few are near to each other by chance.
    const longS = everyS(0.1, 1200),
      isGone = (t: number): boolean => t % 20 > 10 && t % 20 < 14,
      chance = (n: number): number => Math.abs(Math.sin(12.9898 * n) * 43758.5453) % 1;
    const furthest = (n: number): number => 36 + 12 * (chance(n) + chance(n + 0.3) + chance(n + 0.6));
    const found = Array.from(
      { length: 8 },
      (_none, drive) =>
        analyse(
          sessionOf(longS, {
            'engine-speed': [...longS].map((t, i) => Math.round((isGone(t) ? 2500 + 500 * ((t % 20) - 10) : 2200) + 5 * Math.sin(1.7 * i))),
            throttle: [...longS].map((t, i) => (isGone(t) ? furthest(100 * drive + Math.floor(t / 20)) : 15) + 0.4 * Math.sin(0.9 * i)),
            lambda: [...longS].map((_, i) => 1 + 0.004 * Math.sin(1.9 * i)),
          }),
          EMPTY_VEHICLE,
        ).events.filter(({ kind }) => kind === 'pull').length,
    );
    assert.deepEqual(found, [0, 0, 0, 0, 0, 0, 0, 0]);
  });
  test('not where a foot held it somewhere else each time, where the pressure tells, or where a limit is set', () => {
    assert.equal(
      pulls((time) => 60 + 4 * time),
      0,
    );
    assert.equal(
      pulls(() => 78, { 'manifold-pressure': [...timeS].map((t) => (isPressed(t) ? 70 : 45) + 3 * Math.sin(t)) }),
      0,
    );
    assert.equal(
      pulls(() => 78, {}, { ...EMPTY_VEHICLE, limits: { loadThrottlePercent: 90 } }),
      0,
    );
  });
  test('shows a pull that leans out by itself, and a rail that falls meanwhile', () => {
    // By the orifice law a rail that falls by a quarter gives √0.75 = 0.87 of the fuel: λ 0.85 becomes 0.98. No target is known, and no
    // manifold pressure.
    const late = (t: number): number => (isPressed(t) ? Math.min(1, Math.max(0, (t % 40) - 22) / 2) : 0);
    const told = (percent: number): string[] =>
      [
        ...new Set(
          sessionFindings(
            analyse(
              sessionOf(timeS, {
                'engine-speed': [...timeS].map((t, i) =>
                  Math.round((isPressed(t) ? 2500 + 600 * ((t % 40) - 20) : 2200 + 400 * Math.sin(t / 5)) + 5 * Math.sin(1.7 * i)),
                ),
                throttle: [...timeS].map(
                  (t, i) => Math.round(10 * ((isPressed(t) ? percent : 20 + 5 * Math.sin(t / 6)) + 0.2 * Math.sin(2.3 * i))) / 10,
                ),
                lambda: [...timeS].map((t, i) => (isPressed(t) ? 0.85 + 0.13 * late(t) : 1) + 0.004 * Math.sin(1.9 * i)),
                'fuel-pressure': [...timeS].map((t, i) => 400 * (1 - 0.25 * late(t)) + 2 * Math.sin(2.9 * i)),
              }),
              EMPTY_VEHICLE,
            ),
          ).map(({ code }) => code),
        ),
      ].sort();
    assert.deepEqual(told(98), ['fuel-pressure-drop', 'lean-under-load']);
    assert.deepEqual(told(78), told(98));
  });
});
