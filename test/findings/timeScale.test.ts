// Clocks in another unit than they say. A drive of a row each 40 ms: as milliseconds read in seconds it would last a thousand times as
// long, as seconds read in milliseconds a thousandth, and 2026-11-08 14:41:46 is 46334.612338 days of a spreadsheet (2026-11-08 less
// 1899-12-30 is 46334 days).

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';

/** A minute with a pull 0.15 over its target; `written` is how the logger writes a moment. */
const drive = (header: string, written: (timeS: number) => string, stepS = 0.04): string => {
  const rows = [`${header},Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Lambda (λ),Target Lambda (λ),Coolant Temperature (°C)`];
  for (let row = 0; row * stepS < 60; row++) {
    const t = row * stepS,
      pull = t > 30 && t < 37,
      wiggle = Math.sin(row * 2.7);
    rows.push(
      [
        written(t),
        ((pull ? 2800 + 480 * (t - 30) : 2200 + 200 * Math.sin(t / 5)) + 6 * wiggle).toFixed(0),
        ((pull ? 180 : 45) + 0.5 * Math.sin(row * 1.9)).toFixed(1),
        pull ? '100' : (14 + wiggle).toFixed(1),
        ((pull ? 0.97 : 1) + 0.004 * Math.sin(row * 3.3)).toFixed(3),
        pull ? '0.82' : '1.00',
        '88',
      ].join(','),
    );
  }
  return `${rows.join('\n')}\n`;
};
const read = (text: string, vehicle: Vehicle = EMPTY_VEHICLE) => analyse(readSession(textSource(text), { vehicle }), vehicle);
const told = (text: string) =>
  sessionFindings(read(text))
    .filter(({ severity }) => severity === 'error')
    .map(({ code, message }) => `${code}: ${message}`);

suite('a clock in another unit than it says', () => {
  test('is an error: milliseconds under s, seconds under ms', () => {
    assert.match(
      told(drive('Time (s)', (t) => (t * 1000).toFixed(0)))[0],
      /^unit-unknown: Time \(s\) is read in s, and a row follows another every 40(\.0)? s: so slow a log shows no pull\..* Write ms in brackets/,
    );
    assert.match(
      told(drive('Time (ms)', (t) => t.toFixed(2)))[0],
      /^unit-unknown: Time \(ms\) is read in ms, and a row follows another every 0\.040? ms: no logger is so fast\..* Write s in brackets/,
    );
  });
  test('is said with the unit that mends it', () => {
    for (const [header, written, mends] of [
      ['Time (ms)', 1e6, 'µs'],
      ['Time (s)', 1e6, 'µs'],
      ['Time (min)', 1000, 'ms'],
      ['Time (min)', 1, 's'],
    ] as const)
      assert.match(
        told(drive(header, (t) => (t * written).toFixed(2), 0.1))[0],
        new RegExp(`^unit-unknown: .* Write ${mends} in brackets`),
        header,
      );
    assert.match(
      told(drive('Time (s)', (t) => (1.2e9 + t * 1e6).toFixed(0)))[0],
      /Write µs/,
      'twenty minutes after the start, and no date',
    );
  });
  test('is none where each row carries a date or a clock of hours, minutes and seconds, however seldom one comes', () => {
    const clock = (t: number): string =>
      [t / 3600, (t / 60) % 60, t % 60].map((part, at) => String(Math.floor(part)).padStart(at > 0 ? 2 : 1, '0')).join(':');
    for (const written of [
      clock,
      (t: number) => clock(t + 53_400),
      (t: number) => new Date(1.79e12 + t * 1000).toISOString(),
      (t: number) => (1.79e9 + t).toFixed(0),
    ]) {
      const text = `Time,Engine Speed (rpm)\n${Array.from({ length: 40 }, (_, row) => `${written(10 * row)},${2000 + (row % 7)}\n`).join('')}`;
      assert.deepEqual(told(text), []);
    }
  });
  test('is none at the rates of loggers', () => {
    for (const stepS of [0.001, 0.04, 1, 3])
      assert.deepEqual(
        told(drive('Time (s)', (t) => t.toFixed(3), stepS)).filter((each) => each.startsWith('unit-unknown')),
        [],
        String(stepS),
      );
  });
  test("of a spreadsheet's days is read as that, with a date or without", () => {
    for (const [from, digits] of [
      [46334.612338, 9],
      [0.612338, 9],
      [46334.612338, 5],
    ] as const) {
      const text = drive('Time', (t) => (from + t / 86400).toFixed(digits)),
        { session } = read(text);
      assert.equal(session.time.unit?.id, 'd');
      const { timeS } = session;
      assert.ok(Math.abs(timeS[timeS.length - 1] - timeS[0] - 60) < 1, String(timeS[timeS.length - 1] - timeS[0]));
      assert.ok(
        told(text).some((each) => each.startsWith('lean-under-load')),
        'the pull is found',
      );
      assert.ok(
        sessionFindings(read(text)).some(({ code, message }) => code === 'unit-unknown' && message.includes('Time in d')),
        'what is assumed is said',
      );
    }
  });
  test('of seconds since midnight, and of seconds from nought, is left as it is', () => {
    for (const from of [46334.61, 0, 0.612]) assert.equal(read(drive('Time', (t) => (from + t).toFixed(3))).session.time.unit?.id, 's');
  });
});
