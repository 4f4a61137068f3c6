// A column under lambda's name that goes up with fuel. By definition φ = 1/λ (any handbook of engines); the voltage of a switching oxygen
// sensor lies near 0.1 V in lean gas and 0.8 to 0.9 V in rich gas, stepping at λ 1 (SAE J1979, PID 14: up to 1.275 V). An engine that is
// dragged along without fuel pumps air: φ goes to 0, and so do the volts.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.05, 360);
const noise = (i: number): number => Math.sin(i * 12.9898) * Math.cos(i * 4.1);
/** Each minute 35 s of cruise, 10 s of full load, 8 s of overrun, 7 s of idle. */
const at = (t: number): readonly [rpm: number, kPa: number, percent: number, part: string] => {
  const phase = t % 60;
  if (phase < 35) return [2500 + 200 * Math.sin(t / 3), 48 + 5 * Math.sin(t / 2), 20 + 3 * Math.sin(t / 2), 'cruise'];
  if (phase < 45) return [2600 + 300 * (phase - 35), 98, 99, 'full'];
  if (phase < 53) return [5400 - 350 * (phase - 45), 24, 0, 'cut'];
  return [850, 36, 2, 'idle'];
};

const found = (
  full: number,
  cut: number,
  shown: (lambda: number) => number,
  target: boolean | ((part: string, t: number) => number) = true,
  vehicle: Vehicle = EMPTY_VEHICLE,
) => {
  const moments = [...timeS].map(at);
  let lambda = 1;
  const burnt = moments.map(([, , , part], i) => {
    const to = part === 'cut' ? cut : part === 'full' ? full : 1 + 0.02 * Math.sin(timeS[i] * 5);
    return (lambda += (to - lambda) * 0.3) * (1 + 0.006 * noise(i));
  });
  const signals = analyse(
    sessionOf(timeS, {
      'engine-speed': moments.map(([rpm], i) => rpm + 5 * noise(i)),
      'manifold-pressure': moments.map(([, kPa], i) => kPa + 0.3 * noise(i + 7)),
      throttle: moments.map(([, , percent], i) => percent + 0.2 * noise(i + 3)),
      lambda: burnt.map((each) => Number(shown(each).toFixed(3))),
      ...(target
        ? {
            'target-lambda': moments.map(([, , , part], i) => (target === true ? (part === 'full' ? 0.87 : 1) : target(part, timeS[i]))),
          }
        : {}),
    }),
    vehicle,
  );
  const findings = sessionFindings(signals);
  return {
    told: findings.filter(({ data }) => data?.kind === 'rises-with-fuel').map(({ message, severity }) => [severity, message] as const),
    others: findings.filter(({ code }) => code !== 'value-implausible').map(({ code }) => code),
    lean: findings.filter(({ code, severity }) => code === 'lean-under-load' && severity === 'error').length,
    believed: signals.trusted('lambda')!.includes(1),
  };
};
const phi = (lambda: number): number => 1 / lambda,
  volts = (lambda: number): number => 0.46 - 0.4 * Math.tanh(60 * (lambda - 1));

suite('a lambda column that goes up with fuel', () => {
  test('an equivalence ratio is told once, with or without a target, and nothing is concluded from it', () => {
    for (const shown of [phi, (lambda: number) => (lambda > 2 ? 0 : phi(lambda)), (lambda: number) => Math.max(0.68, phi(lambda))])
      for (const target of [true, false]) {
        const { told, others, believed } = found(0.87, 8, shown, target);
        assert.deepEqual([told.length, told[0]?.[0], others, believed], [1, 'error', [], false]);
        assert.match(told[0][1], /φ = 1\/λ.*the engine is lean under load/);
      }
  });
  test("so are a narrow-band sensor's volts, where a pull runs lean too", () => {
    for (const full of [0.87, 1.05]) {
      const { told, others, believed } = found(full, 8, volts);
      assert.deepEqual([told.length, others, believed], [1, [], false]);
      assert.match(told[0][1], /narrow-band sensor, which tell rich from lean and no more/);
    }
  });
  // From 0.92 to 0.84 through a pull, as it is asked for and burnt.
  const falling = (part: string, t: number): number => (part === 'full' ? 0.92 - 0.008 * ((t % 60) - 35) : 1);
  test('an equivalence ratio without any overrun is told by a target that it is one over, and a lean engine is not', () => {
    const drive = (shown: (lambda: number, i: number) => number) => {
      let i = -1;
      return found(1, 1, (lambda) => (i++, shown(lambda, i)), falling);
    };
    const asked = (i: number): number => falling(at(timeS[i])[3], timeS[i]);
    assert.equal(drive((_, i) => 1 / asked(i)).told.length, 1);
    // Short of fuel by more and more, or by a third.
    for (const short of [(i: number) => 1.12 + 0.02 * ((timeS[i] % 60) - 35), () => 1.3]) {
      const { told, lean } = drive((_, i) => asked(i) * (at(timeS[i])[3] === 'full' ? short(i) : 1));
      assert.deepEqual([told.length, lean > 0], [0, true]);
    }
  });
  test('a target that asks for a lean mixture under load and for no rich one is not believed, and a lean pull told without it', () => {
    const ratio = (part: string, t: number): number => 1 / falling(part, t);
    assert.deepEqual(
      [found(0.87, 1.6, (lambda) => lambda, ratio).told.length, found(0.87, 1.6, (lambda) => lambda, ratio).others],
      [1, []],
    );
    const { told, lean } = found(1.1, 1.6, (lambda) => lambda, ratio);
    assert.deepEqual([told.length, lean > 0], [1, true]);
    assert.equal(
      found(
        1.2,
        1.6,
        (lambda) => lambda,
        () => 1.2,
        { ...EMPTY_VEHICLE, fuel: { blend: 'diesel' } },
      ).told.length,
      0,
    );
  });
  test("a diesel's target is none of φ, named or not: it asks for most air away from load", () => {
    assert.deepEqual(
      found(
        1.25,
        8,
        (lambda) => lambda,
        (part) => (part === 'full' ? 1.25 : 1.95),
      ).told,
      [],
    );
  });
  test('a lambda is not: of air, of an overrun that is fuelled, or far too rich; and its lean pulls stay told', () => {
    // Some gauges show nought for what they cannot measure.
    for (const cut of [1.6, 1, 0.74, 0.68, 0]) {
      assert.deepEqual(found(0.87, cut, (lambda) => lambda).told, []);
      assert.equal(found(1.0, cut, (lambda) => lambda).lean > 0, true);
    }
    assert.equal(found(1.1, 1.6, (lambda) => lambda).lean > 0, true);
  });
}).timeout(60_000);
