// Lowest and highest of any stretch of a channel in a few steps, however long the log: what a plot draws of a million samples.
// Nothing is averaged, so a spike of one sample is always among the points drawn.

/** Blocks of one length, one after the other: the sample of each block's lowest and highest value, −1 where the block holds no number. */
interface Level {
  readonly size: number;
  readonly low: Int32Array;
  readonly high: Int32Array;
}

export interface Pyramid {
  readonly values: ArrayLike<number>;
  readonly levels: readonly Level[];
}

/** Samples in a block of the lowest level, and blocks of a level in one of the next. */
const BASE = 16;
const FAN = 4;

/** About two thirds of a byte a sample; one pass over the values. */
export function pyramidOf(values: ArrayLike<number>): Pyramid {
  const levels: Level[] = [];
  const count = Math.ceil(values.length / BASE);
  let low = new Int32Array(count),
    high = new Int32Array(count);
  for (let block = 0; block < count; block++) {
    const end = Math.min(values.length, (block + 1) * BASE);
    let lowAt = -1,
      highAt = -1;
    for (let i = block * BASE; i < end; i++) {
      const value = values[i];
      if (value !== value) continue;
      if (lowAt < 0 || value < values[lowAt]) lowAt = i;
      if (highAt < 0 || value > values[highAt]) highAt = i;
    }
    low[block] = lowAt;
    high[block] = highAt;
  }
  for (let size = BASE; ; size *= FAN) {
    levels.push({ size, low, high });
    if (low.length <= FAN) return { values, levels };
    const below = { low, high },
      above = Math.ceil(low.length / FAN);
    low = new Int32Array(above);
    high = new Int32Array(above);
    for (let block = 0; block < above; block++) {
      const found = { low: -1, high: -1 };
      const end = Math.min(below.low.length, (block + 1) * FAN);
      for (let k = block * FAN; k < end; k++) take(values, found, below.low[k], below.high[k]);
      low[block] = found.low;
      high[block] = found.high;
    }
  }
}

interface Extremes {
  low: number;
  high: number;
}

function take(values: ArrayLike<number>, found: Extremes, low: number, high: number): void {
  if (low < 0) return;
  if (found.low < 0 || values[low] < values[found.low]) found.low = low;
  if (found.high < 0 || values[high] > values[found.high]) found.high = high;
}

/** Samples of the lowest and the highest value in `[from, to)`, the first of equals; −1 both where there is no number. */
export function extremesWithin(pyramid: Pyramid, from: number, to: number, found: Extremes = { low: -1, high: -1 }): Extremes {
  found.low = found.high = -1;
  const { values, levels } = pyramid;
  let at = Math.max(0, from);
  const end = Math.min(values.length, to);
  while (at < end) {
    let level = -1;
    while (level + 1 < levels.length && at % levels[level + 1].size === 0 && at + levels[level + 1].size <= end) level++;
    if (level < 0) {
      if (values[at] === values[at]) take(values, found, at, at);
      at++;
    } else {
      const { size, low, high } = levels[level];
      take(values, found, low[at / size], high[at / size]);
      at += size;
    }
  }
  return found;
}

/** Points that stand for a bucket of samples. */
export const POINTS_PER_BUCKET = 4;

/**
 * Each bucket `[edges[k], edges[k + 1])` as four points: its first value, its lowest and highest in the order they came, its last. A bucket
 * that begins or ends without a number has NaN there, so that the line breaks; one with no number at all is four times NaN.
 */
export function decimate(pyramid: Pyramid, edges: ArrayLike<number>): Float32Array {
  const { values } = pyramid;
  const points = new Float32Array(Math.max(0, edges.length - 1) * POINTS_PER_BUCKET).fill(NaN);
  const found: Extremes = { low: -1, high: -1 };
  for (let bucket = 0; bucket + 1 < edges.length; bucket++) {
    const from = edges[bucket],
      to = edges[bucket + 1];
    if (!(from < to) || extremesWithin(pyramid, from, to, found).low < 0) continue;
    const at = bucket * POINTS_PER_BUCKET;
    points[at] = values[from];
    points[at + 1] = values[Math.min(found.low, found.high)];
    points[at + 2] = values[Math.max(found.low, found.high)];
    points[at + 3] = values[to - 1];
  }
  return points;
}
