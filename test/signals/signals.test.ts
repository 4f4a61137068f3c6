// Hold, delay, statistics, recordings and events on columns whose answer is known beforehand.

import assert from 'node:assert/strict';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { modelDelayS } from '../../server/src/signals/mixture/delay.js';
import { mad, median } from '../../server/src/signals/columns/statistics.js';
import { everyS, sessionOf } from './sessionOf.js';

const near = (actual: number, expected: number, within: number, what = ''): void =>
  assert.ok(Math.abs(actual - expected) <= within, `${what} ${actual}, expected ${expected} ± ${within}`);

suite('signals', () => {
  test('median and MAD of five values with one outlier', () => {
    // Robust statistics, textbook arithmetic: median 1.00, MAD 0.01.
    const values = Float64Array.of(0.98, 1.0, 1.01, 0.99, 1.6);
    near(median(values), 1, 1e-12);
    near(mad(values), 0.01, 1e-12);
  });

  test('the modelled delay lies in the textbook range', () => {
    // Guzzella and Onder (from memory): about 0.2 to 0.6 s at idle, 0.05 to 0.15 s at high load, ahead of the catalyst.
    const idleS = modelDelayS(800, 3.43),
      loadS = modelDelayS(6000, 113.5);
    assert.ok(idleS > 0.2 && idleS < 0.6, `${idleS}`);
    assert.ok(loadS > 0.05 && loadS < 0.15, `${loadS}`);
    // One cycle + V p / (R T m) + lag: 0.15 + 0.198 + 0.05 s with 1.5 L, 500 °C (worked example, derived).
    near(idleS, 0.398, 0.03);
  });

  test('a channel filled every fifth row is carried over its blanks and no further', () => {
    const timeS = everyS(0.1, 20);
    const slow = timeS.map((_, i) => (i % 5 === 0 && !(i >= 100 && i < 140) ? i : NaN));
    const signals = analyse(
      sessionOf(timeS, { 'coolant-temperature': slow.map((value) => 60 + value / 100), 'engine-speed': timeS.map(() => 900) }),
      EMPTY_VEHICLE,
    );
    const held = signals.held('coolant-temperature')!;
    near(held[52], 60.52, 1e-9, 'interpolated');
    assert.ok(Number.isNaN(held[120]), 'blank for four seconds');
    assert.equal(signals.trusted('coolant-temperature')![52], 1);
    assert.equal(signals.trusted('coolant-temperature')![120], 0);
  });

  test('recordings end at a step back and at a long hole', () => {
    const timeS = everyS(0.1, 30).map((each) => (each >= 20 ? each + 60 : each));
    const session = { ...sessionOf(timeS, { 'engine-speed': timeS.map(() => 900) }), recordingStarts: [0, 50] };
    assert.deepEqual(analyse(session, EMPTY_VEHICLE).recordings, [
      { from: 0, to: 50 },
      { from: 50, to: 200 },
      { from: 200, to: 300 },
    ]);
  });

  test('the barometer is the manifold with the engine off, when no channel tells it', () => {
    const timeS = everyS(0.1, 10);
    const signals = analyse(
      sessionOf(timeS, { 'engine-speed': timeS.map((t) => (t < 3 ? 0 : 900)), 'manifold-pressure': timeS.map((t) => (t < 3 ? 88 : 35)) }),
      EMPTY_VEHICLE,
    );
    assert.deepEqual(signals.barometer, { kPa: 88, from: 'engine-off' });
  });

  suite('a drive with one of each event', () => {
    // Off to 2 s, cranking to 3, idle to 8, cruise to 20, a pull to 25 (2000 → 6000 rpm), overrun to 30, idle.
    const timeS = everyS(0.05, 36);
    const between = (t: number, a: number, b: number): boolean => t >= a && t < b;
    const rpm = timeS.map(
      (t) =>
        (t < 2 ? 0 : t < 3 ? 220 : t < 8 ? 850 : t < 20 ? 2000 : t < 25 ? 2000 + 800 * (t - 20) : t < 30 ? 6000 - 900 * (t - 25) : 850) +
        (t < 2 ? 0 : 6 * Math.sin(t * 57)),
    );
    const columns = {
      'engine-speed': rpm,
      throttle: timeS.map((t) => (between(t, 8, 20) ? 18 + 0.2 * Math.sin(t * 41) : between(t, 20, 25) ? 100 : 0)),
      'manifold-pressure': timeS.map(
        (t) => (t < 3 ? 100 : t < 8 || t >= 30 ? 35 : t < 20 ? 50 : t < 25 ? 98 : 22) + 0.4 * Math.sin(t * 63),
      ),
      'vehicle-speed': timeS.map((t) => (t < 8 ? 0 : t < 20 ? 60 : t < 25 ? 60 + 24 * (t - 20) : t < 30 ? 180 - 30 * (t - 25) : 0)),
      lambda: timeS.map(
        (t) => (between(t, 20.2, 25.2) ? 0.87 : between(t, 25.3, 30.2) ? 1.6 : 1) + (between(t, 25.3, 30.2) ? 0 : 0.004 * Math.sin(t * 47)),
      ),
      'target-lambda': timeS.map((t) => (between(t, 20, 25) ? 0.87 : 1)),
      'intake-air-temperature': timeS.map((t) => 30 + Math.max(0, Math.min(5, t - 20))),
    };
    const signals = analyse(sessionOf(timeS, columns), EMPTY_VEHICLE);
    const only = (kind: string) =>
      signals.events.filter((event) => event.kind === kind).map((event) => [timeS[event.from], timeS[event.to - 1]] as const);

    for (const [kind, fromS, toS] of [
      ['engine-off', 0, 2],
      ['cranking', 2, 3],
      ['pull', 20, 25],
      ['overrun', 25, 29.6],
    ] as const) {
      test(`${kind} once, from ${fromS} to ${toS} s`, () => {
        const spans = only(kind);
        assert.equal(spans.length, 1, JSON.stringify(spans));
        near(spans[0][0], fromS, 0.15, 'from');
        near(spans[0][1], toS, 0.4, 'to');
      });
    }
    test('idle twice, cruise once, a tip-in at the pull', () => {
      assert.equal(only('idle').length, 2);
      assert.equal(only('cruise').length, 1);
      assert.ok(only('tip-in').some(([fromS]) => Math.abs(fromS - 20) < 0.3));
    });
    test('the pull carries its numbers', () => {
      const [pull] = signals.pulls;
      near(pull.fromRpm, 2000, 15);
      near(pull.toRpm, 6000, 60);
      near(pull.peakManifoldPressureKPa!, 98, 1);
      near(pull.worstLambda!, 0.87, 0.015);
      near(pull.intakeAirRiseC!, 5, 0.2);
    });
    test('nothing in it is a fault', () =>
      assert.deepEqual(
        signals.faults.map((fault) => `${fault.kind} ${fault.channel.name}`),
        [],
      ));
  });

  test('a pull counts nothing of the lift behind it, and a blip of the throttle is no pull', () => {
    // By hand: 2000 rpm; a blip of 0.3 s at 4 s; a pull 10 to 13 s (2000 → 5000 rpm); then the throttle shuts, the exhaust is air at once
    // (λ 1.6, as soon as 0.02 s later) and the knock control shows 6°. In the pull itself λ is 0.85, at worst 0.91, and knock 1°.
    const timeS = everyS(0.02, 20);
    const open = (t: number): boolean => (t >= 4 && t < 4.3) || (t >= 10 && t < 13);
    const shut = (t: number): boolean => t >= 13 && t < 16;
    const noise = (t: number, by: number): number => by * Math.sin(t * 173);
    const columns = {
      'engine-speed': timeS.map(
        (t) =>
          (t < 10
            ? 2000 + (t >= 4 && t < 4.3 ? 1000 * (t - 4) : 0)
            : t < 13
              ? 2000 + 1000 * (t - 10)
              : t < 16
                ? 5000 - 1000 * (t - 13)
                : 2000) + noise(t, 5),
      ),
      throttle: timeS.map((t) => (open(t) ? 100 : shut(t) ? 0 : 18) + (shut(t) || open(t) ? 0 : noise(t, 0.3))),
      'manifold-pressure': timeS.map((t) => (open(t) ? 98 : shut(t) ? 22 : 50) + noise(t, 0.4)),
      lambda: timeS.map((t) =>
        t >= 13.02 && t < 16
          ? 1.6
          : t >= 11 && t < 11.5
            ? 0.91 + noise(t, 0.003)
            : t >= 10.2 && t < 13.02
              ? 0.85 + noise(t, 0.003)
              : 1 + noise(t, 0.003),
      ),
      'target-lambda': timeS.map((t) => (open(t) ? 0.85 : 1)),
      'knock-retard': timeS.map((t) => (t >= 13.04 && t < 13.4 ? 6 : t >= 12 && t < 12.2 ? 1 : 0)),
    };
    const { pulls } = analyse(sessionOf(timeS, columns), EMPTY_VEHICLE);
    assert.equal(pulls.length, 1);
    near(pulls[0].worstLambda!, 0.91, 0.004, 'worst');
    near(pulls[0].worstTargetLambda!, 0.85, 1e-9, 'target');
    near(pulls[0].leanS!, 0.5, 0.03, 'lean for');
    assert.equal(pulls[0].peakKnockRetardDeg, 1);
  });

  test('full load held for two seconds at a steady speed is a pull, half a boost of it is not', () => {
    const timeS = everyS(0.1, 30);
    const held = (t: number): boolean => t >= 10 && t < 12.5,
      half = (t: number): boolean => t >= 20 && t < 25;
    const signals = analyse(
      sessionOf(timeS, {
        'engine-speed': timeS.map((t) => 3000 + 8 * Math.sin(t * 57) + (half(t) ? 200 * (t - 20) : 0)),
        'manifold-pressure': timeS.map((t) => (held(t) ? 180 : half(t) ? 110 : 50) + 0.4 * Math.sin(t * 63)),
      }),
      EMPTY_VEHICLE,
    );
    assert.deepEqual(
      signals.pulls.map((pull) => Math.round(timeS[pull.from])),
      [10],
    );
  });

  test('an empty session has nothing and does not fail', () => {
    const signals = analyse(sessionOf(new Float64Array(0), { lambda: [] }), EMPTY_VEHICLE);
    assert.deepEqual([signals.events, signals.faults, signals.pulls, signals.recordings], [[], [], [], []]);
  });
});
