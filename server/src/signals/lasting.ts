// Where a channel keeps one value: nearly all that is asked of equal readings is asked of those that last, and of a living channel these are few.

import { limitOf } from '../formats/limits.js';
import type { Shelf } from '../formats/shelf.js';
import type { Track } from './hold.js';
import type { Readings } from './readings.js';

/** The first reading of each run of equal ones that lasts `leastS` or longer, to the reading behind it (the last run: to its own last reading). */
const findLasting = ({ values, rows, count }: Pick<Track, 'values' | 'rows' | 'count'>, timeS: Float64Array, leastS: number): Int32Array => {
  let found = new Int32Array(FEW), size = 0, from = 0, sinceS = count > 0 ? timeS[rows[0]] : NaN;
  for (let k = 1; k <= count; k++) {
    if (k < count && values[k] === values[k - 1]) continue;
    const untilS = timeS[rows[k < count ? k : count - 1]];
    if (untilS - sinceS >= leastS) {
      if (size === found.length) found = widerOf(found);
      found[size++] = from;
    }
    from = k;
    sinceS = untilS;
  }
  return found.slice(0, size);
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
