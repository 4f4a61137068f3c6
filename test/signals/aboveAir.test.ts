// A manifold pressure above the air around the car: without a blower nothing pushes it there. Ambient pressure stays below 108.5 kPa
// anywhere on land (weather stations). Nothing else is laid down here.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const NATURAL: Vehicle = { ...EMPTY_VEHICLE, engine: { aspiration: 'natural' } };

/** 40 s at part load, 10 s at full load, again and again; the manifold under load and at part load is as given. */
const drive = (vehicle: Vehicle, fullKPa: (s: number) => number, partKPa: (t: number) => number = () => 45) => {
  const timeS = everyS(0.05, 200),
    phase = (t: number) => t % 50,
    isFull = (t: number) => phase(t) >= 40,
    noise = (i: number) => Math.sin(i * 12.9898) * Math.cos(i * 4.1);
  const signals = analyse(
    sessionOf(timeS, {
      'engine-speed': timeS.map((t, i) => (isFull(t) ? 2500 + 350 * (phase(t) - 40) : 2500) + 6 * noise(i)),
      throttle: timeS.map((t, i) => (isFull(t) ? 99 : 18) + 0.3 * noise(i)),
      'manifold-pressure': timeS.map((t, i) => (isFull(t) ? fullKPa(phase(t) - 40) : partKPa(t)) + 0.4 * noise(i)),
      lambda: timeS.map((t, i) => (isFull(t) ? 0.86 : 1) + 0.006 * noise(i)),
    }),
    vehicle,
  );
  const found = sessionFindings(signals);
  return {
    told: found.filter(({ data }) => data?.kind === 'above-air').length,
    gone: found.filter(({ code, channel }) => code === 'sensor-dropout' && channel === 'manifold-pressure').length,
    signals,
  };
};
/** Boost that comes within two seconds. */
const boost = (s: number): number => 100 + 70 * Math.min(1, s / 2);

suite('a manifold that holds more than the air around', () => {
  test('in an engine that is called natural is told as that, and believed', () => {
    const { told, gone, signals } = drive(NATURAL, boost);
    assert.deepEqual([told, gone], [1, 0]);
    assert.ok(!signals.trusted('manifold-pressure')!.includes(0));
  });
  test('is nothing where the engine has a blower, or stays at the air', () => {
    assert.equal(drive({ ...EMPTY_VEHICLE, engine: { aspiration: 'turbocharged' } }, boost).told, 0);
    assert.equal(drive(NATURAL, () => 99).told, 0);
  });
  test('is none that an open wire shows, steady or in leaps, at whatever throttle', () => {
    const open = (t: number): number => (t % 10 > 7 ? 120 : 45),
      leaps = (t: number): number => (t % 10 > 7 ? 115 + 40 * Math.abs(Math.sin(900 * t)) : 45);
    for (const part of [open, leaps]) {
      const { told, gone } = drive(NATURAL, () => 99, part);
      assert.deepEqual([told, gone > 0], [0, true]);
    }
  });
});
