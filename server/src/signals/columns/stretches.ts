// The least and the greatest number of each stretch of a column, found once: most of what is asked of a column most of its stretches answer
// without a look at their rows.

import { onceFor } from '../once.js';

/** Rows of a stretch: some seconds of a drive. */
export const STRETCH_ROWS = 256;

export interface Stretches {
  /** Infinite, the other way round, without any number. */
  readonly least: Float64Array;
  readonly greatest: Float64Array;
  /** How many of its rows hold a number. */
  readonly numbers: Uint16Array;
}

/** Of a whole column that is never written to again: a view of a part of one is another column. */
export const stretchesOf = onceFor((values: Float64Array): Stretches => measure(values));

const measure = (values: Float64Array): Stretches => {
  const count = Math.ceil(values.length / STRETCH_ROWS);
  const stretches = { least: new Float64Array(count), greatest: new Float64Array(count), numbers: new Uint16Array(count) };
  for (let at = 0; at < count; at++) measureOne(stretches, values, at, Math.min(values.length, (at + 1) * STRETCH_ROWS));
  return stretches;
};

const measureOne = ({ least, greatest, numbers }: Stretches, values: Float64Array, at: number, to: number): void => {
  let low = Infinity,
    high = -Infinity,
    found = 0;
  for (let i = at * STRETCH_ROWS; i < to; i++) {
    const value = values[i];
    if (value !== value) continue;
    found++;
    if (value < low) low = value;
    if (value > high) high = value;
  }
  least[at] = low;
  greatest[at] = high;
  numbers[at] = found;
};

/** First row behind the stretch that the row lies in, of so many rows. */
export const endOfStretch = (row: number, rows: number): number => Math.min(rows, row - (row % STRETCH_ROWS) + STRETCH_ROWS);

interface Range {
  readonly count: number;
  readonly least: number;
  readonly greatest: number;
}

/** How many numbers a whole column holds, the smallest and the greatest (NaN both of none). */
export const rangeOfColumn = onceFor((values: Float64Array): Range => findRange(values));

const findRange = (values: Float64Array): Range => {
  const stretches = stretchesOf(values);
  let count = 0,
    least = Infinity,
    greatest = -Infinity;
  for (let at = 0; at < stretches.least.length; at++) {
    count += stretches.numbers[at];
    if (stretches.least[at] < least) least = stretches.least[at];
    if (stretches.greatest[at] > greatest) greatest = stretches.greatest[at];
  }
  return count > 0 ? { count, least, greatest } : { count: 0, least: NaN, greatest: NaN };
};

// What follows looks into the stretches alone that may hold what is sought.

/** First row from `from` on, below `to`, whose value is at or below `low` or at or above `high`; `to` where there is none. */
export const nextBeyond = (values: Float64Array, from: number, to: number, low: number, high: number): number => {
  const { least, greatest } = stretchesOf(values);
  for (let k = from; k < to;) {
    const at = Math.floor(k / STRETCH_ROWS),
      end = endOfStretch(k, to);
    if (least[at] <= low || greatest[at] >= high)
      for (; k < end; k++) {
        const value = values[k];
        if (value <= low || value >= high) return k;
      }
    k = end;
  }
  return to;
};

/** First row from `from` on that holds the number; behind the last where there is none. */
export const nextOf = (number: number, values: Float64Array, from: number): number => {
  const { least, greatest } = stretchesOf(values);
  for (let k = from; k < values.length;) {
    const at = Math.floor(k / STRETCH_ROWS),
      end = endOfStretch(k, values.length);
    if (least[at] <= number && greatest[at] >= number) for (; k < end; k++) if (values[k] === number) return k;
    k = end;
  }
  return values.length;
};

/** How many rows hold the number. */
export const timesOf = (number: number, values: Float64Array): number => {
  const { least, greatest, numbers } = stretchesOf(values);
  let times = 0;
  for (let from = 0, at = 0; from < values.length; from += STRETCH_ROWS, at++) {
    if (!(least[at] <= number && greatest[at] >= number)) continue;
    times += least[at] === greatest[at] ? numbers[at] : timesIn(number, values, from, endOfStretch(from, values.length));
  }
  return times;
};

const timesIn = (number: number, values: Float64Array, from: number, to: number): number => {
  let times = 0;
  for (let k = from; k < to; k++) if (values[k] === number) times++;
  return times;
};

/** Whether any of the rows holds more. */
export const isAnyAbove = (limit: number, values: Float64Array, from: number, to: number): boolean => {
  const { greatest } = stretchesOf(values);
  for (let k = from; k < to;) {
    const end = endOfStretch(k, to);
    if (greatest[Math.floor(k / STRETCH_ROWS)] > limit) for (; k < end; k++) if (values[k] > limit) return true;
    k = end;
  }
  return false;
};

/** Smallest and greatest of the numbers within `[low, high]` but for one; NaN both of none. */
export const extremesBut = (number: number, values: Float64Array, low: number, high: number): readonly [number, number] => {
  const stretches = stretchesOf(values),
    found = { least: Infinity, greatest: -Infinity };
  for (let from = 0, at = 0; from < values.length; from += STRETCH_ROWS, at++) {
    const least = stretches.least[at],
      greatest = stretches.greatest[at];
    if (least >= found.least && greatest <= found.greatest) continue;
    if (least >= low && greatest <= high && (number < least || number > greatest)) {
      if (least < found.least) found.least = least;
      if (greatest > found.greatest) found.greatest = greatest;
    } else widenBut(found, number, values, low, high, from, endOfStretch(from, values.length));
  }
  return found.least <= found.greatest ? [found.least, found.greatest] : [NaN, NaN];
};

const widenBut = (
  found: { least: number; greatest: number },
  number: number,
  values: Float64Array,
  low: number,
  high: number,
  from: number,
  to: number,
): void => {
  for (let k = from; k < to; k++) {
    const value = values[k];
    if (value === number || value < low || value > high) continue;
    if (value < found.least) found.least = value;
    if (value > found.greatest) found.greatest = value;
  }
};
