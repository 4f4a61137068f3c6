// A lambda column that no gasoline engine's mixture makes. By hand: a compression-ignition engine takes all the air at all times, so that
// its lambda goes with one over the fuel (smoke sets in near 1.3: any handbook of engines), and a scale that is wrong by a factor stands at
// that factor times the target. What is no such thing: a long descent, whose closed throttle cuts the fuel, and a sensor in air.

import assert from 'node:assert/strict';
import type { Finding } from '../../server/src/findings/finding.js';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.1, 240);
const wave = (i: number): number => Math.sin(i * 1.9) + Math.sin(i * 0.73);
/** Throttle, %: up and down; closed for a part of each minute. */
const opening =
  (closedS: number) =>
  (t: number): number =>
    t % 60 < closedS ? 0 : 35 + 25 * Math.sin(t / 3);

const told = (
  lambdaAt: (open: number, i: number) => number,
  {
    closedS = 10,
    vehicle = EMPTY_VEHICLE,
    target,
    kPa = (percent: number) => 30 + 0.9 * percent,
    isAsked = ({ data }: Finding) => data?.kind === 'no-mixture',
  }: {
    closedS?: number;
    vehicle?: Vehicle;
    target?: number;
    kPa?: (percent: number) => number;
    isAsked?: (finding: Finding) => boolean;
  } = {},
) => {
  const open = timeS.map(opening(closedS));
  const signals = analyse(
    sessionOf(timeS, {
      'engine-speed': timeS.map((t, i) => Math.round(2400 + 700 * Math.sin(t / 5) + 5 * wave(i))),
      throttle: open.map((each, i) => Math.max(0, each + 0.2 * wave(i))),
      'manifold-pressure': open.map((each, i) => kPa(each) + 0.4 * wave(i)),
      lambda: open.map((each, i) => lambdaAt(each, i) + 0.004 * wave(i)),
      ...(target === undefined ? {} : { 'target-lambda': timeS.map((_, i) => target + (opening(closedS)(timeS[i]) > 45 ? -0.1 : 0)) }),
    }),
    vehicle,
  );
  return sessionFindings(signals).filter(isAsked);
};
const diesel = (open: number): number => 1.35 + 45 / (open + 12);
const DIESEL: Vehicle = { ...EMPTY_VEHICLE, fuel: { blend: 'diesel' } };

suite('a lambda that no mixture makes', () => {
  test("a diesel's is told once as an error", () => {
    const found = told(diesel);
    assert.deepEqual(
      found.map(({ code, severity }) => [code, severity]),
      [['value-implausible', 'error']],
    );
    assert.match(found[0].message, /a diesel's log, or the column is on another scale/);
  });
  test('one at 1.8 times its target names the factor', () => {
    const found = told((open) => 1.8 * (open > 45 ? 0.9 : 1), { target: 1 });
    assert.equal(found.length, 1);
    assert.match(found[0].message, /1\.80 times its target/);
  });
  // A gauge ends somewhere; with the foot off a compression-ignition engine pumps air, and idles with 60 g and more of it for each of fuel.
  test("a stated diesel's gauge goes to its lean end and back, under boost too, and nothing is wrong", () => {
    const isWrong = ({ code, channel }: Finding): boolean =>
      channel === 'lambda' && ['channel-clipped', 'sensor-dropout', 'sensor-cold'].includes(code);
    for (const end of [1.6, 4])
      for (const isSudden of [true, false]) {
        const lambdaAt = (open: number): number => Math.min(end, open < (isSudden ? 12 : 5) ? end : diesel(open)),
          // Nothing throttles its air.
          kPa = (open: number): number => 101 + open;
        assert.deepEqual(told(lambdaAt, { vehicle: DIESEL, kPa, isAsked: isWrong }), []);
        // A wire that breaks shows nought, and that is told.
        const broken = (open: number, i: number): number => (i % 700 > 690 ? 0 : lambdaAt(open));
        assert.ok(told(broken, { vehicle: DIESEL, kPa, isAsked: ({ code }) => code === 'sensor-dropout' }).length > 0);
        assert.ok(told(lambdaAt, { kPa, isAsked: ({ severity }) => severity === 'error' }).length > 0);
      }
  });
  test('a descent, a sensor in air, a mixture and a stated diesel are not told', () => {
    assert.equal(told((open) => (open === 0 ? 2 : 1), { closedS: 45 }).length, 0, 'descent');
    assert.equal(told(() => 1.99).length, 0, 'in air');
    // A throttle that rests at 12 % from first to last: what it moves by is its own unrest.
    const braking = timeS.map((_, i) => 12 + 0.3 * wave(i)),
      speed = timeS.map((t, i) => Math.round(2400 + 700 * Math.sin(t / 5) + 5 * wave(i)));
    const drives: readonly Readonly<Record<string, ArrayLike<number>>>[] = [
      { throttle: braking },
      { 'manifold-pressure': braking.map((each) => each + 14) },
    ];
    for (const resting of drives) {
      const signals = analyse(
        sessionOf(timeS, { 'engine-speed': speed, ...resting, lambda: timeS.map((t, i) => 1.85 + 0.1 * Math.sin(t / 5) + 0.02 * wave(i)) }),
        EMPTY_VEHICLE,
      );
      assert.deepEqual(
        sessionFindings(signals).filter(({ severity }) => severity === 'error'),
        [],
        'braking from first to last',
      );
    }
    assert.equal(told((open) => (open > 45 ? 0.88 : 1.02)).length, 0, 'mixture');
    assert.equal(told(diesel, { vehicle: DIESEL }).length, 0, 'stated');
  });
  test('a stated diesel is called lean against a target alone', () => {
    const isLean = ({ code }: Finding): boolean => code === 'lean-under-load',
      atLoad = (open: number): number => (open > 45 ? 2 : 3);
    const loaded: Vehicle = { ...DIESEL, limits: { loadManifoldPressureKPa: 70 } };
    assert.deepEqual(told(atLoad, { vehicle: loaded, isAsked: isLean }), []);
    assert.notDeepEqual(told(atLoad, { vehicle: loaded, target: 1.7, isAsked: isLean }), []);
    assert.notDeepEqual(
      told((open) => (open > 45 ? 1.2 : 1), { vehicle: { ...loaded, fuel: { blend: 'E10' } }, isAsked: isLean }),
      [],
    );
  });
});
