// Lambda at an end of its scale, or at a level that no engine burns: air after a fuel cut, a wire that is off for a moment, a sensor that
// is stuck, or one whose range is too small.

import { limitOf } from '../../formats/limits.js';
import { dithers } from '../columns/dither.js';
import type { FlatRun, FlatStatistics } from '../columns/flatRuns.js';
import type { Track } from '../columns/hold.js';
import { openingOf } from '../drive/opening.js';
import type { Readings } from '../readings.js';
import type { Fault, Span } from '../signals.js';
import { marksWithin } from '../columns/spans.js';
import { endOfEqual, median } from '../columns/statistics.js';
import { nextBeyond } from '../columns/stretches.js';
import { extremesOutside } from './extremesOutside.js';
import { isLambdaEnd, LAMBDA_ENDS } from './scaleEnds.js';

/** A dropout's reading leaps at least this share of the way in one step. */
const SUDDEN_SHARE = 0.7;
const LONGEST_DROPOUT_S = 6;
const LEAST_DROPOUT_S = 0.22;
/** Readings of a level, and how far lambda must leap to it, to be a dropout short of its ends. */
const LEAST_LEVEL = 4,
  LEAST_LEAP = 0.15;
const LEAST_STILL = 6,
  STILL_LEAP = 0.07;
/** Where no range is stated: above this a rich reading is a mixture that was asked for, however soon it came. */
const RICH_END_LAMBDA = 0.75;
/** No engine runs at a sensor's stop, to the last digit, for so long, unless it is asked to. */
const HELD_STUCK_S = 10;
/** A living sensor has left its lean stop when the engine was driven for so long after the last of the air. */
const LEAN_HELD_S = 4;
/** From this share of the readings near a stated end on that are one and the same number the end is a number, without unrest of its own. */
const ONE_NUMBER_SHARE = 0.3;

/**
 * Richer than the stated range by more than rounding, and than any engine burns: the sensor cannot show it. What an engine may burn is
 * believed rather than the range.
 */
export const beyondRich = (stop: number): number => Math.min(stop - 0.02, LAMBDA_ENDS[0]);
/** Leaner than the stated range, likewise. */
export const beyondLean = (stop: number): number => Math.max(stop + 0.02, LAMBDA_ENDS[1]);
const isBeyond = (seen: number, stop: number, high: boolean): boolean => (high ? seen > beyondLean(stop) : seen < beyondRich(stop));

/**
 * Clipped, frozen, sleeping and torn-off spells of a bank. `air` is 1 where the exhaust may hold plain air, `before` marks samples of other
 * faults.
 */
export const lambdaAtEnds = (
  readings: Readings,
  track: Track,
  flat: () => FlatStatistics,
  air: () => Uint8Array,
  before: Uint8Array,
): Fault[] => {
  const { vehicle, recordings } = readings;
  const { rows, values, count } = track;
  const [least, greatest] = extremesOutside(track, before);
  if (!(greatest > least)) return [];
  const range = vehicle.lambdaSensor.range;
  const alive = dithers(track);
  const cut = air();
  const found: Fault[] = alive ? leapsWithin(readings, track, [least, greatest], cut, before) : [];
  const taken = found.length > 0 ? before.slice() : before;
  for (const { from, to } of found) taken.fill(1, from, to);
  for (const high of [true, false]) {
    const seen = high ? greatest : least;
    const stop = range ? range[high ? 1 : 0] : seen;
    const tolerance = range && !isOneNumber(track, seen) ? 0.006 : 1e-6;
    // At the stop, or beyond any mixture (the least number above 2).
    const top = !high
        ? Infinity
        : range && isBeyond(seen, stop, high)
          ? beyondLean(stop)
          : Math.min(Math.min(stop, seen) - tolerance, 2 + 2 * Number.EPSILON),
      bottom = high ? -Infinity : isBeyond(seen, stop, high) ? beyondRich(stop) : Math.max(stop, seen) + tolerance;
    // A greatest value that the sensor only just reached is no stop, unless the vehicle file says that it is one.
    const known = range !== undefined && (Math.abs(seen - stop) <= 0.02 || isBeyond(seen, stop, high));
    if (range && !known && (high ? seen < stop : seen > stop)) continue;
    // Without a sensor's unrest a level is a mixture, unless no engine burns it.
    if (!known && !alive && !isLambdaEnd(seen)) continue;
    const end: End = { high, known, alive };
    // The last recording that has begun by the sample.
    let begun = 0;
    for (let a = 0, b; (a = nextBeyond(values, a, count, bottom, top)) < count; a = b) {
      b = a + 1;
      if (taken[rows[a]] === 1) continue;
      b = endBeyond(values, rows, b, count, bottom, top, taken);
      const spell: Spell = { a, b, from: rows[a], to: b < count ? rows[b] : rows[b - 1] + 1 };
      while (begun + 1 < recordings.length && recordings[begun + 1].from <= spell.from) begun++;
      const fault =
        high && marksWithin(cut, spell.from, spell.to) > 0.5 * (spell.to - spell.from)
          ? alive && heldLean(readings, track, spell, cut)
          : faultAtEnd(readings, track, end, spell, recordings[begun]?.from ?? 0, flat, cut);
      if (fault) found.push(fault);
    }
  }
  return found;
};

/** An end of the sensor's scale: `known` where it is stated, or beyond what any engine burns; `alive` where its readings are restless. */
interface End {
  readonly high: boolean;
  readonly known: boolean;
  readonly alive: boolean;
}

/** The readings `[a, b)` at an end, and their rows. */
interface Spell extends Span {
  readonly a: number;
  readonly b: number;
}

// What is made of a spell stands by itself: of the many that are air and nothing else none of it is asked.

/** The air came first, but the reading stayed when it had gone: for long it is the sensor's. */
const heldLean = (readings: Readings, { channel, values }: Track, { a, b, from, to }: Spell, cut: Uint8Array): Fault | undefined => {
  const { timeS } = readings;
  if (!isFlat(values, a, b) || drivenSeconds(readings, cut, from, to) < LEAN_HELD_S) return undefined;
  const spell = { channel, value: values[a], from, to };
  return timeS[Math.min(to, timeS.length - 1)] - timeS[from] >= HELD_STUCK_S
    ? { kind: 'stuck', shape: 'frozen', ...spell, data: {} }
    : { kind: 'clipped-high', shape: 'flat', ...spell, data: { end: 'lean' } };
};

const faultAtEnd = (
  readings: Readings,
  track: Track,
  { high, known, alive }: End,
  { a, b, from, to }: Spell,
  begunAt: number,
  flat: () => FlatStatistics,
  cut: Uint8Array,
): Fault | undefined => {
  const { timeS, vehicle } = readings,
    { channel, rows, values, count } = track;
  const spanS = timeS[Math.min(to, timeS.length - 1)] - timeS[from],
    spell = { channel, value: values[a], from, to },
    end = high ? 'lean' : 'rich';
  // From the recording's first reading on it is a sensor that is not awake, or an engine that has not run yet.
  if (high && (a === 0 || begunAt > rows[a - 1])) return { kind: 'cold', shape: 'end', ...spell, data: { awakeAfterS: spanS } };
  // Where everything goes in steps a step says nothing: at the stated end the sensor is simply at its end.
  const sudden =
    (alive || !known) &&
    (high || known || values[a] < RICH_END_LAMBDA) &&
    isSudden(track, a, b) &&
    spanS <= LONGEST_DROPOUT_S &&
    (known || isLambdaEnd(values[a]) || !targetWentToo(readings, from, to, high));
  const isUnlikely = (): boolean => repeats(values, a, b) && (runWithin(flat().runs, a, b)?.nats ?? 0) > Math.log(flat().runCount + 2) + 3;
  const leap = a > 0 && b < count ? Math.min(Math.abs(values[a] - values[a - 1]), Math.abs(values[b - 1] - values[b])) : 0;
  // One or two readings alone tell nothing unless they leapt far; a lone peak is simply the greatest value there is.
  // At a stated end, still to the last digit, a smaller leap is the wire's too where the target did not ask for it.
  const still =
    known &&
    b - a >= LEAST_STILL &&
    isFlat(values, a, b) &&
    readings.held('target-lambda') !== undefined &&
    !targetWentToo(readings, from, to, high);
  if (
    sudden &&
    leap > (still ? STILL_LEAP : 0.15) &&
    (b - a >= 2 || (leap > 0.3 && cut[from] === 0)) &&
    (known || b - a >= 2 || isUnlikely()) &&
    spanS >= LEAST_DROPOUT_S &&
    !(!high && cut[from] === 1)
  )
    return { kind: 'dropout', shape: 'full-scale', ...spell, data: { end } };
  if (!high && alive && spanS >= HELD_STUCK_S && isFlat(values, a, b) && !targetAtEnd(readings, from, to, values[a]))
    return { kind: 'stuck', shape: 'frozen', ...spell, data: {} };
  return b - a >= limitOf('clippedReadings', vehicle.limits).value && (known || isUnlikely())
    ? { kind: high ? 'clipped-high' : 'clipped-low', shape: 'flat', ...spell, data: { end } }
    : undefined;
};

/** First reading from one on that is neither at or below `low` nor at or above `high`, or is taken. */
const endBeyond = (
  values: Float64Array,
  rows: Int32Array,
  from: number,
  count: number,
  low: number,
  high: number,
  taken: Uint8Array,
): number => {
  let b = from;
  while (b < count && (values[b] <= low || values[b] >= high) && taken[rows[b]] === 0) b++;
  return b;
};

/**
 * Short of its ends lambda shows no air: a level that no engine burns, reached and left in one step and still to the last digit, is the
 * wire's.
 */
const leapsWithin = (
  readings: Readings,
  track: Track,
  [least, greatest]: readonly [number, number],
  air: Uint8Array,
  taken: Uint8Array,
): Fault[] => {
  const { channel, rows, values, count } = track;
  const { timeS } = readings;
  const found: Fault[] = [];
  const [low, high] = LAMBDA_ENDS;
  for (let a = 0; (a = nextBeyond(values, endOfMoving(values, a, count, low, high), count, low, high)) < count;) {
    const b = endOfEqual(values, a, count),
      value = values[a];
    if (
      b - a >= LEAST_LEVEL &&
      b < count &&
      value > least + 0.006 &&
      value < greatest - 0.006 &&
      taken[rows[a]] === 0 &&
      isSudden(track, a, b)
    ) {
      const from = rows[a],
        to = rows[b],
        spanS = timeS[to] - timeS[from];
      const leap = Math.min(Math.abs(value - values[a - 1]), Math.abs(value - values[b]));
      if (leap > LEAST_LEAP && spanS >= LEAST_DROPOUT_S && spanS <= LONGEST_DROPOUT_S && marksWithin(air, from, to) * 2 <= to - from)
        found.push({ kind: 'dropout', channel, shape: 'open-circuit', value, from, to, data: {} });
    }
    a = b;
  }
  return found;
};

/** First reading from one on that is neither at or below `low` nor at or above `high`, or begins a level. */
const endOfMoving = (values: Float64Array, from: number, count: number, low: number, high: number): number => {
  let a = from;
  while (a < count && (values[a] <= low || values[a] >= high)) {
    const b = endOfEqual(values, a, count);
    if (b - a >= LEAST_LEVEL) break;
    a = b;
  }
  return a;
};

/** Whether one number is met again and again near an end: then a number just inside of it is a reading. */
const isOneNumber = ({ values, count }: Track, end: number): boolean => {
  let near = 0,
    same = 0;
  for (let k = 0; k < count; k++) {
    if (Math.abs(values[k] - end) > 0.006) continue;
    near++;
    if (values[k] === end) same++;
  }
  return same >= 3 && same > ONE_NUMBER_SHARE * near;
};

/**
 * Opening from which fuel is surely given: of a throttle or pedal, and where manifold or load must stand in for it (an idle draws up to a
 * third).
 */
const DRIVEN_PERCENT = 8,
  DRIVEN_BY_AIR_PERCENT = 40;
/** Wide open, the last of the air has gone within a few tenths of a second: such time proves so many times as much. */
const WIDE_OPEN_PERCENT = 60,
  WIDE_OPEN_COUNTS = 3;

/** Time within `[from, to)` in which no air was in the exhaust and the engine was surely driven; more for what was driven wide open. */
const drivenSeconds = (readings: Readings, air: Uint8Array, from: number, to: number): number => {
  const { timeS } = readings;
  // Nothing is counted of a single reading, and most spells of noise at an end are one.
  if (to - from < 2) return 0;
  const opening = openingOf(readings),
    { percent } = opening,
    leastPercent = opening.from === 'throttle' || opening.from === 'pedal' ? DRIVEN_PERCENT : DRIVEN_BY_AIR_PERCENT;
  let drivenS = 0;
  for (let i = from + 1; i < to; i++)
    if (air[i] === 0 && percent[i] > leastPercent)
      drivenS += Math.min(1, timeS[i] - timeS[i - 1]) * (percent[i] > WIDE_OPEN_PERCENT ? WIDE_OPEN_COUNTS : 1);
  return drivenS;
};

const ASKED_WITHIN_LAMBDA = 0.03;

/** Whether a mixture as rich as the stop, or richer, was asked for most of the time. */
const targetAtEnd = (readings: Readings, from: number, to: number, end: number): boolean => {
  const target = readings.held('target-lambda');
  return target !== undefined && median(target.subarray(from, to)) <= end + ASKED_WITHIN_LAMBDA;
};

const TARGET_MOVED = 0.05;

/** Whether the target went to that side and came back with the reading. */
const targetWentToo = (readings: Readings, from: number, to: number, high: boolean): boolean => {
  const target = readings.held('target-lambda');
  if (!target) return false;
  const inside = target[Math.max(0, (from + to - 1) >> 1)],
    before = target[Math.max(0, from - Math.ceil(0.6 / readings.stepS))],
    after = target[Math.min(target.length - 1, to)];
  const sign = high ? 1 : -1;
  return sign * (inside - before) > TARGET_MOVED && sign * (inside - after) > TARGET_MOVED;
};

/** Whether any three equal readings begin in [a, b): no fewer are judged as a run. */
const repeats = (values: Float64Array, a: number, b: number): boolean => {
  for (let k = a; k < b; k++) if (values[k] === values[k + 1] && values[k] === values[k + 2]) return true;
  return false;
};

/** The first run that begins in [a, b) and, unless it begins with it, ends there too. Runs are in order and never overlap. */
const runWithin = (runs: readonly FlatRun[], a: number, b: number): FlatRun | undefined => {
  let low = 0,
    high = runs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (runs[middle].from < a) low = middle + 1;
    else high = middle;
  }
  const run = runs[low];
  return run && (run.from === a || run.to <= b) ? run : undefined;
};

const isFlat = (values: Float64Array, a: number, b: number): boolean => {
  for (let k = a + 1; k < b; k++) if (values[k] !== values[a]) return false;
  return true;
};

/** Entered and left in one step each: most of the way from the level around. */
const isSudden = ({ values, count }: Track, a: number, b: number): boolean => {
  if (a < 3 || b + 2 >= count) return false;
  const before = (values[a - 2] + values[a - 3]) / 2,
    after = (values[b + 1] + values[Math.min(b + 2, count - 1)]) / 2;
  const into = Math.abs(values[a] - before),
    out = Math.abs(values[b - 1] - after);
  return Math.abs(values[a] - values[a - 1]) >= SUDDEN_SHARE * into && Math.abs(values[b - 1] - values[b]) >= SUDDEN_SHARE * out;
};
