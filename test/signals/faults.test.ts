// Sensor faults planted by hand in a hand-made drive: each is told as what it is, where it is, and the healthy drive tells none.

import assert from 'node:assert/strict';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import type { UnitId } from '../../server/src/quantities/units.js';
import { analyse } from '../../server/src/signals/analyse.js';
import type { Fault } from '../../server/src/signals/signals.js';
import { everyS, sessionOf } from './sessionOf.js';

/** Two minutes at 20 /s: waves of throttle between cruise and nearly open, closed now and then; seeded unrest on everything. */
const timeS = everyS(0.05, 120);
let state = 7;
const noise = (size: number): number => {
  state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
  return size * (state / 2 ** 31 - 1);
};
const opening = timeS.map((t) => (t % 30 > 24 && t % 30 < 28 ? 0 : 25 + 22 * Math.sin(t / 2.5) + 8 * Math.sin(t * 1.7)));
const drive = (): Record<string, Float64Array> => ({
  'engine-speed': timeS.map((t, i) => Math.round(2500 + 900 * Math.sin(t / 4) + 4 * opening[i] + noise(8))),
  throttle: opening.map((each) => Math.max(0, Math.round((each + noise(0.3)) * 10) / 10)),
  'manifold-pressure': opening.map((each) => Math.round((28 + 1.2 * each + noise(1)) * 10) / 10),
  lambda: timeS.map((t, i) => (opening[i] === 0 ? 1.05 : 1) + 0.01 * Math.sin(t) + Math.round(noise(8)) / 1000),
  'coolant-temperature': timeS.map(() => 88),
  'intake-air-temperature': timeS.map((t) => Math.round(30 + 2 * Math.sin(t / 20))),
  'battery-voltage': timeS.map(() => Math.round((14 + noise(0.06)) * 10) / 10),
  gear: timeS.map(() => 3),
  'fuel-cut': timeS.map((_, i) => (opening[i] === 0 ? 1 : 0)),
});

const faultsOf = (
  columns: Record<string, ArrayLike<number>>,
  vehicle: Vehicle = EMPTY_VEHICLE,
  units: Record<string, UnitId> = {},
): readonly Fault[] => analyse(sessionOf(timeS, columns, units), vehicle).faults;
const spell = (column: Float64Array, fromS: number, toS: number, value: number | 'frozen'): Float64Array => {
  const from = Math.round(fromS / 0.05),
    to = Math.round(toS / 0.05);
  return column.map((each, i) => (i >= from && i < to ? (value === 'frozen' ? column[from] : value) : each));
};

suite('sensor faults', () => {
  test('the healthy drive has none', () =>
    assert.deepEqual(
      faultsOf(drive()).map((fault) => `${fault.kind} ${fault.shape} ${fault.channel.name} ${timeS[fault.from]}`),
      [],
    ));

  for (const [channel, value, shape] of [
    ['lambda', NaN, 'blank'],
    ['lambda', 0, 'zero'],
    ['lambda', 'frozen', 'frozen'],
    ['manifold-pressure', NaN, 'blank'],
    ['manifold-pressure', 0, 'zero'],
    ['manifold-pressure', 255, 'full-scale'],
    ['manifold-pressure', 'frozen', 'frozen'],
    ['engine-speed', 0, 'zero'],
    ['engine-speed', 'frozen', 'frozen'],
    ['coolant-temperature', -40, 'open-circuit'],
    ['intake-air-temperature', -40, 'open-circuit'],
    ['battery-voltage', 0, 'zero'],
  ] as const) {
    for (const [fromS, lastsS] of [
      [41.3, 0.5],
      [63.1, 2.5],
    ] as const) {
      test(`${channel} ${shape} for ${lastsS} s is one dropout there`, () => {
        const columns = drive();
        columns[channel] = spell(columns[channel], fromS, fromS + lastsS, value);
        const faults = faultsOf(columns);
        assert.equal(
          faults.length,
          1,
          faults.map((fault) => `${fault.kind} ${fault.shape} ${fault.channel.name} ${timeS[fault.from]}`).join('; '),
        );
        assert.deepEqual([faults[0].kind, faults[0].shape, faults[0].channel.name], ['dropout', shape, channel]);
        assert.ok(Math.abs(timeS[faults[0].from] - fromS) <= 0.1 + 1e-9, `starts at ${timeS[faults[0].from]}`);
        assert.ok(Math.abs(timeS[faults[0].to] - fromS - lastsS) <= 0.1 + 1e-9, `ends at ${timeS[faults[0].to]}`);
      });
    }
  }

  test('lambda that stands still for twenty seconds is stuck', () => {
    const columns = drive();
    columns['lambda'] = spell(columns['lambda'], 50, 70, 'frozen');
    assert.deepEqual(
      faultsOf(columns).map((fault) => [fault.kind, fault.channel.name]),
      [['stuck', 'lambda']],
    );
  });

  test('a pressure sensor that ends below the boost is clipped at its top', () => {
    const columns = drive();
    columns['manifold-pressure'] = columns['manifold-pressure'].map((each) => Math.min(80, each));
    const faults = faultsOf(columns, { ...EMPTY_VEHICLE, engine: { aspiration: 'turbocharged' } });
    assert.ok(
      faults.length > 0 && faults.every((fault) => fault.kind === 'clipped-high' && fault.value === 80),
      JSON.stringify(faults.map((fault) => [fault.kind, fault.value])),
    );
  });

  test('lambda at its lean end in a fuel cut is air', () => {
    const columns = drive();
    columns['lambda'] = columns['lambda'].map((each, i) => (opening[Math.max(0, i - 4)] === 0 ? 1.6 : each));
    assert.deepEqual(
      faultsOf(columns).map((fault) => `${fault.kind} ${fault.channel.name}`),
      [],
    );
  });

  test('lambda at its stop until it wakes is cold', () => {
    const columns = drive();
    columns['lambda'] = spell(columns['lambda'], 0, 12, 1.6);
    const faults = faultsOf(columns);
    assert.deepEqual(
      faults.map((fault) => fault.kind),
      ['cold'],
    );
    assert.ok(Math.abs(timeS[faults[0].to] - 12) <= 0.1);
  });

  test('lambda that keeps near its target from the first row, as it does later, is awake; one that stands on one number is not', () => {
    // Two readings a second of a closed loop: three thousandths around 1, a pull now and then.
    const slowS = everyS(0.5, 300),
      wave = (t: number): boolean => t % 60 > 50;
    const columns = (lambda: (t: number, i: number) => number): Record<string, Float64Array> => ({
      'engine-speed': slowS.map((t) => Math.round(1500 + (wave(t) ? 2500 : 300 * Math.sin(t / 9)) + noise(10))),
      'manifold-pressure': slowS.map((t) => Math.round(35 + (wave(t) ? 55 : 5 * Math.sin(t / 9)) + noise(1))),
      lambda: slowS.map(lambda),
    });
    const living = (t: number): number => (wave(t) ? 0.88 : 1) + Math.round(noise(3)) / 1000;
    const kinds = (lambda: (t: number, i: number) => number): string[] =>
      analyse(sessionOf(slowS, columns(lambda)), EMPTY_VEHICLE)
        .faults.filter(({ kind }) => kind === 'cold')
        .map(({ kind }) => kind);
    assert.deepEqual(
      kinds((t) => living(t)),
      [],
    );
    assert.deepEqual(
      kinds((t) => (t < 25 ? 1 : living(t))),
      ['cold'],
    );
  });

  test("an engine that is lean of its target from the first row on, as it is later, has no cold sensor; a reading that a warm-up's target leaves is none", () => {
    const slowS = everyS(0.5, 300),
      wave = (t: number): boolean => t % 60 > 50,
      hover = (): number => Math.round(noise(2)) / 1000;
    const kinds = (target: (t: number) => number, lambda: (t: number) => number): string[] =>
      analyse(
        sessionOf(slowS, {
          'engine-speed': slowS.map((t) => Math.round(1500 + (wave(t) ? 2500 : 300 * Math.sin(t / 9)) + noise(10))),
          'target-lambda': slowS.map(target),
          lambda: slowS.map(lambda),
        }),
        EMPTY_VEHICLE,
      )
        .faults.filter(({ kind }) => kind === 'cold')
        .map(({ kind }) => kind);
    const asked = (t: number): number => (wave(t) ? 0.88 : 1);
    assert.deepEqual(
      kinds(asked, (t) => 1.1 * asked(t) + hover()),
      [],
    );
    assert.deepEqual(
      kinds(
        (t) => (t < 25 ? 0.85 : asked(t)),
        (t) => (t < 25 ? 1 : asked(t)) + hover(),
      ),
      ['cold'],
    );
  });

  test('a channel that the logger holds for five rows is neither frozen nor stuck', () => {
    const columns = drive();
    for (const channel of ['lambda', 'manifold-pressure', 'engine-speed'])
      columns[channel] = columns[channel].map((_, i, all) => all[i - (i % 5)]);
    assert.deepEqual(
      faultsOf(columns).map((fault) => `${fault.kind} ${fault.channel.name} ${timeS[fault.from]}`),
      [],
    );
  });

  test('psi under a kPa header, Fahrenheit under °C, a fraction under %', () => {
    const columns = drive();
    columns['manifold-pressure'] = columns['manifold-pressure'].map((each) => each / 6.894757); // 1 psi = 6.894757 kPa, NIST SP 811
    columns['coolant-temperature'] = columns['coolant-temperature'].map((each) => each * 1.8 + 32);
    columns['throttle'] = columns['throttle'].map((each) => each / 100);
    const faults = faultsOf(columns).filter((fault) => fault.shape === 'unit');
    assert.deepEqual(faults.map((fault) => [fault.channel.name, fault.data.looksLike]).sort(), [
      ['coolant-temperature', '°F'],
      ['manifold-pressure', 'psi'],
      ['throttle', 'a fraction of 1'],
    ]);
  });

  test('a pulse that a dyno holds still is none that stands still because a fuel cut at the same speed and throttle has none', () => {
    // Injectors are shut in a fuel cut; a pulse that is reckoned from a held point of work has no noise. 2.08 ms at 30 kPa, 6 ms at 90.
    const columns = drive(),
      isHeld = (t: number): boolean => t > 90 && t < 100,
      wave = (size: number): Float64Array => timeS.map(() => noise(size));
    const throttle = opening.map((each, i) => (isHeld(timeS[i]) ? 2.5 : each)),
      kPa = throttle.map((each, i) => (isHeld(timeS[i]) ? 30 : 28 + 1.2 * each));
    const still = wave(0.3);
    columns['throttle'] = throttle.map((each, i) => Math.max(0, Math.round((each + still[i]) * 10) / 10));
    columns['manifold-pressure'] = kPa.map((each) => Math.round((each + noise(1)) * 10) / 10);
    columns['engine-speed'] = columns['engine-speed'].map((each, i) =>
      isHeld(timeS[i]) || opening[i] === 0 ? Math.round(3000 + noise(15)) : each,
    );
    columns['injector-pulse-width'] = kPa.map((each, i) =>
      opening[i] === 0 && !isHeld(timeS[i]) ? 0 : Math.round((2.08 + (each - 30) * 0.065) * 100) / 100,
    );
    assert.deepEqual(
      faultsOf(columns)
        .filter(({ kind }) => kind === 'stuck')
        .map(({ channel }) => channel.name),
      [],
    );
  });

  test('a manifold that holds the air wide open is in kPa, however deep its vacuum: a drive on a closed throttle was taken for inches of mercury', () => {
    // Barometer of the standard atmosphere, 101.3 kPa; 8 kPa is what a long closed throttle at speed draws a small manifold down to.
    const columns = drive(),
      isWide = (t: number): boolean => t % 30 > 10 && t % 30 < 13;
    columns['throttle'] = opening.map((each, i) => (isWide(timeS[i]) ? 100 : each));
    columns['manifold-pressure'] = opening.map((each, i) => (isWide(timeS[i]) ? 98 : each === 0 ? 8 : 22 + 1.2 * each) + noise(0.5));
    const looksLike = (vehicle: Vehicle): unknown[] =>
      faultsOf(columns, vehicle)
        .filter((fault) => fault.shape === 'unit')
        .map((fault) => fault.data.looksLike);
    assert.deepEqual(looksLike(EMPTY_VEHICLE), []);
    // 98 inHg are 332 kPa (3.386 kPa each, NIST SP 811): of an engine of three bars it may be that.
    assert.deepEqual(looksLike({ ...EMPTY_VEHICLE, engine: { maxManifoldPressureKPa: 340 } }), ['inHg']);
  });

  test('boost in bar whose unit nobody states is told for bar, not for psi that would hardly move', () => {
    // 1 bar is 100 kPa by definition (SI brochure); from 30 to 90 kPa absolute is -0.71 to -0.11 bar, which as psi gauge would be 96 to 101
    // kPa.
    const columns = drive();
    columns['manifold-pressure'] = columns['manifold-pressure'].map((each) => Math.round(each - 101.325) / 100);
    columns['throttle'] = opening.map((each, i) => (timeS[i] % 30 > 10 && timeS[i] % 30 < 13 ? 90 : each));
    columns['manifold-pressure'] = columns['manifold-pressure'].map((each, i) =>
      timeS[i] % 30 > 10.2 && timeS[i] % 30 < 13.2 ? -0.05 : each,
    );
    const faults = faultsOf(columns, EMPTY_VEHICLE, { 'manifold-pressure': 'kPa-gauge' }).filter((fault) => fault.shape === 'unit');
    assert.deepEqual(
      faults.map((fault) => [fault.channel.name, fault.data.looksLike]),
      [['manifold-pressure', 'bar gauge']],
    );
  });

  test('the true AFR of E85 under a plain AFR header is on the other scale; gasoline-scale numbers are not', () => {
    const e85: Vehicle = { ...EMPTY_VEHICLE, fuel: { blend: 'E85' } };
    const at = (afr: number) =>
      faultsOf({ ...drive(), lambda: drive()['lambda'].map((each) => each * afr) }, e85, { lambda: 'afr' }).filter(
        (fault) => fault.shape === 'afr-scale',
      ).length;
    // Stoichiometric AFR by mass: E85 9.81, gasoline scale 14.7 (US DOE AFDC figures blended by mass).
    assert.deepEqual([at(9.81), at(14.7)], [1, 0]);
  });

  test('of a fuel that is not in the tank the scale is told by warm idle and cruise; an engine rich under load, in the cold or by a quarter is believed', () => {
    const e10: Vehicle = { ...EMPTY_VEHICLE, fuel: { blend: 'E10' } };
    const looksLike = (factor: (i: number) => number, vehicle = e10, more: Record<string, Float64Array> = {}) =>
      faultsOf({ ...drive(), ...more, lambda: drive()['lambda'].map((each, i) => each * factor(i)) }, vehicle, { lambda: 'afr' })
        .filter((fault) => fault.shape === 'afr-scale')
        .map((fault) => fault.data.trueAfr);
    // Stoichiometric AFR by mass (chemistry): E85 9.81, ethanol 9.0, methanol 6.47, E10 14.1, gasoline's scale 14.7.
    assert.deepEqual(
      [9.81, 6.47, 14.1, 14.7].map((afr) => looksLike(() => afr)),
      [[9.81], [6.47], [], []],
    );
    assert.equal(looksLike(() => 9).length, 1);
    // Mixtures that engines have (Heywood ch. 7: full load 0.85 to 0.9; warm-up 0.8): no scale's doing.
    assert.deepEqual(
      looksLike(() => 14.7 * 0.78),
      [],
    );
    const open = (i: number): boolean => timeS[i] % 30 < 22,
      wide = drive()['manifold-pressure'].map((each, i) => (open(i) ? 170 : each)),
      foot = drive()['throttle'].map((each, i) => (open(i) ? 100 : each));
    assert.deepEqual(
      looksLike((i) => 14.7 * (open(i) ? 0.7 : 1), e10, { 'manifold-pressure': wide, throttle: foot }),
      [],
    );
    assert.deepEqual(
      looksLike(() => 14.7 * 0.7, e10, { 'coolant-temperature': timeS.map((t) => 10 + t / 6) }),
      [],
    );
    // Far too rich at idle and cruise (injectors not yet scaled), weak in the pull: on ethanol's scale it would pull at λ 1.54, which burns
    // in no engine (Heywood ch. 9).
    assert.deepEqual(
      looksLike((i) => 14.7 * (open(i) ? 1.03 : 0.69), e10, { 'manifold-pressure': wide, throttle: foot }),
      [],
    );
  });

  test("richer than the sensor's stated range is not believed", () => {
    const rich = (value: number, lowest = 0.65) =>
      faultsOf(
        {
          ...drive(),
          lambda: drive()['lambda'].map((each, i) =>
            timeS[i] >= 40 && timeS[i] < 45
              ? value + noise(0.005)
              : timeS[i] >= 38 && timeS[i] < 47
                ? value + (1 - value) * Math.min(1, Math.abs(timeS[i] - 42.5) / 2.5 - 1)
                : each,
          ),
        },
        { ...EMPTY_VEHICLE, lambdaSensor: { range: [lowest, 1.6] } },
      )
        .filter(({ channel }) => channel.name === 'lambda')
        .map(({ kind }) => kind);
    assert.deepEqual([...new Set(rich(0.55))], ['clipped-low']);
    // What an engine may burn (Heywood ch. 9: rich limit near 0.65) disproves the range.
    assert.deepEqual([rich(0.72), rich(0.8, 0.9)], [[], []]);
  });

  test('a second logger that began later is no dropout of its channels; one channel that falls silent by itself is, joined or not', () => {
    const later = (each: number, i: number): number => (timeS[i] < 40 ? NaN : each),
      lambda = drive()['lambda'].map(later);
    const told = (columns: Record<string, Float64Array>, joined: object) =>
      analyse({ ...sessionOf(timeS, { ...drive(), lambda, ...columns }), ...joined }, EMPTY_VEHICLE).faults.map(
        ({ kind, shape }) => `${kind} ${shape}`,
      );
    const notes = [{ joined: { path: 'b.session.csv', how: '' } }, { metadata: new Map([['joined', 'a and b']]) }];
    // What it was joined by is a channel of both.
    const both = { 'oil-temperature': timeS.map((t, i) => later(92 + t / 60 + noise(0.4), i)) };
    // A logger of one channel: its file tells when it began. One that falls silent before its logger ends is told all the same.
    const last = timeS[timeS.length - 1];
    const spans = [
      { joined: { path: 'b.session.csv', how: '', spanS: [39.9, last] } },
      {
        metadata: new Map([
          ['joined', 'a and b'],
          ['joined span', `39.900 to ${last.toFixed(3)} s`],
        ]),
      },
    ];
    for (const span of spans) {
      assert.deepEqual(told({}, span), []);
      assert.deepEqual(told({ lambda: lambda.map((each, i) => (timeS[i] > 80 ? NaN : each)) }, span), ['dropout blank']);
    }
    assert.deepEqual(
      [told({}, {}), ...notes.flatMap((note) => [told({}, note), told(both, note)])],
      [['dropout blank'], ['dropout blank'], [], ['dropout blank'], []],
    );
  });

  test('a coarse throttle or pressure that keeps one usual value while the engine is driven is stuck; a foot held still is not', () => {
    // Slow road data by hand: a reading every 0.3 s on a grid of whole numbers, a third of it standing at idle, where everything stands
    // still by right.
    const slowS = everyS(0.3, 240);
    const driven = (t: number): boolean => t % 60 >= 20;
    const foot = slowS.map((t) => (driven(t) ? 40 + 30 * Math.sin(t / 4) : 12));
    const columns = (): Record<string, Float64Array> => ({
      'engine-speed': slowS.map((t) => Math.round((driven(t) ? 2600 + 1200 * Math.sin(t / 5) : 800) + noise(8))),
      throttle: foot.map((each) => Math.round(each)),
      'manifold-pressure': foot.map((each) => Math.round(22 + each)),
      'vehicle-speed': slowS.map((t) =>
        Math.round(Math.max(0, Math.min(1, ((t % 60) - 20) / 8, (60 - (t % 60)) / 8)) * (60 + 25 * Math.sin(t / 5))),
      ),
    });
    const told = (changed: Record<string, Float64Array>): string[] =>
      analyse(sessionOf(slowS, { ...columns(), ...changed }), EMPTY_VEHICLE).faults.map(
        (fault) => `${fault.kind} ${fault.channel.name} ${Math.round(slowS[fault.from] / 10) * 10}`,
      );
    const frozen = (name: string, value: number): Record<string, Float64Array> => ({
      [name]: columns()[name].map((each, i) => (slowS[i] >= 80 && slowS[i] < 116 ? value : each)),
    });
    assert.deepEqual(told({}), []);
    assert.deepEqual(told(frozen('throttle', 37)), ['stuck throttle 80']);
    assert.deepEqual(told(frozen('manifold-pressure', 58)), ['stuck manifold-pressure 80']);
    // In one gear the road speed goes as the engine speed does (arithmetic of a gear); here it ran from 1400 to 3800 rpm.
    assert.deepEqual(told(frozen('vehicle-speed', 57)), ['stuck vehicle-speed 80']);
    // Held by hand while the hill changes: pressure goes little.
    assert.deepEqual(
      told({
        ...frozen('throttle', 37),
        'manifold-pressure': columns()['manifold-pressure'].map((each, i) =>
          slowS[i] >= 80 && slowS[i] < 116 ? 59 + Math.round(6 * Math.sin(slowS[i] / 3)) : each,
        ),
      }),
      [],
    );
  });

  test('a throttle that leaps wide open while the manifold stays in vacuum is a dropout, even where pulls are wide open too', () => {
    // By hand at 3.3 readings a second: a true pull at 60 s (100 %, 98 kPa), and a leap to 100 % for 1.5 s at 120 s with the manifold at
    // its cruise.
    const slowS = everyS(0.3, 180);
    const pull = (t: number): boolean => t >= 60 && t < 66;
    const columns = (leaps: boolean): Record<string, Float64Array> => ({
      'engine-speed': slowS.map((t) => Math.round(2400 + 500 * Math.sin(t / 6) + (pull(t) ? 300 * (t - 60) : 0) + noise(8))),
      throttle: slowS.map((t) => (pull(t) || (leaps && t >= 120 && t < 121.5) ? 100 : Math.round(30 + 12 * Math.sin(t / 3) + noise(0.6)))),
      'manifold-pressure': slowS.map((t) => Math.round(pull(t) ? 98 : 50 + 14 * Math.sin(t / 3) + noise(1))),
    });
    const told = (leaps: boolean): string[] =>
      analyse(sessionOf(slowS, columns(leaps)), EMPTY_VEHICLE).faults.map(
        (fault) => `${fault.kind} ${fault.shape} ${fault.channel.name} ${Math.round(slowS[fault.from])}`,
      );
    assert.deepEqual(told(false), []);
    assert.deepEqual(told(true), ['dropout full-scale throttle 120']);
  });

  test('AFR of the fuel in the tank under a plain header, the whole log under load, is a label and not a mixture', () => {
    // λ 0.80 to 0.84 throughout, no target logged; shown as AFR of E85 (9.81 : 1, so 7.8 to 8.2), read on the gasoline scale as λ 0.53 to
    // 0.56.
    const shown = timeS.map((t) => 9.81 * (0.82 + 0.02 * Math.sin(t)) + noise(0.05));
    const columns = { ...drive(), lambda: shown };
    const vehicle: Vehicle = { ...EMPTY_VEHICLE, fuel: { blend: 'E85' } };
    assert.ok(faultsOf(columns, vehicle, { lambda: 'afr' }).some((fault) => fault.shape === 'afr-scale'));
    assert.ok(
      !faultsOf({ ...drive(), lambda: shown.map((each) => (each * 14.7) / 9.81) }, vehicle, { lambda: 'afr' }).some(
        (fault) => fault.shape === 'afr-scale',
      ),
    );
  });

  test('engine speed cannot fall to 0 and come back within a second, whatever the target does meanwhile', () => {
    const columns = drive();
    columns['engine-speed'] = spell(columns['engine-speed'], 63, 64, 0);
    columns['target-lambda'] = timeS.map((t) => (t >= 63 && t < 64 ? 1 : 0.9));
    assert.deepEqual(
      faultsOf(columns).map((fault) => `${fault.kind} ${fault.shape} ${fault.channel.name}`),
      ['dropout zero engine-speed'],
    );
  });

  test('the end of a message is one in whole numbers too', () => {
    // SAE J1979 PID 0C: two bytes at a quarter of a turn end at 16 383.75 rpm.
    for (const end of [16383.75, 16384]) {
      const columns = drive();
      columns['engine-speed'] = spell(columns['engine-speed'], 63, 64, end);
      assert.deepEqual(
        faultsOf(columns).map((fault) => `${fault.kind} ${fault.shape} ${fault.channel.name}`),
        ['dropout full-scale engine-speed'],
      );
    }
  });

  test('a pulse of 50 ms fits into the cycle at 1300 rpm, not at 3000', () => {
    // Two turns at n rpm last 120 000 / n ms: 92 ms at 1300 rpm, 40 ms at 3000.
    const at = (rpm: number): string[] =>
      faultsOf({
        'engine-speed': timeS.map(() => rpm + Math.round(noise(8))),
        'injector-pulse-width': timeS.map((t) => (Math.abs(t - 60) < 0.02 ? 50 : 8 + noise(0.1))),
        'manifold-pressure': drive()['manifold-pressure'],
      }).map((fault) => `${fault.kind} ${fault.channel.name}`);
    assert.deepEqual([at(1300), at(3000)], [[], ['dropout injector-pulse-width']]);
  });

  test('a throttle that stays closed while the manifold fills and empties above idle speed is stuck, at a standstill and in overrun it is not', () => {
    const columns = (stands: boolean): Record<string, Float64Array> => {
      const at = drive();
      return stands ? { ...at, throttle: at['throttle'].map((each, i) => (timeS[i] >= 54 && timeS[i] < 83 ? 0 : each)) } : at;
    };
    assert.deepEqual(faultsOf(columns(false)), []);
    assert.deepEqual(
      faultsOf(columns(true)).map((fault) => `${fault.kind} ${fault.channel.name} ${Math.round(timeS[fault.from])}`),
      ['stuck throttle 54'],
    );
  });

  test('a manifold pressure that freezes behind an open throttle accuses itself, not the throttle', () => {
    const open = (t: number): boolean => t >= 60 && t < 84;
    const columns = drive();
    columns['throttle'] = columns['throttle'].map((each, i) => (open(timeS[i]) ? 100 : Math.min(each, 60)));
    columns['manifold-pressure'] = columns['manifold-pressure'].map((each, i) =>
      open(timeS[i]) ? Math.round((98 + noise(0.7)) * 10) / 10 : each,
    );
    columns['manifold-pressure'] = columns['manifold-pressure'].map((each, i, all) => (timeS[i] >= 60 && timeS[i] < 63 ? all[1195] : each));
    assert.deepEqual(
      faultsOf(columns).map((fault) => `${fault.kind} ${fault.channel.name}`),
      ['dropout manifold-pressure'],
    );
  });

  test('a manifold that was open at the foot of a climb is no open wire, though the air of the day was thinner', () => {
    // From 99 kPa at the foot to 79 at the pass: wide open at the foot is a quarter above the air at the top.
    const columns = drive(),
      air = timeS.map((t) => Math.round(990 - 200 * Math.min(1, t / 90)) / 10);
    const open = (t: number): boolean => (t >= 5 && t < 8) || (t >= 100 && t < 103);
    const climb = {
      ...columns,
      'barometric-pressure': air,
      throttle: columns['throttle'].map((each, i) => (open(timeS[i]) ? 90 : each)),
      'manifold-pressure': columns['manifold-pressure'].map((each, i) =>
        open(timeS[i]) ? air[i] - 1 + Math.round(noise(3)) / 10 : 0.75 * each,
      ),
    };
    assert.deepEqual(
      faultsOf(climb, { ...EMPTY_VEHICLE, engine: { aspiration: 'natural' } }).map(
        (fault) => `${fault.kind} ${fault.shape} ${fault.channel.name} ${timeS[fault.from]}`,
      ),
      [],
    );
  });

  test('injectors that stay shut behind a closed throttle coast, whatever a sensor shows that the air does not reach; behind an open one they are stuck', () => {
    // Ten seconds from 4500 rpm down, lambda held at 1 as behind a catalyst.
    const coasting = (t: number): boolean => t >= 60 && t < 70;
    const columns = drive(),
      at = (opened: number): Record<string, Float64Array> => ({
        ...columns,
        'fuel-cut': new Float64Array(timeS.length),
        'engine-speed': timeS.map((t, i) => Math.round(coasting(t) ? 4500 - 250 * (t - 60) : columns['engine-speed'][i])),
        throttle: timeS.map((t, i) => (coasting(t) ? opened + Math.abs(noise(0.2)) : columns['throttle'][i])),
        lambda: timeS.map((_, i) => 1 + Math.round(noise(6)) / 1000 + 0.004 * Math.sin(i / 9)),
        'manifold-pressure': timeS.map((t, i) => (coasting(t) && opened === 0 ? 20 + noise(1) : columns['manifold-pressure'][i])),
        'injector-duty': timeS.map((t, i) =>
          coasting(t) ? 0 : (columns['engine-speed'][i] * columns['manifold-pressure'][i]) / 9000 + noise(0.1),
        ),
      });
    delete columns['fuel-cut'];
    const stuck = (opened: number): string[] => {
      const { 'fuel-cut': _, ...rest } = at(opened);
      return faultsOf(rest)
        .filter(({ channel }) => channel.name === 'injector-duty')
        .map(({ kind }) => kind);
    };
    assert.deepEqual([stuck(0), stuck(30)], [[], ['stuck']]);
  });

  test('what a fault covers is not trusted, the rest is', () => {
    const columns = drive();
    columns['lambda'] = spell(columns['lambda'], 41.3, 43, 0);
    const trusted = analyse(sessionOf(timeS, columns), EMPTY_VEHICLE).trusted('lambda')!;
    assert.deepEqual([trusted[820], trusted[835], trusted[870]], [1, 0, 1]);
  });
});

suite('a reading that is gone for one row, or asked for once', () => {
  // Mechanics: a crank with its flywheel does not stand within a twentieth of a second and turn as before in the next.
  test('an engine speed of nought for one reading is a dropout, and a stall that is caught is none', () => {
    const columns = drive();
    columns['engine-speed'] = spell(columns['engine-speed'], 41.3, 41.35, 0);
    assert.deepEqual(
      faultsOf(columns).map((fault) => [fault.kind, fault.shape, fault.channel.name, fault.to - fault.from]),
      [['dropout', 'zero', 'engine-speed', 1]],
    );
    const stalled = drive();
    stalled['engine-speed'] = stalled['engine-speed'].map((each, i) => {
      const awayS = Math.abs(timeS[i] - 25.5);
      return awayS > 1.2 ? each : awayS < 0.06 ? 0 : Math.min(each, 700 * awayS);
    });
    assert.deepEqual(
      faultsOf(stalled).filter((fault) => fault.channel.name === 'engine-speed'),
      [],
    );
  });

  // The air around a car changes with weather and height: not within the seconds between two answers.
  test('a barometer that is asked for late or once is none', () => {
    for (const isAsked of [(t: number) => t > 40, (t: number) => t === 0])
      assert.deepEqual(faultsOf({ ...drive(), 'barometric-pressure': timeS.map((t) => (isAsked(t) ? 98 : NaN)) }), []);
  });
});
