// Fuel trims on the scales that computers show them in: per cent added (+5), a factor (1.05), per cent of all fuel (105). Which one a
// column is follows from where a closed loop swings.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from './sessionOf.js';

const timeS = everyS(0.1, 200);
/** Per cent added: a loop that hunts, and is open for a quarter of the time. */
const short = (t: number, i: number): number => (t % 40 > 30 ? 0 : 2.5 * Math.sin(t * 1.3) + 0.6 * Math.sin(i * 2.1));

const doubted = (shown: (percent: number) => number, long: (t: number) => number, shortOf = short) =>
  sessionFindings(
    analyse(
      sessionOf(timeS, {
        'engine-speed': Array.from(timeS, (t, i) => Math.round(2300 + 900 * Math.sin(t / 6) + 5 * Math.sin(i * 1.9))),
        'manifold-pressure': Array.from(timeS, (t, i) => 60 + 30 * Math.sin(t / 6) + 0.4 * Math.sin(i * 2.3)),
        'short-term-fuel-trim': Array.from(timeS, (t, i) => shown(shortOf(t, i))),
        'long-term-fuel-trim': Array.from(timeS, (t) => shown(long(t))),
      }),
      EMPTY_VEHICLE,
    ),
  ).filter(({ code }) => code === 'value-implausible');
const told = (...of: Parameters<typeof doubted>): readonly string[] =>
  doubted(...of)
    .filter(({ data }) => data?.kind === 'unit')
    .map(({ message }) => message);

suite('the scale of fuel trims', () => {
  test('a factor and per cent of all fuel are told, both trims, with what they would be', () => {
    for (const [name, shown] of [
      ['a factor on the fuel', (p: number) => 1 + p / 100],
      ['per cent of all fuel', (p: number) => 100 + p],
    ] as const) {
      const messages = told(shown, () => 5);
      assert.equal(messages.length, 2, name);
      assert.ok(
        messages.every((message) => message.includes(`look like ${name}`)),
        messages[0],
      );
      assert.ok(
        messages.some((message) => message.includes('5.0 to 5.0 %')),
        messages.join('\n'),
      );
    }
  });
  test('also where the loop has next to nothing left to do, and the header does not say per cent', () => {
    // A long-term trim of 10 % that has learnt it all: taken for 1.1 % it would hide nine tenths of what the table is short of.
    const read = (unit: string, shortName = 'Short Term Fuel Trim'): number => {
      const rows = Array.from(
        timeS,
        (t, i) =>
          `${t.toFixed(1)},${Math.round(2300 + 900 * Math.sin(t / 6) + 5 * Math.sin(i * 1.9))},${(60 + 30 * Math.sin(t / 6)).toFixed(1)},${(1 + short(t, i) / 1000).toFixed(4)},1.1`,
      );
      const text = `Time (s),RPM,MAP (kPa),${shortName}${unit},Long Term Fuel Trim${unit}\n${rows.join('\n')}\n`;
      return sessionFindings(analyse(readSession(textSource(text)), EMPTY_VEHICLE)).filter(
        ({ code, data }) => code === 'value-implausible' && data?.kind === 'unit',
      ).length;
    };
    assert.deepEqual([read(' (multiplier)'), read(''), read(' (%)')], [2, 2, 0]);
    assert.deepEqual([read(' (factor)', 'Something'), read('', 'Something')], [1, 0]);
  });
  test('also where the first readings are nought: not answered yet', () => {
    for (const of100 of [1, 100])
      assert.equal(
        told(
          (percent) => (percent < -50 ? 0 : of100 * (1 + percent / 100)),
          (t) => (t < 0.5 ? -100 : 5),
          (t, i) => (t < 0.5 ? -100 : short(t, i)),
        ).length,
        2,
      );
    // A long-term trim that stands at nought is on no scale.
    assert.equal(
      told(
        (percent) => (percent < -50 ? 0 : 1 + percent / 100),
        () => -100,
      ).filter((message) => message.startsWith('long')).length,
      0,
    );
  });
  test('on another scale, or out of range, they are told as that alone: not as trims that stand 310 % to one side', () => {
    for (const of of [short, (t: number, i: number) => (i < 5 ? -100 : short(t, i))]) {
      const messages = doubted(
        (percent) => 100 + percent,
        () => 5,
        of,
      ).map(({ message }) => message);
      assert.ok(messages.length === 2 && !messages.some((message) => message.includes('warm drive')), messages.join('\n'));
    }
    assert.ok(
      doubted(
        (percent) => percent,
        () => 15,
      ).some(({ message }) => message.includes('warm drive')),
    );
  });
  test('per cent added is what it is, also where the long-term trim stands at 1 %, or wanders there', () => {
    for (const long of [() => 5, () => 0.8, (t: number) => 1 + 0.3 * Math.sin(t / 50)])
      assert.deepEqual(
        told((p) => p, long),
        [],
      );
    // A loop that is never open, and one that only ever adds.
    assert.deepEqual(
      told(
        (p) => p,
        () => 1,
        (t, i) => 1 + 1.5 * Math.sin(t * 1.3) + 0.4 * Math.sin(i * 2.1),
      ),
      [],
    );
  });
});
