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
  const { timeS, session: { shelf } } = readings;
  const movement = shelf.each((quantity: QuantityId) => movementOf(readings.held(quantity)!, timeS));
  const total = new Float32Array(timeS.length);
  const tellers = new Set<QuantityId>();
  for (const quantity of MOVING) {
    const moved = readings.channel(quantity) && movement(quantity);
    if (!moved) continue;
    tellers.add(quantity);
    addTo(total, moved);
  }
  const classes = shelf.each((teller: QuantityId | undefined) => {
    const own = teller && movement(teller);
    const sample = sampleOf(othersWhileRunning(total, own, readings.held('engine-speed')));
    const [calm, ordinary, busy] = PARTED_AT.map((share) => Math.max(quantileOf(sample, share), 1e-6));
    return classesOf(total, own, calm, ordinary, busy);
  });
  const isTeller = (quantity: QuantityId | undefined): boolean => quantity !== undefined && tellers.has(quantity);
  return { classes: (quantity) => classes(isTeller(quantity) ? quantity : undefined), tellers: (quantity) => tellers.size - (isTeller(quantity) ? 1 : 0) };
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

/** Change over the window around each sample in units of the channel's own large changes; undefined for a channel that never moves. */
const movementOf = (values: Float64Array, timeS: Float64Array): Float32Array | undefined => {
  const moved = changesOf(values, timeS);
  const sample = sampleOf(moved);
  const large = quantileOf(sample, 0.9) || quantileOf(sample, 0.98);
  if (!(large > 0)) return undefined;
  scaleBy(moved, 1 / large);
  return moved;
};

/** Change from the first sample within the window before each one, and to the last within the window behind. */
const changesOf = (values: Float64Array, timeS: Float64Array): Float32Array => {
  const moved = new Float32Array(values.length);
  let first = 0, last = 0;
  for (let i = 0; i < values.length; i++) {
    while (timeS[first] < timeS[i] - WINDOW_S) first++;
    while (last + 1 < timeS.length && timeS[last + 1] <= timeS[i] + WINDOW_S) last++;
    const change = Math.abs(values[i] - values[first]) + Math.abs(values[last] - values[i]);
    moved[i] = change === change ? change : 0;
  }
  return moved;
};

const scaleBy = (moved: Float32Array, scale: number): void => {
  for (let i = 0; i < moved.length; i++) moved[i] = Math.min(MOST_OF_ONE, moved[i] * scale);
};
