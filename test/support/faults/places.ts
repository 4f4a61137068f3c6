// Where a fault can go, and whether the channels present can show it.

import type { QuantityId } from '../../../server/src/quantities/quantity.js';
import type { Random } from './random.js';
import type { EngineState, PlantedFault, RecordedChannel, Recording, Spell } from './recording.js';
import { channelOf, sampleAt } from './recording.js';

/** Plants one fault; undefined where the recording cannot show it. */
export type Planter = (recording: Recording, random: Random) => Recording | undefined;

/** Seconds kept free round a fault, so that each finding has one cause. */
const APART_S = 6;

export const isFree = (recording: Recording, fromS: number, toS: number): boolean =>
  fromS >= 2 &&
  toS <= recording.timeS[recording.timeS.length - 1] - 2 &&
  recording.faults.every((fault) => fault.spells.every(([from, to]) => toS + APART_S < from || fromS - APART_S > to));

/** A spell of the given length that satisfies the test and is free of other faults; undefined after enough tries. */
export const findSpell = (
  recording: Recording,
  random: Random,
  lengthS: number,
  fits: (from: number, to: number) => boolean,
  tries = 400,
): [from: number, to: number] | undefined => {
  const last = recording.timeS[recording.timeS.length - 1];
  for (let n = 0; n < tries; n++) {
    const fromS = random.between(5, last - lengthS - 5);
    const from = sampleAt(recording, fromS),
      to = sampleAt(recording, fromS + lengthS);
    if (to <= from || !isFree(recording, recording.timeS[from], recording.timeS[to])) continue;
    if (fits(from, to)) return [from, to];
  }
  return undefined;
};

/** Stretches in which a test holds at every sample, as [first, last]. */
export const stretches = (recording: Recording, holds: (sample: number) => boolean, leastS: number): [from: number, to: number][] => {
  const found: [number, number][] = [];
  let from = -1;
  for (let sample = 0; sample <= recording.timeS.length; sample++) {
    const now = sample < recording.timeS.length && holds(sample);
    if (now && from < 0) from = sample;
    if (!now && from >= 0) {
      if (recording.timeS[sample - 1] - recording.timeS[from] >= leastS) found.push([from, sample - 1]);
      from = -1;
    }
  }
  return found;
};

export const every = (from: number, to: number, holds: (sample: number) => boolean): boolean => {
  for (let sample = from; sample <= to; sample++) if (!holds(sample)) return false;
  return true;
};

export const inStates =
  (recording: Recording, ...states: EngineState[]) =>
  (sample: number): boolean =>
    states.includes(recording.state[sample]);

const RUNNING: readonly EngineState[] = ['warm-up', 'idle', 'cruise', 'tip-in', 'pull', 'shift', 'overrun', 'refuelling'];
export const isRunning =
  (recording: Recording) =>
  (sample: number): boolean =>
    RUNNING.includes(recording.state[sample]);

export const truthOf = (recording: Recording, quantity: QuantityId): Float64Array | undefined =>
  recording.truth.get(quantity) ?? channelOf(recording, quantity)?.values;

/** Under load, with a margin over the usual 85 kPa and 95 % of the barometer, or 80 % throttle. */
export const isLoaded = (recording: Recording) => {
  const map = truthOf(recording, 'manifold-pressure'),
    throttle = truthOf(recording, 'throttle'),
    barometer = truthOf(recording, 'barometric-pressure');
  const hasMap = channelOf(recording, 'manifold-pressure') !== undefined;
  return (sample: number): boolean => {
    const pressure = map ? map[sample] : NaN,
      ambient = barometer ? barometer[sample] : 100;
    const byPressure = pressure > Math.max(90, 0.97 * Math.min(ambient, 102));
    return recording.state[sample] === 'pull' && (hasMap ? byPressure : throttle !== undefined && throttle[sample] > 84);
  };
};

/** Numbers of a channel as they stand in the file, by sample, for resolution and repeats. */
export const shown = (channel: RecordedChannel, sample: number): number =>
  Number(channel.written(channel.values[sample]).toFixed(channel.decimals));

/** Samples between `from` and `to` (inclusive) in which the channel has a value. */
export const filledBetween = (channel: RecordedChannel, from: number, to: number): number => {
  let count = 0;
  for (let sample = from; sample <= to; sample++) if (!Number.isNaN(channel.values[sample])) count += 1;
  return count;
};

/**
 * Since when (seconds) the channel, as written, has shown the value that it has at a sample: no reader can tell when within an equal run it
 * froze.
 */
export const levelSinceS = (recording: Recording, channel: RecordedChannel, sample: number): number => {
  const now = shown(channel, sample);
  let since = sample;
  for (let at = sample; at >= 0 && (Number.isNaN(channel.values[at]) || shown(channel, at) === now); at--)
    if (!Number.isNaN(channel.values[at])) since = at;
  return recording.timeS[since];
};

/** Longest run of one written value (seconds) while the engine runs, over the whole recording. */
export const longestRepeatS = (recording: Recording, channel: RecordedChannel): number => {
  const running = isRunning(recording);
  let longest = 0,
    since = NaN,
    value = NaN;
  for (let sample = 0; sample < recording.timeS.length; sample++) {
    if (Number.isNaN(channel.values[sample])) continue;
    const now = shown(channel, sample);
    if (!running(sample)) {
      value = NaN;
      continue;
    }
    if (now !== value) {
      value = now;
      since = recording.timeS[sample];
    }
    longest = Math.max(longest, recording.timeS[sample] - since);
  }
  return longest;
};

/** Distance between the 5th and the 95th part of a hundred of the channel's values while the engine runs. */
export const span = (recording: Recording, channel: RecordedChannel): number => {
  const running = isRunning(recording);
  const sorted = channel.values.filter((value, sample) => !Number.isNaN(value) && running(sample)).sort();
  return sorted.length === 0 ? 0 : sorted[Math.floor(sorted.length * 0.95)] - sorted[Math.floor(sorted.length * 0.05)];
};

export const extent = (values: ArrayLike<number>, from: number, to: number): [low: number, high: number] => {
  let low = Infinity,
    high = -Infinity;
  for (let sample = from; sample <= to; sample++)
    if (!Number.isNaN(values[sample])) {
      low = Math.min(low, values[sample]);
      high = Math.max(high, values[sample]);
    }
  return [low, high];
};

export const spellOf = (recording: Recording, from: number, to: number): Spell => [recording.timeS[from], recording.timeS[to]];

/** The channel with other values; the argument stays as it is. */
export const edited = (channel: RecordedChannel, edit: (values: Float64Array) => void): RecordedChannel => {
  const values = channel.values.slice();
  edit(values);
  return { ...channel, values };
};

export const named = (channel: RecordedChannel): NonNullable<PlantedFault['channel']> => ({
  name: channel.name,
  quantity: channel.quantity,
});
export const twoSamplesS = (recording: Recording, channel?: RecordedChannel): number =>
  2 * Math.max(channel?.stepS ?? 0, 1.2 / recording.rateHz);
