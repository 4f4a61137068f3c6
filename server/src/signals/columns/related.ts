// What a channel should read, learnt from this very log: its usual value at each meeting of two related channels.
// Used to tell a reading that jumped from an engine that did.

import type { QuantityId } from '../../quantities/quantity.js';
import { hold, type Track } from './hold.js';
import { onceFor } from '../once.js';
import type { Readings } from '../readings.js';
import { median, placeIn, quantileOf, sampleOf } from './statistics.js';

const BINS = 14;
const LEAST_IN_BIN = 5;

const PREDICTORS: Readonly<Partial<Record<QuantityId, readonly (readonly [QuantityId, QuantityId])[]>>> = {
  throttle: [
    ['manifold-pressure', 'engine-speed'],
    ['engine-load', 'engine-speed'],
    ['mass-air-flow', 'engine-speed'],
    ['injector-pulse-width', 'engine-speed'],
    ['pedal', 'engine-speed'],
  ],
  pedal: [
    ['throttle', 'engine-speed'],
    ['manifold-pressure', 'engine-speed'],
  ],
  'manifold-pressure': [
    ['throttle', 'engine-speed'],
    ['engine-load', 'engine-speed'],
    ['mass-air-flow', 'engine-speed'],
    ['pedal', 'engine-speed'],
  ],
  'mass-air-flow': [
    ['manifold-pressure', 'engine-speed'],
    ['throttle', 'engine-speed'],
  ],
  'mass-air-flow-signal': [
    ['manifold-pressure', 'engine-speed'],
    ['throttle', 'engine-speed'],
  ],
  'engine-load': [
    ['manifold-pressure', 'engine-speed'],
    ['throttle', 'engine-speed'],
  ],
  'injector-pulse-width': [
    ['manifold-pressure', 'engine-speed'],
    ['throttle', 'engine-speed'],
  ],
  'injector-duty': [
    ['manifold-pressure', 'engine-speed'],
    ['throttle', 'engine-speed'],
  ],
  'ignition-advance': [
    ['manifold-pressure', 'engine-speed'],
    ['throttle', 'engine-speed'],
  ],
  'fuel-pressure': [['manifold-pressure', 'engine-speed']],
  'oil-pressure': [
    ['oil-temperature', 'engine-speed'],
    ['coolant-temperature', 'engine-speed'],
  ],
};

export interface Expected {
  /** Usual value at a sample; NaN where the log never was there often enough. Asked for once before a loop. */
  at(): (sample: number) => number;
  /** Robust spread of the channel about it (1.4826 × median absolute deviation). */
  readonly spread: number;
  elsewhere(from: number, to: number): Elsewhere;
  /** The first of the two channels that tell it. */
  readonly by: QuantityId;
  readonly teller: Float64Array;
}

/** What is usual as learnt outside of the samples `[from, to)` alone. */
export interface Elsewhere {
  /** With nine in ten of the values there; undefined where the log never was there often enough. */
  at(sample: number): Usual | undefined;
  /**
   * Seconds within `[from, to)`, looked at every `stride` samples, for which the other channels met where something unlike is usual.
   * Infinite where the clock steps back.
   */
  unlikeS(timeS: Float64Array, stride: number, isUnlike: (usual: Usual) => boolean): number;
}

export interface Usual {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

const learnt = new WeakMap<Track, Map<string, Expected | undefined>>();

/**
 * What the track's channel should read, by the first pair of related channels that is logged; undefined where none is. Learnt once for each
 * track.
 */
export const expectedOf = (readings: Pick<Readings, 'channel' | 'held' | 'timeS'>, track: Track): Expected | undefined => {
  for (const pair of pairsOf(readings, track)) return learnFrom(readings, track, pair);
  return undefined;
};

/** The same by every pair that is logged. */
export const allExpectedOf = (readings: Pick<Readings, 'channel' | 'held' | 'timeS'>, track: Track): Expected[] =>
  pairsOf(readings, track).flatMap((pair) => learnFrom(readings, track, pair) ?? []);

type Pair = readonly [QuantityId, QuantityId];

const pairsOf = ({ channel }: Pick<Readings, 'channel'>, { channel: { quantity } }: Track): Pair[] =>
  ((quantity && PREDICTORS[quantity]) ?? []).filter(([a, b]) => channel(a) && channel(b));

const learnFrom = ({ held, timeS }: Pick<Readings, 'channel' | 'held' | 'timeS'>, track: Track, [a, b]: Pair): Expected | undefined => {
  let known = learnt.get(track);
  if (!known) learnt.set(track, (known = new Map()));
  if (!known.has(a)) known.set(a, learn(hold(track, timeS), held, a, b));
  return known.get(a);
};

type Scale = readonly [low: number, perUnit: number];

/** By the held column: one channel tells of several. */
const scaleOf = onceFor((column: Float64Array): Scale | undefined => {
  const sample = sampleOf(column),
    low = quantileOf(sample, 0.01),
    high = quantileOf(sample, 0.99);
  return high > low ? [low, BINS / (high - low)] : undefined;
});

const clampBin = (x: number): number => (x < 0 ? 0 : x >= BINS ? BINS - 1 : Math.floor(x));
const binOf = (first: number, second: number, firstLow: number, perFirst: number, secondLow: number, perSecond: number): number => {
  const x = (first - firstLow) * perFirst,
    y = (second - secondLow) * perSecond;
  return x === x && y === y ? clampBin(x) * BINS + clampBin(y) : -1;
};

interface Learnt {
  readonly members: readonly { readonly rows: number[]; readonly values: number[] }[];
  readonly usual: readonly number[];
  readonly away: readonly number[];
}

const learnBins = (values: Float64Array, first: Float64Array, second: Float64Array, onFirst: Scale, onSecond: Scale): Learnt => {
  const stride = Math.max(1, Math.floor(values.length / 20000)),
    bins = binsOf(first, second, onFirst, onSecond, stride);
  const members: { readonly rows: number[]; readonly values: number[] }[] = Array.from({ length: BINS * BINS }, () => ({
    rows: [],
    values: [],
  }));
  addMembers(members, values, bins, stride);
  const usual = members.map(middleOf);
  return { members, usual, away: awayFrom(usual, values, bins, stride) };
};

const middleOf = ({ values }: Learnt['members'][number]): number =>
  values.length >= LEAST_IN_BIN ? median(new Float64Array(values)) : NaN;

// The loops below are functions of their own: what is compiled of one is small.

/** The bin of each row that stands a multiple of `stride` from the first, −1 of none. */
const binsOf = (
  first: Float64Array,
  second: Float64Array,
  [firstLow, perFirst]: Scale,
  [secondLow, perSecond]: Scale,
  stride: number,
): Int16Array => {
  const bins = new Int16Array(Math.ceil(first.length / stride));
  for (let k = 0, i = 0; k < bins.length; k++, i += stride) bins[k] = binOf(first[i], second[i], firstLow, perFirst, secondLow, perSecond);
  return bins;
};

const addMembers = (members: Learnt['members'], values: Float64Array, bins: Int16Array, stride: number): void => {
  for (let k = 0, i = 0; k < bins.length; k++, i += stride) {
    const value = values[i];
    if (bins[k] < 0 || value !== value) continue;
    const { rows, values: own } = members[bins[k]];
    rows.push(i);
    own.push(value);
  }
};

/** How far a third of them lie off what is usual in their bin. */
const awayFrom = (usual: readonly number[], values: Float64Array, bins: Int16Array, stride: number): number[] => {
  const away: number[] = [];
  for (let k = 0; k < bins.length; k += 3) {
    const off = bins[k] < 0 ? NaN : Math.abs(values[k * stride] - usual[bins[k]]);
    if (off === off) away.push(off);
  }
  return away;
};

/** What is learnt holds no column: it asks for them again. */
const learn = (values: Float64Array, held: Readings['held'], by: QuantityId, second: QuantityId): Expected | undefined => {
  const onFirst = scaleOf(held(by)!),
    onSecond = scaleOf(held(second)!);
  if (!onFirst || !onSecond) return undefined;
  const { members, usual, away } = learnBins(values, held(by)!, held(second)!, onFirst, onSecond);
  /** The bin of a sample, −1 of none, for as long as somebody asks. */
  const bins = (): ((i: number) => number) => {
    const first = held(by)!,
      other = held(second)!,
      [firstLow, perFirst] = onFirst,
      [otherLow, perOther] = onSecond;
    return (i) => binOf(first[i], other[i], firstLow, perFirst, otherLow, perOther);
  };
  const at = (): ((i: number) => number) => {
    const binAt = bins();
    return (i) => {
      const bin = binAt(i);
      return bin < 0 ? NaN : usual[bin];
    };
  };
  const sorted: Member[] = [],
    whole: { readonly usual: Usual | undefined }[] = [];
  const elsewhere = (from: number, to: number) => {
    const found: { readonly usual: Usual | undefined }[] = [],
      binAt = bins();
    const find = (bin: number): { readonly usual: Usual | undefined } => {
      const member = (sorted[bin] ??= byValue(members[bin].values)),
        { rows } = members[bin];
      const first = placeIn(rows, from),
        behind = placeIn(rows, to);
      return behind > first ? { usual: usualOf(member, first, behind) } : (whole[bin] ??= { usual: usualOf(member, 0, 0) });
    };
    const at = (i: number): Usual | undefined => {
      const bin = binAt(i);
      return bin < 0 ? undefined : (found[bin] ??= find(bin)).usual;
    };
    const unlikeS = (timeS: Float64Array, stride: number, isUnlike: (usual: Usual) => boolean): number => {
      const met = binsOf(held(by)!.subarray(from, to), held(second)!.subarray(from, to), onFirst, onSecond, stride),
        unlike = new Uint8Array(BINS * BINS);
      for (const bin of eachOf(met)) {
        const { usual } = (found[bin] ??= find(bin));
        if (usual && isUnlike(usual)) unlike[bin] = 1;
      }
      return unlike.includes(1) ? secondsIn(unlike, met, timeS, from, to, stride) : 0;
    };
    return { at, unlikeS };
  };
  return away.length < 20
    ? undefined
    : {
        at,
        spread: 1.4826 * median(new Float64Array(away)),
        elsewhere,
        by,
        get teller() {
          return held(by)!;
        },
      };
};

/** The bins that are met, each once. */
const eachOf = (met: Int16Array): number[] => {
  const bins: number[] = [],
    asked = new Uint8Array(BINS * BINS);
  for (let k = 0; k < met.length; k++) {
    const bin = met[k];
    if (bin < 0 || asked[bin] === 1) continue;
    asked[bin] = 1;
    bins.push(bin);
  }
  return bins;
};

/** Seconds from the first to behind the last look of each time in bins that are marked. */
const secondsIn = (marked: Uint8Array, bins: Int16Array, timeS: Float64Array, from: number, to: number, stride: number): number => {
  let seconds = 0,
    since = -1;
  for (let k = 0, i = from; k < bins.length; k++, i += stride) {
    if (k > 0 && !(timeS[i] >= timeS[i - stride])) return Infinity;
    const isIn = bins[k] >= 0 && marked[bins[k]] === 1;
    if (isIn && since < 0) since = i;
    else if (!isIn && since >= 0) {
      seconds += timeS[i] - timeS[since];
      since = -1;
    }
  }
  if (!(timeS[to - 1] >= timeS[from + (bins.length - 1) * stride])) return Infinity;
  return since < 0 ? seconds : seconds + timeS[to - 1] - timeS[since];
};

/** What one bin holds, by value, and where each number stands among them, in the order of the rows. */
interface Member {
  readonly values: Float64Array;
  readonly places: Int32Array;
}

const byValue = (numbers: readonly number[]): Member => {
  const values = new Float64Array(numbers).sort(),
    places = new Int32Array(values.length),
    equals = new Int32Array(values.length);
  // Equal ones stand one behind the other.
  for (let k = 0; k < places.length; k++) {
    const first = placeIn(values, numbers[k]);
    places[k] = first + equals[first]++;
  }
  return { values, places };
};

/** Of the values but those from one on, in the order of the rows, to before another. */
const usualOf = ({ values, places }: Member, from: number, to: number): Usual | undefined => {
  const count = values.length - (to - from);
  if (count < LEAST_IN_BIN) return undefined;
  const left = places.slice(from, to).sort();
  const at = (place: number): number => {
    let among = place;
    for (let k = 0; k < left.length && left[k] <= among; k++) among++;
    return values[among];
  };
  const lower = at((count - 1) >> 1),
    upper = at(count >> 1);
  return { value: count % 2 === 1 ? upper : (lower + upper) / 2, low: at(Math.floor(0.05 * count)), high: at(Math.floor(0.95 * count)) };
};
