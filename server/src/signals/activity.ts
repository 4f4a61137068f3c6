// How much the engine is moving, told by all its channels but one: what a channel that stands still is held against.

import type { QuantityId } from '../quantities/quantity.js';
import type { Readings } from './readings.js';
import { quantileOf, sampleOf } from './statistics.js';

/** Channels that move with the engine, and fast enough to tell. */
const MOVING: readonly QuantityId[] = [
  'engine-speed', 'manifold-pressure', 'throttle', 'pedal', 'lambda', 'lambda-2', 'mass-air-flow', 'engine-load', 'injector-pulse-width', 'injector-duty', 'ignition-advance',
];
const WINDOW_S = 0.4;
/** One channel's leap must not outweigh the rest. */
const MOST_OF_ONE = 3;
/** Shares of the running samples at which the activity's classes part: calm, ordinary, busy, busiest. */
const PARTED_AT = [0.4, 0.7, 0.9] as const;

export const ACTIVITY_CLASSES = PARTED_AT.length + 1;

export interface Activity {
  /** Class 0 (calm) … 3 (busiest) of each sample as the channels other than `quantity` tell it; all 0 where no other channel moves. */
  classes(quantity: QuantityId | undefined): Uint8Array;
  /** How many other channels tell it. */
  tellers(quantity: QuantityId | undefined): number;
}

export const activityOf = (readings: Readings): Activity => {
  const { timeS } = readings;
  const count = timeS.length;
  const movements = new Map<QuantityId, Float32Array>();
  const total = new Float32Array(count);
  let around: Windows | undefined;
  for (const quantity of MOVING) {
    const values = readings.held(quantity);
    if (!values) continue;
    const moved = movementOf(values, around ??= windowsOf(timeS));
    if (!moved) continue;
    movements.set(quantity, moved);
    addTo(total, moved);
  }
  const rpm = readings.held('engine-speed');
  const made = new Map<QuantityId | undefined, Uint8Array>();
  const classes = (quantity: QuantityId | undefined): Uint8Array => {
    const key = quantity !== undefined && movements.has(quantity) ? quantity : undefined;
    const known = made.get(key);
    if (known) return known;
    const own = key && movements.get(key);
    const sample = sampleOf(othersWhileRunning(total, own, rpm));
    const [calm, ordinary, busy] = PARTED_AT.map((share) => Math.max(quantileOf(sample, share), 1e-6));
    const found = classesOf(total, own, calm, ordinary, busy);
    made.set(key, found);
    return found;
  };
  return { classes, tellers: (quantity) => movements.size - (quantity !== undefined && movements.has(quantity) ? 1 : 0) };
};

// The loops below are functions of their own because they run for every channel: see statistics.ts.

const addTo = (total: Float32Array, moved: Float32Array): void => {
  for (let i = 0; i < total.length; i++) total[i] += moved[i];
};

/** The movement of all channels but `own` at some thousand samples, NaN where the engine does not run. */
const othersWhileRunning = (total: Float32Array, own: Float32Array | undefined, rpm: Float64Array | undefined): Float32Array => {
  const stride = Math.max(1, Math.floor(total.length / 4000));
  const sample = new Float32Array(Math.ceil(total.length / stride));
  for (let i = 0, k = 0; i < total.length; i += stride) sample[k++] = rpm && !(rpm[i] > 400) ? NaN : own ? total[i] - own[i] : total[i];
  return sample;
};

/** Class of each sample by the movement of all channels but `own`. */
const classesOf = (total: Float32Array, own: Float32Array | undefined, calm: number, ordinary: number, busy: number): Uint8Array => {
  const found = new Uint8Array(total.length);
  for (let i = 0; i < found.length; i++) {
    const others = own ? total[i] - own[i] : total[i];
    if (others > calm) found[i] = others > ordinary ? (others > busy ? 3 : 2) : 1;
  }
  return found;
};

/** First and last sample within the window before and behind each one. */
interface Windows { readonly back: Int32Array; readonly ahead: Int32Array }

const windowsOf = (timeS: Float64Array): Windows => {
  const back = new Int32Array(timeS.length), ahead = new Int32Array(timeS.length);
  let first = 0, last = 0;
  for (let i = 0; i < timeS.length; i++) {
    while (timeS[first] < timeS[i] - WINDOW_S) first++;
    while (last + 1 < timeS.length && timeS[last + 1] <= timeS[i] + WINDOW_S) last++;
    back[i] = first;
    ahead[i] = last;
  }
  return { back, ahead };
};

/** Change over the window around each sample in units of the channel's own large changes; undefined for a channel that never moves. */
const movementOf = (values: Float64Array, { back, ahead }: Windows): Float32Array | undefined => {
  const moved = changesOf(values, back, ahead);
  const sample = sampleOf(moved);
  const large = quantileOf(sample, 0.9) || quantileOf(sample, 0.98);
  if (!(large > 0)) return undefined;
  scaleBy(moved, 1 / large);
  return moved;
};

const changesOf = (values: Float64Array, back: Int32Array, ahead: Int32Array): Float32Array => {
  const moved = new Float32Array(values.length);
  for (let i = 0; i < values.length; i++) {
    const change = Math.abs(values[i] - values[back[i]]) + Math.abs(values[ahead[i]] - values[i]);
    moved[i] = change === change ? change : 0;
  }
  return moved;
};

const scaleBy = (moved: Float32Array, scale: number): void => {
  for (let i = 0; i < moved.length; i++) moved[i] = Math.min(MOST_OF_ONE, moved[i] * scale);
};
