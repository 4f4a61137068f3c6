// What single cells must come to: worked examples (λ = target × true value / table value, and arithmetic on stated inputs).

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { lookup } from '../../server/src/formats/table/tableLookup.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import type { Table } from '../../server/src/formats/table/table.js';
import type { CellEvidence } from '../../server/src/fueling/evidence.js';
import { gridOf, positionOn, valueAt } from '../../server/src/fueling/solution/grid.js';
import { leftOutWords } from '../../server/src/fueling/doubts/leftOutWords.js';
import { judge, weighSession } from '../../server/src/fueling/weigh.js';
import type { QuantityId } from '../../server/src/quantities/quantity.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { randomFrom, normalFrom, sessionOf } from './tinyEngine.js';

const near = (actual: number, expected: number, tolerance: number): void =>
  assert.ok(Math.abs(actual - expected) <= tolerance, `${actual} is not ${expected} ± ${tolerance}`);

const grid = (quantity: string, values: number[][]): Table =>
  readTable(
    `# quantity: ${quantity}\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,1000,2000,3000\n${values.map((row, i) => `${40 + 30 * i},${row.join(',')}`).join('\n')}\n`,
  );
const flat = (quantity: string, value: number): Table =>
  grid(
    quantity,
    [0, 1, 2].map(() => [value, value, value]),
  );

/** A minute at one operating point. Readings carry a little repeatable noise, so that no sensor looks stuck. */
const steady = (point: Partial<Record<QuantityId, number>>, vehicle: Vehicle = EMPTY_VEHICLE) => {
  const normal = normalFrom(randomFrom(1));
  const timeS = Array.from({ length: 1500 }, (_, i) => i * 0.04);
  const noise = timeS.map(() => normal());
  const mean = noise.reduce((sum, value) => sum + value, 0) / noise.length;
  return analyse(
    sessionOf(
      timeS,
      Object.entries(point).map(([quantity, value]) => ({
        quantity: quantity as QuantityId,
        values: Float64Array.from(timeS, (_, i) => (quantity === 'lambda' ? value * Math.exp(0.002 * (noise[i] - mean)) : value)),
      })),
    ),
    vehicle,
  );
};
const at2000 = { 'engine-speed': 2000, 'manifold-pressure': 70 } as const;
const middle = (cells: readonly CellEvidence[]): CellEvidence => cells[4];

suite('weigh: worked examples', () => {
  const cases: [string, Partial<Record<QuantityId, number>>, number][] = [
    ['λ 0.93 measured, 0.86 asked for', { lambda: 0.93, 'target-lambda': 0.86 }, 1.0813953],
    ['λ 0.82 measured, 0.86 asked for', { lambda: 0.82, 'target-lambda': 0.86 }, 0.9534884],
    [
      'at target with short trim +4 %, long trim +8 %',
      { lambda: 1, 'target-lambda': 1, 'short-term-fuel-trim': 4, 'long-term-fuel-trim': 8 },
      1.1232,
    ],
    [
      'λ 1.02 for 1.00 with −3 % and +5 %',
      { lambda: 1.02, 'target-lambda': 1, 'short-term-fuel-trim': -3, 'long-term-fuel-trim': 5 },
      1.03887,
    ],
  ];
  for (const [name, point, factor] of cases) {
    test(`${name}: factor ${factor}`, () => {
      const table = flat('volumetric efficiency (%)', 80);
      const cell = middle(judge(table, [weighSession(steady({ ...at2000, ...point }), table)]).cells);
      near(cell.factor, factor, 2e-4);
      near(cell.suggested, 80 * factor, 2e-2);
      assert.equal(cell.proof, 'firm');
      assert.ok(cell.factorLow < factor && factor < cell.factorHigh);
    });
  }

  test('a lambda of nothing in the last row, where the power went, takes no proof from the rest', () => {
    const table = flat('volumetric efficiency (%)', 80);
    const signals = steady({ ...at2000, lambda: 0.93, 'target-lambda': 0.86 });
    (signals.session.channels.find(({ quantity }) => quantity === 'lambda')!.values as Float64Array)[signals.session.samples - 1] = 0;
    const cell = middle(judge(table, [weighSession(signals, table)]).cells);
    near(cell.factor, 1.0813953, 2e-4);
    assert.equal(cell.proof, 'firm');
  });

  test('what is lean at the limiter of the vehicle file is its cut, also at full load', () => {
    const table = flat('volumetric efficiency (%)', 80);
    // A minute about 2000 rpm and 100 kPa; every eight seconds lambda swells to 1.25 and back.
    const normal = normalFrom(randomFrom(1)),
      timeS = Array.from({ length: 1500 }, (_, i) => i * 0.04);
    const channels = (
      [
        ['engine-speed', (t) => 2000 + 10 * Math.sin(t)],
        ['manifold-pressure', (t) => 99 + 0.5 * Math.cos(t)],
        ['target-lambda', () => 0.86],
        ['lambda', (t) => 0.86 * Math.exp(0.002 * normal()) + (t % 8 < 2 ? 0.39 * Math.sin((Math.PI * (t % 8)) / 2) ** 2 : 0)],
      ] as [QuantityId, (t: number) => number][]
    ).map(([quantity, value]) => ({ quantity, values: Float64Array.from(timeS, value) }));
    const weighed = (revLimitRpm: number) => {
      const evidence = weighSession(
        analyse(sessionOf(timeS, channels), { ...EMPTY_VEHICLE, engine: { ...EMPTY_VEHICLE.engine, revLimitRpm } }),
        table,
      );
      return { cut: evidence.weight.leftOut.overrun ?? 0, factor: judge(table, [evidence]).cells[7].factor };
    };
    const [at, below] = [weighed(2000), weighed(7000)];
    assert.ok(at.cut > 200 && below.cut === 0, `${at.cut} and ${below.cut}`);
    near(at.factor, 1, 5e-3);
  });

  test('evidence from an old session speaks of the table that was in the engine', () => {
    const [old, now] = [flat('volumetric efficiency (%)', 44.5), flat('volumetric efficiency (%)', 48.1)];
    const signals = steady({ ...at2000, lambda: 0.93, 'target-lambda': 0.86, 'long-term-fuel-trim': 2 });
    const cell = middle(judge(now, [weighSession(signals, now, { loggedWith: { name: 'old.table.csv', table: old } })]).cells);
    near(cell.suggested, 49.08453, 1e-2);
    near(cell.factor, 1.020469, 2e-4);
  });

  test('a hand edit is judged from the same evidence, and does not change what is required', () => {
    const table = flat('volumetric efficiency (%)', 80);
    const evidence = weighSession(steady({ ...at2000, lambda: 0.93, 'target-lambda': 0.86 }), table);
    const edited = grid('volumetric efficiency (%)', [
      [80, 80, 80],
      [80, 86.5, 80],
      [80, 80, 80],
    ]);
    near(middle(judge(edited, [evidence]).cells).suggested, middle(judge(table, [evidence]).cells).suggested, 1e-9);
  });

  test('dead time is kept out of the scaling of a pulse width', () => {
    const vehicle: Vehicle = { ...EMPTY_VEHICLE, injectors: { deadTimeMs: 0.95 } };
    const table = flat('injector pulse width (ms)', 5);
    const signals = steady({ ...at2000, lambda: 0.93, 'target-lambda': 0.86 }, vehicle);
    near(middle(judge(table, [weighSession(signals, table)]).cells).suggested, 5.32965, 1e-3);
    const unstated = weighSession(steady({ ...at2000, lambda: 0.93, 'target-lambda': 0.86 }), table);
    assert.ok(unstated.weight.assumed.some((text) => text.includes('dead time')));
  });

  test('a mass air flow curve of one dimension', () => {
    const table = readTable('# quantity: mass air flow (g/s)\n# columns: mass air flow signal (V)\n, 1, 2, 4\n0, 3, 12, 60\n');
    const signals = steady({ 'engine-speed': 3000, 'mass-air-flow-signal': 4, lambda: 1.03, 'target-lambda': 1 });
    near(judge(table, [weighSession(signals, table)]).cells[2].suggested, 61.8, 2e-2);
  });

  test('samples midway between two cells prove neither', () => {
    const table = flat('volumetric efficiency (%)', 80);
    const { cells } = judge(table, [
      weighSession(steady({ 'engine-speed': 1500, 'manifold-pressure': 70, lambda: 1.1, 'target-lambda': 1 }), table),
    ]);
    for (const cell of [cells[3], cells[4]]) {
      assert.equal(cell.proof, 'thin');
      near(cell.factor, 1.1, 2e-3);
    }
    assert.equal(cells[0].proof, 'none');
    assert.ok(Number.isNaN(cells[0].factor));
  });
});

suite('weigh: what is no evidence', () => {
  const table = flat('volumetric efficiency (%)', 80);
  const leftOut = (point: Partial<Record<QuantityId, number>>, vehicle?: Vehicle) =>
    weighSession(steady({ ...at2000, ...point }, vehicle), table).weight;

  test('a cold engine', () => {
    const { used, leftOut: why } = leftOut({ lambda: 1.1, 'target-lambda': 1, 'coolant-temperature': 45 });
    assert.equal(used, 0);
    assert.ok(why['cold-engine']! > 1400);
  });
  test('an axis that is not logged, which is no sensor that is doubted', () => {
    const { rpm, ...others } = { rpm: 2000, lambda: 1.1, 'target-lambda': 1 },
      why = weighSession(steady({ 'engine-speed': rpm, ...others }), table).weight.leftOut;
    assert.ok(why['rows-not-logged']! > 1400 && why['sensor-fault'] === undefined, JSON.stringify(why));
    assert.match(leftOutWords('rows-not-logged', table), /^manifold pressure, which the table's rows count in, is not in the log$/);
  });
  test('no target', () => assert.ok(leftOut({ lambda: 1.1 }).leftOut['no-target']! > 1400));
  test('no lambda and no trims', () => assert.ok(leftOut({ 'target-lambda': 1 }).leftOut['no-lambda']! > 1400));
  test('trims that stand still', () => assert.ok(leftOut({ 'short-term-fuel-trim': 5 }).leftOut['closed-loop-unknown']! > 1400));
  test('a sensor behind the catalyst', () => {
    const { used, leftOut: why } = leftOut(
      { lambda: 1.1, 'target-lambda': 1 },
      { ...EMPTY_VEHICLE, lambdaSensor: { mount: 'downstream' } },
    );
    assert.equal(used, 0);
    assert.ok(why['sensor-mount']! > 1400);
  });
  test('outside the table', () =>
    assert.ok(leftOut({ 'manifold-pressure': 130, lambda: 1.1, 'target-lambda': 1 }).leftOut['outside-axes']! > 1400));
  test('the first second of a log, before which nothing is known', () => {
    const { leftOut: why, used } = leftOut({ lambda: 1.1, 'target-lambda': 1 });
    assert.ok(why.transient! >= 25 && why.transient! <= 32 && used > 1400, JSON.stringify(why));
  });
  test('fuel cut', () => assert.ok(leftOut({ lambda: 1.1, 'target-lambda': 1, 'fuel-cut': 1 }).leftOut.overrun! > 1400));

  test('an ignition table, or none of the axes logged: no cell, no failure', () => {
    const spark = grid('ignition advance (deg)', [
      [10, 20, 30],
      [10, 20, 30],
      [10, 20, 30],
    ]);
    const signals = steady({ lambda: 1, 'target-lambda': 1 });
    for (const each of [spark, table]) assert.ok(judge(each, [weighSession(signals, each)]).cells.every(({ proof }) => proof === 'none'));
  });
});

suite('weigh: two banks and the delay as stated', () => {
  const table = flat('volumetric efficiency (%)', 80);
  test("the factor is the banks' mean, their spread is told", () => {
    const evidence = judge(table, [weighSession(steady({ ...at2000, lambda: 0.9, 'lambda-2': 0.92, 'target-lambda': 0.86 }), table)]);
    near(middle(evidence.cells).factor, Math.sqrt(0.9 * 0.92) / 0.86, 3e-4);
    near(evidence.bankSpread![4], 0.92 / 0.9 - 1, 3e-4);
  });
  test("the vehicle file's own delay goes before any estimate", () => {
    const vehicle: Vehicle = { ...EMPTY_VEHICLE, lambdaSensor: { transportDelay: 0.21 } };
    const { transportDelay } = weighSession(steady({ ...at2000, lambda: 0.9, 'target-lambda': 0.86 }, vehicle), table).weight;
    assert.deepEqual([transportDelay.estimated, transportDelay.from, transportDelay.medianS], [false, 'vehicle.json', 0.21]);
  });
});

suite('weigh: properties', () => {
  test("positions and bilinear values agree with the table's own look-up, also on descending axes", () => {
    const text = (rpm: number[], kPa: number[]): string =>
      `# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,${rpm.join(',')}\n${kPa.map((p, i) => `${p},${rpm.map((r, j) => 40 + 7 * i + 3 * j * j).join(',')}`).join('\n')}\n`;
    for (const table of [
      readTable(text([800, 1500, 3000, 6000], [30, 60, 100])),
      readTable(text([6000, 3000, 1500, 800], [100, 60, 30])),
    ]) {
      const g = gridOf(table);
      fc.assert(
        fc.property(fc.double({ min: 300, max: 7000, noNaN: true }), fc.double({ min: 10, max: 130, noNaN: true }), (rpm, kPa) => {
          near(valueAt(table.values, g, positionOn(g.columns, rpm), positionOn(g.rows, kPa)), lookup(table, rpm, kPa), 1e-9);
        }),
      );
    }
  });

  test('a session without readings, or without one that is believed, takes nothing from the rest and adds nothing', () => {
    const table = grid('volumetric efficiency (%)', [
      [40, 52, 50],
      [55, 80, 74],
      [60, 90, 82],
    ]);
    const driven = weighSession(steady({ ...at2000, lambda: 0.93, 'target-lambda': 0.86 }), table),
      empty = weighSession(analyse(sessionOf([], []), EMPTY_VEHICLE), table);
    const unlike = flat('volumetric efficiency (%)', 80),
      silent = weighSession(steady({ ...at2000, 'target-lambda': 1 }), table, { loggedWith: { name: 'flat', table: unlike } });
    const alone = judge(table, [driven]).cells.map((cell) => ({ ...cell }));
    for (const beside of [empty, silent])
      for (const list of [
        [driven, beside],
        [beside, driven],
      ])
        assert.deepEqual(
          judge(table, list).cells.map((cell) => ({ ...cell })),
          alone,
        );
  });

  test('evidence does not depend on the order of the sessions', () => {
    const table = flat('volumetric efficiency (%)', 80);
    const a = weighSession(steady({ ...at2000, lambda: 0.9, 'target-lambda': 0.86 }), table);
    const b = weighSession(steady({ 'engine-speed': 3000, 'manifold-pressure': 100, lambda: 0.8, 'target-lambda': 0.86 }), table);
    const [ab, ba] = [judge(table, [a, b]), judge(table, [b, a])];
    ab.cells.forEach((cell, at) => {
      if (cell.proof !== 'none') near(cell.factor, ba.cells[at].factor, 1e-9);
    });
  });
});
