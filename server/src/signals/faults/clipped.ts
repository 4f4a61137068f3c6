// A sensor at its stop: flat at the same extreme while the engine moves. Lambda at its lean end in a fuel cut is air, not a fault;
// a reading that leaps to an end and back in single steps is a dropout; the rest is a sensor whose range is too small.

import { limitOf } from '../../formats/limits.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { delaySeries } from '../delay.js';
import { dithers } from '../dither.js';
import type { FlatRun, FlatStatistics } from '../flatRuns.js';
import type { Track } from '../hold.js';
import { above, mark } from '../marks.js';
import { limiterRpm } from '../limiter.js';
import { openingOf } from '../opening.js';
import type { Readings } from '../readings.js';
import type { EventKind, Fault, Span } from '../signals.js';
import { BLOCK_ROWS, endOfEqual, extremes, median } from '../statistics.js';
import { nextBeyond } from '../stretches.js';
import { anyOf, marksWithin, widened } from '../spans.js';
import { isLambdaEnd, isSensorEnd, LAMBDA_ENDS } from './scaleEnds.js';

/** Channels that measure an open-ended thing: their flat top is the sensor's, not the engine's. Temperatures level off by themselves. */
const OPEN_ENDED: ReadonlySet<QuantityId> = new Set<QuantityId>(['manifold-pressure', 'mass-air-flow', 'mass-air-flow-signal', 'fuel-pressure', 'oil-pressure']);
const HELD_BY_A_VALVE: ReadonlySet<QuantityId> = new Set<QuantityId>(['fuel-pressure', 'oil-pressure']);
/** A dropout's reading leaps at least this share of the way in one step. */
const SUDDEN_SHARE = 0.7;
const LONGEST_DROPOUT_S = 6;
const LEAST_DROPOUT_S = 0.22;
/** Readings of a level, and how far lambda must leap to it, to be a dropout short of its ends. */
const LEAST_LEVEL = 4, LEAST_LEAP = 0.15;
const LEAST_STILL = 6, STILL_LEAP = 0.07;
/** Where no range is stated: above this a rich reading is a mixture that was asked for, however soon it came. */
const RICH_END_LAMBDA = 0.75;
/** From this step on a log is too slow to follow a fuel cut's edges. */
const SLOW_STEP_S = 0.13;
/** A limiter that no file states lets the engine speed swing by this share below the greatest that the log shows. */
const AT_LIMITER_SHARE = 0.015;
/** Where lambda is asked for now and then, its last answer stands for so long at most. */
const MOST_AGE_S = 1.5;
/** No engine runs at a sensor's stop, to the last digit, for so long, unless it is asked to. */
const HELD_STUCK_S = 10;
/** A living sensor has left its lean stop when the engine was driven for so long after the last of the air. */
const LEAN_HELD_S = 4;
/** From this share of the readings near a stated end on that are one and the same number the end is a number, without unrest of its own. */
const ONE_NUMBER_SHARE = 0.3;

/** Clipped spells (and lambda's leaps to an end, as dropouts) of one channel. `air` is 1 where the exhaust may hold plain air, `taken` marks samples of other faults. */
export const clippedOf = (readings: Readings, track: Track, flat: () => FlatStatistics, air: () => Uint8Array, taken: Uint8Array): Fault[] => {
  const { quantity } = track.channel;
  if (quantity === 'lambda' || quantity === 'lambda-2') return lambdaAtEnds(readings, track, flat, air, taken);
  if (quantity === undefined || !OPEN_ENDED.has(quantity)) return [];
  return flatEnds(readings, track, flat, taken);
};

/** Smallest and greatest value at rows that are not taken (and, where `rpm` is given, while the engine runs); infinite where there are none. */
export const extremesOutside = (track: Track, taken: Uint8Array, rpm?: Float64Array): readonly [number, number] => {
  const { rows, values, count } = track;
  if (!rpm && count > 0 && !taken.includes(1)) return [track.least, track.greatest];
  const found: [number, number] = [Infinity, -Infinity];
  for (let from = 0; from < count; from += BLOCK_ROWS) widenOutside(found, rows, values, from, Math.min(count, from + BLOCK_ROWS), taken, rpm ?? NO_SPEED);
  return found;
};

const NO_SPEED = new Float64Array(0);

const widenOutside = (found: [number, number], rows: Int32Array, values: Float64Array, from: number, to: number, taken: Uint8Array, rpm: Float64Array): void => {
  let [least, greatest] = found;
  for (let k = from; k < to; k++) {
    const value = values[k];
    if (!(value < least || value > greatest) || taken[rows[k]] !== 0 || (rpm.length > 0 && !(rpm[rows[k]] > 400))) continue;
    if (value < least) least = value;
    if (value > greatest) greatest = value;
  }
  found[0] = least;
  found[1] = greatest;
};

const flatEnds = (readings: Readings, track: Track, flat: () => FlatStatistics, taken: Uint8Array): Fault[] => {
  const { channel, rows, count } = track;
  const rpm = readings.clean('engine-speed');
  const leastReadings = limitOf('clippedReadings', readings.vehicle.limits).value;
  const [least, greatest] = extremesOutside(track, taken, rpm);
  const found: Fault[] = [];
  for (const [end, kind] of [[greatest, 'clipped-high'], [least, 'clipped-low']] as const) {
    if (!(greatest > least)) break;
    // Deep vacuum in overrun is as flat as a stop, and open throttle without boost rests at the barometer.
    if (channel.quantity === 'manifold-pressure' && (kind === 'clipped-low' || restsAtBarometer(readings, end))) continue;
    // A regulator or a relief valve holds its pressure as level as a stop.
    if (HELD_BY_A_VALVE.has(channel.quantity!) && !isSensorEnd(channel.quantity!, end)) continue;
    if (!dithers(track)) {
      if (kind === 'clipped-high' && isSensorEnd(channel.quantity!, end)) found.push(...levelsAt(track, end, leastReadings).filter((span) => hidesMore(readings, channel.quantity!, end, span)).map((span): Fault => ({ kind, channel, shape: 'flat', value: end, ...span, data: {} })));
      continue;
    }
    if (!isSensorEnd(channel.quantity!, end) && !comesNear(track, end, greatest - least) && !(channel.quantity === 'manifold-pressure' && drawsMore(readings, end))) continue;
    if (!staysAt(track, end, leastReadings)) continue;
    const runs = flat().runs.filter((run) => run.value === end && run.to - run.from >= leastReadings && taken[rows[run.from]] === 0);
    // Rare once is chance; the same stop met again and again is not: the evidence adds up, and the choice of two ends is paid for.
    const { runCount } = flat();
    const evidence = runs.reduce((sum, run) => sum + Math.max(0, run.nats - 2), 0);
    if (evidence < Math.log(runCount + 2) + (kind === 'clipped-high' ? 5 : 8)) continue;
    // The least that an engine draws is where it idles: only where the engine moved meanwhile has the sensor stopped.
    if (kind === 'clipped-low' && !runs.some((run) => engineMoved(readings, rows[run.from], rows[run.to - 1] + 1))) continue;
    for (const run of runs) {
      const to = run.to < count ? rows[run.to] : rows[run.to - 1] + 1;
      found.push({ kind, channel, shape: 'flat', value: end, from: rows[run.from], to, data: {} });
    }
  }
  return found;
};

/** Shares of its range by which engine speed or manifold pressure must move for the engine to have moved. */
const ENGINE_MOVES_SHARE = 0.1;

const engineMoved = (readings: Readings, from: number, to: number): boolean => (['engine-speed', 'manifold-pressure'] as const).some((quantity) => {
  const values = readings.clean(quantity);
  if (!values) return false;
  const [low, high] = extremes(values, from, to), [least, greatest] = extremes(values);
  return high - low > ENGINE_MOVES_SHARE * (greatest - least);
});

const NEAR_SHARE = 0.15, LEAST_NEAR = 5;

/** Whether the channel reads close to the end too: a cap cuts off what varies, a level is stepped to. */
const comesNear = ({ values, count }: Track, end: number, span: number): boolean => {
  let near = 0;
  for (let k = 0; k < count && near < LEAST_NEAR; k++) if (values[k] !== end && Math.abs(values[k] - end) < NEAR_SHARE * span) near++;
  return near >= LEAST_NEAR;
};

/** Samples of each run of at least `leastReadings` at the value. */
const levelsAt = (track: Track, value: number, leastReadings: number): Span[] => {
  const { rows, count } = track, found: Span[] = [];
  for (let { from, to } = nextAt(track, value, 0, leastReadings); from < count; { from, to } = nextAt(track, value, to, leastReadings)) found.push({ from: rows[from], to: to < count ? rows[to] : rows[to - 1] + 1 });
  return found;
};

const staysAt = (track: Track, value: number, leastReadings: number): boolean => nextAt(track, value, 0, leastReadings).from < track.count;

/** The first run of at least `leastReadings` at the value from a reading on; behind the last reading where there is none. */
const nextAt = ({ values, count }: Track, value: number, first: number, leastReadings: number): Span => {
  for (let from = values.indexOf(value, first); from >= 0; ) {
    const to = endOfEqual(values, from, count);
    if (to - from >= leastReadings) return { from, to };
    from = values.indexOf(value, to);
  }
  return { from: count, to: count };
};

const BOOSTED_FROM_KPA = 115;
const RISES_RPM = 500, MOVES_LAMBDA = 0.015, MORE_AIR_SHARE = 0.06;

/**
 * Whether the engine took more air while a channel without unrest stood at a sensor's end. A controller holds boost as level as a stop does,
 * so above a "1 bar" sensor's end the air itself must tell: flow for each turn, pulse width, or the greatest pressure that the vehicle file states.
 */
const hidesMore = (readings: Readings, quantity: QuantityId, end: number, { from, to }: Span): boolean => {
  const { engine } = readings.vehicle;
  const moved = (of: QuantityId): number => { const values = readings.held(of); const [low, high] = values ? extremes(values, from, to) : [NaN, NaN]; return high - low; };
  if (quantity !== 'manifold-pressure') return moved('engine-speed') > RISES_RPM;
  const boosted = (engine.aspiration !== undefined && engine.aspiration !== 'natural') || (engine.maxManifoldPressureKPa ?? 0) > BOOSTED_FROM_KPA;
  if (end < BOOSTED_FROM_KPA) return boosted && (moved('engine-speed') > RISES_RPM || moved('lambda') > MOVES_LAMBDA);
  if (end >= 254 && end <= 255 || (engine.maxManifoldPressureKPa ?? 0) > 1.1 * end) return moved('engine-speed') > RISES_RPM;
  const rpm = readings.held('engine-speed'), flow = readings.held('mass-air-flow'), width = readings.held('injector-pulse-width');
  const rises = (values: Float64Array | undefined): boolean => { if (!values) return false; const [low, high] = extremes(values, from + 1, to); return high > (1 + MORE_AIR_SHARE) * low; };
  return rises(rpm && flow?.map((each, i) => each / rpm[i])) || rises(width);
};

/** An open throttle on an engine without boost holds the manifold at the barometer: that flat top is the air's, unless the engine then draws more than so much air would be. */
const restsAtBarometer = (readings: Readings, topKPa: number): boolean => {
  const { engine } = readings.vehicle;
  const boosted = (engine.aspiration !== undefined && engine.aspiration !== 'natural') || (engine.maxManifoldPressureKPa ?? 0) > 115;
  const aboveKPa = topKPa - readings.barometer.kPa;
  // Up a mountain of which nothing tells, the assumed air stands too high.
  const fromKPa = engine.aspiration === 'natural' || readings.barometer.from === 'assumed' ? -HIGHEST_PLACE_KPA : -12;
  return !boosted && aboveKPa > fromKPa && aboveKPa < 2.5 && (engine.aspiration === 'natural' || !drawsMore(readings, topKPa));
};

/** Air at sea level less that of the highest roads. */
const HIGHEST_PLACE_KPA = 45;

/** What an engine draws for each kPa of its manifold changes with its speed and its load, but not by so much (volumetric efficiency; common practice, no source). */
const DRAWS_MORE = 1.25;
/** What burnt gas keeps of a cylinder before any air comes in, kPa of manifold pressure (Heywood ch. 6, from memory). */
const RESIDUAL_KPA = 12;
const LEAST_COMPARED = 10;
/** A manifold that empties or fills by more from reading to reading only passes: its fuel is not its air's. */
const PASSES_SHARE = 0.06;

/** Whether air flow for each turn, the load, or the fuel's air at the manifold's top stand far above what they are for each kPa at part load. */
const drawsMore = (readings: Readings, topKPa: number): boolean => {
  const pressure = readings.held('manifold-pressure'), rpm = readings.held('engine-speed'), flow = readings.held('mass-air-flow'), load = readings.held('engine-load');
  const lambda = readings.held('lambda'), duty = readings.held('injector-duty');
  if (!pressure || !rpm) return false;
  // Duty is width times speed.
  const width = readings.held('injector-pulse-width') ?? duty?.map((percent, i) => percent / rpm[i]);
  const more = (drawn: (i: number) => number): boolean => {
    const atTop: number[] = [], below: number[] = [];
    for (let i = 0; i < pressure.length; i++) {
      const perKPa = drawn(i) / Math.max(5, pressure[i] - RESIDUAL_KPA);
      if (!(rpm[i] > 1500) || !(perKPa > 0)) continue;
      if (pressure[i] >= topKPa - 1e-6) atTop.push(perKPa);
      else if (pressure[i] > 0.5 * topKPa && pressure[i] < 0.85 * topKPa && !(Math.abs(pressure[i + 1] - pressure[i - 1]) > PASSES_SHARE * topKPa)) below.push(perKPa);
    }
    return atTop.length >= LEAST_COMPARED && below.length >= LEAST_COMPARED && median(Float64Array.from(atTop)) > DRAWS_MORE * median(Float64Array.from(below));
  };
  // Fuel times lambda is air; the injector's dead time only makes the part load look larger.
  const burns = (i: number): boolean => lambda![i] > 0.6 && lambda![i] < 1.2;
  return (load !== undefined && more((i) => load[i])) || (flow !== undefined && more((i) => flow[i] / rpm[i])) || (width !== undefined && lambda !== undefined && more((i) => (burns(i) ? width[i] * lambda[i] : NaN)));
};

/** Richer than the stated range by more than rounding, and than any engine burns: the sensor cannot show it. What an engine may burn is believed rather than the range. */
export const beyondRich = (stop: number): number => Math.min(stop - 0.02, LAMBDA_ENDS[0]);
const isBelow = (seen: number, stop: number, high: boolean): boolean => !high && seen < beyondRich(stop);

const lambdaAtEnds = (readings: Readings, track: Track, flat: () => FlatStatistics, air: () => Uint8Array, before: Uint8Array): Fault[] => {
  const { timeS, vehicle, recordings } = readings;
  const { channel, rows, values, count } = track;
  const [least, greatest] = extremesOutside(track, before);
  if (!(greatest > least)) return [];
  const range = vehicle.lambdaSensor.range;
  const alive = dithers(track);
  const cut = air();
  const leastReadings = limitOf('clippedReadings', vehicle.limits).value;
  const found: Fault[] = alive ? leapsWithin(readings, track, [least, greatest], cut, before) : [];
  const taken = found.length > 0 ? before.slice() : before;
  for (const { from, to } of found) taken.fill(1, from, to);
  for (const high of [true, false]) {
    const seen = high ? greatest : least;
    const stop = range ? range[high ? 1 : 0] : seen;
    const tolerance = range && !isOneNumber(track, seen) ? 0.006 : 1e-6;
    // At the stop, or beyond any mixture (the least number above 2).
    const top = high ? Math.min(Math.min(stop, seen) - tolerance, 2 + 2 * Number.EPSILON) : Infinity, bottom = high ? -Infinity : isBelow(seen, stop, high) ? beyondRich(stop) : Math.max(stop, seen) + tolerance;
    // A greatest value that the sensor only just reached is no stop, unless the vehicle file says that it is one.
    const known = range !== undefined && (Math.abs(seen - stop) <= 0.02 || isBelow(seen, stop, high));
    if (range && !known && (high ? seen < stop : seen > stop)) continue;
    // Without a sensor's unrest a level is a mixture, unless no engine burns it.
    if (!known && !alive && !isLambdaEnd(seen)) continue;
    // The last recording that has begun by the sample.
    let begun = 0;
    for (let a = 0; (a = nextBeyond(values, a, count, bottom, top)) < count;) {
      if (taken[rows[a]] === 1) { a++; continue; }
      const b = endBeyond(values, rows, a + 1, count, bottom, top, taken), from = rows[a], to = b < count ? rows[b] : rows[b - 1] + 1;
      const span = { a, b, from, to };
      a = b;
      if (high && marksWithin(cut, from, to) > 0.5 * (to - from)) {
        // The air came first, but the reading stayed when it had gone: for long it is the sensor's.
        const drivenS = alive && isFlat(values, span.a, span.b) ? drivenSeconds(readings, cut, from, to) : 0;
        if (drivenS >= LEAN_HELD_S && timeS[Math.min(to, timeS.length - 1)] - timeS[from] >= HELD_STUCK_S) found.push({ kind: 'stuck', channel, shape: 'frozen', value: values[span.a], from, to, data: {} });
        else if (drivenS >= LEAN_HELD_S) found.push({ kind: 'clipped-high', channel, shape: 'flat', value: values[span.a], from, to, data: { end: 'lean' } });
        continue;
      }
      const spanS = timeS[Math.min(to, timeS.length - 1)] - timeS[from];
      // From the recording's first reading on it is a sensor that is not awake, or an engine that has not run yet.
      while (begun + 1 < recordings.length && recordings[begun + 1].from <= from) begun++;
      if (high && (span.a === 0 || (recordings[begun]?.from ?? 0) > rows[span.a - 1])) {
        found.push({ kind: 'cold', channel, shape: 'end', value: values[span.a], from, to, data: { awakeAfterS: spanS } });
        continue;
      }
      // Where everything goes in steps a step says nothing: at the stated end the sensor is simply at its end.
      const sudden = (alive || !known) && (high || known || values[span.a] < RICH_END_LAMBDA) && isSudden(track, span.a, span.b) && spanS <= LONGEST_DROPOUT_S && (known || isLambdaEnd(values[span.a]) || !targetWentToo(readings, from, to, high));
      const isUnlikely = (): boolean => repeats(values, span.a, span.b) && (runWithin(flat().runs, span.a, span.b)?.nats ?? 0) > Math.log(flat().runCount + 2) + 3;
      const leap = span.a > 0 && span.b < count ? Math.min(Math.abs(values[span.a] - values[span.a - 1]), Math.abs(values[span.b - 1] - values[span.b])) : 0;
      // One or two readings alone tell nothing unless they leapt far; a lone peak is simply the greatest value there is.
      // At a stated end, still to the last digit, a smaller leap is the wire's too where the target did not ask for it.
      const still = known && span.b - span.a >= LEAST_STILL && isFlat(values, span.a, span.b) && readings.held('target-lambda') !== undefined && !targetWentToo(readings, from, to, high);
      if (sudden && leap > (still ? STILL_LEAP : 0.15) && (span.b - span.a >= 2 || (leap > 0.3 && cut[from] === 0)) && (known || span.b - span.a >= 2 || isUnlikely()) && spanS >= LEAST_DROPOUT_S && !(!high && cut[from] === 1)) {
        found.push({ kind: 'dropout', channel, shape: 'full-scale', value: values[span.a], from, to, data: { end: high ? 'lean' : 'rich' } });
      } else if (!high && alive && spanS >= HELD_STUCK_S && isFlat(values, span.a, span.b) && !targetAtEnd(readings, from, to, values[span.a])) {
        found.push({ kind: 'stuck', channel, shape: 'frozen', value: values[span.a], from, to, data: {} });
      } else if (span.b - span.a >= leastReadings && (known || isUnlikely())) {
        found.push({ kind: high ? 'clipped-high' : 'clipped-low', channel, shape: 'flat', value: values[span.a], from, to, data: { end: high ? 'lean' : 'rich' } });
      }
    }
  }
  return found;
};

/** First reading from one on that is neither at or below `low` nor at or above `high`, or is taken. */
const endBeyond = (values: Float64Array, rows: Int32Array, from: number, count: number, low: number, high: number, taken: Uint8Array): number => {
  let b = from;
  while (b < count && (values[b] <= low || values[b] >= high) && taken[rows[b]] === 0) b++;
  return b;
};

/** Short of its ends lambda shows no air: a level that no engine burns, reached and left in one step and still to the last digit, is the wire's. */
const leapsWithin = (readings: Readings, track: Track, [least, greatest]: readonly [number, number], air: Uint8Array, taken: Uint8Array): Fault[] => {
  const { channel, rows, values, count } = track;
  const { timeS } = readings;
  const found: Fault[] = [];
  const [low, high] = LAMBDA_ENDS;
  for (let a = 0; (a = nextBeyond(values, endOfMoving(values, a, count, low, high), count, low, high)) < count;) {
    const b = endOfEqual(values, a, count), value = values[a];
    if (b - a >= LEAST_LEVEL && b < count && value > least + 0.006 && value < greatest - 0.006 && taken[rows[a]] === 0 && isSudden(track, a, b)) {
      const from = rows[a], to = rows[b], spanS = timeS[to] - timeS[from];
      const leap = Math.min(Math.abs(value - values[a - 1]), Math.abs(value - values[b]));
      if (leap > LEAST_LEAP && spanS >= LEAST_DROPOUT_S && spanS <= LONGEST_DROPOUT_S && marksWithin(air, from, to) * 2 <= to - from) found.push({ kind: 'dropout', channel, shape: 'open-circuit', value, from, to, data: {} });
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
  let near = 0, same = 0;
  for (let k = 0; k < count; k++) { if (Math.abs(values[k] - end) > 0.006) continue; near++; if (values[k] === end) same++; }
  return same >= 3 && same > ONE_NUMBER_SHARE * near;
};

/** Opening from which fuel is surely given: of a throttle or pedal, and where manifold or load must stand in for it (an idle draws up to a third). */
const DRIVEN_PERCENT = 8, DRIVEN_BY_AIR_PERCENT = 40;
/** Wide open, the last of the air has gone within a few tenths of a second: such time proves so many times as much. */
const WIDE_OPEN_PERCENT = 60, WIDE_OPEN_COUNTS = 3;

/** Time within `[from, to)` in which no air was in the exhaust and the engine was surely driven; more for what was driven wide open. */
const drivenSeconds = (readings: Readings, air: Uint8Array, from: number, to: number): number => {
  const { timeS } = readings;
  // Nothing is counted of a single reading, and most spells of noise at an end are one.
  if (to - from < 2) return 0;
  const opening = openingOf(readings), { percent } = opening, leastPercent = opening.from === 'throttle' || opening.from === 'pedal' ? DRIVEN_PERCENT : DRIVEN_BY_AIR_PERCENT;
  let drivenS = 0;
  for (let i = from + 1; i < to; i++) if (air[i] === 0 && percent[i] > leastPercent) drivenS += Math.min(1, timeS[i] - timeS[i - 1]) * (percent[i] > WIDE_OPEN_PERCENT ? WIDE_OPEN_COUNTS : 1);
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
  const inside = target[Math.max(0, (from + to - 1) >> 1)], before = target[Math.max(0, from - Math.ceil(0.6 / readings.stepS))], after = target[Math.min(target.length - 1, to)];
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
  let low = 0, high = runs.length;
  while (low < high) { const middle = (low + high) >> 1; if (runs[middle].from < a) low = middle + 1; else high = middle; }
  const run = runs[low];
  return run && (run.from === a || run.to <= b) ? run : undefined;
};

/** 1 where the exhaust may hold plain air at the sensor: fuel cut, a shift's lift, the engine off or just started, the rev limiter, each with its delay and recovery. */
export const airInExhaust = (readings: AirReadings & Partial<Pick<Readings, 'clean'>>, during: (kind: EventKind) => Uint8Array): Uint8Array => {
  const rpm = readings.clean ? readings.clean('engine-speed') : readings.held('engine-speed'), isMended = readings.clean !== undefined && rpm !== readings.held('engine-speed');
  const last = lastAir.get(readings.held);
  if (last?.isMended === isMended) return last.air;
  const air = findAir(readings, rpm, during);
  if (rpm) lastAir.set(readings.held, { isMended, air });
  return air;
};

type AirReadings = Pick<Readings, 'session' | 'timeS' | 'vehicle' | 'held' | 'ageS' | 'barometer'>;

/** By what it was found from: an analysis and the faults found on its way share it, unless the engine speed had to be mended. */
const lastAir = new WeakMap<Readings['held'], { readonly isMended: boolean; readonly air: Uint8Array }>();

const findAir = (readings: AirReadings, rpm: Float64Array | undefined, during: (kind: EventKind) => Uint8Array): Uint8Array => {
  const { timeS } = readings;
  const delayS = delaySeries(readings);
  const limitRpm = limiterRpm(readings);
  const [, greatestRpm] = rpm ? extremes(rpm) : [NaN, NaN];
  const overrun = during('overrun'), shift = during('gear-shift'), off = during('engine-off'), cranking = during('cranking');
  const marks = anyOf(overrun, shift, off, cranking);
  if (rpm && limitRpm) mark(rpm, above(limitRpm - 120), marks);
  else if (rpm && greatestRpm > 5500) mark(rpm, above((1 - AT_LIMITER_SHARE) * greatestRpm), marks);
  const usualDelayS = median(delayS);
  // A slow log knows the cut's end and the reading's moment to a step each.
  const meanStepS = timeS.length > 1 ? (timeS[timeS.length - 1] - timeS[0]) / (timeS.length - 1) : 0;
  const unsureS = (meanStepS > SLOW_STEP_S ? 2 * Math.min(meanStepS, 0.5) : 0) + Math.min(MOST_AGE_S, Math.max(readings.ageS('lambda'), readings.ageS('lambda-2')));
  const aired = widened(marks, timeS, 0.2, Math.min(1.2, 2 * usualDelayS) + 0.5 + unsureS);
  // At idle's flow the last of the air takes longer than the drive's usual delay.
  lengthen(aired, marks, timeS, delayS, unsureS);
  return aired;
};

/** Sets `aired` behind each mark for as long as the last of the air takes there. */
const lengthen = (aired: Uint8Array, marks: Uint8Array, timeS: Float64Array, delayS: Float64Array, unsureS: number): void => {
  let untilS = -Infinity;
  for (let i = 0; i < marks.length; i++) {
    if (marks[i] !== 0) untilS = Math.max(untilS, timeS[i] + Math.min(1.2, 2 * delayS[i]) + 0.5 + unsureS);
    else if (timeS[i] <= untilS) aired[i] = 1;
  }
};

const isFlat = (values: Float64Array, a: number, b: number): boolean => {
  for (let k = a + 1; k < b; k++) if (values[k] !== values[a]) return false;
  return true;
};

/** Entered and left in one step each: most of the way from the level around. */
const isSudden = ({ values, count }: Track, a: number, b: number): boolean => {
  if (a < 3 || b + 2 >= count) return false;
  const before = (values[a - 2] + values[a - 3]) / 2, after = (values[b + 1] + values[Math.min(b + 2, count - 1)]) / 2;
  const into = Math.abs(values[a] - before), out = Math.abs(values[b - 1] - after);
  return Math.abs(values[a] - values[a - 1]) >= SUDDEN_SHARE * into && Math.abs(values[b - 1] - values[b]) >= SUDDEN_SHARE * out;
};
