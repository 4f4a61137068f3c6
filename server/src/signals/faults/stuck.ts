// A reading that stands still while the engine moves: for a moment a frozen dropout, for longer a stuck channel.
// Judged by how rarely this channel stands still for so long in moments as busy (flatRuns.ts), never by a fixed time alone.

import { limitOf } from '../../formats/limits.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { Activity } from '../drive/activity.js';
import { dithers, isSmooth } from '../columns/dither.js';
import type { FlatRun, FlatStatistics } from '../columns/flatRuns.js';
import type { Track } from '../columns/hold.js';
import { lastingRuns } from '../columns/lasting.js';
import type { Readings } from '../readings.js';
import { expectedOf } from '../columns/related.js';
import type { Fault, Span } from '../signals.js';
import { endOfEqual, extremes, median, nextOutside, quantileOf, quantisedStep, sampleOf } from '../columns/statistics.js';
import { airAtColdEnd, airNeverMoves } from './airNeverMoves.js';
import { fullManifold } from './atOneSpeed.js';
import { coldCoolantStill, neverMoves } from './neverMoves.js';

/** Channels that rightly keep one value for as long as they like. */
const RIGHTLY_STILL: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'time',
  'gear',
  'fuel-cut',
  'trouble-code',
  'target-lambda',
  'barometric-pressure',
  'ethanol-content',
  'knock-retard',
  'short-term-fuel-trim',
  'long-term-fuel-trim',
  'short-term-fuel-trim-2',
  'long-term-fuel-trim-2',
]);
const THERMAL: ReadonlySet<QuantityId> = new Set<QuantityId>(['coolant-temperature', 'oil-temperature', 'intake-air-temperature']);
/**
 * Set by a foot, computed, or held by a valve: they stand still without noise whenever nothing asks for a change, so another channel must
 * bear witness.
 */
const NO_NOISE: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'throttle',
  'pedal',
  'injector-duty',
  'injector-pulse-width',
  'engine-load',
  'ignition-advance',
  'vehicle-speed',
  'fuel-pressure',
  'oil-pressure',
]);
const LONG_STILL_S = 5;
const LEAST_OFF_AT_END = 4;
/** Share of a run in which the related channels must disagree with it. */
const LEAST_OFF_SHARE = 0.25;
/**
 * Steps of the last digit by which a curve that turns may leave its flat top within half a run's length on either side (a parabola: three
 * times what it moves within the run).
 */
const TURN_STEPS = 6;
/** Road speed and the heat of a probe turn round slowly and are flat there. */
const TURNS_SLOWLY: ReadonlySet<QuantityId> = new Set<QuantityId>(['vehicle-speed', 'exhaust-gas-temperature']);
const LEAST_FROZEN_SLOW_S = 2;
/** Below this the clutch or the converter slips: the engine speed says nothing of the road's. */
const CLUTCH_KMH = 10;
/** Nats above the log of the number of runs: one false alarm in some hundred channels. */
const MARGIN_NATS = 6;
/** A run is told only when it is so many times as long as the others near it. */
const STANDS_OUT = 3;
/** From this share of repeats on a channel is coarse, and standing still alone proves nothing. */
const COARSE_FROM_REPEATS = 0.3;
/** Readings within this share of the channel's range are at the same level. */
const LEVEL_SHARE = 0.02;
/** Asked on top of a coarse channel that no other one speaks for; given where another one says that this one should have moved. */
const UNWITNESSED_NATS = 10,
  WITNESSED_NATS = 4;
/** A target, and the other bank, that moved by so much while lambda stood still. */
const MIXTURE_MOVED_LAMBDA = 0.06;
/** In a fuel cut this long a living sensor has come to read air, if it ever does. */
const AIRED_S = 3,
  AIR_LAMBDA = 1.15;

/**
 * Spells in which one channel stands still against its own habit; `ends` are the least and greatest of its believable readings, `taken`
 * marks samples of other faults, `air` where the exhaust may hold plain air.
 */
export const frozenOf = (
  readings: Readings,
  track: Track,
  flatOf: () => FlatStatistics,
  activity: () => Activity,
  taken: Uint8Array,
  [least, greatest]: readonly [number, number],
  air: () => Uint8Array,
): Fault[] => {
  const { channel, count, rows } = track;
  const { quantity } = channel;
  if (quantity === undefined || count < 20) return [];
  if (quantity === 'intake-air-temperature') {
    const dead = airAtColdEnd(readings, track, taken);
    if (dead.length > 0) return dead;
  }
  if (track.least === track.greatest && quantity !== 'coolant-temperature')
    return quantity === 'intake-air-temperature' ? airNeverMoves(readings, track) : neverMoves(readings, track, activity);
  if (THERMAL.has(quantity)) return coldCoolantStill(readings, track);
  if (RIGHTLY_STILL.has(quantity)) return [];
  const { timeS } = readings;
  // Without unrest anywhere flat is how the channel reads: only what the others did for long bears witness (`stillWhileDriven`).
  if (!dithers(track)) return [];
  const stuckS = limitOf('stuckS', readings.vehicle.limits).value;
  const leastS = TURNS_SLOWLY.has(quantity) ? LEAST_FROZEN_SLOW_S : limitOf('dropoutS', readings.vehicle.limits).value;
  const nearEnd = quantity === 'throttle' || quantity === 'pedal' ? 0.02 * (greatest - least) : 0,
    zero = channel.toCanonical(0);
  const isInside = (value: number): boolean =>
    value > least + nearEnd && (value < greatest - nearEnd || quantity === 'engine-speed') && value !== zero;
  // How rare so long a run is, is dear to learn: only where one may ask.
  if (!mayStandOut(readings, track, leastS, isInside, [least, greatest])) return [];
  const flat = flatOf();
  // Neither a coarse channel nor a smooth one says anything by standing still alone.
  const coarse = flat.repeats > COARSE_FROM_REPEATS || isSmooth(track);
  // Learnt only where a run asks: what the other channels say is dear.
  let witness: { readonly says: ((run: FlatRun) => boolean) | undefined } | undefined;
  const witnessOf = () =>
    (witness ??= { says: movedMeanwhile(readings, track, greatest - least, greatest > AIR_LAMBDA ? air : undefined) }).says;
  const lambda = quantity === 'lambda' || quantity === 'lambda-2';
  const usual = Math.log(flat.runCount + 2) + MARGIN_NATS;
  const levels = new Map<number, Level>();
  let step: number | undefined;
  const stepOf = (): number => (step ??= quantisedStep(track.values, track.count));
  const asked = coarse && lambda ? askedFor(readings, track, stepOf) : undefined;
  /** Nats that a run must have: fewer where another channel says that this one should have moved. */
  const neededFor = (run: FlatRun): number => {
    const moved = witnessOf(),
      quiet = NO_NOISE.has(quantity) || (coarse && !lambda);
    if (moved?.(run)) return quiet ? usual : usual - WITNESSED_NATS;
    if (quiet && (moved || NO_NOISE.has(quantity))) return Infinity;
    return usual + (coarse ? UNWITNESSED_NATS : 0) + (asked?.(run) ? UNWITNESSED_NATS : 0);
  };
  const suspects = flat.runs.filter(
    (run) =>
      run.nats >= usual - WITNESSED_NATS &&
      isInside(run.value) &&
      (run.value < greatest - nearEnd || witnessOf()?.(run) === true) &&
      taken[rows[run.from]] === 0 &&
      taken[rows[run.to - 1]] === 0 &&
      timeS[rows[run.to - 1]] - timeS[rows[run.from]] >= leastS &&
      !(flat.repeats < COARSE_FROM_REPEATS && turnsThere(track, run, stepOf())) &&
      standsOut(readings, track, run, [least, greatest]) &&
      !(quantity === 'vehicle-speed' && run.value < CLUTCH_KMH) &&
      run.nats >= neededFor(run) &&
      rareAtItsLevel(track, run, greatest - least, Math.min(run.nats, usual), levels),
  );
  const places = new Map<number, number>();
  for (const run of suspects) places.set(run.value, (places.get(run.value) ?? 0) + 1);
  // A value that the channel comes back to rest at is a place of rest, not a fault.
  const restsFrom = flat.repeats > 0.15 ? 2 : 3;
  return suspects.filter((run) => places.get(run.value)! < restsFrom).map((run) => faultOf(readings, track, run, stuckS));
};

/** Whether any run of equal readings is as long, and longer than those near it, as a frozen one must be. */
const mayStandOut = (
  readings: Readings,
  track: Track,
  leastS: number,
  isInside: (value: number) => boolean,
  ends: readonly number[],
): boolean => {
  const { timeS } = readings,
    { rows, values, count } = track;
  const isWhole = count === timeS.length;
  return lastingRuns(readings, track).some((from) => {
    if (!isInside(values[from])) return false;
    const to = endOfEqual(values, from, count);
    // Blanks may part a run.
    return timeS[rows[to - 1]] - timeS[rows[from]] >= leastS && (!isWhole || standsOut(readings, track, { from, to }, ends));
  });
};

/** Whether target and other bank, where logged, say that a coarse lambda may well show this one value throughout. */
const askedFor =
  (readings: Readings, { channel, rows }: Track, stepOf: () => number) =>
  (run: FlatRun): boolean => {
    const others = [readings.held('target-lambda'), readings.held(channel.quantity === 'lambda' ? 'lambda-2' : 'lambda')].filter(
      (other) => other !== undefined,
    );
    return (
      others.length > 0 &&
      others.every((other) => {
        const [low, high] = extremes(other, rows[run.from], rows[run.to - 1] + 1);
        return Math.max(high - run.value, run.value - low) <= 1.5 * stepOf();
      })
    );
  };

/** Whether the run is three times as long as any other near it: a channel that is steady in this stretch of road is steady by nature. */
const standsOut = ({ timeS }: Readings, { rows, values, count }: Track, run: Span, ends: readonly number[]): boolean => {
  const length = run.to - run.from;
  const aroundS = Math.max(8, timeS[rows[run.to - 1]] - timeS[rows[run.from]]);
  const isLong = (from: number, to: number): boolean => (to - from) * STANDS_OUT > length && !ends.includes(values[from]);
  for (let a = run.to; a < count && timeS[rows[a]] - timeS[rows[run.to - 1]] <= aroundS;) {
    let b = a + 1;
    while (b < count && values[b] === values[a]) b++;
    if (isLong(a, b) && b < count) return false;
    a = b;
  }
  for (let b = run.from; b > 0 && timeS[rows[run.from]] - timeS[rows[b - 1]] <= aroundS;) {
    let a = b - 1;
    while (a > 0 && values[a - 1] === values[b - 1]) a--;
    if (isLong(a, b) && a > 0) return false;
    b = a;
  }
  return true;
};

/**
 * Whether so long a run is also unlikely at this very level: a quiet channel at the low end of its range repeats itself more than higher
 * up.
 */
const rareAtItsLevel = ({ values, count }: Track, run: FlatRun, span: number, needed: number, levels: Map<number, Level>): boolean => {
  const off = LEVEL_SHARE * span,
    { value, from, to } = run;
  let level = levels.get(value);
  if (!level) levels.set(value, (level = levelIn(values, 1, count, value, off)));
  const own = levelIn(values, Math.max(1, from), Math.min(to + 1, count), value, off),
    near = level.near - own.near,
    again = level.again - own.again;
  return near < 30 || (to - from - 1) * -Math.log(Math.max(again / near, 1 / near)) > 0.7 * needed;
};

/** Readings near a value, and how many of them repeat the one before. */
interface Level {
  readonly near: number;
  readonly again: number;
}

const levelIn = (values: Float64Array, from: number, to: number, value: number, off: number): Level => {
  let near = 0,
    again = 0;
  for (let k = from; k < to; k++) {
    if (Math.abs(values[k] - value) > off) continue;
    near++;
    if (values[k] === values[k - 1]) again++;
  }
  return { near, again };
};

/** Whether the run is the flat top or bottom of a smooth curve: fine steps lead up to it and away, with no unrest in them. */
const turnsThere = ({ values, count }: Track, run: FlatRun, step: number): boolean => {
  const half = Math.ceil((run.to - run.from) / 2);
  const before = run.from - half,
    after = run.to + half,
    low = run.value - TURN_STEPS * step,
    high = run.value + TURN_STEPS * step;
  return (
    before >= 0 &&
    after <= count &&
    nextOutside(values, before, run.from, low, high) === run.from &&
    nextOutside(values, run.to, after, low, high) === after
  );
};

/** The longest that a mask stays set within `[from, to)`. */
const longestS = (mask: Uint8Array, timeS: Float64Array, from: number, to: number): number => {
  let most = 0,
    since = -1;
  for (let i = from; i < to; i++) {
    if (mask[i] === 0) {
      since = -1;
      continue;
    }
    if (since < 0) since = i;
    if (timeS[i] - timeS[since] > most) most = timeS[i] - timeS[since];
  }
  return most;
};

/** Least and greatest of the medians of a spell's thirds. */
const thirdsOf = (values: Float64Array): readonly [low: number, high: number] =>
  extremes(
    [0, 1, 2].map((third) =>
      median(values.subarray(Math.floor((values.length * third) / 3), Math.ceil((values.length * (third + 1)) / 3))),
    ),
  );

/**
 * For coarse channels: whether the channels it goes with say that it should have moved by more than the usual spread. Undefined where none
 * is logged.
 */
const movedMeanwhile = (
  readings: Readings,
  track: Track,
  span: number,
  air: (() => Uint8Array) | undefined,
): ((run: FlatRun) => boolean) | undefined => {
  const { quantity } = track.channel;
  const { rows } = track;
  const movedBy = (values: Float64Array | undefined, share: number) =>
    values &&
    ((run: FlatRun): boolean => {
      // A shift at its edge, or one odd reading, moves no road.
      const sample = sampleOf(values, rows[run.from], rows[run.to - 1] + 1),
        high = quantileOf(sample, 0.95);
      return high - quantileOf(sample, 0.05) > share * Math.max(high, 1);
    });
  if (quantity === 'vehicle-speed') return movedBy(readings.clean('engine-speed'), 0.12);
  if (quantity === 'engine-speed') return movedBy(readings.clean('vehicle-speed'), 0.12);
  if (quantity === undefined) return undefined;
  if (quantity === 'lambda' || quantity === 'lambda-2') {
    const others = [readings.held('target-lambda'), readings.held(quantity === 'lambda' ? 'lambda-2' : 'lambda')].filter(
      (other) => other !== undefined,
    );
    const missedAir = (run: FlatRun): boolean =>
      run.value < AIR_LAMBDA && air !== undefined && longestS(air(), readings.timeS, rows[run.from], rows[run.to - 1]) >= AIRED_S;
    return (run) =>
      missedAir(run) ||
      (others.length > 0 &&
        others.every((other) => {
          const [low, high] = thirdsOf(other.subarray(rows[run.from], rows[run.to - 1] + 1));
          return high - low > MIXTURE_MOVED_LAMBDA;
        }));
  }
  const expected = expectedOf(readings, track);
  const byFoot = quantity === 'throttle' || quantity === 'pedal';
  if (!expected) return byFoot ? () => false : undefined;
  // A foot that rests while boost builds up is right.
  const full = byFoot && expected.by !== 'throttle' ? fullManifold(readings) : undefined;
  return (run) => {
    // Over seconds a smaller disagreement is proof enough.
    const long = readings.timeS[rows[run.to - 1]] - readings.timeS[rows[run.from]] > LONG_STILL_S;
    const least = Math.max(5 * expected.spread, (NO_NOISE.has(quantity) && !long ? 0.2 : 0.12) * span);
    const usual: number[] = [],
      usualAt = expected.at();
    let off = 0,
      offAtEnd = 0;
    for (let row = rows[run.from]; row <= rows[run.to - 1]; row++) {
      const value = usualAt(row);
      if (value !== value || full?.(row)) continue;
      usual.push(value);
      if (Math.abs(run.value - value) > least) {
        off++;
        offAtEnd++;
      } else offAtEnd = 0;
    }
    // A sensor that comes back leaps to where the others have been for a few readings; only a foot is so quick by itself.
    if (
      !NO_NOISE.has(quantity) &&
      offAtEnd >= LEAST_OFF_AT_END &&
      run.to < track.count &&
      Math.abs(track.values[run.to] - run.value) > least
    )
      return true;
    // A foot just set down is ahead of the air for a moment: both the movement (from third to third) and the disagreement must last.
    const [low, high] = thirdsOf(Float64Array.from(usual));
    return high - low > least && off >= LEAST_OFF_SHARE * usual.length;
  };
};

const faultOf = (readings: Readings, track: Track, run: FlatRun, stuckS: number): Fault => {
  const { rows, count, channel } = track;
  const { timeS } = readings;
  // The first of the equal readings was still true.
  const from = rows[Math.min(run.from + 1, run.to - 1)];
  const to = run.to < count ? rows[run.to] : rows[run.to - 1] + 1;
  const spanS = timeS[Math.min(to, timeS.length - 1)] - timeS[rows[run.from]];
  return { kind: spanS >= stuckS ? 'stuck' : 'dropout', channel, shape: 'frozen', value: run.value, from, to, data: { nats: run.nats } };
};
