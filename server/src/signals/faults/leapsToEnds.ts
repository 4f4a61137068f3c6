// A reading that leaps to an end of its scale, or to another value a sensor shows when its wire is off, and back, faster than the engine
// can go there.

import { limitOf } from '../../formats/limits.js';
import { plausibleOf } from '../../formats/plausible.js';
import { QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import { dithers, heldForOf } from '../columns/dither.js';
import type { Track } from '../columns/hold.js';
import { lastingRuns } from '../columns/lasting.js';
import { limiterRpm } from '../drive/limiter.js';
import { onceFor } from '../once.js';
import type { Readings } from '../readings.js';
import { expectedOf } from '../columns/related.js';
import type { Fault } from '../signals.js';
import { endOfEqual, extremes, quantileOf, quantisedStep, sampleOf } from '../columns/statistics.js';
import { extremesBut, rangeOfColumn, timesOf } from '../columns/stretches.js';
import { ChannelFaults, type Leaps } from './channelFaults.js';
import { isMessageEnd, isSensorEnd } from './scaleEnds.js';

/**
 * Fastest change that the thing itself can make: a step between readings may be `margin` + `perS` × time (physics, rounded up generously;
 * common practice, no source).
 */
export const FASTEST: Readonly<Partial<Record<QuantityId, { margin: number; perS: number }>>> = {
  'engine-speed': { margin: 600, perS: 14000 },
  'vehicle-speed': { margin: 12, perS: 60 },
  'coolant-temperature': { margin: 10, perS: 4 },
  'oil-temperature': { margin: 10, perS: 4 },
  'intake-air-temperature': { margin: 12, perS: 8 },
  'exhaust-gas-temperature': { margin: 150, perS: 400 },
  'barometric-pressure': { margin: 5, perS: 2 },
  'ethanol-content': { margin: 12, perS: 5 },
};

/**
 * What has mass makes no square pulse: down to a written zero and back by so much, and so many times the channel's usual steps, is no
 * change of the thing.
 */
const LEAST_PULSE: Readonly<Partial<Record<QuantityId, number>>> = {
  'vehicle-speed': 15,
  'coolant-temperature': 3,
  'oil-temperature': 3,
  'intake-air-temperature': 3,
};
const PULSE_LEAPS = 3;

/** The fault of the readings [a, b). */
const leapOf = ({ channel, values, rows, count, longSpacingRows }: Track, a: number, b: number, shape: string): Fault => ({
  kind: 'dropout',
  channel,
  shape,
  value: values[a],
  from: rows[a],
  to: b < count && rows[b] - rows[b - 1] <= 2 * longSpacingRows ? rows[b] : rows[b - 1] + 1,
  data: {},
});

/** Seconds from the reading a to the reading b, or to the last one. */
const fromToS = (timeS: Float64Array, { rows, count }: Track, a: number, b: number): number =>
  timeS[b < count ? rows[b] : rows[count - 1]] - timeS[rows[a]];

/** The spells at an end of the scale that were entered and left in one step, and are none of the leaps found before. */
export const leapsToEnds = (readings: Readings, track: Track, quantity: QuantityId, leaps: Leaps): Fault[] => {
  const atHand = { ...track },
    { values, rows, count } = atHand,
    found: Fault[] = [];
  const { timeS } = readings;
  const leastS = limitOf('dropoutS', readings.vehicle.limits).value,
    longestS = limitOf('dropoutLongestS', readings.vehicle.limits).value;
  let taken: Uint8Array | undefined;
  if (leaps.size > 0) ChannelFaults.of(leaps, []).paintOn((taken = new Uint8Array(timeS.length)));
  let judge: ReturnType<typeof judgeOf> | undefined;
  const ends = endsOf(readings, track, quantity).filter((end) => end.value >= track.least && end.value <= track.greatest);
  const endValues = Float64Array.from(ends, ({ value }) => value),
    runs = lastingRuns(readings, track);
  for (let at = nextAtAny(endValues, values, runs, 0); at < runs.length; at = nextAtAny(endValues, values, runs, at + 1)) {
    const a = runs[at],
      value = values[a],
      end = endValues.indexOf(value);
    if (a === 0 || taken?.[rows[a]] === 1) continue;
    const b = endOfEqual(values, a, count),
      lastsS = fromToS(timeS, atHand, a, b);
    if (
      b < count &&
      lastsS <= longestS &&
      lastsS >= leastS &&
      (judge ??= judgeOf(readings, track, quantity))(a, b, value) &&
      !engineDid(readings, track, a, b, value)
    )
      found.push(leapOf(atHand, a, b, ends[end].shape));
  }
  return found;
};

/** The first of the runs from one on that stands at any of the numbers; behind the last where there is none. */
const nextAtAny = (numbers: Float64Array, values: Float64Array, runs: Int32Array, from: number): number => {
  for (let at = from; at < runs.length; at++) {
    const value = values[runs[at]];
    for (let k = 0; k < numbers.length; k++) if (value === numbers[k]) return at;
  }
  return runs.length;
};

/** A plausible value kept for longer is a level of the engine. */
const LONGEST_LEAP_S = 3;
/** Zero is a reading like any other of these. */
const ZERO_IS_PLAUSIBLE: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'throttle',
  'pedal',
  'engine-load',
  'injector-duty',
  'injector-pulse-width',
  'vehicle-speed',
  'engine-speed',
]);
/** What moves when the engine is asked for more; the target goes the other way. */
const MOVES_WITH_LOAD: readonly QuantityId[] = [
  'manifold-pressure',
  'throttle',
  'pedal',
  'mass-air-flow',
  'mass-air-flow-signal',
  'engine-load',
  'injector-pulse-width',
  'injector-duty',
  'target-lambda',
];
const MOVED_SHARE = 0.2;
/** A manifold empties behind a closed throttle within this time (a few turns, with a sensor's lag; common practice, no source). */
const EMPTIES_S = 0.3;
/** Behind a manifold that fills so far (share of the barometer) a throttle may be open to any width. */
const FILLED_SHARE = 0.85;
/** A throttle that an idle control moves goes to its stop and back too: no fall. */
const LEAST_CLOSING_SHARE = 0.1;
const WITNESS_ROWS = 8;
const FOLLOWS_WITHIN_S = 0.3;

/** Share of the range of all other readings by which a value must lie outside of it to be none of the engine's. */
const FAR_BEYOND_SHARE = 0.5;

const farBeyond = (values: Float64Array, count: number, value: number): boolean => {
  let least = Infinity,
    greatest = -Infinity;
  for (let k = 0; k < count; k++) {
    if (values[k] === value) continue;
    if (values[k] < least) least = values[k];
    if (values[k] > greatest) greatest = values[k];
  }
  return Math.max(value - greatest, least - value) > FAR_BEYOND_SHARE * (greatest - least);
};

/**
 * Whether the spell [a, b) at a plausible value may be a level that the engine really had: its other channels went there and back too, it
 * lasted, or this channel shows no unrest of a sensor anywhere.
 */
const engineDid = (readings: Readings, track: Track, a: number, b: number, value: number): boolean => {
  const { channel, rows, values, count } = track;
  const { timeS } = readings;
  const quantity = channel.quantity!;
  const { low, high } = plausibleOf(quantity, readings.vehicle);
  const zero = value === channel.toCanonical(0);
  if (value < low || value > high || value === -40 || isMessageEnd(quantity, value) || (zero && !ZERO_IS_PLAUSIBLE.has(quantity)))
    return false;
  const foot = quantity === 'throttle' || quantity === 'pedal';
  const up = value > values[a - 1];
  // What holds a pressure or a voltage follows the load only so far: a living sensor that rises to a new height reads what lies on the way
  // too.
  if (!MOVES_WITH_LOAD.includes(quantity) && dithers(track) && farBeyond(values, count, value)) return false;
  const behindS = timeS[rows[b]] + FOLLOWS_WITHIN_S;
  let behind = rows[b];
  while (behind + 1 < timeS.length && timeS[behind + 1] <= behindS) behind++;
  const before = Math.max(0, rows[a] - 1),
    inside = (rows[a] + rows[b] - 1) >> 1;
  let witnesses = 0;
  // No load moves a mass faster than it can be moved.
  for (const other of FASTEST[quantity] ? [] : MOVES_WITH_LOAD) {
    const of = other === quantity ? undefined : readings.held(other);
    if (!of) continue;
    witnesses++;
    const { least, greatest } = rangeOfColumn(of);
    const sign = (other === 'target-lambda') === up ? -1 : 1;
    // A foot that goes down and comes half-way up again leaves the air where it went.
    if (foot && up && Math.max(of[inside], of[behind]) - of[before] > MOVED_SHARE * (greatest - least) && other !== 'target-lambda')
      return true;
    if (
      sign * (of[inside] - of[before]) > MOVED_SHARE * (greatest - least) &&
      sign * (of[inside] - of[behind]) > MOVED_SHARE * (greatest - least)
    )
      return true;
  }
  const open = isSensorEnd(quantity, value) || (foot && witnesses > 0);
  if (open || zero) return false;
  return !dithers(track) || (count > 0 && timeS[rows[b]] - timeS[rows[a]] > LONGEST_LEAP_S);
};

/** Where a broken sensor's reading goes: a written 0, −40 °C, 0 V and 5 V of a scaled channel, and the least and greatest it ever shows. */
const endsOf = (readings: Readings, track: Track, quantity: QuantityId): { value: number; shape: string }[] => {
  const { channel, least, greatest } = track;
  const ends = [{ value: channel.toCanonical(0), shape: 'zero' }];
  if (QUANTITIES[quantity].dimension === 'temperature') ends.push({ value: -40, shape: 'open-circuit' });
  if (readings.vehicle.channels.get(channel.header)?.scale ?? readings.vehicle.channels.get(channel.name)?.scale)
    ends.push({ value: channel.toCanonical(5), shape: 'open-circuit' });
  // What a higher leap hides: wide open as a number.
  if (quantity === 'throttle' || quantity === 'pedal') ends.push({ value: 100, shape: 'full-scale' });
  ends.push({ value: greatest, shape: 'full-scale' }, { value: least, shape: 'low-end' });
  return ends.filter((end, index) => ends.findIndex((other) => other.value === end.value) === index);
};

/** The leap that one change in a hundred is larger than, the span of nearly all readings, and the step they are counted in. */
const usualOf = onceFor(({ values, count }: Track) => {
  const changes = new Float64Array(Math.max(0, Math.min(count - 1, 5000)));
  const stride = Math.max(1, Math.ceil(count / 5000));
  for (let k = 1, c = 0; k < count && c < changes.length; k += stride) changes[c++] = Math.abs(values[k] - values[k - 1]);
  const sample = sampleOf(values.subarray(0, count));
  return {
    usualLeap: quantileOf(sampleOf(changes), 0.99),
    span: quantileOf(sample, 0.99) - quantileOf(sample, 0.01),
    quantum: quantisedStep(values, count),
  };
});

/** Whether a spell [a, b) at `value` cannot be the engine's doing. */
const judgeOf = (readings: Readings, track: Track, quantity: QuantityId): ((a: number, b: number, value: number) => boolean) => {
  const { values, rows, count, channel } = track;
  const { timeS } = readings;
  const held = (of: QuantityId): Float64Array | undefined => readings.held(of);
  const fastest = FASTEST[quantity];
  // Of what has mass the pressure says nothing.
  const rpm = held('engine-speed'),
    pressure = fastest && quantity !== 'engine-speed' ? undefined : held('manifold-pressure');
  const [speed, flow] = quantity === 'engine-speed' ? [held('vehicle-speed'), held('mass-air-flow')] : [];
  const seenAt = new Map<number, number>();
  const family = new Map<number, readonly [low: number, high: number]>();
  const familyWithout = (value: number): readonly [low: number, high: number] => {
    let known = family.get(value);
    if (!known) {
      const { low, high } = plausibleOf(quantity, readings.vehicle);
      known = extremesBut(value, values, low, high);
      family.set(value, known);
    }
    return known;
  };
  let closedPercent: number | undefined, greatestRpm: number | undefined;
  const farFromExpected = (a: number, b: number, value: number): boolean => {
    const expected = expectedOf(readings, track);
    if (!expected) return false;
    const far = Math.max(6 * expected.spread, 0.2 * usualOf(track).span),
      usualAt = expected.at();
    // Where the log never was, nothing is expected; at the edge of the spell the other channels of a slow log may lag by a reading.
    let known = 0,
      near = 0;
    for (let k = a; k <= b && k < count; k++) {
      const off = Math.abs(value - usualAt(rows[k]));
      if (off !== off) continue;
      known++;
      if (!(off > far)) near++;
    }
    return known > (b - a) / 2 && near <= (b - a >= 4 ? 1 : 0);
  };
  const running = (row: number): boolean => !rpm || rpm[row] > 400 || quantity === 'engine-speed';

  return (a, b, value) => {
    const before = values[a - 1],
      after = values[b];
    const leap = Math.min(Math.abs(value - before), Math.abs(value - after));
    if (leap <= 0) return false;
    const stepS = Math.max(1e-3, timeS[rows[a]] - timeS[rows[a - 1]]);
    if (!running(rows[a - 1]) || !running(rows[b])) return false;
    if (quantity === 'engine-speed' && value < 30) {
      if (before < 500 || after < 500 || timeS[rows[b]] - timeS[rows[a]] > 6) return false;
      if (before / stepS > 6000 && after > 0.5 * before) return true;
      for (let row = rows[a]; row < rows[b]; row++) {
        if ((speed && speed[row] > 8) || (pressure && pressure[row] < 0.75 * readings.barometer.kPa) || (flow && flow[row] > 1.5)) continue;
        return false;
      }
      return speed !== undefined || pressure !== undefined || flow !== undefined;
    }
    if (fastest)
      return (
        leap > fastest.margin + fastest.perS * stepS ||
        (value === channel.toCanonical(0) && leap > Math.max(LEAST_PULSE[quantity] ?? Infinity, PULSE_LEAPS * usualOf(track).usualLeap))
      );
    if (quantity === 'mass-air-flow' && value <= 0) return before > 1 && after > 1;
    if (quantity === 'fuel-pressure' || quantity === 'oil-pressure')
      return value < 0.5 * Math.min(before, after) ? value <= 20 : gapped(a, b, value, leap);
    if (quantity === 'throttle' || quantity === 'pedal') {
      if (quantity === 'throttle' && (openYetThrottled(a, b, value) || closedYetFull(a, b, value))) return true;
      // Where the channel rests by nature (a closed throttle), only a fast log shows that the engine did not follow.
      const slow = track.spacingS > 0.13;
      if (rests(a, b, value) && (quantity === 'pedal' || slow || timeS[rows[b]] - timeS[rows[a]] < 0.28)) return false;
      const [low, high] = familyWithout(value);
      if (slow && value !== channel.toCanonical(0) && value < 99) return false;
      if (!rests(a, b, value) && value < low - Math.max(2, 0.05 * (high - low)) && leap > Math.max(4, 0.05 * (high - low))) return true;
      return (
        leap > 0.15 * usualOf(track).span &&
        !(value > before && pressure && extremes(pressure, rows[a], rows[b] + 1)[1] >= FILLED_SHARE * readings.barometer.kPa) &&
        farFromExpected(a, b, value)
      );
    }
    // Injectors that stay shut are a fuel cut wherever the throttle was closed, or the speed at its limit, just before.
    if ((quantity === 'injector-duty' || quantity === 'injector-pulse-width') && value <= 0.05 && cutLikely(rows[a], rows[b])) return false;
    return (
      gapped(a, b, value, leap) ||
      (!rests(a, b, value) && leap > Math.max(usualOf(track).usualLeap, 0.25 * usualOf(track).span) && farFromExpected(a, b, value))
    );
  };

  /**
   * Three readings, and of a logger that holds its values two of its own: what it asked for once is compared with what it asked for at
   * another moment.
   */
  function lasts(a: number, b: number): boolean {
    const held = heldForOf(track);
    return b - a >= Math.max(3, held > 1 ? 2 * held : 0);
  }

  /**
   * A throttle shown wide open behind which the manifold stays in vacuum, or the calculated load (all of what the engine can draw: SAE
   * J1979) stays half.
   */
  function openYetThrottled(a: number, b: number, value: number): boolean {
    const load = held('engine-load');
    if (value < 95 || !lasts(a, b) || values[a - 1] > 0.6 * value || values[b] > 0.6 * value || (!pressure && !load)) return false;
    // The first reading may come before the air did, and the last a step late.
    for (let k = a + 1; k < b; k++) {
      const row = rows[k];
      if (pressure ? !(pressure[row] < 0.7 * readings.barometer.kPa) : !(load![row] < 50)) return false;
    }
    return true;
  }

  /** A throttle shown closed behind which the manifold, or the load, stays as full as it was: it would be empty in a few turns. */
  function closedYetFull(a: number, b: number, value: number): boolean {
    const air = readings.clean('manifold-pressure') ?? held('engine-load');
    if (
      !lasts(a, b) ||
      !air ||
      value > track.least + 0.05 * (track.greatest - track.least) ||
      Math.min(values[a - 1], values[b]) - value < LEAST_CLOSING_SHARE * (track.greatest - track.least)
    )
      return false;
    const around = Math.min(air[rows[a - 1]], air[rows[b]]);
    // What stands still itself bears no witness.
    const [lowest, highest] = extremes(air, Math.max(0, rows[a] - WITNESS_ROWS), rows[b] + WITNESS_ROWS);
    if (!(highest > lowest) || !(around > (pressure ? 0.6 * readings.barometer.kPa : 50))) return false;
    // The second reading may come before the manifold has emptied.
    for (let k = a; k < b; k++) if (timeS[rows[k]] - timeS[rows[a]] >= EMPTIES_S && !(air[rows[k]] > 0.85 * around)) return false;
    return timeS[rows[b - 1]] - timeS[rows[a]] >= 2 * EMPTIES_S;
  }

  function cutLikely(from: number, to: number): boolean {
    const throttle = held('throttle') ?? held('pedal');
    if (!throttle || !pressure) return !throttle && !pressure;
    const closed = (closedPercent ??= quantileOf(sampleOf(throttle), 0.03) + 4);
    for (let row = from; row >= 0 && timeS[from] - timeS[row] < 0.6; row--) if (throttle[row] <= closed) return true;
    for (let row = from; row <= to; row++) if (throttle[row] <= closed) return true;
    return rpm !== undefined && rpm[from] > 0.97 * (limiterRpm(readings) ?? (greatestRpm ??= extremes(rpm)[1]));
  }

  /** Whether the channel keeps this value elsewhere too, for more than a hundredth of its readings. */
  function rests(a: number, b: number, value: number): boolean {
    let seen = seenAt.get(value);
    if (seen === undefined) {
      seenAt.set(value, (seen = timesOf(value, values)));
    }
    return seen - (b - a) > Math.max(3 * (b - a), 0.01 * count);
  }

  /** Alone beyond everything else the channel shows, for two readings or more. */
  function gapped(a: number, b: number, value: number, leap: number): boolean {
    if (b - a < 2 || quantity === 'injector-duty' || quantity === 'injector-pulse-width') return false;
    // An open throttle holds a manifold without boost at the barometer, and a coarse log shows that as one value.
    const foot =
      quantity === 'manifold-pressure' && Math.abs(value - readings.barometer.kPa) < 0.06 * readings.barometer.kPa
        ? (held('throttle') ?? held('pedal'))
        : undefined;
    if (foot && foot[rows[a]] >= 50) return false;
    const [low, high] = familyWithout(value);
    const gap = Math.max(value - high, low - value);
    return gap > 0.1 * (high - low) && leap > Math.max(0.3 * (high - low), 1.5 * usualOf(track).usualLeap, 8 * usualOf(track).quantum);
  }
};
