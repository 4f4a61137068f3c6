// Where a channel keeps one value: nearly all that is asked of equal readings is asked of those that last, and of a living channel these are few.

import { limitOf } from '../formats/limits.js';
import type { Shelf } from '../formats/shelf.js';
import type { Track } from './hold.js';
import type { Readings } from './readings.js';
import { BLOCK_ROWS } from './statistics.js';

/** The first reading of each run of equal ones that lasts `leastS` or longer, to the reading behind it (the last run: to its own last reading). */
const findLasting = ({ values, rows, count }: Pick<Track, 'values' | 'rows' | 'count'>, timeS: Float64Array, leastS: number): Int32Array => {
  if (count === 0) return new Int32Array(0);
  const found: Found = { starts: new Int32Array(FEW), size: 0, from: 0, sinceS: timeS[rows[0]] };
  for (let k = 1; k < count; k += BLOCK_ROWS) findIn(found, values, rows, timeS, leastS, k, Math.min(count, k + BLOCK_ROWS));
  if (timeS[rows[count - 1]] - found.sinceS >= leastS) keepRun(found);
  return found.starts.slice(0, found.size);
};

/** The runs found so far, and where and when the one at hand began. */
interface Found { starts: Int32Array<ArrayBuffer>; size: number; from: number; sinceS: number }

const findIn = (found: Found, values: Float64Array, rows: Int32Array, timeS: Float64Array, leastS: number, first: number, to: number): void => {
  let { sinceS } = found;
  for (let k = first; k < to; k++) {
    if (values[k] === values[k - 1]) continue;
    const untilS = timeS[rows[k]];
    if (untilS - sinceS >= leastS) keepRun(found);
    found.from = k;
    sinceS = untilS;
  }
  found.sinceS = sinceS;
};

const keepRun = (found: Found): void => {
  if (found.size === found.starts.length) found.starts = widerOf(found.starts);
  found.starts[found.size++] = found.from;
};

const FEW = 256;

/** A column twice as long with the same beginning. */
export const widerOf = (column: Int32Array) => { const wider = new Int32Array(2 * column.length); wider.set(column); return wider; };

const keys = new WeakMap<Track, object>();

/** The first readings of the runs of equal ones that last long enough for any fault of standing still, or of leaping away and back, in their order. */
export const lastingRuns = ({ vehicle: { limits }, timeS, session: { shelf } }: Pick<Readings, 'vehicle' | 'timeS'> & { readonly session: { readonly shelf: Shelf } }, track: Track): Int32Array => {
  let key = keys.get(track);
  if (!key) keys.set(track, key = {});
  return shelf.get(key, () => findLasting(track, timeS, Math.min(...(['dropoutS', 'stuckS', 'stillWhileDrivenS'] as const).map((id) => limitOf(id, limits).value))));
};
