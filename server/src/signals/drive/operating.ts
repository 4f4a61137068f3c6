// The operating point that a lambda reading speaks of: the reading comes late, so it is held against the load of a moment ago,
// with a guard band on both sides of the modelled delay.

import { limitOf } from '../../formats/limits.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { delaySeries } from '../mixture/delay.js';
import { airInExhaust } from '../faults/airInExhaust.js';
import { atLeast as atOrAbove, mark } from '../columns/marks.js';
import { loadMask } from './opening.js';
import { once, onceFor } from '../once.js';
import type { Signals } from '../signals.js';
import { endOfMarks } from '../columns/spans.js';
import { BLOCK_ROWS } from '../columns/statistics.js';

/** The delay is known to about this: the band runs from the earliest to the latest that the reading may have been fuelled. */
const EARLIEST_DELAYS = 1.8;
const LATEST_DELAYS = 0.5;
const GUARD_S = 0.05;
const SLUG_S = 0.6;

export interface Operating {
  /** 1 while the engine is under load (see `loadMask`), on trusted channels only. */
  readonly load: Uint8Array;
  /** 1 under boost. */
  readonly boost: Uint8Array;
  /** First and last sample in which the reading at each sample may have been fuelled. */
  readonly bandFrom: Int32Array;
  readonly bandTo: Int32Array;
  /** 1 where the whole band was under load, under boost: the reading is surely one of load. */
  readonly readsLoad: Uint8Array;
  readonly readsBoost: Uint8Array;
  /** 1 where the exhaust may hold plain air at the sensor. */
  readonly air: Uint8Array;
}

/** The values of a channel where they are to be believed, NaN elsewhere. Shared: never written to. */
export const believed = (signals: Signals, quantity: QuantityId): Float64Array | undefined => believedIn(signals)(quantity);

const believedIn = onceFor((signals: Signals) => {
  const isAll = new Map<QuantityId, boolean>();
  const part = signals.session.shelf.each((quantity: QuantityId) => whereTrusted(signals.held(quantity)!, signals.trusted(quantity)!));
  return (quantity: QuantityId): Float64Array | undefined => {
    if (!isAll.has(quantity)) isAll.set(quantity, !signals.trusted(quantity)?.includes(0));
    return isAll.get(quantity) ? signals.held(quantity) : part(quantity);
  };
});

/** The same, and where the sensor stood at its upper stop that stop: the truth is there or above. */
export const atLeast = (signals: Signals, quantity: QuantityId): Float64Array | undefined => {
  const values = believed(signals, quantity),
    held = signals.held(quantity);
  // Asked of these channels alone: whoever weighs needs no more of the others.
  const clipped = signals.session.channels
    .filter((channel) => channel.quantity === quantity)
    .flatMap((channel) => signals.faultsOf(channel, 'clipped-high'));
  if (!values || !held || clipped.length === 0) return values;
  const copy = values.slice();
  for (const { from, to } of clipped) copy.set(held.subarray(from, to), from);
  return copy;
};

const whereTrusted = (values: Float64Array, trusted: Uint8Array): Float64Array => {
  const copy = values.slice();
  for (let i = 0; i < copy.length; i++) if (trusted[i] === 0) copy[i] = NaN;
  return copy;
};

export const operatingOf = onceFor((signals: Signals): Operating => {
  const { timeS } = signals;
  const count = timeS.length;
  const makeBands = (): Int32Array => {
    const bands = new Int32Array(2 * count);
    findBands(
      timeS,
      delaySeries(signals),
      Math.max(signals.ageS('lambda'), signals.ageS('lambda-2')),
      bands.subarray(0, count),
      bands.subarray(count),
    );
    return bands;
  };
  const bands = (): Int32Array => signals.session.shelf.get(makeBands, makeBands);
  // Whether the channels that tell the load are to be believed is most of the work, and some ask for the bands alone.
  const load = once(() => loadMask(signals, (quantity) => believed(signals, quantity)));
  const boost = once(() => boostMask(signals));
  const whole = (marks: Uint8Array): Uint8Array => {
    const both = bands();
    return markWhole(marks, both.subarray(0, count), both.subarray(count));
  };
  const readsLoad = once(() => whole(load())),
    readsBoost = once(() => whole(boost()));
  return {
    air: airInExhaust(signals, signals.during),
    get load() {
      return load();
    },
    get boost() {
      return boost();
    },
    get readsLoad() {
      return readsLoad();
    },
    get readsBoost() {
      return readsBoost();
    },
    get bandFrom() {
      return bands().subarray(0, count);
    },
    get bandTo() {
      return bands().subarray(count);
    },
  };
});

const boostMask = (signals: Signals): Uint8Array => {
  const pressure = believed(signals, 'manifold-pressure'),
    fromKPa = limitOf('boostManifoldPressureKPa', signals.vehicle.limits).value;
  return pressure ? mark(pressure, atOrAbove(fromKPa)) : new Uint8Array(signals.timeS.length);
};

/** First and last sample in which the reading at each sample may have been fuelled. */
const findBands = (timeS: Float64Array, delayS: Float64Array, ageS: number, bandFrom: Int32Array, bandTo: Int32Array): void => {
  const at: BandAt = { from: 0, to: 0, recent: 0, slowest: 0 };
  for (let first = 0; first < timeS.length; first += BLOCK_ROWS)
    findBandsIn(at, first, Math.min(timeS.length, first + BLOCK_ROWS), timeS, delayS, ageS, bandFrom, bandTo);
};

interface BandAt {
  from: number;
  to: number;
  recent: number;
  slowest: number;
}

const findBandsIn = (
  at: BandAt,
  begin: number,
  end: number,
  timeS: Float64Array,
  delayS: Float64Array,
  ageS: number,
  bandFrom: Int32Array,
  bandTo: Int32Array,
): void => {
  let { from, to, recent, slowest } = at;
  for (let i = begin; i < end; i++) {
    // What a slower engine sent off a moment ago arrives late still.
    while (timeS[recent] < timeS[i] - SLUG_S) recent++;
    if (slowest < recent) {
      slowest = recent;
      for (let k = recent + 1; k <= i; k++) if (delayS[k] >= delayS[slowest]) slowest = k;
    } else if (delayS[i] >= delayS[slowest]) slowest = i;
    const earliestS = timeS[i] - EARLIEST_DELAYS * delayS[slowest] - GUARD_S - ageS,
      latestS = timeS[i] - LATEST_DELAYS * delayS[i];
    while (from < i && timeS[from] < earliestS) from++;
    while (from > 0 && timeS[from - 1] >= earliestS) from--;
    while (to < i && timeS[to + 1] <= latestS) to++;
    while (to > 0 && timeS[to] > latestS) to--;
    // Between two readings of a slow log nobody knows when the load came and went: both are asked.
    const first = Math.max(0, from - 1),
      last = Math.max(first, to < i && timeS[to] < latestS ? to + 1 : to);
    bandFrom[i] = first;
    bandTo[i] = last;
  }
  at.from = from;
  at.to = to;
  at.recent = recent;
  at.slowest = slowest;
};

/** 1 where every sample of a band is marked. */
const markWhole = (marks: Uint8Array, bandFrom: Int32Array, bandTo: Int32Array): Uint8Array => {
  const whole = new Uint8Array(marks.length);
  if (!marks.includes(1)) return whole;
  // The marks that the last band began in.
  let from = 0,
    to = 0;
  for (let i = 0; i < whole.length; i++) {
    const first = bandFrom[i];
    if (marks[first] === 0) continue;
    if (first < from || first >= to) {
      from = first;
      to = endOfMarks(marks, first);
    }
    if (bandTo[i] < to) whole[i] = 1;
  }
  return whole;
};
