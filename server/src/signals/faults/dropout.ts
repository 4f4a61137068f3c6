// A sensor gone for a moment: cells left empty, or a reading that leaps to an end of its scale and back faster than the engine can.
// (A reading that freezes is told by stuck.ts, lambda at its ends by clipped.ts: both need to know what the engine did.)

import { limitOf } from '../../formats/limits.js';
import { believableOf, plausibleOf } from '../../formats/plausible.js';
import type { Channel, Session } from '../../formats/session.js';
import { QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import type { Track } from '../hold.js';
import type { Readings } from '../readings.js';
import { limiterRpm } from '../limiter.js';
import { dithers, heldForOf, onceFor } from '../dither.js';
import { lastingRuns } from '../lasting.js';
import { expectedOf } from '../related.js';
import type { Fault } from '../signals.js';
import { extremesBut, timesOf } from '../stretches.js';
import { ChannelFaults, Leaps } from './channelFaults.js';
import { isMessageEnd, isSensorEnd } from './scaleEnds.js';
import { BLOCK_ROWS, endOfEqual, extremes, quantileOf, quantisedStep, sampleOf } from '../statistics.js';

const LEAST_READINGS = 20;
const LEAST_LEAP_SHARE = 0.05;
/** A blank counts from this many times the channel's own long spacing. */
const BLANK_SPACINGS = 1.7;
/** A channel silent at the start or end of a recording for so long is told. */
const SILENT_S = 3;

/** States and controller outputs leap by nature: only blanks and impossible values are told of them. */
const LEAPS_BY_NATURE: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'time', 'gear', 'fuel-cut', 'trouble-code', 'target-lambda', 'knock-retard', 'ignition-advance',
  'short-term-fuel-trim', 'long-term-fuel-trim', 'short-term-fuel-trim-2', 'long-term-fuel-trim-2',
]);

/** Fastest change that the thing itself can make: a step between readings may be `margin` + `perS` × time (physics, rounded up generously; common practice, no source). */
const FASTEST: Readonly<Partial<Record<QuantityId, { margin: number; perS: number }>>> = {
  'engine-speed': { margin: 600, perS: 14000 },
  'vehicle-speed': { margin: 12, perS: 60 },
  'coolant-temperature': { margin: 10, perS: 4 },
  'oil-temperature': { margin: 10, perS: 4 },
  'intake-air-temperature': { margin: 12, perS: 8 },
  'exhaust-gas-temperature': { margin: 150, perS: 400 },
  'barometric-pressure': { margin: 5, perS: 2 },
  'ethanol-content': { margin: 12, perS: 5 },
};

/** What has mass makes no square pulse: down to a written zero and back by so much, and so many times the channel's usual steps, is no change of the thing. */
const LEAST_PULSE: Readonly<Partial<Record<QuantityId, number>>> = { 'vehicle-speed': 15, 'coolant-temperature': 3, 'oil-temperature': 3, 'intake-air-temperature': 3 };
const PULSE_LEAPS = 3;

/** One engine cycle is 120 000 ms over the engine speed in rpm: two turns. */
const FULL_CYCLE_MS_RPM = 120_000;

/** Leaps of one channel out of its range, undefined where none are sought, and its blanks and leaps to its ends. */
interface Dropouts { readonly leaps: Leaps | undefined; readonly others: Fault[] }

/** Blanks and leaps of one channel. */
export const dropoutsOf = (readings: Readings, track: Track): Dropouts => {
  if (track.count < LEAST_READINGS) return { leaps: undefined, others: [] };
  const gone = blanks(readings, track), { leaps, others } = leapsOf(readings, track);
  return { leaps, others: gone.concat(others) };
};

const blanks = (readings: Readings, track: Track): Fault[] => {
  const { timeS, recordings } = readings;
  const { rows, count, channel } = track;
  const leastS = limitOf('dropoutS', readings.vehicle.limits).value;
  const found: Fault[] = [];
  if (count === timeS.length) return found;
  const add = (from: number, to: number): void => {
    if (to > from) found.push({ kind: 'dropout', channel, shape: 'blank', value: NaN, from, to, data: {} });
  };
  // The last recording that has begun at a reading: a log of many short ones is walked through once.
  let begun = 0;
  for (let k = 1; k < count; k++) {
    const gapRows = rows[k] - rows[k - 1];
    if (gapRows <= BLANK_SPACINGS * track.longSpacingRows) continue;
    const gapS = writtenS(readings, rows[k - 1], rows[k]);
    if (gapS <= BLANK_SPACINGS * track.longSpacingS || gapS - track.spacingS < leastS) continue;
    // The first missing reading is due one usual spacing behind the last one; a hole in the whole log is not the channel's.
    const due = Math.min(rows[k] - 1, rows[k - 1] + Math.max(1, Math.round(track.spacingRows)));
    while (recordings[begun + 1] && recordings[begun + 1].from <= rows[k]) begun++;
    if (recordings[begun].from > rows[k - 1]) continue;
    add(due, rows[k]);
  }
  const joined = readings.session.joined !== undefined || readings.session.metadata.has('joined'), near = Math.ceil(2 * track.longSpacingRows);
  const span = spanOfJoined(readings.session), apartS = 2 * track.longSpacingS;
  const silentS = Math.max(SILENT_S, 5 * track.longSpacingS);
  let next = 0;
  for (const recording of recordings) {
    const of = next;
    while (next < count && rows[next] < recording.to) next++;
    if (of === next) continue;
    const first = rows[of], last = rows[next - 1];
    // The second of two joined loggers began later, or ended before, with all its channels; where it has one alone, its own span tells.
    const whole = (isFilled: (channel: Channel) => number, row: number): boolean => joined && (span?.some((endS) => Math.abs(timeS[row] - endS) <= apartS)
      || readings.session.channels.some((each) => each !== channel && each.filled < timeS.length && Math.abs(isFilled(each) - row) <= near));
    if (timeS[first] - timeS[recording.from] > silentS && !whole(firstFilled, first)) add(recording.from, first);
    if (timeS[recording.to - 1] - timeS[last] > silentS && !whole(lastFilled, last)) add(last + 1, recording.to);
  }
  return found;
};

/** When the second of two joined loggers began and ended, seconds; undefined where nothing tells. */
const spanOfJoined = ({ joined, metadata }: Session): readonly number[] | undefined => {
  if (joined && 'spanS' in joined) return joined.spanS;
  const written = /^(-?[\d.]+) to (-?[\d.]+) s$/.exec(metadata.get('joined span') ?? '');
  return written ? [Number(written[1]), Number(written[2])] : undefined;
};

const firstFilled = ({ values }: Channel): number => values.findIndex((value) => value === value);
const lastFilled = ({ values }: Channel): number => {
  let row = values.length - 1;
  while (row >= 0 && values[row] !== values[row]) row--;
  return row;
};

/** Seconds from one row to another without the holes between them, in which nothing at all was written. */
const writtenS = ({ timeS, stepS }: Readings, from: number, to: number): number => {
  // Some loggers write their rows in bursts: then the mean tells of the usual step, not the median.
  const mostS = 3 * Math.max(stepS, (timeS[timeS.length - 1] - timeS[0]) / (timeS.length - 1));
  let lastsS = 0;
  for (let i = from + 1; i <= to; i++) lastsS += Math.min(timeS[i] - timeS[i - 1], mostS);
  return lastsS;
};

const leapsOf = (readings: Readings, track: Track): Dropouts => {
  const { quantity } = track.channel;
  if (quantity === undefined || quantity === 'time' || quantity === 'trouble-code' || quantity === 'knock-retard') return { leaps: undefined, others: [] };
  const leaps = leapsOutOfRange(readings, track, quantity);
  return { leaps, others: LEAPS_BY_NATURE.has(quantity) || quantity === 'lambda' || quantity === 'lambda-2' ? [] : leapsToEnds(readings, track, quantity, leaps) };
};

/** The fault of the readings [a, b). */
const leapOf = ({ channel, values, rows, count, longSpacingRows }: Track, a: number, b: number, shape: string): Fault => ({
  kind: 'dropout', channel, shape, value: values[a], from: rows[a], to: b < count && rows[b] - rows[b - 1] <= 2 * longSpacingRows ? rows[b] : rows[b - 1] + 1, data: {},
});

/** Seconds from the reading a to the reading b, or to the last one. */
const fromToS = (timeS: Float64Array, { rows, count }: Track, a: number, b: number): number => timeS[b < count ? rows[b] : rows[count - 1]] - timeS[rows[a]];

/** Values that no engine has, for a moment. Longer than the limit a channel is not dropping out but broken: implausible.ts and stuck.ts tell it. */
const leapsOutOfRange = (readings: Readings, track: Track, quantity: QuantityId): Leaps => {
  const { channel, values, rows, count, longSpacingRows, least, greatest } = track, { timeS } = readings;
  const longestS = limitOf('dropoutLongestS', readings.vehicle.limits).value;
  const { low, high: believable } = believableOf(quantity, readings.vehicle), { high } = plausibleOf(quantity, readings.vehicle);
  const top = quantity === 'manifold-pressure' && readings.vehicle.engine.aspiration === 'natural' ? Math.min(believable, ABOVE_AIR_SHARE * readings.barometer.kPa) : believable;
  const zero = channel.toCanonical(0), leaps = new Leaps(channel, (value) => shapeOf(zero, value, value > high));
  if (least >= low && greatest <= top) return leaps;
  // A long pulse at low speed (cranking, air that rushes into an empty manifold) is rare, not impossible: there is room for it in the cycle.
  const rpm = (quantity === 'injector-pulse-width' && readings.held('engine-speed')) || NO_SPEED, leastLeap = LEAST_LEAP_SHARE * (greatest - least);
  for (let a = 0; a < count;) a = leapsIn(leaps, a, Math.min(count, a + BLOCK_ROWS), values, rows, count, timeS, rpm, low, top, leastLeap, longestS, 2 * longSpacingRows);
  return leaps;
};

const NO_SPEED = new Float64Array(0);

/** Whether a value is out of the range, and, where the engine speed is given, too long for a cycle. */
const isOut = (value: number, row: number, rpm: Float64Array, low: number, top: number): boolean =>
  (value < low || value > top) && !(rpm.length > 0 && value >= low && value * rpm[row] <= FULL_CYCLE_MS_RPM);

/** Adds the spells out of the range that begin in the readings [from, end) and were leapt into and out of; the reading to go on at. */
const leapsIn = (
  leaps: Leaps, from: number, end: number, values: Float64Array, rows: Int32Array, count: number, timeS: Float64Array, rpm: Float64Array, low: number, top: number, leastLeap: number, longestS: number, nearRows: number,
): number => {
  let a = from;
  while (a < end) {
    if (!isOut(values[a], rows[a], rpm, low, top)) { a++; continue; }
    let b = a + 1;
    while (b < count && isOut(values[b], rows[b], rpm, low, top)) b++;
    // At the very start a sensor may not be awake yet: cold.ts and implausible.ts look at that.
    // A reading that only creeps over the edge of what is plausible did not leap.
    if (a > 0 && b < count && Math.min(Math.abs(values[a] - values[a - 1]), Math.abs(values[b - 1] - values[b])) > leastLeap && timeS[rows[b]] - timeS[rows[a]] <= longestS) {
      leaps.push(rows[a], rows[b] - rows[b - 1] <= nearRows ? rows[b] : rows[b - 1] + 1, values[a]);
    }
    a = b;
  }
  return a;
};

/** The spells at an end of the scale that were entered and left in one step, and are none of the leaps found before. */
const leapsToEnds = (readings: Readings, track: Track, quantity: QuantityId, leaps: Leaps): Fault[] => {
  const atHand = { ...track }, { values, rows, count } = atHand, found: Fault[] = [];
  const { timeS } = readings;
  const leastS = limitOf('dropoutS', readings.vehicle.limits).value, longestS = limitOf('dropoutLongestS', readings.vehicle.limits).value;
  let taken: Uint8Array | undefined;
  if (leaps.size > 0) ChannelFaults.of(leaps, []).paintOn(taken = new Uint8Array(timeS.length));
  let judge: ReturnType<typeof judgeOf> | undefined;
  const ends = endsOf(readings, track, quantity).filter((end) => end.value >= track.least && end.value <= track.greatest);
  const endValues = ends.map(({ value }) => value);
  for (const a of lastingRuns(readings, track)) {
    const value = values[a], end = endValues.indexOf(value);
    if (a === 0 || end < 0 || taken?.[rows[a]] === 1) continue;
    const b = endOfEqual(values, a, count), lastsS = fromToS(timeS, atHand, a, b);
    if (b < count && lastsS <= longestS && lastsS >= leastS && (judge ??= judgeOf(readings, track, quantity))(a, b, value) && !engineDid(readings, track, a, b, value)) found.push(leapOf(atHand, a, b, ends[end].shape));
  }
  return found;
};

/** No intake without a blower holds more than the air around it; a sensor may read so much too high (common practice, no source). */
const ABOVE_AIR_SHARE = 1.06;
/** A plausible value kept for longer is a level of the engine. */
const LONGEST_LEAP_S = 3;
/** Zero is a reading like any other of these. */
const ZERO_IS_PLAUSIBLE: ReadonlySet<QuantityId> = new Set<QuantityId>(['throttle', 'pedal', 'engine-load', 'injector-duty', 'injector-pulse-width', 'vehicle-speed', 'engine-speed']);
/** What moves when the engine is asked for more; the target goes the other way. */
const MOVES_WITH_LOAD: readonly QuantityId[] = ['manifold-pressure', 'throttle', 'pedal', 'mass-air-flow', 'mass-air-flow-signal', 'engine-load', 'injector-pulse-width', 'injector-duty', 'target-lambda'];
const MOVED_SHARE = 0.2;
/** A manifold empties behind a closed throttle within this time (a few turns, with a sensor's lag; common practice, no source). */
const EMPTIES_S = 0.3;
/** Behind a manifold that fills so far (share of the barometer) a throttle may be open to any width. */
const FILLED_SHARE = 0.85;
/** A throttle that an idle control moves goes to its stop and back too: no fall. */
const LEAST_CLOSING_SHARE = 0.1;
const WITNESS_ROWS = 8;
const FOLLOWS_WITHIN_S = 0.3;

/** The extremes of a held column, found once however many spells ask for them. */
const extremesOf = (column: Float64Array): readonly [number, number] => {
  let found = knownExtremes.get(column);
  if (!found) knownExtremes.set(column, found = extremes(column));
  return found;
};
const knownExtremes = new WeakMap<Float64Array, readonly [number, number]>();

/** Share of the range of all other readings by which a value must lie outside of it to be none of the engine's. */
const FAR_BEYOND_SHARE = 0.5;

const farBeyond = (values: Float64Array, count: number, value: number): boolean => {
  let least = Infinity, greatest = -Infinity;
  for (let k = 0; k < count; k++) { if (values[k] === value) continue; if (values[k] < least) least = values[k]; if (values[k] > greatest) greatest = values[k]; }
  return Math.max(value - greatest, least - value) > FAR_BEYOND_SHARE * (greatest - least);
};

/** Whether the spell [a, b) at a plausible value may be a level that the engine really had: its other channels went there and back too, it lasted, or this channel shows no unrest of a sensor anywhere. */
const engineDid = (readings: Readings, track: Track, a: number, b: number, value: number): boolean => {
  const { channel, rows, values, count } = track;
  const { timeS } = readings;
  const quantity = channel.quantity!;
  const { low, high } = plausibleOf(quantity, readings.vehicle);
  const zero = value === channel.toCanonical(0);
  if (value < low || value > high || value === -40 || isMessageEnd(quantity, value) || (zero && !ZERO_IS_PLAUSIBLE.has(quantity))) return false;
  const foot = quantity === 'throttle' || quantity === 'pedal';
  const up = value > values[a - 1];
  // What holds a pressure or a voltage follows the load only so far: a living sensor that rises to a new height reads what lies on the way too.
  if (!MOVES_WITH_LOAD.includes(quantity) && dithers(track) && farBeyond(values, count, value)) return false;
  const behindS = timeS[rows[b]] + FOLLOWS_WITHIN_S;
  let behind = rows[b];
  while (behind + 1 < timeS.length && timeS[behind + 1] <= behindS) behind++;
  const before = Math.max(0, rows[a] - 1), inside = (rows[a] + rows[b] - 1) >> 1;
  let witnesses = 0;
  // No load moves a mass faster than it can be moved.
  for (const other of FASTEST[quantity] ? [] : MOVES_WITH_LOAD) {
    const of = other === quantity ? undefined : readings.held(other);
    if (!of) continue;
    witnesses++;
    const [least, greatest] = extremesOf(of);
    const sign = (other === 'target-lambda') === up ? -1 : 1;
    // A foot that goes down and comes half-way up again leaves the air where it went.
    if (foot && up && Math.max(of[inside], of[behind]) - of[before] > MOVED_SHARE * (greatest - least) && other !== 'target-lambda') return true;
    if (sign * (of[inside] - of[before]) > MOVED_SHARE * (greatest - least) && sign * (of[inside] - of[behind]) > MOVED_SHARE * (greatest - least)) return true;
  }
  const open = isSensorEnd(quantity, value) || (foot && witnesses > 0);
  if (open || zero) return false;
  return !dithers(track) || (count > 0 && timeS[rows[b]] - timeS[rows[a]] > LONGEST_LEAP_S);
};

const shapeOf = (zero: number, value: number, high: boolean): string =>
  Math.abs(value - zero) < 1e-6 ? 'zero' : high ? 'full-scale' : 'open-circuit';

/** Where a broken sensor's reading goes: a written 0, −40 °C, 0 V and 5 V of a scaled channel, and the least and greatest it ever shows. */
const endsOf = (readings: Readings, track: Track, quantity: QuantityId): { value: number; shape: string }[] => {
  const { channel, least, greatest } = track;
  const ends = [{ value: channel.toCanonical(0), shape: 'zero' }];
  if (QUANTITIES[quantity].dimension === 'temperature') ends.push({ value: -40, shape: 'open-circuit' });
  if (readings.vehicle.channels.get(channel.header)?.scale ?? readings.vehicle.channels.get(channel.name)?.scale) ends.push({ value: channel.toCanonical(5), shape: 'open-circuit' });
  // What a higher leap hides: wide open as a number.
  if (quantity === 'throttle' || quantity === 'pedal') ends.push({ value: 100, shape: 'full-scale' });
  ends.push({ value: greatest, shape: 'full-scale' }, { value: least, shape: 'low-end' });
  return ends.filter((end, index) => ends.findIndex((other) => other.value === end.value) === index);
};

/** The leap that one change in a hundred is larger than, the span of nearly all readings, and the step they are counted in. */
const usualOf = onceFor(({ values, count }) => {
  const changes = new Float64Array(Math.max(0, Math.min(count - 1, 5000)));
  const stride = Math.max(1, Math.ceil(count / 5000));
  for (let k = 1, c = 0; k < count && c < changes.length; k += stride) changes[c++] = Math.abs(values[k] - values[k - 1]);
  const sample = sampleOf(values.subarray(0, count));
  return { usualLeap: quantileOf(sampleOf(changes), 0.99), span: quantileOf(sample, 0.99) - quantileOf(sample, 0.01), quantum: quantisedStep(values, count) };
});

/** Whether a spell [a, b) at `value` cannot be the engine's doing. */
const judgeOf = (readings: Readings, track: Track, quantity: QuantityId): ((a: number, b: number, value: number) => boolean) => {
  const { values, rows, count, channel } = track;
  const { timeS } = readings;
  const held = (of: QuantityId): Float64Array | undefined => readings.held(of);
  const fastest = FASTEST[quantity];
  const rpm = held('engine-speed'), pressure = held('manifold-pressure');
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
    const far = Math.max(6 * expected.spread, 0.2 * usualOf(track).span), usualAt = expected.at();
    // Where the log never was, nothing is expected; at the edge of the spell the other channels of a slow log may lag by a reading.
    let known = 0, near = 0;
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
    const before = values[a - 1], after = values[b];
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
    if (fastest) return leap > fastest.margin + fastest.perS * stepS || (value === channel.toCanonical(0) && leap > Math.max(LEAST_PULSE[quantity] ?? Infinity, PULSE_LEAPS * usualOf(track).usualLeap));
    if (quantity === 'mass-air-flow' && value <= 0) return before > 1 && after > 1;
    if (quantity === 'fuel-pressure' || quantity === 'oil-pressure') return value < 0.5 * Math.min(before, after) ? value <= 20 : gapped(a, b, value, leap);
    if (quantity === 'throttle' || quantity === 'pedal') {
      if (quantity === 'throttle' && (openYetThrottled(a, b, value) || closedYetFull(a, b, value))) return true;
      // Where the channel rests by nature (a closed throttle), only a fast log shows that the engine did not follow.
      const slow = track.spacingS > 0.13;
      if (rests(a, b, value) && (quantity === 'pedal' || slow || timeS[rows[b]] - timeS[rows[a]] < 0.28)) return false;
      const [low, high] = familyWithout(value);
      if (slow && value !== channel.toCanonical(0) && value < 99) return false;
      if (!rests(a, b, value) && value < low - Math.max(2, 0.05 * (high - low)) && leap > Math.max(4, 0.05 * (high - low))) return true;
      return leap > 0.15 * usualOf(track).span && !(value > before && pressure && extremes(pressure, rows[a], rows[b] + 1)[1] >= FILLED_SHARE * readings.barometer.kPa) && farFromExpected(a, b, value);
    }
    // Injectors that stay shut are a fuel cut wherever the throttle was closed, or the speed at its limit, just before.
    if ((quantity === 'injector-duty' || quantity === 'injector-pulse-width') && value <= 0.05 && cutLikely(rows[a], rows[b])) return false;
    return gapped(a, b, value, leap) || (!rests(a, b, value) && leap > Math.max(usualOf(track).usualLeap, 0.25 * usualOf(track).span) && farFromExpected(a, b, value));
  };

  /** Three readings, and of a logger that holds its values two of its own: what it asked for once is compared with what it asked for at another moment. */
  function lasts(a: number, b: number): boolean { const held = heldForOf(track); return b - a >= Math.max(3, held > 1 ? 2 * held : 0); }

  /** A throttle shown wide open behind which the manifold stays in vacuum, or the calculated load (all of what the engine can draw: SAE J1979) stays half. */
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
    if (!lasts(a, b) || !air || value > track.least + 0.05 * (track.greatest - track.least) || Math.min(values[a - 1], values[b]) - value < LEAST_CLOSING_SHARE * (track.greatest - track.least)) return false;
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
      seenAt.set(value, seen = timesOf(value, values));
    }
    return seen - (b - a) > Math.max(3 * (b - a), 0.01 * count);
  }

  /** Alone beyond everything else the channel shows, for two readings or more. */
  function gapped(a: number, b: number, value: number, leap: number): boolean {
    if (b - a < 2 || quantity === 'injector-duty' || quantity === 'injector-pulse-width') return false;
    // An open throttle holds a manifold without boost at the barometer, and a coarse log shows that as one value.
    const foot = quantity === 'manifold-pressure' && Math.abs(value - readings.barometer.kPa) < 0.06 * readings.barometer.kPa ? held('throttle') ?? held('pedal') : undefined;
    if (foot && foot[rows[a]] >= 50) return false;
    const [low, high] = familyWithout(value);
    const gap = Math.max(value - high, low - value);
    return gap > 0.1 * (high - low) && leap > Math.max(0.3 * (high - low), 1.5 * usualOf(track).usualLeap, 8 * usualOf(track).quantum);
  }
};
