// How far a channel goes where no other fault was found.

import type { Track } from '../columns/hold.js';
import { BLOCK_ROWS } from '../columns/statistics.js';

/**
 * Smallest and greatest value at rows that are not taken (and, where `rpm` is given, while the engine runs); infinite where there are none.
 */
export const extremesOutside = (track: Track, taken: Uint8Array, rpm?: Float64Array): readonly [number, number] => {
  const { rows, values, count } = track;
  if (!rpm && count > 0 && !taken.includes(1)) return [track.least, track.greatest];
  const found: [number, number] = [Infinity, -Infinity];
  for (let from = 0; from < count; from += BLOCK_ROWS)
    widenOutside(found, rows, values, from, Math.min(count, from + BLOCK_ROWS), taken, rpm ?? NO_SPEED);
  return found;
};

const NO_SPEED = new Float64Array(0);

const widenOutside = (
  found: [number, number],
  rows: Int32Array,
  values: Float64Array,
  from: number,
  to: number,
  taken: Uint8Array,
  rpm: Float64Array,
): void => {
  let [least, greatest] = found;
  for (let k = from; k < to; k++) {
    const value = values[k];
    if (!(value < least || value > greatest) || taken[rows[k]] !== 0 || (rpm.length > 0 && !(rpm[rows[k]] > 400))) continue;
    if (value < least) least = value;
    if (value > greatest) greatest = value;
  }
  found[0] = least;
  found[1] = greatest;
};
