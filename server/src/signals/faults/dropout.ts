// A sensor gone for a moment: cells left empty (blanks.ts), a value that no engine has, or a leap to an end of its scale and back
// (leapsToEnds.ts).
// (A reading that freezes is told by stuck.ts, lambda at its ends by lambdaAtEnds.ts: both need to know what the engine did.)

import { limitOf } from '../../formats/limits.js';
import { isOfHead } from '../../formats/session/headTemperature.js';
import { believableIn, plausibleOf } from '../../formats/plausible.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { Track } from '../columns/hold.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';
import { BLOCK_ROWS, endOfEqual } from '../columns/statistics.js';
import { aboveAir, mostNaturalKPa, readsHighWhereOpen } from './aboveAir.js';
import { blanks } from './blanks.js';
import { Leaps } from './channelFaults.js';
import { FASTEST, leapsToEnds } from './leapsToEnds.js';

const LEAST_READINGS = 20;
const LEAST_LEAP_SHARE = 0.05;

/** States and controller outputs leap by nature: only blanks and impossible values are told of them. */
const LEAPS_BY_NATURE: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'time',
  'gear',
  'fuel-cut',
  'trouble-code',
  'target-lambda',
  'knock-retard',
  'ignition-advance',
  'short-term-fuel-trim',
  'long-term-fuel-trim',
  'short-term-fuel-trim-2',
  'long-term-fuel-trim-2',
]);

/** One engine cycle is 120 000 ms over the engine speed in rpm: two turns. */
const FULL_CYCLE_MS_RPM = 120_000;

/** Leaps of one channel out of its range, undefined where none are sought, and its blanks and leaps to its ends. */
interface Dropouts {
  readonly leaps: Leaps | undefined;
  readonly others: Fault[];
}

/** Blanks and leaps of one channel. */
export const dropoutsOf = (readings: Readings, track: Track): Dropouts => {
  if (track.count < LEAST_READINGS) return { leaps: undefined, others: [] };
  const gone = blanks(readings, track),
    { leaps, others } = leapsOf(readings, track);
  return { leaps, others: gone.concat(others) };
};

const leapsOf = (readings: Readings, track: Track): Dropouts => {
  const { quantity } = track.channel;
  if (quantity === undefined || quantity === 'time' || quantity === 'trouble-code' || quantity === 'knock-retard')
    return { leaps: undefined, others: [] };
  const leaps = leapsOutOfRange(readings, track, quantity);
  return {
    leaps,
    others:
      LEAPS_BY_NATURE.has(quantity) || quantity === 'lambda' || quantity === 'lambda-2'
        ? []
        : leapsToEnds(readings, track, quantity, leaps),
  };
};

/**
 * Values that no engine has, for a moment. Longer than the limit a channel is not dropping out but broken: implausible.ts and stuck.ts tell
 * it.
 */
const leapsOutOfRange = (readings: Readings, track: Track, quantity: QuantityId): Leaps => {
  const { channel, values, rows, count, longSpacingRows, least, greatest } = track,
    { timeS } = readings;
  const longestS = limitOf('dropoutLongestS', readings.vehicle.limits).value;
  const { low, high: believable } = believableIn(channel, least, readings.vehicle),
    high = Math.max(plausibleOf(quantity, readings.vehicle).high, isOfHead(channel) ? believable : -Infinity);
  const top =
    quantity === 'manifold-pressure' &&
    readings.vehicle.engine.aspiration === 'natural' &&
    !aboveAir(readings) &&
    !readsHighWhereOpen(readings)
      ? Math.min(believable, mostNaturalKPa(readings))
      : believable;
  const zero = channel.toCanonical(0),
    leaps = new Leaps(channel, (value) => shapeOf(zero, value, value > high));
  if (quantity === 'engine-speed' && least <= zero)
    speedGone(leaps, track, timeS, zero, limitOf('dropoutS', readings.vehicle.limits).value);
  if (least >= low && greatest <= top) return leaps;
  // A long pulse at low speed (cranking, air that rushes into an empty manifold) is rare, not impossible: there is room for it in the
  // cycle.
  const rpm = (quantity === 'injector-pulse-width' && readings.held('engine-speed')) || NO_SPEED,
    leastLeap = LEAST_LEAP_SHARE * (greatest - least);
  for (let a = 0; a < count;)
    a = leapsIn(
      leaps,
      a,
      Math.min(count, a + BLOCK_ROWS),
      values,
      rows,
      count,
      timeS,
      rpm,
      low,
      top,
      leastLeap,
      longestS,
      2 * longSpacingRows,
    );
  return leaps;
};

/** A crank turns by its own weight: one that is at a written zero and back within so little never stood. Longer ones leapsToEnds.ts weighs. */
const speedGone = (leaps: Leaps, { values, rows, count }: Track, timeS: Float64Array, zero: number, belowS: number): void => {
  const { margin, perS } = FASTEST['engine-speed']!,
    tooFast = (from: number, to: number): boolean =>
      Math.abs(values[to] - values[from]) > margin + perS * (timeS[rows[to]] - timeS[rows[from]]);
  for (let a = values.indexOf(zero, 1), b; a > 0 && a < count; a = values.indexOf(zero, b)) {
    b = endOfEqual(values, a, count);
    if (b < count && timeS[rows[b]] - timeS[rows[a]] < belowS && tooFast(a - 1, a) && tooFast(b - 1, b)) leaps.push(rows[a], rows[b], zero);
  }
};

const NO_SPEED = new Float64Array(0);

/** Whether a value is out of the range, and, where the engine speed is given, too long for a cycle. */
const isOut = (value: number, row: number, rpm: Float64Array, low: number, top: number): boolean =>
  (value < low || value > top) && !(rpm.length > 0 && value >= low && value * rpm[row] <= FULL_CYCLE_MS_RPM);

/** Adds the spells out of the range that begin in the readings [from, end) and were leapt into and out of; the reading to go on at. */
const leapsIn = (
  leaps: Leaps,
  from: number,
  end: number,
  values: Float64Array,
  rows: Int32Array,
  count: number,
  timeS: Float64Array,
  rpm: Float64Array,
  low: number,
  top: number,
  leastLeap: number,
  longestS: number,
  nearRows: number,
): number => {
  let a = from;
  while (a < end) {
    if (!isOut(values[a], rows[a], rpm, low, top)) {
      a++;
      continue;
    }
    let b = a + 1;
    while (b < count && isOut(values[b], rows[b], rpm, low, top)) b++;
    // At the very start a sensor may not be awake yet: cold.ts and implausible.ts look at that.
    // A reading that only creeps over the edge of what is plausible did not leap.
    if (
      a > 0 &&
      b < count &&
      Math.min(Math.abs(values[a] - values[a - 1]), Math.abs(values[b - 1] - values[b])) > leastLeap &&
      timeS[rows[b]] - timeS[rows[a]] <= longestS
    ) {
      leaps.push(rows[a], rows[b] - rows[b - 1] <= nearRows ? rows[b] : rows[b - 1] + 1, values[a]);
    }
    a = b;
  }
  return a;
};

const shapeOf = (zero: number, value: number, high: boolean): string =>
  Math.abs(value - zero) < 1e-6 ? 'zero' : high ? 'full-scale' : 'open-circuit';
