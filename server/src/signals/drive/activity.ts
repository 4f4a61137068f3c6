// How much the engine is moving, told by all its channels but one: what a channel that stands still is held against.

import type { QuantityId } from '../../quantities/quantity.js';
import type { Readings } from '../readings.js';
import { BLOCK_ROWS, quantileOf, sampleOf } from '../columns/statistics.js';

/** Channels that move with the engine, and fast enough to tell. */
const MOVING: readonly QuantityId[] = [
  'engine-speed',
  'manifold-pressure',
  'throttle',
  'pedal',
  'lambda',
  'lambda-2',
  'mass-air-flow',
  'engine-load',
  'injector-pulse-width',
  'injector-duty',
  'ignition-advance',
];
const WINDOW_S = 0.4;
/** Samples at which it is learnt what is much. */
const LOOKED_AT = 4000;
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
  const {
    timeS,
    session: { shelf },
  } = readings;
  const total = new Float32Array(timeS.length);
  const makeWindows = (): Int32Array => windowsOf(timeS),
    windows = (): Int32Array => shelf.get(makeWindows, makeWindows);
  /** What a channel's movement is counted in, by the channels that tell: one over its own large changes. */
  const scales = new Map<QuantityId, number>();
  for (const quantity of MOVING) {
    const values = readings.channel(quantity) && readings.held(quantity);
    if (!values) continue;
    const sample = someChanges(values, windows()),
      large = quantileOf(sample, 0.9) || quantileOf(sample, 0.98);
    if (!(large > 0)) continue;
    scales.set(quantity, 1 / large);
    addMovement(values, windows(), 1 / large, total);
  }
  const classes = shelf.each((teller: QuantityId | undefined) => {
    const own = teller && addMovement(readings.held(teller)!, windows(), scales.get(teller)!, new Float32Array(total.length));
    const sample = sampleOf(othersWhileRunning(total, own, readings.held('engine-speed')));
    const [calm, ordinary, busy] = PARTED_AT.map((share) => Math.max(quantileOf(sample, share), 1e-6));
    return classesOf(total, own, calm, ordinary, busy);
  });
  const isTeller = (quantity: QuantityId | undefined): boolean => quantity !== undefined && scales.has(quantity);
  return {
    classes: (quantity) => classes(isTeller(quantity) ? quantity : undefined),
    tellers: (quantity) => scales.size - (isTeller(quantity) ? 1 : 0),
  };
};

// The loops below are functions of their own because they run for every channel: see statistics.ts.

/** The movement of all channels but `own` at some thousand samples, NaN where the engine does not run. */
const othersWhileRunning = (total: Float32Array, own: Float32Array | undefined, rpm: Float64Array | undefined): Float32Array => {
  const stride = Math.max(1, Math.floor(total.length / LOOKED_AT));
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

/** The first sample within the window before each one, then for each the last within the window behind. */
const windowsOf = (timeS: Float64Array): Int32Array => {
  const windows = new Int32Array(2 * timeS.length),
    at = { first: 0, last: 0 };
  for (let from = 0; from < timeS.length; from += BLOCK_ROWS)
    findWindows(timeS, from, Math.min(timeS.length, from + BLOCK_ROWS), at, windows);
  return windows;
};

const findWindows = (timeS: Float64Array, from: number, to: number, at: { first: number; last: number }, windows: Int32Array): void => {
  const { length } = timeS;
  let { first, last } = at;
  for (let i = from; i < to; i++) {
    const sinceS = timeS[i] - WINDOW_S,
      untilS = timeS[i] + WINDOW_S;
    while (timeS[first] < sinceS) first++;
    while (last + 1 < length && timeS[last + 1] <= untilS) last++;
    windows[i] = first;
    windows[length + i] = last;
  }
  at.first = first;
  at.last = last;
};

/** Change from the beginning of its window to a sample, and from there to the end, at some thousand samples. */
const someChanges = (values: Float64Array, windows: Int32Array): Float64Array => {
  const { length } = values,
    stride = Math.max(1, Math.floor(length / LOOKED_AT)),
    changes = new Float64Array(Math.ceil(length / stride));
  for (let k = 0, i = 0; k < changes.length; k++, i += stride)
    changes[k] = Math.fround(changeOver(values, windows[i], i, windows[length + i]));
  return changes;
};

const changeOver = (values: Float64Array, first: number, i: number, last: number): number => {
  const change = Math.abs(values[i] - values[first]) + Math.abs(values[last] - values[i]);
  return change === change ? change : 0;
};

/** Adds the change over the window around each sample, in units of the channel's own large changes. */
const addMovement = (values: Float64Array, windows: Int32Array, scale: number, onto: Float32Array): Float32Array => {
  for (let from = 0; from < onto.length; from += BLOCK_ROWS)
    addMovementIn(onto, values, windows, scale, from, Math.min(onto.length, from + BLOCK_ROWS));
  return onto;
};

const addMovementIn = (onto: Float32Array, values: Float64Array, windows: Int32Array, scale: number, from: number, to: number): void => {
  const { length } = values;
  for (let i = from; i < to; i++)
    onto[i] += Math.fround(Math.min(MOST_OF_ONE, Math.fround(changeOver(values, windows[i], i, windows[length + i])) * scale));
};
