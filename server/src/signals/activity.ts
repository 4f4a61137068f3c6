// How much the engine is moving, told by all its channels but one: what a channel that stands still is held against.

import type { QuantityId } from '../quantities/quantity.js';
import type { Readings } from './readings.js';
import { quantileOf, sortedSample } from './statistics.js';

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
  for (const quantity of MOVING) {
    const values = readings.held(quantity);
    if (!values) continue;
    const moved = movementOf(values, timeS);
    if (!moved) continue;
    movements.set(quantity, moved);
    for (let i = 0; i < count; i++) total[i] += moved[i];
  }
  const rpm = readings.held('engine-speed');
  const made = new Map<QuantityId | undefined, Uint8Array>();
  const classes = (quantity: QuantityId | undefined): Uint8Array => {
    const key = quantity !== undefined && movements.has(quantity) ? quantity : undefined;
    const known = made.get(key);
    if (known) return known;
    const own = key && movements.get(key);
    const stride = Math.max(1, Math.floor(count / 4000));
    const sample = new Float32Array(Math.ceil(count / stride));
    for (let i = 0, k = 0; i < count; i += stride) sample[k++] = rpm && !(rpm[i] > 400) ? NaN : own ? total[i] - own[i] : total[i];
    const sorted = sortedSample(sample);
    const [calm, ordinary, busy] = PARTED_AT.map((share) => Math.max(quantileOf(sorted, share), 1e-6));
    const found = new Uint8Array(count);
    for (let i = 0; i < count; i++) {
      const others = own ? total[i] - own[i] : total[i];
      if (others > calm) found[i] = others > ordinary ? (others > busy ? 3 : 2) : 1;
    }
    made.set(key, found);
    return found;
  };
  return { classes, tellers: (quantity) => movements.size - (quantity !== undefined && movements.has(quantity) ? 1 : 0) };
};

/** Change over the window around each sample in units of the channel's own large changes; undefined for a channel that never moves. */
const movementOf = (values: Float64Array, timeS: Float64Array): Float32Array | undefined => {
  const moved = new Float32Array(values.length);
  let back = 0, ahead = 0;
  for (let i = 0; i < values.length; i++) {
    while (timeS[back] < timeS[i] - WINDOW_S) back++;
    while (ahead + 1 < values.length && timeS[ahead + 1] <= timeS[i] + WINDOW_S) ahead++;
    const change = Math.abs(values[i] - values[back]) + Math.abs(values[ahead] - values[i]);
    moved[i] = change === change ? change : 0;
  }
  const sorted = sortedSample(moved);
  const large = quantileOf(sorted, 0.9) || quantileOf(sorted, 0.98);
  if (!(large > 0)) return undefined;
  const scale = 1 / large;
  for (let i = 0; i < moved.length; i++) moved[i] = Math.min(MOST_OF_ONE, moved[i] * scale);
  return moved;
};
