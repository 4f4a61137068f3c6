// A manifold pressure sensor at its stop. By hand: its amplifier ends at 250 kPa and the converter flickers there by a tick of 0.1 kPa or
// two, while the pressure that it measures swings with the strokes by 0.4 kPa and more. Datasheet habit, no source: an output at its rail
// has lost the signal, not the converter's last bit.

import assert from 'node:assert/strict';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.05, 240);
const unrest = (i: number): number => Math.sin(i * 1.9) + Math.sin(i * 0.73) + Math.sin(i * 2.71);
const TURBO: Vehicle = { ...EMPTY_VEHICLE, engine: { aspiration: 'turbocharged', maxManifoldPressureKPa: 300 } };

/** Two of three full loads reach `fullKPa`, the third 190 kPa. How often the stop is told. */
const told = (fullKPa: number, shownOf: (kPa: number, i: number) => number): number => {
  const isFull = (t: number): boolean => t % 30 > 15 && t % 30 < 25;
  const rpm = timeS.map((t, i) => (isFull(t) ? 3000 + 300 * ((t % 30) - 15) : 2500 + 700 * Math.sin(t / 4)) + 4 * unrest(i));
  const kPa = timeS.map(
    (t, i) => (isFull(t) ? (Math.floor(t / 30) % 3 === 2 ? 190 : fullKPa) : 62 + 18 * Math.sin(t / 3)) + 0.4 * unrest(i),
  );
  return analyse(
    sessionOf(timeS, {
      'engine-speed': rpm.map(Math.round),
      throttle: timeS.map((t, i) => (isFull(t) ? 99 : 30 + 10 * Math.sin(t / 3)) + 0.2 * unrest(i)),
      'manifold-pressure': kPa.map((each, i) => shownOf(each, i)),
      lambda: timeS.map((t, i) => (isFull(t) ? 0.82 : 1) + 0.003 * unrest(i)),
    }),
    TURBO,
  ).faults.filter(({ channel, kind }) => channel.quantity === 'manifold-pressure' && kind === 'clipped-high').length;
};
const tenths = (kPa: number): number => Math.round(10 * kPa) / 10;

suite('a pressure sensor at its stop', () => {
  test('whose converter flickers is told at each full load that reaches it', () => {
    assert.equal(
      told(280, (kPa, i) => tenths(kPa > 250 ? 250.1 + 0.07 * Math.sin(i * 2.3) : kPa)),
      6,
    );
  });
  test('not boost that is measured: it swings as everywhere, or is held well', () => {
    assert.equal(told(250, tenths), 0);
    assert.equal(
      told(250, (kPa) => tenths(kPa + (250 - kPa) * (kPa > 240 ? 0.6 : 0))),
      0,
    );
  });
});
