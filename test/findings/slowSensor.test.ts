// A sensor that answers slowly is not taken for a lean engine, and a lean engine is still seen through it. The drive is made apart from the
// code's model: fuel over air, stirred in an exhaust that the flow renews, then a shield and a cell one after the other (two lags, so that
// an answer begins gently); what is burnt and what is read are λ = 1 / that. By hand: of a step through two equal lags (1 + x) e^−x is left
// after x lags, 0.29 (λ 1.4 from air) at 2.50 and 0.13 (λ 1.15) at 3.60, so that what is told is 1.1 lags, and up to 0.1 s more for the
// stirring.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import type { Finding } from '../../server/src/findings/finding.js';
import { sampleLog, unrest } from '../../server/src/findings/sampleLog.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { readVehicle } from '../../server/src/formats/vehicle/readVehicle.js';
import { textSource } from '../../server/src/formats/source.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { Approach } from '../../server/src/signals/mixture/slowAnswer.js';

interface Drive {
  /** Each of the two lags, seconds. */
  readonly lagS: number;
  /** Share of the fuel that is missing, by seconds into a pull and manifold pressure, kPa. */
  readonly missing?: (intoS: number, kPa: number, isAgain: boolean) => number;
  /** Gas between valve and sensor, g. */
  readonly gasG?: number;
  readonly cuts?: boolean;
  /** Once in 0.8 s of a pull a row of the log shows no load. */
  readonly blinks?: boolean;
  readonly sensor?: object;
  /** Seconds that the gauge keeps each reading back. */
  readonly lateS?: number;
  /** Step that lambda is written in. */
  readonly writtenTo?: number;
  /** How long boost takes to build up. */
  readonly spoolS?: number;
  /** Another pull of 5 s right behind the fuel cut. */
  readonly again?: boolean;
  readonly againS?: number;
  readonly logS?: number;
  /** λ by which a third and a fourth column of lambda stand above the first. */
  readonly apart?: readonly number[];
}

const ROUND_S = 30,
  ROUNDS = 6,
  STEP_S = 0.002;
/** Cruise, a pull of 6 s from 12 s on, a foot off for 3 s, then cruise again. */
const isShut = (t: number): boolean => t >= 18.1 && t < 21;
const ramp = (t: number, fromS: number, lengthS: number): number => Math.min(1, Math.max(0, (t - fromS) / lengthS));

const found = ({
  lagS,
  missing = () => 0,
  gasG = 1,
  cuts = true,
  blinks = false,
  sensor = {},
  lateS = 0,
  writtenTo = 0,
  spoolS = 0.5,
  again = false,
  againS = 5,
  logS = 0.05,
  apart = [],
}: Drive): Finding[] => {
  const beganS = (t: number): number => (t < 21 ? 12 : 21.2),
    isPull = (t: number): boolean => (t >= 12 && t < 18) || (again && t >= 21.2 && t < 21.2 + againS);
  const rpmAt = (t: number): number => (isPull(t) ? 2500 + 600 * (t - beganS(t)) : t < 12 ? 2500 : 6100 - 3600 * ramp(t, 18, 4));
  const kPaAt = (t: number): number => (isPull(t) ? 45 + 125 * ramp(t, beganS(t), spoolS) : isShut(t) ? 30 : 45),
    targetAt = (kPa: number): number => 1 - 0.18 * ramp(kPa, 80, 60);
  const lambda: number[] = [];
  let [stirred, shield, cell] = [1, 1, 1];
  for (let step = 0; step * STEP_S < ROUND_S * ROUNDS; step++) {
    const t = (step * STEP_S) % ROUND_S,
      kPa = kPaAt(t),
      flowGPerS = (((0.85 * kPa) / 100) * 1.18 * 2 * rpmAt(t)) / 120;
    const phi = isShut(t) && cuts ? 0 : (1 - (isPull(t) ? missing(t - beganS(t), kPa, t > 21) : 0)) / targetAt(kPa);
    stirred += ((phi - stirred) * STEP_S * flowGPerS) / gasG;
    shield += ((stirred - shield) * STEP_S) / lagS;
    cell += ((shield - cell) * STEP_S) / lagS;
    lambda.push(Math.min(1.7, 1 / Math.max(cell, 0.1)));
  }
  const { vehicle } = readVehicle(
    JSON.stringify({ engine: { displacementL: 2, aspiration: 'turbocharged' }, lambdaSensor: { range: [0.65, 1.7], ...sensor } }),
  );
  const isBlink = (t: number): boolean => blinks && isPull(t) && Math.round(t / 0.05) % 16 === 0;
  const readsAt = (t: number, byLambda = 0): number => {
    const read = lambda[Math.max(0, Math.min(lambda.length - 1, Math.round((t - lateS) / STEP_S)))] + byLambda + unrest(t + 7, 0.005);
    return writtenTo > 0 ? Math.round(read / writtenTo) * writtenTo : read;
  };
  const text = sampleLog(ROUND_S * ROUNDS, logS, {
    'engine speed (rpm)': (t) => rpmAt(t % ROUND_S) + unrest(t, 5),
    'throttle (%)': (t) => (isBlink(t % ROUND_S) ? 18 : isPull(t % ROUND_S) ? 100 : isShut(t % ROUND_S) ? 0 : 18) + unrest(t, 0.2),
    'manifold pressure (kPa)': (t) => (isBlink(t % ROUND_S) ? 45 : kPaAt(t % ROUND_S)) + unrest(t + 3, 0.4),
    'target lambda': (t) => targetAt(kPaAt(t % ROUND_S)),
    [apart.length > 0 ? 'lambda 1' : 'lambda']: (t: number) => readsAt(t),
    ...(apart.length > 0 && { 'lambda 2': (t: number) => readsAt(t) }),
    ...Object.fromEntries(apart.map((byLambda, at) => [`lambda ${at + 3}`, (t: number) => readsAt(t, byLambda)])),
    'coolant temperature (°C)': () => 90,
  });
  return sessionFindings(analyse(readSession(textSource(text), { vehicle }), vehicle));
};
const lean = (drive: Drive): Finding[] => found(drive).filter(({ code }) => code === 'lean-under-load');
const slow = (drive: Drive): Finding[] => found(drive).filter(({ code, data }) => code === 'sensor-mount' && data?.kind === 'slow');

suite('a sensor that answers slowly', () => {
  for (const lagS of [0.3, 0.35, 0.4]) {
    test(`of a healthy engine accuses nobody, and is told: two lags of ${lagS} s`, () => {
      assert.deepEqual(
        lean({ lagS }).map(({ message }) => message),
        [],
      );
      const [told] = slow({ lagS });
      assert.ok(Number(told.data!.lagS) > 1.1 * lagS - 0.03 && Number(told.data!.lagS) < 1.1 * lagS + 0.1, told.message);
    });

    test(`hides no engine that is lean through its pulls, nor one that becomes so in mid pull, nor for a second and a half: two lags of ${lagS} s`, () => {
      for (const missing of [
        (_: number, kPa: number) => (kPa > 110 ? 0.1 : 0),
        (intoS: number) => (intoS > 3 ? 0.12 : 0),
        (intoS: number) => (intoS > 2.5 && intoS < 4 ? 0.2 : 0),
      ]) {
        const [worst] = lean({ lagS, missing });
        assert.equal(worst?.severity, 'error');
      }
    });
  }

  // A number that is rounded to a tenth may be half of that away: λ 0.85 and 0.94 are both 0.9.
  test('or one whose log rounds it is lean only beyond half of its step', () => {
    const rounded = { lagS: 0.02, writtenTo: 0.1, missing: (): number => 0.038 };
    assert.deepEqual(
      lean(rounded).map(({ message }) => message),
      [],
    );
    assert.equal(lean({ ...rounded, missing: () => 0.2 })[0]?.severity, 'error');
  });

  // λ 0.82 + 0.04 is written as 0.9, which 0.85 is as well.
  test('and so is each of its cylinders', () => {
    const rounded = { lagS: 0.02, writtenTo: 0.1, missing: (): number => 0.03 };
    assert.deepEqual(
      lean({ ...rounded, apart: [0.02, 0.03] }).map(({ message }) => message),
      [],
    );
    assert.match(lean({ ...rounded, apart: [0.02, 0.2] })[0].message, /lambda 4/);
  });

  // Each leap of a log that somebody wrote by hand is a change, and none is a step.
  test('a leap of readings that are still else is no rounding', () => {
    for (const hz of [2, 10])
      for (const byLambda of [0.055, 0.06, 0.08]) {
        const isPull = (t: number): boolean => t % 30 >= 15 && t % 30 < 24;
        const text = sampleLog(90, 1 / hz, {
          'engine speed (rpm)': (t) => (isPull(t) ? 2500 + 350 * ((t % 30) - 15) : 2300) + unrest(t, 5),
          'throttle (%)': (t) => (isPull(t) ? 99 : 18),
          'manifold pressure (kPa)': (t) => (isPull(t) ? 98 : 45) + unrest(t + 3, 0.4),
          'target lambda': (t) => (isPull(t) ? 0.85 : 1),
          lambda: (t) => (isPull(t) ? 0.85 : 1) + (t > 48 && t < 51 ? byLambda : 0),
        });
        const { vehicle } = readVehicle('{}');
        const [worst] = sessionFindings(analyse(readSession(textSource(text), { vehicle }), vehicle)).filter(
          ({ code }) => code === 'lean-under-load',
        );
        assert.equal(worst?.severity, 'error', `${hz} Hz ${byLambda}`);
      }
  });

  test('a short lean pull right behind a cut is told where the rows are too few to show a way, and where it ends leaner than one', () => {
    const soon = { again: true, againS: 3, missing: (_s: number, _kPa: number, isAgain: boolean): number => (isAgain ? 0.25 : 0) };
    for (const drive of [
      { ...soon, lagS: 0.05, logS: 1 },
      { ...soon, lagS: 0.05, logS: 0.5 },
      { ...soon, lagS: 0.15, againS: 1.5 },
      { ...soon, lagS: 0.6, againS: 2.5, sensor: { transportDelay: 0.3 } },
    ])
      assert.equal(lean(drive)[0]?.severity, 'error', JSON.stringify(drive));
  });

  // Too quick to be called slow: by then it is the port's wall as well.
  test('too quick to be told is on its way from air all the same, and hides nothing else', () => {
    for (const lagS of [0.14, 0.18, 0.22, 0.26]) {
      assert.deepEqual(
        lean({ lagS, again: true }).map(({ message }) => message),
        [],
        String(lagS),
      );
      assert.equal(lean({ lagS, again: true, missing: (intoS) => (intoS < 2 ? 0.12 : 0) })[0]?.severity, 'error');
      assert.equal(lean({ lagS, again: true, missing: (intoS) => (intoS > 2 && intoS < 2.6 ? 0.4 : 0) })[0]?.severity, 'error');
    }
  });

  // Air is no fuel at all, λ without end: from there a gauge stands at its end until 1 / λ has come up to it.
  test('is on its way from air for longer than its end shows, and a pull right behind a cut accuses nobody', () => {
    for (const lagS of [0.35, 0.4, 0.7]) {
      assert.deepEqual(
        lean({ lagS, again: true })
          .filter(({ severity }) => lagS < 0.5 || severity === 'error')
          .map(({ message }) => message),
        [],
      );
      assert.equal(lean({ lagS, again: true, missing: (intoS) => (intoS > 3 ? 0.12 : 0) })[0]?.severity, 'error');
    }
  });

  test('a gauge that keeps its readings back accuses nobody, is told, and hides no lean engine', () => {
    const late: Drive = { lagS: 0.03, lateS: 0.35, spoolS: 2 };
    assert.deepEqual(
      lean(late).map(({ message }) => message),
      [],
    );
    assert.match(slow(late)[0].message, /comes 0\.(?:1[5-9]|2\d|3[0-5]) s later/);
    for (const missing of [
      (_: number, kPa: number) => (kPa > 110 ? 0.1 : 0),
      (intoS: number) => (intoS > 3 ? 0.12 : 0),
      (intoS: number) => (intoS > 2.5 && intoS < 3.5 ? 0.2 : 0),
    ])
      assert.equal(lean({ ...late, missing })[0]?.severity, 'error');
    assert.deepEqual(slow({ lagS: 0.03 }), []);
  });

  test('hides no lean engine behind a load that blinks: its way does not begin anew from what it reads', () => {
    const drive: Drive = { lagS: 0.35, blinks: true };
    assert.deepEqual(
      lean(drive).map(({ message }) => message),
      [],
    );
    assert.equal(lean({ ...drive, missing: (intoS) => (intoS > 2 ? 0.12 : 0) })[0]?.severity, 'error');
    // A second of a reading that stays at λ 0.95, a row without load, and on: by hand, of a lag of 0.5 s e^(−1 s / 0.5 s) is left of the
    // way from 0.95 to 0.80, and 0.2 s bring back 1 − e^−0.4 of what lies between that and λ 1.
    const timeS = Float64Array.from({ length: 13 }, (_, row) => row / 10),
      way = new Approach({ lagS: 0.5, delays: 1, lateS: 0, cuts: 4 }, timeS, new Float64Array(13));
    way.begin(0, new Uint8Array(13));
    for (let row = 0; row <= 10; row++) way.at(row, 0.95, 0.8);
    way.begin(12, new Uint8Array(13));
    const left = 0.8 + 0.15 * Math.exp(-2);
    assert.ok(Math.abs(way.at(12, 0.95, 0.8) - (1 + (left - 1) * Math.exp(-0.4))) < 1e-9);
  });

  test('hides no engine that runs out of fuel soon behind a cut: a reading that has left the air and comes to its end again is no way', () => {
    const timeS = Float64Array.from({ length: 40 }, (_, row) => row / 10),
      air = Uint8Array.from(timeS, (at) => Number(at < 1)),
      way = new Approach({ lagS: 1, delays: 1, lateS: 0, cuts: 4 }, timeS, new Float64Array(40));
    way.begin(20, air);
    const expected = [...timeS.keys()].slice(20).map((row) => way.at(row, row < 24 ? 1.02 : 1.6, 0.85));
    assert.ok(Math.max(...expected) < 1.05);
  });

  test('is not looked for where the delay is stated, or where no cut shows it', () => {
    assert.ok(lean({ lagS: 0.35, sensor: { transportDelay: 0.1 } }).length > 0);
    assert.ok(lean({ lagS: 0.35, cuts: false }).length > 0);
  });

  test('a sound one is none: healthy it is quiet, and a lean engine is told as it was', () => {
    assert.deepEqual(
      [...lean({ lagS: 0.03 }), ...slow({ lagS: 0.03 })].map(({ message }) => message),
      [],
    );
    const drive: Drive = { lagS: 0.03, missing: (intoS) => (intoS > 0.5 ? 0.1 : 0) };
    assert.equal(lean(drive)[0]?.severity, 'error');
    assert.deepEqual(
      slow(drive).map(({ message }) => message),
      [],
    );
  });

  test('a probe in the tailpipe is late as well', () => {
    const drive: Drive = { lagS: 0.25, gasG: 12, sensor: { mount: 'tailpipe' } };
    assert.deepEqual(
      lean(drive).map(({ message }) => message),
      [],
    );
    assert.equal(lean({ ...drive, missing: (_, kPa) => (kPa > 110 ? 0.12 : 0) })[0]?.severity, 'error');
  });
});
