// An engine held between two rows for seconds on end, as on a dyno or at idle: what is known there is the pair's sum. A physics of its own:
// air by the charge's true pressure, fuel by the pressure that the engine computer believes, both carried to a slow sensor.

import assert from 'node:assert/strict';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import type { CellEvidence } from '../../server/src/fueling/evidence.js';
import { judge, weighSession } from '../../server/src/fueling/weigh.js';
import type { QuantityId } from '../../server/src/quantities/quantity.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { normalFrom, randomFrom, sessionOf } from './tinyEngine.js';

const RPM = [1000, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000],
  KPA = [30, 45, 60, 75, 90, 105, 125, 145, 165];
const vehicle: Vehicle = { ...EMPTY_VEHICLE, engine: { displacementL: 2, cylinders: 4 }, injectors: { deadTimeMs: 0 } };

/**
 * What the engine asks for, from a table whose rows are an engine's own; straight between breakpoints, as the product says it takes it on
 * the whole.
 */
type Cells = readonly (readonly number[])[];
const TRUTH: Cells = KPA.map((kPa) => RPM.map((rpm) => 60 + 0.14 * Math.min(kPa, 110) + 12 * Math.sin((Math.PI * rpm) / 8000)));

const between = (cells: Cells, rpm: number, kPa: number): number => {
  const share = (axis: readonly number[], value: number): [number, number] => {
    const held = Math.max(axis[0], Math.min(axis[axis.length - 1], value)),
      at = Math.max(0, Math.min(axis.length - 2, axis.findIndex((each) => each > held) - 1));
    const from = held >= axis[axis.length - 1] ? axis.length - 2 : at;
    return [from, (held - axis[from]) / (axis[from + 1] - axis[from])];
  };
  const [c, u] = share(RPM, rpm),
    [r, v] = share(KPA, kPa);
  return (1 - v) * ((1 - u) * cells[r][c] + u * cells[r][c + 1]) + v * ((1 - u) * cells[r + 1][c] + u * cells[r + 1][c + 1]);
};

interface Day {
  readonly seed: number;
  /** What each cell must be multiplied by. */
  readonly off: (column: number, row: number) => number;
  /** Dwells in a row: engine speed, pressure, seconds. */
  readonly dwells: readonly (readonly [rpm: number, kPa: number, seconds: number])[];
  readonly noiseKPa: number;
  /** Whether the engine computer fuels by the noisy pressure, or only the logger reads it. */
  readonly seen: 'by the engine computer' | 'by the logger';
  /** The table tells volumetric efficiency, or the pulse, which goes with the pressure by itself. */
  readonly pulse?: boolean;
}

const STEP_S = 0.01,
  LOG_EVERY = 5,
  SENSOR_S = 0.09,
  TARGET = 0.9;

interface Told {
  readonly day: Day;
  readonly cells: readonly CellEvidence[];
  readonly truth: readonly number[];
}

const weighed = (day: Day): Told => {
  const { seed, off, dwells, noiseKPa, seen, pulse } = day,
    random = randomFrom(seed),
    normal = normalFrom(random);
  const right = TRUTH.map((row, r) => row.map((value) => (pulse ? (value * KPA[r]) / 800 : value)));
  const held = right.map((row, r) => row.map((value, c) => Number((value / off(c, r)).toFixed(pulse ? 4 : 2))));
  const parcels: number[] = [],
    rows: { readonly t: number; readonly rpm: number; readonly kPa: number; readonly lambda: number }[] = [];
  let [rpm, kPa] = dwells[0],
    seenKPa = kPa,
    lambda = TARGET,
    wander = 0,
    t = 0;
  for (const [toRpm, toKPa, seconds] of dwells) {
    for (let left = seconds; left > 0; left -= STEP_S) {
      rpm += Math.max(-1500 * STEP_S, Math.min(1500 * STEP_S, toRpm + 10 * Math.sin(1.3 * t) - rpm));
      kPa += ((toKPa + 0.4 * Math.sin(0.8 * t) - kPa) * STEP_S) / 0.15;
      wander += (-wander * STEP_S) / 1.5 + 0.003 * Math.sqrt((2 * STEP_S) / 1.5) * normal();
      // A new noise at every conversion.
      if (parcels.length % LOG_EVERY === 0) seenKPa = kPa + noiseKPa * normal();
      const believed = seen === 'by the logger' ? kPa : seenKPa,
        air = between(right, rpm, kPa) * (pulse ? 1 : kPa),
        fuel = between(held, rpm, believed) * (pulse ? 1 : believed);
      parcels.push(((TARGET * air) / fuel) * Math.exp(wander));
      const delayS = 0.06 + 0.5 / (4 + (rpm * kPa) / 6000);
      lambda += ((parcels[Math.max(0, parcels.length - 1 - Math.round(delayS / STEP_S))] - lambda) * STEP_S) / SENSOR_S;
      if (parcels.length % LOG_EVERY === 1) rows.push({ t, rpm: rpm + 4 * normal(), kPa: seenKPa, lambda: lambda + 0.002 * normal() });
      t += STEP_S;
    }
  }
  const table = readTable(
    `# quantity: ${pulse ? 'injector pulse width (ms)' : 'volumetric efficiency (%)'}\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,${RPM.join(',')}\n${held.map((row, r) => `${KPA[r]},${row.join(',')}`).join('\n')}\n`,
  );
  const channel = (
    quantity: QuantityId,
    digits: number,
    value: (row: (typeof rows)[number]) => number,
  ): { quantity: QuantityId; values: Float64Array } => ({
    quantity,
    values: Float64Array.from(rows, (row) => Number(value(row).toFixed(digits))),
  });
  const session = sessionOf(
    rows.map((row) => Number(row.t.toFixed(2))),
    [
      channel('engine-speed', 0, (row) => row.rpm),
      channel('manifold-pressure', 1, (row) => row.kPa),
      channel('lambda', 3, (row) => row.lambda),
      channel('target-lambda', 3, () => TARGET),
    ],
  );
  return {
    day,
    cells: judge(table, [weighSession(analyse(session, vehicle), table)]).cells,
    truth: held.flatMap((row, r) => row.map((value, c) => right[r][c] / value)),
  };
};

/**
 * Of the cells that got a factor: how many, those whose interval does not hold the truth, and those that are firm and off by more than 3 %.
 */
const scored = (all: readonly Told[]): { told: number; missed: string[]; wrong: string[] } => {
  let told = 0;
  const missed: string[] = [],
    wrong: string[] = [];
  for (const { day, cells, truth } of all) {
    for (const { proof, row, column, factor, factorLow, factorHigh } of cells) {
      const at = row * RPM.length + column;
      if (proof === 'none') continue;
      const words = `${RPM[column]} × ${KPA[row]}: ${factor.toFixed(3)} (${factorLow.toFixed(3)} to ${factorHigh.toFixed(3)}, ${proof}) for ${truth[at].toFixed(3)}, ${day.noiseKPa} kPa seen ${day.seen}, seed ${day.seed}`;
      told++;
      if (proof === 'firm' && Math.abs(factor / truth[at] - 1) > 0.03) wrong.push(words);
      if (!(factorLow <= truth[at] && truth[at] <= factorHigh)) missed.push(words);
    }
  }
  return { told, missed, wrong };
};

/** Held at every other speed midway between all rows, there and back, then driven along three. */
const lines = (random: () => number, seconds: number): Day['dwells'] => [
  ...[37.5, 52.5, 67.5, 82.5, 97.5, 115, 135, 155].flatMap((kPa, line) => {
    const speeds = [1500, 2500, 3500, 4500].map((rpm) => [rpm + Math.round(20 * random() - 10), kPa, seconds] as const);
    return line % 2 ? speeds.reverse() : speeds;
  }),
  ...[60, 105, 165].flatMap(
    (kPa) =>
      [
        [1200, kPa, 6],
        [2000, kPa, 4],
        [3000, kPa, 4],
        [4000, kPa, 4],
        [4800, kPa, 5],
      ] as const,
  ),
];

/** A patch of two by two cells is off, the rest is right. */
const patched = (random: () => number): Day['off'] => {
  const c = Math.floor(random() * (RPM.length - 1)),
    r = Math.floor(random() * (KPA.length - 1)),
    by = (random() < 0.5 ? -1 : 1) * (0.05 + 0.03 * random());
  return (column, row) => ((column === c || column === c + 1) && (row === r || row === r + 1) ? 1 + by : 1);
};
/** The table errs smoothly, by up to a tenth. */
const smooth = (random: () => number): Day['off'] => {
  const [a, b, c] = [6 * random(), 6 * random(), 6 * random()];
  return (column, row) => 1 + 0.05 * Math.sin(RPM[column] / 1100 + a) * Math.cos(KPA[row] / 35 + b) + 0.03 * Math.sin(KPA[row] / 22 + c);
};

const days = (off: (random: () => number) => Day['off'], seconds: number): Told[] =>
  [0.3, 0.8, 1.5].flatMap((noiseKPa, n) =>
    (['by the engine computer', 'by the logger'] as const).flatMap((seen, s) =>
      [false, true].map((pulse, p) => {
        const seed = 1000 * n + 100 * s + 10 * p + seconds,
          random = randomFrom(seed);
        return weighed({ seed, off: off(random), dwells: lines(random, seconds), noiseKPa, seen, pulse });
      }),
    ),
  );

suite('an engine held between two rows', () => {
  for (const [name, off] of [
    ['a patch is off', patched],
    ['it errs smoothly', smooth],
  ] as const) {
    test(`${name}: intervals hold the truth, and nothing firm is wrong`, () => {
      const all = [6, 25].flatMap((seconds) => days(off, seconds)),
        { told, missed, wrong } = scored(all);
      assert.ok(told > 1500, String(told));
      assert.deepEqual(wrong, []);
      assert.ok(missed.length <= 0.1 * told, `${missed.length} of ${told}\n${missed.join('\n')}`);
      if (off === smooth) return;
      // Also in the patch itself, where the pair's sum alone is known.
      const inPatch = scored(
        all.map(({ day, cells, truth }) => ({ day, truth, cells: cells.filter(({ row, column }) => day.off(column, row) !== 1) })),
      );
      assert.ok(inPatch.told > 80, String(inPatch.told));
      assert.ok(inPatch.missed.length <= 0.1 * inPatch.told, `${inPatch.missed.length} of ${inPatch.told}\n${inPatch.missed.join('\n')}`);
    });
  }
});
