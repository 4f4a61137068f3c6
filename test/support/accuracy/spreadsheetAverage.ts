// What a spreadsheet would say: each reading, taken a fixed time back, goes whole to its nearest cell; a cell's factor is the plain mean.

import { read } from '../simulator/index.js';
import type { Drive } from '../simulator/index.js';

const FIXED_DELAY_S = 0.15;

const nearest = (axis: readonly number[], x: number): number =>
  axis.reduce((best, value, i) => (Math.abs(value - x) < Math.abs(axis[best] - x) ? i : best), 0);

/** Last value written at or before each row. */
function held(drive: Drive, name: string): Float64Array | undefined {
  let last = NaN;
  return drive.channels.get(name)?.values.map((value) => (last = Number.isNaN(value) ? last : value));
}

/**
 * Factor of each cell, row by row; NaN where no reading fell. Leaves out what anyone would: sensor at its ends, cold engine, engine off.
 */
export function spreadsheetAverage(drive: Drive): Float64Array {
  const { columns, rows } = drive.truth.fuelTable,
    sum = new Float64Array(columns.length * rows.length),
    count = new Float64Array(sum.length);
  const meter = drive.car.fuelTableQuantity === 'mass-air-flow';
  const x = held(drive, meter ? 'mass-air-flow-signal' : 'engine-speed')!,
    y = held(drive, 'manifold-pressure')!,
    speed = held(drive, 'engine-speed')!;
  const lambda = held(drive, 'lambda'),
    target = held(drive, 'target-lambda'),
    coolant = held(drive, 'coolant-temperature')!,
    throttle = held(drive, 'throttle')!;
  const short = held(drive, 'short-term-fuel-trim'),
    long = held(drive, 'long-term-fuel-trim');
  const back = Math.round(FIXED_DELAY_S * drive.rateHz),
    [least, most] = drive.car.lambdaSensor.range;
  for (let i = back; i < x.length; i++) {
    const at = i - back;
    if (!(coolant[i] > 70) || !(speed[at] > 500) || (lambda && !(lambda[i] > least + 0.01 && lambda[i] < most - 0.01))) continue;
    if (!lambda && (throttle[at] < 1 || short![at] === 0)) continue;
    const wanted = target ? target[at] : read(drive.truth.targetTable, speed[at], y[at]);
    const factor = (lambda ? lambda[i] / wanted : 1) * (1 + (short?.[at] ?? 0) / 100) * (1 + (long?.[at] ?? 0) / 100);
    const cell = (meter ? 0 : nearest(rows, y[at])) * columns.length + nearest(columns, x[at]);
    if (Number.isNaN(factor)) continue;
    sum[cell] += factor;
    count[cell]++;
  }
  return sum.map((total, i) => total / count[i]);
}
