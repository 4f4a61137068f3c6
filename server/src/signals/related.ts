// What a channel should read, learnt from this very log: its usual value at each meeting of two related channels.
// Used to tell a reading that jumped from an engine that did.

import type { QuantityId } from '../quantities/quantity.js';
import { hold, type Track } from './hold.js';
import type { Readings } from './readings.js';
import { median, quantileOf, sortedSample } from './statistics.js';

const BINS = 14;
const LEAST_IN_BIN = 5;

const PREDICTORS: Readonly<Partial<Record<QuantityId, readonly (readonly [QuantityId, QuantityId])[]>>> = {
  'throttle': [['manifold-pressure', 'engine-speed'], ['engine-load', 'engine-speed'], ['mass-air-flow', 'engine-speed'], ['injector-pulse-width', 'engine-speed']],
  'pedal': [['throttle', 'engine-speed'], ['manifold-pressure', 'engine-speed']],
  'manifold-pressure': [['throttle', 'engine-speed'], ['engine-load', 'engine-speed'], ['mass-air-flow', 'engine-speed'], ['pedal', 'engine-speed']],
  'mass-air-flow': [['manifold-pressure', 'engine-speed'], ['throttle', 'engine-speed']],
  'mass-air-flow-signal': [['manifold-pressure', 'engine-speed'], ['throttle', 'engine-speed']],
  'engine-load': [['manifold-pressure', 'engine-speed'], ['throttle', 'engine-speed']],
  'injector-pulse-width': [['manifold-pressure', 'engine-speed'], ['throttle', 'engine-speed']],
  'injector-duty': [['manifold-pressure', 'engine-speed'], ['throttle', 'engine-speed']],
  'ignition-advance': [['manifold-pressure', 'engine-speed'], ['throttle', 'engine-speed']],
};

export interface Expected {
  /** Usual value at a sample; NaN where the log never was there often enough. */
  at(sample: number): number;
  /** Robust spread of the channel about it (1.4826 × median absolute deviation). */
  readonly spread: number;
}

const learnt = new WeakMap<Track, Expected | 'none'>();

/** What the track's channel should read. Undefined where no pair of related channels is logged. Learnt once for each track. */
export const expectedOf = (readings: Pick<Readings, 'held' | 'timeS'>, track: Track): Expected | undefined => {
  let known = learnt.get(track);
  if (!known) learnt.set(track, known = learnFrom(readings, track) ?? 'none');
  return known === 'none' ? undefined : known;
};

const learnFrom = ({ held, timeS }: Pick<Readings, 'held' | 'timeS'>, track: Track): Expected | undefined => {
  const { quantity } = track.channel;
  for (const [a, b] of (quantity && PREDICTORS[quantity]) ?? []) {
    const first = held(a), second = held(b);
    if (first && second) return learn(hold(track, timeS), first, second);
  }
  return undefined;
};

const learn = (values: Float64Array, first: Float64Array, second: Float64Array): Expected | undefined => {
  const scale = (column: Float64Array): readonly [low: number, perUnit: number] | undefined => {
    const sorted = sortedSample(column);
    const low = quantileOf(sorted, 0.01), high = quantileOf(sorted, 0.99);
    return high > low ? [low, BINS / (high - low)] : undefined;
  };
  const onFirst = scale(first), onSecond = scale(second);
  if (!onFirst || !onSecond) return undefined;
  const clampBin = (x: number): number => (x < 0 ? 0 : x >= BINS ? BINS - 1 : Math.floor(x));
  const binAt = (i: number): number => {
    const x = (first[i] - onFirst[0]) * onFirst[1], y = (second[i] - onSecond[0]) * onSecond[1];
    return x === x && y === y ? clampBin(x) * BINS + clampBin(y) : -1;
  };
  const stride = Math.max(1, Math.floor(values.length / 20000));
  const members: number[][] = Array.from({ length: BINS * BINS }, () => []);
  for (let i = 0; i < values.length; i += stride) {
    const bin = binAt(i);
    if (bin >= 0 && values[i] === values[i]) members[bin].push(values[i]);
  }
  const usual = members.map((each) => (each.length >= LEAST_IN_BIN ? median(Float64Array.from(each)) : NaN));
  const at = (i: number): number => { const bin = binAt(i); return bin < 0 ? NaN : usual[bin]; };
  const away: number[] = [];
  for (let i = 0; i < values.length; i += stride * 3) { const off = Math.abs(values[i] - at(i)); if (off === off) away.push(off); }
  return away.length < 20 ? undefined : { at, spread: 1.4826 * median(Float64Array.from(away)) };
};
