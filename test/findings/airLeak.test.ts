// Air drawn in ahead of the sensor, told by idle against part load. By hand: a hole lets in much the same air at all times, so that what it adds to λ goes with one over the exhaust's flow
// (speed × pressure): 10 % at idle (850 rpm, 35 kPa) is 1.6 % at 2800 rpm and 66 kPa.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { sampleLog, unrest } from '../../server/src/findings/sampleLog.js';
import { readSession } from '../../server/src/formats/readSession.js';
import { readTable } from '../../server/src/formats/readTable.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle.js';
import { weighSession } from '../../server/src/fueling/weigh.js';
import { gather } from '../../server/src/report/gather.js';
import { verdictOf } from '../../server/src/report/verdict.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { analyse } from '../../server/src/signals/analyse.js';
import type { Signals } from '../../server/src/signals/signals.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

const TARGET = readTable('# quantity: target lambda\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,500,7000\n20,1,1\n80,1,1\n100,0.88,0.88\n');
const FUEL = readTable('# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,800,1600,3200\n30,50,55,60\n60,60,70,75\n100,70,80,85\n');

/** Idle and cruise in turns of 20 s, two minutes; `target`: logged, of the vehicle's table, or not known. */
const drivenText = (leak: number, isTargetLogged: boolean): string => {
  const idles = (t: number): boolean => t % 40 < 20;
  const rpm = (t: number): number => (idles(t) ? 850 : 2800 + 200 * Math.sin(t)), kPa = (t: number): number => (idles(t) ? 35 : 66 + 5 * Math.sin(t / 1.7));
  return sampleLog(120, 0.1, {
    'engine speed (rpm)': (t) => rpm(t) + unrest(t, 8), 'throttle (%)': (t) => (idles(t) ? 1 : 25) + unrest(t, 0.3), 'manifold pressure (kPa)': (t) => kPa(t) + unrest(t + 5, 0.5),
    'coolant temperature (°C)': () => 90, 'lambda': (t) => 1 + leak * 850 * 35 / (rpm(t) * kPa(t)) + unrest(t + 9, 0.006), ...(isTargetLogged ? { 'target lambda': () => 1 } : {}),
  });
};
const driven = (leak: number, target: 'logged' | 'table' | 'unknown'): Signals => {
  const text = drivenText(leak, target === 'logged');
  return analyse(readSession(textSource(text), { vehicle: EMPTY_VEHICLE }), EMPTY_VEHICLE, target === 'table' ? { targetTable: TARGET } : {});
};
const leaks = (signals: Signals): number => sessionFindings(signals).filter(({ code, data }) => code === 'sensor-mount' && data?.kind === 'air-leak').length;

suite('an air leak that idle shows', () => {
  for (const target of ['logged', 'table'] as const) test(`is told, and idle is no evidence, where the target is ${target === 'logged' ? 'logged' : 'of the vehicle\'s table'}`, () => {
    const signals = driven(0.1, target), { weight: { used, leftOut } } = weighSession(signals, FUEL);
    assert.equal(leaks(signals), 1);
    assert.ok(leftOut['sensor-fault']! > 500 && used > 200, JSON.stringify({ used, leftOut }));
  });
  test('the report speaks of the leak, not of where the sensor sits', async () => {
    const workspace = memoryWorkspace(`=== vehicle.json\n{}\n=== a.session.csv\n${drivenText(0.1, true)}`), service = createLanguageService(workspace);
    const { level, sentences: [safe, believe, next] } = verdictOf(await gather(workspace, service, (await service.vehicleFolder(workspace.uri('vehicle.json')))!, { date: '2026-09-16', version: '9.9.9' }));
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
