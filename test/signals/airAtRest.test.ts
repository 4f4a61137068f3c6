// A manifold sensor beside a barometer. While the engine stands both read the air around the car; behind an open throttle at low speed an
// engine without a blower holds within a kilopascal or two of it.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.05, 180);
const unrest = (i: number): number => Math.sin(i * 1.9) + Math.sin(i * 0.73) + Math.sin(i * 2.71);
const NATURAL = { ...EMPTY_VEHICLE, engine: { aspiration: 'natural' as const } };

interface Car {
  readonly scale?: number;
  readonly pulseKPa?: number;
  readonly airKPa?: (t: number) => number;
  readonly standsS?: number;
  readonly leapsTo?: number;
  readonly without?: string;
  readonly lostS?: number;
  readonly kmh?: number;
}

/** The engine stands for `standsS`, then full throttle for ten seconds of each half minute. */
const told = ({ scale = 1, pulseKPa = 0, airKPa = () => 99, standsS = 2, leapsTo, without, lostS = 0, kmh }: Car) => {
  const runs = (t: number): boolean => t > standsS,
    full = (t: number): boolean => runs(t) && t % 30 > 15 && t % 30 < 25;
  const rpm = timeS.map(
    (t, i) => (!runs(t) ? 0 : full(t) ? 2600 + 300 * ((t % 30) - 15) : 2500 + 700 * Math.sin(t / 4)) + (runs(t) ? 4 * unrest(i) : 0),
  );
  const leaps = (i: number): boolean => leapsTo !== undefined && i % 400 > 300 && i % 400 < 308;
  const kPa = timeS.map((t, i) =>
    leaps(i)
      ? leapsTo!
      : scale * (!runs(t) ? airKPa(t) : (full(t) ? 0.99 * airKPa(t) : 45 + 8 * Math.sin(t / 3)) + pulseKPa * Math.sin(i * 2.2)) +
        0.3 * unrest(i),
  );
  const columns = {
    'engine-speed': rpm.map((each, i) => (timeS[i] > 180 - lostS ? 0 : Math.round(each))),
    ...(kmh === undefined ? {} : { 'vehicle-speed': timeS.map((t, i) => (runs(t) ? kmh + 0.2 * unrest(i) : 0)) }),
    throttle: timeS.map((t, i) => (!runs(t) ? 0 : full(t) ? 99 : 20 + 5 * Math.sin(t / 3)) + 0.2 * unrest(i)),
    'manifold-pressure': kPa.map((each) => Math.round(10 * each) / 10),
    'barometric-pressure': timeS.map(airKPa),
    lambda: timeS.map((t, i) => (full(t) ? 0.88 : 1) + 0.003 * unrest(i)),
    'target-lambda': timeS.map((t) => (full(t) ? 0.88 : 1)),
  };
  const findings = sessionFindings(
    analyse(sessionOf(timeS, Object.fromEntries(Object.entries(columns).filter(([name]) => name !== without))), NATURAL),
  ).filter(({ channel }) => channel === 'manifold-pressure');
  return {
    rest: findings
      .filter(({ data }) => data?.kind === 'air-at-rest')
      .map(({ severity, data }) => [severity, Math.round(Number(data?.manifoldKPa)), data?.airKPa]),
    dropouts: findings.filter(({ code }) => code === 'sensor-dropout').length,
  };
};

suite('the manifold of an engine that stands', () => {
  test('must read what the barometer beside it does: a wrong scale is told, and no loose wire', () => {
    assert.deepEqual(told({ scale: 1.18 }), { rest: [['warning', 117, 99]], dropouts: 0 });
    assert.deepEqual(told({ scale: 0.84, standsS: 8 }), { rest: [['warning', 83, 99]], dropouts: 0 });
  });
  test('is not told where it agrees, may be filling still, or nothing is beside it', () => {
    for (const car of [{}, { scale: 1.03 }, { scale: 0.84, standsS: 2 }, { scale: 1.18, without: 'barometric-pressure' }])
      assert.deepEqual(told(car).rest, [], JSON.stringify(car));
  });
  test('is not told where the engine turns and its speed alone is lost', () => {
    for (const car of [{ lostS: 40 }, { lostS: 15, kmh: 60 }]) assert.deepEqual(told(car).rest, [], JSON.stringify(car));
    assert.equal(told({ scale: 1.18, standsS: 8, kmh: 60 }).rest.length, 1);
  });
  test('is held to the air of its place, on a road over a pass', () =>
    assert.deepEqual(told({ airKPa: (t) => Math.round(99 - 20 * Math.min(1, t / 60)) }).rest, []));
});

suite('a manifold without a blower that reads a little above the air where it is open to it', () => {
  test('pulses at one runner: no loose wire', () => assert.equal(told({ pulseKPa: 8 }).dropouts, 0));
  test('is another thing than a wire that leaps, at any throttle or far beyond', () => {
    assert.ok(told({ leapsTo: 110 }).dropouts > 0);
    assert.ok(told({ leapsTo: 255 }).dropouts > 0);
    assert.ok(told({ leapsTo: 255, pulseKPa: 8 }).dropouts > 0);
  });
});
