// The engine's findings on hand-made pulls with known answers; check values from the sources named beside them.

import assert from 'node:assert/strict';
import type { Finding, Rule } from '../../server/src/findings/finding.js';
import { rule as coolantHot } from '../../server/src/findings/rules/coolant-hot.js';
import { rule as fuelPressureDrop } from '../../server/src/findings/rules/fuel-pressure-drop.js';
import { droopOf } from '../../server/src/signals/droop.js';
import { rule as injectorDutyHigh } from '../../server/src/findings/rules/injector-duty-high.js';
import { dutyOf } from '../../server/src/signals/distress.js';
import { rule as intakeAirHot } from '../../server/src/findings/rules/intake-air-hot.js';
import { rule as knock } from '../../server/src/findings/rules/knock.js';
import { rule as leanUnderLoad } from '../../server/src/findings/rules/lean-under-load.js';
import { rule as misfireSuspected } from '../../server/src/findings/rules/misfire-suspected.js';
import { rule as richUnderLoad } from '../../server/src/findings/rules/rich-under-load.js';
import { rule as sensorDropout } from '../../server/src/findings/rules/sensor-dropout.js';
import { rule as valueImplausible } from '../../server/src/findings/rules/value-implausible.js';
import { checkFirstOf, troubleCodeOf } from '../../server/src/findings/troubleCodes.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { sessionFacts } from '../../server/src/service/sessionFacts.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { everyS, sessionOf } from '../signals/sessionOf.js';

let state = 3;
const noise = (size: number): number => {
  state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
  return size * (state / 2 ** 31 - 1);
};

/** Twelve seconds of cruise, a boosted pull from 12 to 18 s, cruise again to 26 s; 20 rows a second. */
const timeS = everyS(0.05, 26);
const open = (t: number): boolean => t >= 12 && t < 18;
const boost = timeS.map((t) => (open(t) ? Math.min(180, 100 + 80 * (t - 12)) : 55 + 18 * Math.sin(t / 2)));
const pull = (): Record<string, Float64Array> => ({
  'engine-speed': timeS.map((t) => (open(t) ? 2500 + 600 * (t - 12) : 2500) + noise(6)),
  throttle: timeS.map((t) => (open(t) ? 100 : 25 + 8 * Math.sin(t / 2) + noise(0.2))),
  'manifold-pressure': boost.map((each) => each + noise(0.7)),
  'target-lambda': timeS.map((t) => (open(t) ? 0.85 : 1)),
  lambda: timeS.map((t) => (open(t - 0.12) ? 0.85 : 1) + noise(0.008)),
});
const run = (rule: Rule, columns: Record<string, Float64Array>, vehicle: Vehicle = EMPTY_VEHICLE): Finding[] => [
  ...rule.session!(analyse(sessionOf(timeS, columns), vehicle)),
];
const onset = (finding: Finding, expectedS: number, withinS = 0.25): void =>
  assert.ok(Math.abs(finding.timeS![0] - expectedS) <= withinS, `starts at ${finding.timeS![0]}, expected ${expectedS}`);
const add = (column: Float64Array, fromS: number, toS: number, by: number): Float64Array =>
  column.map((each, i) => (timeS[i] >= fromS && timeS[i] < toS ? each + by : each));

suite('lean and rich under load', () => {
  test('a pull at target raises nothing', () => {
    const columns = pull();
    assert.deepEqual(
      [leanUnderLoad, richUnderLoad, misfireSuspected].flatMap((rule) => run(rule, columns)),
      [],
    );
  });
  for (const [by, severity] of [
    [0.04, 'warning'],
    [0.09, 'error'],
  ] as const) {
    test(`${by} over target for a second is one ${severity}, at its place`, () => {
      const columns = pull();
      columns['lambda'] = add(columns['lambda'], 15, 16, by);
      const found = run(leanUnderLoad, columns);
      assert.deepEqual(
        found.map((finding) => finding.severity),
        [severity],
      );
      onset(found[0], 15);
      assert.match(found[0].message, /limit λ 0\.0[35], default by common practice/);
    });
  }
  test('rich of a target that no boosted engine may run (λ 1.00) is told without the advice to take fuel out', () => {
    const columns = pull(),
      safe = { ...pull(), lambda: timeS.map((t) => (open(t - 0.12) ? 0.74 : 1) + noise(0.004)) };
    columns['target-lambda'] = timeS.map(() => 1);
    const [unsafe] = run(richUnderLoad, columns),
      [usual] = run(richUnderLoad, safe);
    assert.match(
      unsafe.message,
      /target of λ 1\.00.*the target itself is leaner than it may be at this load \(limit λ 0\.95.*take no fuel out here/,
    );
    assert.match(usual.message, /take fuel out here in small steps/);
    assert.doesNotMatch(unsafe.message, /take fuel out/);
  });
  test('rich by less than the trims add is told without the advice to take fuel out: λ 0.74 with 20 % more is λ 0.89 without', () => {
    const columns = { ...pull(), lambda: timeS.map((t) => (open(t - 0.12) ? 0.74 : 1) + noise(0.004)) },
      learnt = (percent: number) => run(richUnderLoad, { ...columns, 'long-term-fuel-trim': timeS.map(() => percent) })[0].message;
    // 0.85 / 0.74 is 1.149.
    assert.match(learnt(20), /the fuel trims add 20 % here, and without them it would be lean/);
    for (const percent of [-20, 0, 12]) assert.match(learnt(percent), /take fuel out here in small steps/);
    // Not answered at full load, and of the first bank alone.
    const { lambda, ...others } = columns;
    const told = (logged: Record<string, Float64Array>) => run(richUnderLoad, { ...others, ...logged })[0].message;
    assert.match(told({ lambda, 'long-term-fuel-trim': timeS.map((t) => (open(t) ? NaN : 20)) }), /the fuel trims add 20 % here/);
    assert.match(told({ 'lambda-2': lambda, 'long-term-fuel-trim': timeS.map(() => 20) }), /the fuel trims add 20 % here/);
  });
  test("the limit is the vehicle's where it sets one, and the message says so", () => {
    const columns = pull();
    columns['lambda'] = add(columns['lambda'], 15, 16, 0.04);
    const found = run(leanUnderLoad, columns, { ...EMPTY_VEHICLE, limits: { leanUnderLoad: 0.02, leanUnderLoadWarning: 0.01 } });
    assert.equal(found[0].severity, 'error');
    assert.match(found[0].message, /0\.02, set in vehicle\.json/);
  });
  test('0.95 under boost is an error whatever the target', () => {
    const columns = pull();
    columns['target-lambda'] = columns['target-lambda'].map((each) => (each < 1 ? 0.94 : each));
    columns['lambda'] = timeS.map((t) => (open(t - 0.12) ? 0.96 : 1) + noise(0.003));
    assert.ok(run(leanUnderLoad, columns).some((finding) => finding.severity === 'error' && /whatever the target/.test(finding.message)));
  });
  test('a blip of 0.15 s behind the tip-in raises nothing', () => {
    const columns = pull();
    columns['lambda'] = add(columns['lambda'], 12.45, 12.6, 0.12);
    assert.deepEqual(run(leanUnderLoad, columns), []);
  });
  test('without a target one is assumed and said', () => {
    const columns = pull();
    delete columns['target-lambda'];
    columns['lambda'] = add(columns['lambda'], 15, 16, 0.14);
    const found = run(leanUnderLoad, columns);
    assert.equal(found.length, 1);
    assert.match(found[0].message, /assumed for want of a target|whatever the target/);
  });
  test('far below target is a warning of rich', () => {
    const columns = pull();
    columns['lambda'] = add(columns['lambda'], 14, 16.5, -0.11);
    const found = run(richUnderLoad, columns);
    assert.deepEqual(
      found.map((finding) => finding.severity),
      ['warning'],
    );
    onset(found[0], 14, 0.3);
  });
  test('a bank that misfires is not called lean', () => {
    const columns = pull();
    const other = columns['lambda'].map((each) => each + noise(0.004));
    columns['lambda-2'] = add(other, 14.5, 16.5, 0.2);
    columns['engine-speed'] = columns['engine-speed'].map((each, i) => (timeS[i] >= 14.5 && timeS[i] < 16.5 ? each + noise(60) : each));
    assert.equal(run(misfireSuspected, columns).length, 1);
    assert.deepEqual(run(leanUnderLoad, columns), []);
  });
});

suite('a misfire that goes on', () => {
  // Bank 2 reads 0.2 above bank 1 from 3 to 6 s with a shaking engine, and again for a second just behind, when the speed tells nothing.
  const columns = (sure: boolean) => {
    const made = pull();
    made['lambda-2'] = add(
      add(
        made['lambda'].map((each) => each + noise(0.004)),
        3,
        sure ? 6 : 3,
        0.2,
      ),
      8,
      9,
      0.11,
    );
    made['engine-speed'] = made['engine-speed'].map((each, i) => (sure && timeS[i] >= 3 && timeS[i] < 6 ? each + noise(60) : each));
    return made;
  };
  test('a bank that missed a moment ago misses still', () => assert.equal(run(misfireSuspected, columns(true)).length, 2));
  test('the same seconds alone are not enough', () => assert.equal(run(misfireSuspected, columns(false)).length, 0));
});

suite('a cylinder without fuel under load', () => {
  // A bank's λ goes with its air over its fuel: three cylinders of which one gets none read 3/2 of what they would (arithmetic).
  const dead = (toS: number, share = 3 / 2): Record<string, Float64Array> => {
    const made = pull();
    made['lambda-2'] = made['lambda'].map((each, i) => (timeS[i] >= 13.5 && timeS[i] < toS ? share : 1) * (each + noise(0.004)));
    return made;
  };
  test('is an error that names the injector, at its place', () => {
    const found = run(misfireSuspected, dead(18));
    assert.deepEqual(
      found.map(({ severity }) => severity),
      ['error'],
    );
    onset(found[0], 13.5);
    assert.match(found[0].message, /no more pulls.*injectors of this bank \(dead electrically, or blocked\)/);
    assert.deepEqual(run(leanUnderLoad, dead(18)), []);
  });
  test('the report calls its pull so, by the bank that shows it', () => {
    const [
      {
        pull: { worstLambda, leanS },
        missSpell,
        lean,
      },
      ...others
    ] = sessionFacts(analyse(sessionOf(timeS, dead(18)), EMPTY_VEHICLE), undefined).pulls;
    assert.equal(others.length, 0);
    // 3/2 of 0.85, from 13.5 s to the pull's end at 18 s.
    assert.ok(
      missSpell?.dead && lean === undefined && Math.abs(missSpell.lambda - 1.275) < 0.03 && Math.abs(missSpell.lastsS - 4.5) < 0.4,
      JSON.stringify(missSpell),
    );
    assert.ok(Math.abs(missSpell.reference - 0.85) < 0.01, `${missSpell.reference}`);
    assert.ok(Math.abs(worstLambda! - 1.275) < 0.03 && Math.abs(leanS! - missSpell.lastsS) < 0.4, `${worstLambda}, ${leanS}`);
  });
  test('one that misses a third of its cycles, or all of them for a second, is a warning', () => {
    // Three cylinders of which one misses a third of its cycles: 3 / (3 − 1/3) = 9/8.
    assert.deepEqual(
      run(misfireSuspected, dead(18, 9 / 8)).map(({ severity }) => severity),
      ['warning'],
    );
    assert.deepEqual(
      run(misfireSuspected, dead(14.5)).map(({ severity }) => severity),
      ['warning'],
    );
  });
  test('a bank that reads what was asked for, beside one that is far too rich, is no error', () => {
    // An injector that leaks: 0.8 of the other bank's λ, which keeps its target. As far apart the other way round, five cylinders of which
    // one is dead (5/4), is one.
    assert.deepEqual(
      run(misfireSuspected, dead(18, 0.8)).filter(({ severity }) => severity === 'error'),
      [],
    );
    assert.deepEqual(
      run(misfireSuspected, dead(18, 1.25)).map(({ severity }) => severity),
      ['error'],
    );
  });
  suite('where no target is known', () => {
    // The same pull breathing freely at λ 0.86: a bank of six with one dead reads 6/5 of it, 1.03, one of three 3/2.
    const unasked = (share: number, fromS: number, full = 0.86): Record<string, Float64Array> => {
      const made = pull();
      delete made['target-lambda'];
      made['manifold-pressure'] = made['manifold-pressure'].map((each) => Math.min(each, 98 + noise(0.5)));
      made['lambda'] = timeS.map((t) => (open(t - 0.12) ? full : 1) + noise(0.008));
      made['lambda-2'] = made['lambda'].map((each, i) => (timeS[i] >= fromS && open(timeS[i]) ? share : 1) * (each + noise(0.004)));
      return made;
    };
    const told = (columns: Record<string, Float64Array>) =>
      [misfireSuspected, leanUnderLoad]
        .flatMap((rule) => run(rule, columns))
        .map(({ code, severity, channel }) => `${severity} ${code} ${channel}`);
    for (const [share, fromS] of [
      [6 / 5, 13.5],
      [6 / 5, 0],
      [3 / 2, 13.5],
      [3 / 2, 0],
    ]) {
      test(`a bank at ${share} of the other from ${fromS} s on is the same error`, () =>
        assert.deepEqual(told(unasked(share, fromS)), ['error misfire-suspected lambda-2']));
    }
    test('a bank at λ 1 beside one that runs rich is none: either may be at fault', () => assert.deepEqual(told(unasked(0.82, 0, 1)), []));
    test('a bank at λ 0.86 beside one at 0.69 is none: that one is at fault', () => assert.deepEqual(told(unasked(0.8, 0)), []));
    test('banks that differ by a tenth, as injectors and sensors scatter, are none', () => assert.deepEqual(told(unasked(1.1, 0)), []));
  });
  test('a bank that is short of fuel all the time, beside one a little rich, is lean under load and no cylinder that misses', () => {
    // Injectors of one bank that flow a tenth too little: λ goes with one over the fuel, so λ 0.85 reads 0.94 throughout.
    const made = pull();
    made['lambda-2'] = made['lambda'].map((each) => 0.96 * (each + noise(0.004)));
    made['lambda'] = made['lambda'].map((each) => each / 0.9);
    assert.ok(run(leanUnderLoad, made).some(({ severity }) => severity === 'error'));
  });
  test('is told before spells of idle that stand further apart in λ', () => {
    const columns = dead(18);
    // Seven spells of two seconds at λ 1.5 in the cruise before and behind, where the pull's is at 1.28.
    columns['lambda-2'] = columns['lambda-2'].map((each, i) =>
      (timeS[i] < 11 || timeS[i] > 19.5) && timeS[i] % 3.5 > 1.5 ? 1.5 * each : each,
    );
    const found = run(misfireSuspected, columns),
      [first] = found;
    assert.equal(found.length, 5, found.map(({ message }) => message).join('\n'));
    assert.ok(first.severity === 'error' && first.timeS![0] > 13 && first.timeS![0] < 14, first.message);
    assert.match(found[4].message, /And \d+ more like it, none worse/);
  });
});

suite('banks that contradict each other', () => {
  // A sensor that reads a fifth too rich (and one cylinder of six dead on the other bank reads 6/5): the readings are the same.
  const apart = (share: number, fromS: number, toS: number): Record<string, Float64Array> => {
    const made = pull();
    delete made['target-lambda'];
    made['lambda-2'] = made['lambda'].map((each, i) => (timeS[i] >= fromS && timeS[i] < toS ? share : 1) * (each + noise(0.004)));
    return made;
  };
  const told = (columns: Record<string, Float64Array>, vehicle: Vehicle = EMPTY_VEHICLE): Finding[] =>
    run(valueImplausible, columns, vehicle).filter(({ data }) => data?.kind === 'banks-apart');
  test('are told once, at the leaner one, with both readings', () => {
    const [found, ...more] = told(apart(0.8, 2, 26));
    assert.deepEqual([found.severity, found.channel, more], ['warning', 'lambda', []]);
    assert.match(found.message, /lambda reads λ (0\.9\d|1\.00), lambda-2 λ 0\.[78]\d for /);
  });
  test('are not told again where a misfire tells the same', () => {
    const dead = apart(1.25, 2, 26);
    assert.ok(run(misfireSuspected, dead).length > 0);
    assert.deepEqual(told(dead), []);
  });
  test('are not told for a moment, for the scatter of injectors and sensors, or behind a catalyst', () => {
    assert.deepEqual(
      [
        told(apart(0.8, 14, 17)),
        told(apart(0.88, 0, 26)),
        told(apart(1.12, 0, 26)),
        told(apart(0.8, 2, 26), { ...EMPTY_VEHICLE, lambdaSensor: { ...EMPTY_VEHICLE.lambdaSensor, mount: 'downstream' } }),
      ],
      [[], [], [], []],
    );
  });
});

suite('a misfire that one lambda and two trims show', () => {
  // By hand: idle, then from 8 to 14 s bank 1 reads 0.18 lean and its trim climbs 4 % a second; the engine speed is too coarse to tell.
  const columns = (bothTrims: boolean) => {
    const missing = (t: number): boolean => t >= 8 && t < 14;
    const climb = (t: number): number => (missing(t) ? Math.min(16, 4 * (t - 8)) : 0);
    return {
      'engine-speed': timeS.map(() => 850 + noise(6)),
      throttle: timeS.map(() => 2),
      'manifold-pressure': timeS.map(() => 35 + noise(0.5)),
      'target-lambda': timeS.map(() => 1),
      lambda: timeS.map((t) => 1 + (missing(t - 0.3) ? 0.18 + noise(0.05) : 0) + noise(0.006)),
      'short-term-fuel-trim': timeS.map((t) => climb(t) + noise(0.4)),
      'short-term-fuel-trim-2': timeS.map((t) => (bothTrims ? climb(t) : 0) + noise(0.4)),
    };
  };
  test("the other bank's trim stays: a misfire", () => {
    const found = run(misfireSuspected, columns(false));
    assert.equal(found.length, 1);
    onset(found[0], 8.3);
    assert.match(found[0].message, /trim of the other bank does not follow/);
  });
  test('both trims climb: fuel is missing', () => assert.deepEqual(run(misfireSuspected, columns(true)), []));
});

suite('injector duty', () => {
  // One injection each 720°: duty % = pulse width (ms) × rpm / 1200; a cycle lasts 120000 / rpm ms (arithmetic).
  for (const [ms, rpm, percent] of [
    [4.5, 7000, 26.25],
    [14, 7200, 84],
    [2.2, 800, 1.46667],
    [18, 7200, 108],
  ] as const) {
    test(`${ms} ms at ${rpm} rpm is ${percent} %`, () => {
      const columns = {
        'engine-speed': timeS.map(() => rpm),
        'injector-pulse-width': timeS.map(() => ms),
        throttle: timeS.map((t) => 20 + t),
      };
      const session = sessionOf(timeS, columns);
      const signals = { ...analyse(session, EMPTY_VEHICLE), trusted: () => new Uint8Array(timeS.length).fill(1) };
      assert.ok(Math.abs(dutyOf(signals)!.values[10] - percent) < 1e-5);
    });
  }
  test('90 % is a warning, 97 % an error, 80 % neither', () => {
    const at = (top: number) =>
      run(injectorDutyHigh, {
        ...pull(),
        'injector-duty': timeS.map((t) => (open(t) ? top * Math.min(1, (t - 11) / 4) : 8) + noise(0.3)),
      }).map((finding) => finding.severity);
    assert.deepEqual([at(80), at(90), at(97)], [[], ['warning'], ['error']]);
  });
  test('maxDutyPercent of the vehicle is its limit', () => {
    const columns = { ...pull(), 'injector-duty': timeS.map((t) => (open(t) ? 82 : 8) + noise(0.3)) };
    const found = run(injectorDutyHigh, columns, { ...EMPTY_VEHICLE, injectors: { maxDutyPercent: 80 } });
    assert.equal(found.length, 1);
    assert.match(found[0].message, /maxDutyPercent in vehicle\.json/);
  });
});

suite('fuel pressure', () => {
  const rail = (follows: boolean, fallKPa: number): Float64Array =>
    timeS.map(
      (t, i) => 300 + (follows ? boost[i] - 101.325 : 0) - (t >= 14 && t < 18 ? fallKPa * Math.min(1, 2 * (t - 14)) : 0) + noise(1),
    );
  test('a referenced rail that holds its difference is quiet under boost, as is a fixed one that holds its gauge pressure', () => {
    assert.deepEqual(run(fuelPressureDrop, { ...pull(), 'fuel-pressure': rail(true, 0) }), []);
    assert.deepEqual(run(fuelPressureDrop, { ...pull(), 'fuel-pressure': rail(false, 0) }), []);
  });
  test('7 % is a warning, 14 % an error', () => {
    assert.deepEqual(
      run(fuelPressureDrop, { ...pull(), 'fuel-pressure': rail(true, 21) }).map((finding) => finding.severity),
      ['warning'],
    );
    const found = run(fuelPressureDrop, { ...pull(), 'fuel-pressure': rail(true, 42) });
    assert.deepEqual(
      found.map((finding) => finding.severity),
      ['error'],
    );
    onset(found[0], 14.2);
    // Orifice law: 14 % less pressure is 1 − √0.86 = 7.3 % less fuel.
    assert.match(found[0].message, /takes 7 % of the fuel/);
  });
  test('the log teaches whether the rail follows the manifold', () => {
    const learnt = (follows: boolean) =>
      droopOf(analyse(sessionOf(timeS, { ...pull(), 'fuel-pressure': rail(follows, 0) }), EMPTY_VEHICLE))!;
    assert.deepEqual([learnt(true).referenced, learnt(false).referenced], [true, false]);
    assert.ok(Math.abs(learnt(true).baseKPa - 300) < 2);
  });
});

suite('fuel pressure of a pull', () => {
  const columns = (fall: (t: number) => number) => ({
    ...pull(),
    'fuel-pressure': timeS.map((t, i) => (300 + boost[i] - 101.325) * (1 - fall(t)) + noise(1)),
  });
  const drop = (fall: (t: number) => number): number =>
    analyse(sessionOf(timeS, columns(fall)), EMPTY_VEHICLE).pulls[0].fuelPressureDropPercent!;
  test('one low reading is none, what lasts is', () => {
    assert.ok(drop(() => 0) < 3);
    assert.ok(drop((t) => (Math.abs(t - 15) < 0.02 ? 0.2 : 0)) < 3);
    // 0.1 of a gauge pressure of 379 kPa is 38 kPa: 12.6 % of the 300 kPa over the injector.
    assert.ok(Math.abs(drop((t) => (t >= 14 ? 0.1 : 0)) - 12.6) < 2);
  });
  test('a pump that already fails at part load does not hide that its rail follows the manifold', () => {
    const weak = boost.map((each) => Math.min(1, Math.max(0, (each - 62) / 20)) * 0.2);
    const droop = droopOf(
      analyse(
        sessionOf(timeS, { ...pull(), 'fuel-pressure': timeS.map((_, i) => (300 + boost[i] - 101.325) * (1 - weak[i]) + noise(1)) }),
        EMPTY_VEHICLE,
      ),
    )!;
    assert.equal(droop.referenced, true);
    assert.ok(Math.abs(droop.baseKPa - 300) < 12, `${droop.baseKPa}`);
  });
});

suite('knock and heat', () => {
  test('3° is a warning, 5° an error, whichever sign the logger writes', () => {
    const at = (degrees: number) => run(knock, { ...pull(), 'knock-retard': timeS.map((t) => (t >= 15 && t < 15.6 ? degrees : 0)) });
    assert.deepEqual(
      [at(3), at(5), at(-5), at(1)].map((found) => found.map((finding) => finding.severity)),
      [['warning'], ['error'], ['error'], []],
    );
    onset(at(5)[0], 15, 0.1);
  });
  test('hot air counts under load only, once a hot spell', () => {
    const hot = (celsius: number) => timeS.map((t) => (t < 8 ? 35 : Math.min(celsius, 35 + 6 * (t - 8))));
    assert.deepEqual(
      run(intakeAirHot, { ...pull(), 'intake-air-temperature': hot(60) }).map((finding) => finding.severity),
      ['warning'],
    );
    assert.deepEqual(
      run(intakeAirHot, { ...pull(), 'intake-air-temperature': hot(74) }).map((finding) => finding.severity),
      ['error'],
    );
    const soak = { ...pull(), 'intake-air-temperature': timeS.map((t) => (t < 8 ? 60 - 3 * t : 36)) };
    assert.deepEqual(run(intakeAirHot, soak), []);
  });
  test('coolant at 108 °C is a warning, at 117 °C an error', () => {
    const to = (celsius: number) =>
      run(coolantHot, { ...pull(), 'coolant-temperature': timeS.map((t) => Math.min(celsius, 95 + t)) }).map((finding) => finding.severity);
    assert.deepEqual([to(100), to(108), to(117)], [[], ['warning'], ['error']]);
  });
  test('what no coolant can be is no heat, alone or behind a spell that is', () => {
    const at = (celsius: (t: number) => number) =>
      run(coolantHot, { ...pull(), 'coolant-temperature': timeS.map(celsius) }).map(({ severity, data }) => [severity, data?.peakC]);
    // A row glued to the next: the digits of 28 and 88.
    assert.deepEqual(
      at((t) => (t > 10 && t < 10.3 ? 2888 : 88)),
      [],
    );
    assert.deepEqual(
      at((t) => (t > 10 && t < 10.3 ? 2888 : Math.min(120, 90 + 4 * t))),
      [['error', 120]],
    );
  });
});

suite('trouble codes', () => {
  // Structure by SAE J2012: P0, P2 and P34 to P3F generic, P1 and P30 to P33 the maker's; U0 generic, U1 the maker's.
  for (const [text, definedBy, matter] of [
    ['P0171', 'standard', 'fuel'],
    ['p0300', 'standard', 'stop'],
    ['P1234', 'manufacturer', 'info'],
    ['P3000', 'manufacturer', 'info'],
    ['P3400', 'standard', 'info'],
    ['U0100', 'standard', 'info'],
    ['U1000', 'manufacturer', 'info'],
    ['P0304', 'standard', 'stop'],
    ['P0118', 'standard', 'trust'],
  ] as const) {
    test(`${text} is ${definedBy}, ${matter}`, () =>
      assert.deepEqual([troubleCodeOf(text)!.definedBy, troubleCodeOf(text)!.matter], [definedBy, matter]));
  }
  test('the last digit of P0304 is the cylinder', () => assert.match(troubleCodeOf('P0304')!.says!, /cylinder 4/));
  test('what is no code is none', () =>
    assert.deepEqual(['', 'P17', 'X0171', 'P9171', '171'].map(troubleCodeOf), [undefined, undefined, undefined, undefined, undefined]));
  test('no code is answered with more fuel', () => assert.match(checkFirstOf(troubleCodeOf('P0301')!), /add no fuel/));
});

suite('a rev limit of vehicle.json', () => {
  const limited = (revLimitRpm: number): Vehicle => ({ ...EMPTY_VEHICLE, engine: { revLimitRpm } });
  const lean = (): Record<string, Float64Array> => {
    const columns = pull();
    columns['lambda'] = add(columns['lambda'], 16.8, 17.8, 0.1);
    return columns;
  };
  // Mechanics: with the fuel cut there is no torque, and without torque no speed is gained. The last row of the pull, at 17.95 s, stands at
  // 6070 rpm.
  test('one that the engine runs through is doubted, and what was lean above it is told', () => {
    const [told, ...more] = run(valueImplausible, lean(), limited(5300));
    assert.deepEqual([told.severity, told.channel, more], ['warning', 'engine-speed', []]);
    assert.match(told.message, /ran 7[5-9]\d rpm over the limit of 5,?300 rpm/);
    onset(told, 16.7);
    assert.deepEqual(
      run(leanUnderLoad, lean(), limited(5300)).map(({ severity }) => severity),
      ['error'],
    );
  });
  test('one that is not reached is not', () => assert.deepEqual(run(valueImplausible, lean(), limited(6500)), []));
  // A cut's overshoot of two cycles (45 ms at 5300 rpm) at 600 rpm/s is 27 rpm; a slower one's 80. The air of the cut is no lean mixture.
  for (const overshootRpm of [30, 80]) {
    test(`one that holds the engine is not, with ${overshootRpm} rpm of overshoot: what it cuts is air`, () => {
      const columns = pull(),
        at = (t: number): number => 2500 + 600 * (t - 12),
        cuts = (t: number): boolean => open(t) && at(t) > 5300;
      columns['engine-speed'] = columns['engine-speed'].map((each, i) =>
        cuts(timeS[i]) ? 5300 + overshootRpm * Math.sin(40 * timeS[i]) + noise(6) : each,
      );
      columns['lambda'] = columns['lambda'].map((each, i) => (cuts(timeS[i] - 0.15) ? 1.25 + noise(0.05) : each));
      assert.deepEqual(
        [valueImplausible, leanUnderLoad].flatMap((rule) => run(rule, columns, limited(5300))),
        [],
      );
    });
  }
  // A slow limiter: 160 rpm over for half a second, then held just below it.
  test('one that catches the engine late has caught it', () => {
    const columns = pull(),
      at = (t: number): number => 2500 + 600 * (t - 12),
      overS = (t: number): number => t - (12 + 2800 / 600);
    columns['engine-speed'] = columns['engine-speed'].map((each, i) =>
      open(timeS[i]) && at(timeS[i]) > 5300
        ? (overS(timeS[i]) < 0.55 ? Math.min(5300 + 600 * overS(timeS[i]), 5460) : 5260) + noise(6)
        : each,
    );
    assert.deepEqual(run(valueImplausible, columns, limited(5300)), []);
  });
  // By hand: at the end of the pull a gear too low is taken, and the wheels drive the engine to 8000 rpm, where no limiter reaches.
  test('speed that the wheels drive far beyond it is told once, and an overshoot is not', () => {
    const dragged = (toRpm: number): Record<string, Float64Array> => {
      const columns = pull();
      columns['engine-speed'] = columns['engine-speed'].map((each, i) => {
        const pastS = timeS[i] - 18;
        return pastS < 0 || pastS > 3
          ? each
          : pastS < 0.5
            ? 6100 + (toRpm - 6100) * 2 * pastS
            : toRpm - ((toRpm - 2500) * (pastS - 0.5)) / 2.5;
      });
      return columns;
    };
    const [told, ...more] = run(valueImplausible, dragged(8000), limited(6500));
    assert.deepEqual([told.severity, told.data?.kind, more], ['warning', 'overdriven', []]);
    assert.ok(Number(told.data?.value) > 7900);
    onset(told, 18.3);
    assert.deepEqual(run(valueImplausible, dragged(6900), limited(6500)), []);
  });
  test('a leap of the reading, and speed without load, run through none', () => {
    const leap = lean(),
      coasting = lean();
    leap['engine-speed'] = leap['engine-speed'].map((each, i) => (timeS[i] >= 13 && timeS[i] < 13.5 ? 9000 + 20 * i : each));
    assert.deepEqual(
      run(valueImplausible, leap, limited(6500)).filter(({ data }) => data?.kind === 'rev-limit'),
      [],
    );
    // Dragged over it by the wheels in a gear too low.
    coasting['engine-speed'] = coasting['engine-speed'].map((each, i) =>
      timeS[i] >= 20 && timeS[i] < 22 ? 6000 + 500 * (timeS[i] - 20) : each,
    );
    assert.deepEqual(
      run(valueImplausible, coasting, limited(6300)).filter(({ data }) => data?.kind === 'rev-limit'),
      [],
    );
  });
});

suite('a pressure that vehicle.json limits', () => {
  const limit: Vehicle = { ...EMPTY_VEHICLE, engine: { aspiration: 'turbocharged', maxManifoldPressureKPa: 180 } };
  const driven = pull();
  const held = (kPaAt: (t: number) => number): number =>
    run(
      valueImplausible,
      { ...driven, 'manifold-pressure': timeS.map((t, i) => (open(t) ? kPaAt(t) + noise(0.4) : driven['manifold-pressure'][i])) },
      limit,
    ).filter(({ data }) => data?.kind === 'over-limit').length;
  test('is told where it stays above, not where the boost control swings about it or one reading leaps', () => {
    assert.deepEqual([held(() => 202), held(() => 180), held((t) => (t >= 15 && t < 15.1 ? 190 : 175))], [1, 0, 0]);
  });
});

suite('what a reading can be', () => {
  const hot = (): Record<string, Float64Array> => ({
    ...pull(),
    'oil-temperature': timeS.map((t) => (t < 8 ? 140 + noise(0.5) : 165 + noise(0.5))),
  });
  test("the vehicle's own range stands before the usual one, and the message says whose it is", () => {
    assert.deepEqual(run(valueImplausible, hot()), []);
    const [told, ...more] = run(valueImplausible, hot(), { ...EMPTY_VEHICLE, plausible: { 'oil-temperature': [-40, 155] } });
    assert.deepEqual(more, []);
    onset(told, 8);
    assert.match(told.message, /plausible is -40 to 155 °C \(set in vehicle\.json\)/);
  });
});

suite('what is told without manifold pressure', () => {
  const without = (...names: string[]): Record<string, Float64Array> =>
    Object.fromEntries(Object.entries(pull()).filter(([name]) => !names.includes(name)));
  // Orifice law: 19 % less pressure is 10 % less fuel.
  const rail = (fallsTo: number): Float64Array => timeS.map((t) => (open(t) ? 380 : 280) * (t >= 15 && t < 18 ? fallsTo : 1) + noise(1));
  test('a rail that falls at a wide open throttle is told, one that holds is not', () => {
    const [told, ...more] = run(fuelPressureDrop, { ...without('manifold-pressure'), 'fuel-pressure': rail(0.81) });
    assert.deepEqual([told.severity, more], ['error', []]);
    onset(told, 15);
    assert.deepEqual(run(fuelPressureDrop, { ...without('manifold-pressure'), 'fuel-pressure': rail(0.95) }), []);
  });
  test('without pressure and throttle a rich target of a warm engine, or the air for the displacement, is load', () => {
    const lean = (columns: Record<string, Float64Array>): Record<string, Float64Array> => ({
      ...columns,
      lambda: add(columns['lambda'], 15, 16, 0.09),
    });
    const bare = lean(without('manifold-pressure', 'throttle'));
    assert.deepEqual(run(leanUnderLoad, bare), []);
    onset(run(leanUnderLoad, { ...bare, 'coolant-temperature': timeS.map(() => 88 + noise(0.5)) })[0], 15);
    // 2 L at 100 kPa and 25 °C fill with 2.34 g in two turns (ideal gas).
    const flow = timeS.map((t, i) => ((open(t) ? 2.34 * 1.4 : 0.9) * bare['engine-speed'][i]) / 120);
    onset(run(leanUnderLoad, { ...bare, 'mass-air-flow': flow }, { ...EMPTY_VEHICLE, engine: { displacementL: 2 } })[0], 15);
  });
});

suite('lean against what the pull itself held', () => {
  const unasked = (): Record<string, Float64Array> =>
    Object.fromEntries(Object.entries(pull()).filter(([name]) => name !== 'target-lambda'));
  test('a tenth leaner than before at the same load is told, and against what', () => {
    const columns = unasked();
    columns['lambda'] = add(columns['lambda'], 15, 18.1, 0.1).map((each) => each - 0.06);
    const [told, ...more] = run(leanUnderLoad, columns);
    assert.deepEqual([told.data?.['targetFrom'], more], ['pull', []]);
    onset(told, 15);
    assert.match(told.message, /that this pull's own mixture before allows/);
  });
  // SAE J1979, PID 11: wide open usually reads less than 100 %.
  test('at a throttle stop of 78 % too, where the manifold tells the load, and not with the foot anywhere below', () => {
    const columns = unasked();
    columns['lambda'] = add(columns['lambda'], 15, 18.1, 0.1).map((each) => each - 0.06);
    const at = (percent: number, once = percent) => ({
      ...columns,
      throttle: columns['throttle'].map((each, i) => Math.min(each, timeS[i] < 14 || timeS[i] > 20 ? once : percent)),
    });
    assert.deepEqual(
      run(leanUnderLoad, at(78)).map(({ data }) => data?.['targetFrom']),
      ['pull'],
    );
    assert.deepEqual(run(leanUnderLoad, at(50)), []);
    // A foot that goes no further than 70 %, no boost: enriched for a second, then λ 0.98.
    const eased = {
      ...at(70),
      'manifold-pressure': boost.map((each) => Math.min(98, each) + noise(0.3)),
      lambda: unasked()['lambda'].map((each, i) => each + (open(timeS[i]) && timeS[i] > 13 ? 0.13 : 0)),
    };
    assert.deepEqual(run(leanUnderLoad, eased), []);
  });
  test('a pull that ends a little leaner, and one that eases off, raise nothing', () => {
    const columns = unasked();
    columns['lambda'] = columns['lambda'].map((each, i) => each - 0.06 + (open(timeS[i]) ? 0.008 * (timeS[i] - 12) : 0));
    assert.deepEqual(run(leanUnderLoad, columns), []);
    const eased = unasked();
    eased['throttle'] = eased['throttle'].map((each, i) => (timeS[i] >= 15 && timeS[i] < 18 ? 45 : each));
    eased['manifold-pressure'] = boost.map((each, i) => (timeS[i] >= 15 && timeS[i] < 18 ? 95 : each) + noise(0.7));
    eased['lambda'] = eased['lambda'].map((each, i) => (timeS[i] >= 15.2 && timeS[i] < 18.1 ? 0.96 : each - 0.03));
    assert.deepEqual(run(leanUnderLoad, eased), []);
  });
});

suite('an engine without a blower', () => {
  // Its manifold holds no more than the air around it (physics); the standard atmosphere has 101.3 kPa (ISO 2533).
  const breathes = (): Record<string, Float64Array> => ({
    ...pull(),
    'manifold-pressure': timeS.map((t, i) => Math.min(boost[i], 99) + (t >= 20 && t < 21.5 ? 112 - Math.min(boost[i], 99) : noise(0.7))),
  });
  test('a manifold above the air around it is a sensor that lost contact', () => {
    const natural = run(sensorDropout, breathes(), { ...EMPTY_VEHICLE, engine: { aspiration: 'natural' } });
    assert.deepEqual(
      natural.map(({ channel }) => channel),
      ['manifold-pressure'],
    );
    onset(natural[0], 20);
  });
});

suite('what a dropout sends to', () => {
  test('is the wire of a sensor, and of what the computer reckons the logger', () => {
    const gone = (quantity: string): string => {
      const columns = pull();
      columns[quantity] = columns[quantity].map((each, i) => (timeS[i] >= 4 && timeS[i] < 9 ? NaN : each));
      return run(sensorDropout, columns)[0].message;
    };
    assert.match(gone('lambda'), /plug, the wire/);
    assert.match(gone('target-lambda'), /logger got its answers/);
    assert.doesNotMatch(gone('target-lambda'), /wire/);
  });
});

suite('battery voltage', () => {
  // Common practice, no source: 13.2 to 14.8 V on a turning engine of 12 V, a full battery at rest 12.6 V, an empty one below 12 V.
  const told = (volts: (t: number) => number): string[] =>
    run(valueImplausible, { ...pull(), 'battery-voltage': timeS.map((t) => volts(t) + noise(0.05)) }).map(
      ({ severity, message }) => `${severity} ${message}`,
    );
  test('that is an empty battery under way is told as not charged, with its least', () => {
    // 13 V less 0.08 V a second: below 12 V from 12.5 s on, 10.9 V at 26 s.
    const [only, ...rest] = told((t) => 13 - 0.08 * t);
    assert.match(only, /^warning .* stands at 10\.9 V for 1[34] s .* the battery is not charged/);
    assert.deepEqual(rest, []);
  });
  test('is told where dips follow it, or it is all but empty', () => {
    const dips = (t: number): number => (t < 12 ? 11.3 : t % 5 < 0.4 ? 11.5 : 13.8);
    for (const volts of [dips, () => 8.6]) assert.equal(told(volts).length, 1);
  });
  test('of an alternator at work, of one that rests, of dips, and of a system of 6 V are not', () => {
    for (const volts of [
      () => 14,
      () => 12.4,
      (t: number) => (t > 8 && t < 12 ? 11 : 13.8),
      (t: number) => (t % 5 < 0.4 ? 11.5 : 13.6),
      () => 7.2,
    ])
      assert.deepEqual(told(volts), []);
  });
});
