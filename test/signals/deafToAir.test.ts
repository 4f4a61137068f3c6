// A wideband whose heater fails in mid-drive. By hand: a cold sensor's pump moves no oxygen and its reading relaxes to about lambda 1,
// whatever burns (Bosch's and NGK's kind of cell, from memory);
// a live one shows the air of a fuel cut within a second.

import assert from 'node:assert/strict';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.05, 400);
const unrest = (i: number): number => (Math.sin(i * 1.9) + Math.sin(i * 0.73) + Math.sin(i * 2.71)) / 3;
const isCut = (t: number): boolean => t % 20 > 10 && t % 20 < 15,
  isFull = (t: number): boolean => t % 40 > 35;

/** The spells in which lambda stands still, in whole seconds; `shown` makes a reading of what burns. */
const stuck = (shown: (lambda: number, t: number, i: number) => number): string[] => {
  let air = 1;
  const burnt = [...timeS].map((t) => (air += ((isCut(t - 0.2) ? 2.2 : isFull(t - 0.2) ? 0.84 : 1) - air) * 0.3));
  const session = sessionOf(timeS, {
    'engine-speed': [...timeS].map((t, i) => Math.round(2800 + 500 * Math.sin(t / 5) + (isFull(t) ? 300 * (t % 5) : 0) + 6 * unrest(i))),
    throttle: [...timeS].map((t, i) => (isCut(t) ? 0 : isFull(t) ? 98 : 20 + 6 * Math.sin(t / 3)) + 0.2 * Math.abs(unrest(i))),
    'manifold-pressure': [...timeS].map((t, i) => (isCut(t) ? 24 : isFull(t) ? 98 : 48 + 8 * Math.sin(t / 3)) + 0.5 * unrest(i)),
    lambda: burnt.map((lambda, i) => Math.round(1000 * Math.min(1.6, shown(lambda, timeS[i], i))) / 1000),
    'coolant-temperature': [...timeS].map(() => 88),
  });
  return analyse(session, EMPTY_VEHICLE)
    .faults.filter(({ kind, channel }) => kind === 'stuck' && channel.quantity === 'lambda')
    .map(({ from, to }) => `${Math.round(timeS[from])} to ${Math.round(timeS[Math.min(to, timeS.length - 1)])}`);
};
const live = (lambda: number, _t: number, i: number): number => lambda * (1 + 0.008 * unrest(i));

suite('a lambda sensor that goes cold in mid-drive', () => {
  test('stands still from there on, and is not believed while it cools since it last showed air', () => {
    assert.deepEqual(
      stuck((lambda, t, i) => (t > 206 ? 1.002 + 0.002 * unrest(i) : live(lambda, t, i))),
      ['195 to 400'],
    );
    assert.deepEqual(
      stuck((lambda, t, i) =>
        t > 226 ? 1.002 + (lambda - 1) * Math.exp((226 - t) / 3) + 0.002 * unrest(i) : live(lambda, t, i),
      )[0]?.replace(/ .*/, ''),
      '235',
    );
  });
  test('not a live one, nor where the computer keeps its fuel on in later overruns', () => {
    assert.deepEqual(stuck(live), []);
    assert.deepEqual(
      stuck((lambda, t, i) => live(t > 206 ? Math.min(lambda, 1) : lambda, t, i)),
      [],
    );
  });
});
