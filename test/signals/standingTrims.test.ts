// Fuel trims that stand to one side all day, and pulls that only the calculated load tells. By hand: an engine that gets 14 % too little of
// its fuel for all that it asks is given 1 / 0.86 − 1 = 16 % more by its closed loop.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.5, 480);
const unrest = (i: number): number => Math.sin(i * 1.9) + Math.sin(i * 0.73) + Math.sin(i * 2.71);
/** Full load for eight seconds of each minute, while the engine speeds up. */
const isFull = (t: number): boolean => t % 60 >= 30 && t % 60 < 38;

const drive = ({
  trim,
  coolantC = () => 88,
  fullPercent = 95,
  vehicle = EMPTY_VEHICLE,
}: {
  trim: (t: number) => number;
  coolantC?: (t: number) => number;
  fullPercent?: number;
  vehicle?: Vehicle;
}) =>
  analyse(
    sessionOf(timeS, {
      'engine-speed': timeS.map((t, i) => (isFull(t) ? 2000 + 300 * ((t % 60) - 30) : 1800 + 400 * Math.sin(t / 9)) + 5 * unrest(i)),
      'engine-load': timeS.map((t, i) => (isFull(t) ? fullPercent : 40 + 10 * Math.sin(t / 7)) + 0.5 * unrest(i)),
      'short-term-fuel-trim': timeS.map((t, i) => (isFull(t) ? 0 : 0.8 * unrest(i))),
      'long-term-fuel-trim': timeS.map((t) => trim(t)),
      'coolant-temperature': timeS.map(coolantC),
      'vehicle-speed': timeS.map((t) => 60 + 10 * Math.sin(t / 20)),
    }),
    vehicle,
  );
const told = (...args: Parameters<typeof drive>) => sessionFindings(drive(...args)).filter(({ data }) => data?.kind === 'trims-stand');

suite('fuel trims that stand to one side', () => {
  test('are told once, with how far and what to check', () => {
    const [short] = told({ trim: () => 16 }),
      [rich] = told({ trim: () => -14 });
    assert.deepEqual([short.code, short.severity, Math.round(Number(short.data!.percent))], ['value-implausible', 'warning', 16]);
    assert.match(short.message, /add 16 % of fuel over most of the warm drive.*fuel pressure under load, the air meter/);
    assert.match(rich.message, /take away 14 % of fuel/);
  });
  test('not within the limit, for a part of the drive, on a cold engine, or where a fuel table is named, whose cells tell it', () => {
    assert.equal(told({ trim: () => 7 }).length, 0);
    assert.equal(told({ trim: (t) => (t < 240 ? 16 : 1) }).length, 0);
    assert.equal(told({ trim: () => 16, coolantC: () => 30 }).length, 0);
    assert.equal(told({ trim: () => 16, vehicle: { ...EMPTY_VEHICLE, tables: { fuel: 'tables/ve.table.csv' } } }).length, 0);
  });
});

suite('pulls by the calculated load alone', () => {
  test('full load while the engine speeds up is a pull, four fifths of it are none', () => {
    assert.equal(drive({ trim: () => 0 }).events.filter(({ kind }) => kind === 'pull').length, 8);
    assert.equal(drive({ trim: () => 0, fullPercent: 82 }).events.filter(({ kind }) => kind === 'pull').length, 0);
  });
});
