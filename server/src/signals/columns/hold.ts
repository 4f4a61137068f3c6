// Multi-rate columns on one time base: each channel's own rhythm is learnt from where it is filled, and its values are
// carried over the blanks no longer than that rhythm makes believable.

import type { Channel } from '../../formats/session/session.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import type { Shelf } from '../../formats/shelf.js';
import { quantileOf, sampleOf } from './statistics.js';
import { rangeOfColumn } from './stretches.js';

/** A channel without its blanks, and how often it speaks. */
export interface Track {
  readonly channel: Channel;
  /** Sample of each value, rising. */
  readonly rows: Int32Array;
  readonly values: Float64Array;
  readonly count: number;
  /** Usual (median) and long (98 %) distance between filled samples, in rows and seconds. */
  readonly spacingRows: number;
  readonly longSpacingRows: number;
  readonly spacingS: number;
  readonly longSpacingS: number;
  /** How old a value may get before it is no longer shown, seconds. */
  readonly maxAgeS: number;
  /** Smallest and greatest value; NaN both without any. */
  readonly least: number;
  readonly greatest: number;
}

/** A value is carried for this many of the channel's own usual distances (common practice, no source). */
const AGE_SPACINGS = 2.5;

/** The channel's filled samples and rhythm. `everyRow` gives a shared 0, 1, 2, … for channels without blanks. */
export const trackOf = (channel: Channel, timeS: Float64Array, everyRow: () => Int32Array, shelf: Shelf): Track => {
  const { count, least, greatest } = rangeOfColumn(channel.values);
  const isWhole = count === timeS.length,
    rowsKey = {},
    valuesKey = {};
  const rows = (): Int32Array => (isWhole ? everyRow() : shelf.get(rowsKey, () => filledRows(channel.values, count)));
  const rhythm = rhythmOf(rows(), count, timeS);
  return {
    channel,
    count,
    ...rhythm,
    least,
    greatest,
    maxAgeS: Math.max(AGE_SPACINGS * rhythm.spacingS, 1.5 * rhythm.longSpacingS),
    get rows() {
      return rows();
    },
    get values() {
      return isWhole ? channel.values : shelf.get(valuesKey, () => filledValues(channel.values, count));
    },
  };
};

const filledRows = (values: Float64Array, count: number): Int32Array => {
  const rows = new Int32Array(count);
  for (let i = 0, k = 0; k < count; i++) if (values[i] === values[i]) rows[k++] = i;
  return rows;
};

const filledValues = (values: Float64Array, count: number): Float64Array => {
  const kept = new Float64Array(count);
  for (let i = 0, k = 0; k < count; i++) if (values[i] === values[i]) kept[k++] = values[i];
  return kept;
};

type Rhythm = Pick<Track, 'spacingRows' | 'longSpacingRows' | 'spacingS' | 'longSpacingS'>;

/** By the rows: channels without blanks share theirs. */
const rhythms = new WeakMap<Int32Array, Rhythm>();

const rhythmOf = (rows: Int32Array, count: number, timeS: Float64Array): Rhythm => {
  const known = rhythms.get(rows);
  if (known) return known;
  const stride = Math.max(1, Math.floor(count / 5000));
  const gapRows = new Float64Array(Math.ceil(count / stride)),
    gapS = new Float64Array(gapRows.length);
  let gaps = 0;
  for (let k = 1; k < count; k += stride) {
    gapRows[gaps] = rows[k] - rows[k - 1];
    gapS[gaps++] = timeS[rows[k]] - timeS[rows[k - 1]];
  }
  const byRows = sampleOf(gapRows, 0, gaps),
    byS = sampleOf(gapS, 0, gaps);
  // The longest three may be dropouts even where readings are few.
  const long = Math.min(0.98, Math.max(0.5, 1 - 4 / Math.max(gaps, 1)));
  const rhythm: Rhythm = {
    spacingRows: quantileOf(byRows, 0.5) || 1,
    longSpacingRows: quantileOf(byRows, long) || 1,
    spacingS: quantileOf(byS, 0.5) || 0,
    longSpacingS: quantileOf(byS, long) || 0,
  };
  rhythms.set(rows, rhythm);
  return rhythm;
};

/** The track on every sample: interpolated or held by its quantity, NaN where the last value is older than `maxAgeS`. */
export const hold = (track: Track, timeS: Float64Array): Float64Array => {
  const { rows, values, count, maxAgeS, channel } = track;
  if (count === timeS.length) return channel.values;
  const held = new Float64Array(timeS.length).fill(NaN);
  const interpolate = channel.quantity !== undefined && QUANTITIES[channel.quantity].between === 'interpolate';
  for (let k = 0; k < count; k++) {
    const from = rows[k],
      until = k + 1 < count ? rows[k + 1] : timeS.length;
    const value = values[k];
    held[from] = value;
    if (until === from + 1) continue;
    const startS = timeS[from];
    const spanS = k + 1 < count ? timeS[until] - startS : Infinity;
    const slope = interpolate && spanS <= maxAgeS && spanS > 0 ? (values[k + 1] - value) / spanS : 0;
    for (let i = from + 1; i < until; i++) {
      const ageS = timeS[i] - startS;
      if (ageS > maxAgeS) break;
      held[i] = value + slope * ageS;
    }
  }
  return held;
};
