// An engine speed whose pickup counts twice as often as it is scaled for, or half as often. By hand: at 90 km/h on a tyre of 0.3 m a wheel
// turns 25 / (2π · 0.3) · 60 = 796 times a minute, and in a gear of 1.5 with 4.1 behind it the engine 4894.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { unreadOf } from '../../server/src/fueling/doubts/unread.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.1, 300);
const unrest = (i: number): number => Math.sin(i * 1.9) + Math.sin(i * 0.73) + Math.sin(i * 2.71);
const CAR: Vehicle = {
  ...EMPTY_VEHICLE,
  engine: { revLimitRpm: 7000 },
  body: { tyreRadiusM: 0.3, gearRatios: [3.4, 2.1, 1.5, 1.15], finalDrive: 4.1 },
};
const stands = (t: number): boolean => t % 60 < 12,
  kmh = (t: number): number => (stands(t) ? 0 : 90 + 25 * Math.sin(t / 6));
const speed = (t: number): number => (stands(t) ? 850 : (kmh(t) / 3.6 / (2 * Math.PI * 0.3)) * 60 * 1.5 * 4.1);

const judged = (
  shown: number,
  { vehicle = CAR, without = '', idle = 1, lambda = 1 }: { vehicle?: Vehicle; without?: string; idle?: number; lambda?: number } = {},
) => {
  const columns = {
    'engine-speed': timeS.map((t, i) => Math.round(shown * (speed(t) * (stands(t) ? idle : 1) + 3 * unrest(i)))),
    'vehicle-speed': timeS.map((t) => Math.round(kmh(t))),
    gear: timeS.map((t) => (stands(t) ? 0 : 3)),
    'manifold-pressure': timeS.map((t, i) => (stands(t) ? 33 : 96 + 2 * Math.sin(t / 5)) + 0.4 * unrest(i)),
    throttle: timeS.map((t, i) => (stands(t) ? 1.5 : 90 + 5 * Math.sin(t / 5)) + 0.2 * unrest(i)),
    'target-lambda': timeS.map(() => 0.88),
    lambda: timeS.map((_, i) => 0.88 * lambda + 0.003 * unrest(i)),
  };
  const signals = analyse(sessionOf(timeS, Object.fromEntries(Object.entries(columns).filter(([name]) => name !== without))), vehicle),
    findings = sessionFindings(signals);
  return {
    told: findings.filter(({ data }) => data?.kind === 'pulses').map(({ severity, data }) => [severity, data?.factor]),
    limits: findings.filter(({ data }) => data?.kind === 'rev-limit').length,
    lean: findings.filter(({ code }) => code === 'lean-under-load').length,
    doubts: unreadOf(signals).doubts.map(({ kind }) => kind),
  };
};

suite('an engine speed of twice the pulses, or half', () => {
  test('is told, no cell is corrected by its log, and no rev limit is doubted for it', () => {
    for (const factor of [2, 0.5])
      assert.deepEqual(judged(factor), { told: [['error', factor]], limits: 0, lean: 0, doubts: ['speed-off'] });
  });
  test('hides no lean pull', () => {
    assert.ok(judged(1, { lambda: 1.1 }).lean > 0);
    assert.ok(judged(2, { lambda: 1.1 }).lean > 0);
  });
  test('is not told where the speed is right, another tyre or gearbox is written, or gear, road or gearbox are not known', () => {
    assert.deepEqual(judged(1).told, []);
    // An axle of half the ratio makes as much of the road alone: the idle says that the engine's speed is right.
    assert.deepEqual(judged(1, { vehicle: { ...CAR, body: { ...CAR.body, finalDrive: 2.05 } } }).told, []);
    assert.deepEqual(judged(2, { vehicle: { ...CAR, body: {} } }).told, []);
    for (const without of ['gear', 'vehicle-speed']) assert.deepEqual(judged(2, { without }).told, []);
    assert.deepEqual(judged(1.3).told, []);
  });
});
