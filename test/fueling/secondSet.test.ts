// Injectors that stay shut while the engine runs on what others give it: a second stage, the port injectors of an engine that has two kinds,
// those of petrol on gas. Conservation of mass: what burns in the exhaust was injected. Arithmetic on stated inputs.

import assert from 'node:assert/strict';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { fuelCut } from '../../server/src/fueling/delay/fuelCut.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from '../signals/sessionOf.js';
import { randomFrom } from './tinyEngine.js';

suite('injectors that are not the only ones', () => {
  const timeS = everyS(0.05, 400),
    random = randomFrom(3);
  const noise = (size: number): number => size * (2 * random() - 1);
  /** Of each 40 s: 26 s of cruise, 6 s of full load up to 6000 rpm, 4 s of overrun, 4 s of cruise. */
  const part = (t: number): 'cruise' | 'pull' | 'cut' => {
    const at = t % 40;
    return at < 26 || at >= 36 ? 'cruise' : at < 32 ? 'pull' : 'cut';
  };
  const by = (cruise: (t: number) => number, pull: (t: number) => number, cut: (t: number) => number): Float64Array =>
    timeS.map((t) => ({ cruise, pull, cut })[part(t)](t));
  const drive = {
    'engine-speed': by(
      (t) => 2500 + 200 * Math.sin(t / 3) + noise(5),
      (t) => 2500 + 583 * ((t % 40) - 26) + noise(5),
      (t) => 6000 - 875 * ((t % 40) - 32) + noise(5),
    ),
    throttle: by(
      (t) => 9 + 2 * Math.sin(t / 2) + noise(0.3),
      () => 100,
      () => 0,
    ),
    'manifold-pressure': by(
      (t) => 50 + 6 * Math.sin(t / 2) + noise(0.5),
      () => 99 + noise(0.5),
      () => 25 + noise(0.5),
    ),
    lambda: by(
      () => 1 + noise(0.01),
      () => 0.87 + noise(0.005),
      () => 1.6,
    ),
  };
  const duty = timeS.map((t, i) => (part(t) === 'cut' ? 0 : (drive['engine-speed'][i] * drive['manifold-pressure'][i]) / 9000));
  const sets: Readonly<Record<string, Float64Array>> = {
    only: duty,
    'second stage': duty.map((each) => Math.max(0, 2 * each - 80)),
    'petrol, on gas from 200 s on': duty.map((each, i) => (timeS[i] < 200 ? each : 0)),
  };

  for (const [set, percent] of Object.entries(sets))
    test(`${set}: the engine is without fuel on the overrun alone`, () => {
      const signals = analyse(sessionOf(timeS, { ...drive, 'injector-duty': percent }), EMPTY_VEHICLE),
        overruns = signals.events.filter(({ kind }) => kind === 'overrun');
      assert.equal(overruns.length, 10);
      for (const { from, to } of overruns)
        assert.ok(
          Math.abs((timeS[from] % 40) - 32) < 0.3 && Math.abs((timeS[to - 1] % 40) - 36) < 0.3,
          `${timeS[from]} to ${timeS[to - 1]}`,
        );
    });

  const cutS = (set: string): number | undefined => {
    const signals = analyse(sessionOf(timeS, { ...drive, 'injector-duty': sets[set] }), EMPTY_VEHICLE);
    return fuelCut(signals, signals.held('engine-speed'))?.reduce((sum, each) => sum + 0.05 * each, 0);
  };

  test('the evidence goes by the only ones; by a second stage no reading is left out, on gas every one is', () => {
    assert.ok(Math.abs(cutS('only')! - 10 * 4) < 1);
    assert.equal(cutS('second stage'), undefined);
    assert.ok(Math.abs(cutS('petrol, on gas from 200 s on')! - (5 * 4 + 200)) < 1);
  });

  test('shut with the foot off, from speed to idle, they are the only ones, though the sensor shows nothing of the air', () => {
    const coasts = (t: number): boolean => t % 40 >= 28;
    const columns = {
      'engine-speed': timeS.map((t) => (coasts(t) ? 4000 - 258 * ((t % 40) - 28) : 2500 + 200 * Math.sin(t / 3)) + noise(5)),
      throttle: timeS.map((t) => (coasts(t) ? 0 : 9 + 2 * Math.sin(t / 2) + noise(0.3))),
      lambda: timeS.map(() => 1.02 + noise(0.01)),
      'injector-duty': timeS.map((t) => (coasts(t) ? 0 : 15 + noise(1))),
    };
    const signals = analyse(sessionOf(timeS, columns), EMPTY_VEHICLE),
      cut = fuelCut(signals, signals.held('engine-speed'))?.reduce((sum, each) => sum + 0.05 * each, 0);
    assert.ok(Math.abs(cut! - 10 * 12) < 1, String(cut));
  });
});
