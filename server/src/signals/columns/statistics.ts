// Robust numbers over columns: quantiles, spread, the step a quantised channel moves in. Missing is NaN and left out.

import { medianByPlace, selected } from '../../formats/median.js';

/** How many values a quantile looks at: more change the answer by less than the noise of any channel, and cost a sort. */
const QUANTILE_SAMPLES = 2500;

/** An evenly strided sample of the numbers in `values[from, to)`, of those that are marked where `marks` is given; the caller's own. */
export const sampleOf = (values: Float64Array | Float32Array, from = 0, to = values.length, marks?: Uint8Array): Float64Array => {
  const stride = Math.max(1, Math.floor((to - from) / QUANTILE_SAMPLES));
  const kept = new Float64Array(Math.ceil((to - from) / stride) || 0),
    count = keepNumbers(kept, 0, values, from, to, marks, stride);
  // A stride in step with a slow channel's blanks sees none of its numbers.
  if (count < 50 && stride > 1) {
    const all = numbersOf(values, from, to, marks);
    return sampleOf(all, 0, all.length);
  }
  return kept.subarray(0, count);
};

/** The same of the numbers that `valueAt` gives of `of` for `[0, count)`, without a column of them. */
export const sampleBy = <Of>(count: number, of: Of, valueAt: (of: Of, i: number) => number): Float64Array => {
  const stride = Math.max(1, Math.floor(count / QUANTILE_SAMPLES)),
    kept = new Float64Array(Math.ceil(count / stride));
  let found = 0;
  for (let i = 0; i < count; i += stride) {
    const value = valueAt(of, i);
    if (value === value) kept[found++] = value;
  }
  return found < 50 && stride > 1
    ? sampleOf(Float64Array.from({ length: count }, (_, i) => valueAt(of, i)).filter((value) => value === value))
    : kept.subarray(0, found);
};

/** Where a number stands, or would stand, before its equals among rising ones, of which the first `count` are looked at. */
export const placeIn = (rising: ArrayLike<number>, number: number, count = rising.length): number => {
  let low = 0,
    high = count;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rising[middle] < number) low = middle + 1;
    else high = middle;
  }
  return low;
};

/** The numbers in `values[from, to)`, of those that are marked where `marks` is given. */
export const numbersOf = (values: Float64Array | Float32Array, from = 0, to = values.length, marks?: Uint8Array): Float64Array => {
  // Of a long column often few are marked.
  let kept: Float64Array = new Float64Array(Math.max(0, Math.min(to - from, QUANTILE_SAMPLES))),
    count = 0;
  for (let at = from; at < to; at += BLOCK_ROWS) {
    if (kept.length < Math.min(count + BLOCK_ROWS, to - from)) kept = roomier(kept, to - from);
    count = keepNumbers(kept, count, values, at, Math.min(to, at + BLOCK_ROWS), marks);
  }
  return kept.subarray(0, count);
};

/** Twice as long with the same beginning, or as long as it may be. */
const roomier = (kept: Float64Array, most: number): Float64Array => {
  const wider = new Float64Array(Math.min(2 * kept.length, most));
  wider.set(kept);
  return wider;
};

/** By itself: what follows such a loop is not compiled with it, and would have it thrown away each time. */
const keepNumbers = (
  kept: Float64Array,
  from: number,
  values: Float64Array | Float32Array,
  begin: number,
  end: number,
  marks: Uint8Array | undefined,
  stride = 1,
): number => {
  let count = from;
  for (let i = begin; i < end; i += stride) if (values[i] === values[i] && (!marks || marks[i] === 1)) kept[count++] = values[i];
  return count;
};

/** Where the `share` quantile stands among so many numbers in order (nearest rank below, no interpolation). */
const placeOf = (count: number, share: number): number => Math.min(count - 1, Math.max(0, Math.floor(share * count)));

/** The `share` quantile of numbers, which it reorders: choosing one costs a fraction of sorting them. NaN of nothing. */
export const quantileOf = (numbers: Float64Array, share: number): number =>
  numbers.length === 0 ? NaN : selected(numbers, placeOf(numbers.length, share));

/** Median of the numbers in a column (a long one is strided); of the marked ones where `marks` is given. */
export const median = (values: Float64Array | Float32Array, marks?: Uint8Array): number =>
  medianByPlace(sampleOf(values, 0, values.length, marks));

/** Median absolute deviation from the median; × 1.4826 estimates a normal spread. */
export const mad = (values: Float64Array | Float32Array): number => {
  const middle = median(values);
  const away = new Float64Array(values.length);
  for (let i = 0; i < values.length; i++) away[i] = Math.abs(values[i] - middle);
  return median(away);
};

// The searches below are functions of their own because they are called for every channel: a loop that the compiler has met before
// runs at full speed from its first turn, one inside a longer function starts anew each time. And what is compiled of a function that is
// made anew for each session is let go with it: what goes over all rows stands in none of those.

/** First index from `from` on, below `to`, whose value is below `low` or above `high`; `to` where there is none. */
export const nextOutside = (values: Float64Array, from: number, to: number, low: number, high: number): number => {
  for (let k = from; k < to; k++) {
    const value = values[k];
    if (value < low || value > high) return k;
  }
  return to;
};

/** First index from `from` on, below `to`, whose value is neither below `low` nor above `high` (or is none); `to` where there is none. */
export const endOfOutside = (values: Float64Array, from: number, to: number, low: number, high: number): number => {
  let k = from;
  while (k < to && (values[k] < low || values[k] > high)) k++;
  return k;
};

/**
 * First index from `from` on, in steps of `stride`, whose value equals the one a stride before; where there is none below `to` the first of
 * them that is not below it.
 */
export const nextRepeat = (values: Float64Array, from: number, to: number, stride: number): number => {
  let k = from;
  while (k < to && values[k] !== values[k - stride]) k += stride;
  return k;
};

/** Index behind the readings that equal the one at `from`. */
export const endOfEqual = (values: Float64Array, from: number, to: number): number => {
  const value = values[from];
  let k = from + 1;
  while (k < to && values[k] === value) k++;
  return k;
};

/** Index of the first of the readings on end that equal the one at `at`. */
export const startOfEqual = (values: Float64Array, at: number): number => {
  const value = values[at];
  let k = at;
  while (k > 0 && values[k - 1] === value) k--;
  return k;
};

/** Smallest and greatest number of `values[from, to)`; NaN both of nothing. */
export const extremes = (values: ArrayLike<number>, from = 0, to = values.length): readonly [low: number, high: number] => {
  const { least, greatest } = rangeOf(values, from, to);
  return [least, greatest];
};

/** Greatest number of `values[from, to)`, NaN of none: for whoever asks at every sample. */
export const greatestOf = (values: Float64Array, from = 0, to = values.length): number => {
  let greatest = -Infinity;
  for (let i = from; i < to; i++) if (values[i] > greatest) greatest = values[i];
  return greatest === -Infinity ? NaN : greatest;
};

/** Smallest number of `values[from, to)`, NaN of none. */
export const leastOf = (values: Float64Array, from = 0, to = values.length): number => {
  let least = Infinity;
  for (let i = from; i < to; i++) if (values[i] < least) least = values[i];
  return least === Infinity ? NaN : least;
};

/** How many numbers `values[from, to)` holds, the smallest and the greatest (NaN both of none): one pass. */
export const rangeOf = (
  values: ArrayLike<number>,
  from = 0,
  to = values.length,
): { readonly count: number; readonly least: number; readonly greatest: number } => {
  const found = { count: 0, least: Infinity, greatest: -Infinity };
  for (let at = from; at < to; at += BLOCK_ROWS) widen(found, values, at, Math.min(to, at + BLOCK_ROWS));
  return found.count > 0 ? found : { count: 0, least: NaN, greatest: NaN };
};

/**
 * Rows that a loop over a whole column goes through at a time: what has been compiled of it meanwhile is used from the next block on, not
 * only in the next column.
 */
export const BLOCK_ROWS = 2048;

const widen = (found: { count: number; least: number; greatest: number }, values: ArrayLike<number>, from: number, to: number): void => {
  let { count, least, greatest } = found;
  for (let i = from; i < to; i++) {
    const value = values[i];
    if (value !== value) continue;
    count++;
    if (value < least) least = value;
    if (value > greatest) greatest = value;
  }
  found.count = count;
  found.least = least;
  found.greatest = greatest;
};

/** The step that a channel is quantised in: its smallest usual change between neighbours that differ; 0 where it never changes. */
export const quantisedStep = (values: ArrayLike<number>, count = values.length): number => {
  const changes = new Float64Array(Math.min(count, 4000));
  const stride = Math.max(1, Math.floor(count / 4000));
  let found = 0;
  for (let i = stride; i < count && found < changes.length; i += stride) {
    const change = Math.abs(values[i] - values[i - 1]);
    if (change > 0) changes[found++] = change;
  }
  return found === 0 ? 0 : quantileOf(changes.subarray(0, found), 0.02);
};

/** So many changes by a single step show it, and so near to its multiples (share of a step) so many of the numbers lie. No source. */
const LEAST_SHOWN = 20,
  ON_MULTIPLE = 0.1,
  ON_MULTIPLES = 0.9;

/** The step that columns are written in, whose multiples their numbers are; 0 where too few changes show one: a leap is none. */
export const writtenStep = (columns: readonly Float64Array[]): number => {
  const least = Math.min(...columns.map((values) => quantisedStep(values) || Infinity));
  let sum = 0,
    shown = 0,
    count = 0,
    on = 0;
  for (const values of columns)
    for (let i = 1; i < values.length; i++) {
      const change = Math.abs(values[i] - values[i - 1]);
      if (!(change > least / 2 && change < 1.5 * least)) continue;
      sum += change;
      shown++;
    }
  if (shown < LEAST_SHOWN) return 0;
  const step = sum / shown;
  for (const values of columns)
    for (let i = 0; i < values.length; i++) {
      const value = values[i];
      if (value !== value) continue;
      count++;
      if (Math.abs(value / step - Math.round(value / step)) <= ON_MULTIPLE) on++;
    }
  return on >= ON_MULTIPLES * count ? step : 0;
};
