// Air drawn in ahead of the sensor, told by idle against part load. By hand: a hole lets in much the same air at all times, so that what it
// adds to λ goes with one over the exhaust's flow (speed × pressure): 10 % at idle (850 rpm, 35 kPa) is 1.6 % at 2800 rpm and 66 kPa.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { sampleLog, unrest } from '../../server/src/findings/sampleLog.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { weighSession } from '../../server/src/fueling/weigh.js';
import { gather } from '../../server/src/report/gather.js';
import { verdictOf } from '../../server/src/report/verdict.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { analyse } from '../../server/src/signals/analyse.js';
import type { Signals } from '../../server/src/signals/signals.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

const TARGET = readTable(
  '# quantity: target lambda\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,500,7000\n20,1,1\n80,1,1\n100,0.88,0.88\n',
);
const FUEL = readTable(
  '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,800,1600,3200\n30,50,55,60\n60,60,70,75\n100,70,80,85\n',
);

/** Idle and cruise in turns of 20 s, two minutes; `target`: logged, of the vehicle's table, or not known. */
const drivenText = (leak: number, isTargetLogged: boolean, lightUntilS = 0): string => {
  const idles = (t: number): boolean => t % 40 < 20,
    isLight = (t: number): boolean => t % 40 < 20 + lightUntilS;
  const rpm = (t: number): number => (idles(t) ? 850 : isLight(t) ? 1700 + 30 * Math.sin(t) : 2800 + 200 * Math.sin(t)),
    kPa = (t: number): number => (idles(t) ? 35 : isLight(t) ? 50 + Math.sin(t / 1.7) : 66 + 5 * Math.sin(t / 1.7));
  return sampleLog(120, 0.1, {
    'engine speed (rpm)': (t) => rpm(t) + unrest(t, 8),
    'throttle (%)': (t) => (idles(t) ? 1 : 25) + unrest(t, 0.3),
    'manifold pressure (kPa)': (t) => kPa(t) + unrest(t + 5, 0.5),
    'coolant temperature (°C)': () => 90,
    lambda: (t) => 1 + (leak * 850 * 35) / (rpm(t) * kPa(t)) + unrest(t + 9, 0.006),
    ...(isTargetLogged ? { 'target lambda': () => 1 } : {}),
  });
};
/** Half of what is driven at light load. */
const lightText = (leak: number): string => drivenText(leak, true, 10);
const driven = (leak: number, target: 'logged' | 'table' | 'unknown'): Signals => {
  const text = drivenText(leak, target === 'logged');
  return analyse(
    readSession(textSource(text), { vehicle: EMPTY_VEHICLE }),
    EMPTY_VEHICLE,
    target === 'table' ? { targetTable: TARGET } : {},
  );
};
const leaks = (signals: Signals): number =>
  sessionFindings(signals).filter(({ code, data }) => code === 'sensor-mount' && data?.kind === 'air-leak').length;

interface Trimmed {
  readonly leak?: number;
  readonly scale?: number;
  readonly learnt?: number;
}

/**
 * The same drive of an engine that meters its air, its loop closed: λ stays at 1 and the trims show what the meter misses. By hand: what
 * enters through a hole is `leak` of the metered air at idle and falls with flow as above; a meter that reads `scale` of the air makes the
 * trims 1 / scale everywhere. 850 rpm and 35 kPa are taken for 4 g/s.
 */
const trimmedText = ({ leak = 0, scale = 1, learnt = 0 }: Trimmed, without?: string): string => {
  const idles = (t: number): boolean => t % 40 < 20;
  const rpm = (t: number): number => (idles(t) ? 850 : 2800 + 200 * Math.sin(t)),
    kPa = (t: number): number => (idles(t) ? 35 : 66 + 5 * Math.sin(t / 1.7)),
    air = (t: number): number => (rpm(t) * kPa(t)) / 850 / 35;
  const columns: Record<string, (t: number) => number> = {
    'engine speed (rpm)': (t) => rpm(t) + unrest(t, 8),
    'throttle (%)': (t) => (idles(t) ? 1 : 25) + unrest(t, 0.3),
    'manifold pressure (kPa)': (t) => kPa(t) + unrest(t + 5, 0.5),
    'mass air flow (g/s)': (t) => 4 * scale * air(t) + unrest(t + 2, 0.05),
    'coolant temperature (°C)': () => 90,
    lambda: (t) => 1 + unrest(t + 9, 0.006),
    'target lambda': () => 1,
    'short term fuel trim (%)': (t) => 100 * ((1 + leak / air(t)) / scale / (1 + learnt) - 1) + unrest(t + 7, 1.5),
    'long term fuel trim (%)': () => 100 * learnt,
  };
  return sampleLog(160, 0.1, Object.fromEntries(Object.entries(columns).filter(([name]) => name !== without)));
};
const trimmed = (car: Trimmed, { vehicle = EMPTY_VEHICLE, without }: { vehicle?: Vehicle; without?: string } = {}): Signals =>
  analyse(readSession(textSource(trimmedText(car, without)), { vehicle }), vehicle);

const verdictFor = async (log: string) => {
  const workspace = memoryWorkspace(`=== vehicle.json\n{}\n=== a.session.csv\n${log}`),
    service = createLanguageService(workspace);
  return verdictOf(
    await gather(workspace, service, (await service.vehicleFolder(workspace.uri('vehicle.json')))!, {
      date: '2026-09-16',
      version: '9.9.9',
    }),
  );
};

suite('an air leak that the trims show', () => {
  const told = (signals: Signals) => sessionFindings(signals).filter(({ code }) => code === 'sensor-mount');
  for (const learnt of [0, 0.1])
    test(`is told where a closed loop makes up for it, ${learnt > 0 ? 'a part of it learnt' : 'none of it learnt'}, and idle is no evidence`, () => {
      const signals = trimmed({ leak: 0.24, learnt }),
        [found, ...more] = told(signals);
      assert.deepEqual([found.severity, found.channel, found.data?.by, more], ['warning', 'short-term-fuel-trim', 'trims', []]);
      assert.match(found.message, /add 2[345] % of fuel at idle .*, and [345] % at 3 times its air flow/);
      const {
          weight: { used, leftOut },
        } = weighSession(signals, FUEL),
        sound = weighSession(trimmed({}), FUEL).weight;
      assert.ok(used > 200 && used < 0.75 * sound.used, JSON.stringify({ used, leftOut, sound: sound.used }));
    });
  test('the report speaks of the fuel that is added, not of a sensor that reads wrong', async () => {
    const {
      sentences: [, believe, next],
    } = await verdictFor(trimmedText({ leak: 0.24 }));
    assert.match(believe, /at idle the engine computer adds far more fuel than when driven, as where air leaks in that nothing measures/);
    assert.match(next, /the air leak has been found/);
  });
  test('trims that are healthy, high everywhere, or a little high at idle are none', () => {
    for (const car of [{}, { learnt: 0.04 }, { scale: 1 / 1.24 }, { scale: 1 / 1.24, learnt: 0.2 }, { scale: 1 / 0.85 }, { leak: 0.07 }])
      assert.deepEqual(told(trimmed(car)), [], JSON.stringify(car));
  });
  test('an engine that goes by its manifold pressure meters what leaks in: its idle cells are short', () => {
    const without = 'mass air flow (g/s)',
      vehicle: Vehicle = { ...EMPTY_VEHICLE, tables: { fuel: 've.table.csv' } };
    assert.deepEqual(told(trimmed({ leak: 0.24 }, { without, vehicle })), []);
    assert.equal(told(trimmed({ leak: 0.24 }, { without })).length, 1);
  });
});

suite('an air leak that idle shows', () => {
  for (const target of ['logged', 'table'] as const)
    test(`is told, and idle is no evidence, where the target is ${target === 'logged' ? 'logged' : "of the vehicle's table"}`, () => {
      const signals = driven(0.1, target),
        {
          weight: { used, leftOut },
        } = weighSession(signals, FUEL);
      assert.equal(leaks(signals), 1);
      assert.ok(leftOut['sensor-fault']! > 500 && used > 200, JSON.stringify({ used, leftOut }));
    });
  test('light load is no evidence either where the same hole still counts there', () => {
    // 10 % at 850 rpm and 35 kPa are 3.5 % at 1700 rpm and 50 kPa, and less than 2 % from 150 000 rpm kPa on.
    const signals = driven(0.1, 'logged'),
      near = analyse(readSession(textSource(lightText(0.1)), { vehicle: EMPTY_VEHICLE }), EMPTY_VEHICLE);
    assert.equal(leaks(near), 1);
    const [light, farther] = [near, signals].map((each) => weighSession(each, FUEL).weight);
    assert.ok(farther.used > 200 && light.used < 0.6 * farther.used, `${light.used} of ${farther.used}`);
    assert.ok(
      weighSession(analyse(readSession(textSource(lightText(0)), { vehicle: EMPTY_VEHICLE }), EMPTY_VEHICLE), FUEL).weight.used >
        1.3 * light.used,
    );
  });
  test('the report speaks of the leak, not of where the sensor sits', async () => {
    const {
      level,
      sentences: [safe, believe, next],
    } = await verdictFor(drivenText(0.1, true));
    assert.equal(level, 'unknown');
    for (const sentence of [safe, believe]) assert.match(sentence, /air seems to leak in ahead of the mixture sensor/);
    assert.match(next, /the air leak has been found \(the exhaust joints/);
    assert.doesNotMatch([safe, believe, next].join(' '), /sits where it cannot see/);
  });
  test('a sound exhaust raises nothing, nor is a leak told of where no target is known', () => {
    assert.equal(leaks(driven(0, 'table')), 0);
    assert.equal(leaks(driven(0.1, 'unknown')), 0);
  });
});
