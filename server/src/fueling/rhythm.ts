// Channels slower than the log that repeat their last value until the next: which rows are new, and the line between them. Taken row by row, a repeated
// value would be half a period old on the whole, and the delay too long or too short by as much.

import { quantileOf, sampleOf } from '../signals/statistics.js';

/** A channel that is new in every row changes from one row to the next now and then, however still; so few at most of a repeated one's changes follow so soon. */
const STRAY_SHARE = 0.02;
const LEAST_CHANGES = 50;

const known = new WeakMap<Float64Array, { readonly rows: Int32Array | undefined }>();

/** Rows at which a channel is new, where it repeats its last value at a rhythm of its own; undefined where every row, or every filled one, is new. Found once for each column. */
export const freshRows = (values: Float64Array): Int32Array | undefined => {
  let found = known.get(values);
  if (!found) known.set(values, found = { rows: findFresh(values) });
  return found.rows;
};

const findFresh = (values: Float64Array): Int32Array | undefined => {
  const rows: number[] = [];
  const gaps: number[] = [];
  for (let row = 1; row < values.length; row++) {
    if (values[row] !== values[row]) return undefined;
    if (values[row] === values[row - 1]) continue;
    if (rows.length > 0) gaps.push(row - rows[rows.length - 1]);
    rows.push(row);
  }
  if (gaps.length < LEAST_CHANGES) return undefined;
  const sample = sampleOf(Float64Array.from(gaps));
  const period = quantileOf(sample, STRAY_SHARE);
  // What changes seldom is a switch or a thermometer: its moments tell no rhythm.
  if (period < 2 || quantileOf(sample, 0.5) > 2 * period) return undefined;
  // A value that stays may have been read anew: a long run counts as new once a period.
  const fresh: number[] = [];
  rows.forEach((row, at) => { for (let each = row; each + period <= (rows[at + 1] ?? values.length) + 1 || each === row; each += Math.ceil(period)) fresh.push(each); });
  return Int32Array.from(fresh);
};

/** The line between a repeated channel's new values, none to or from nought, where a pulse is off; the column itself where nothing is repeated. */
export const betweenFresh = (values: Float64Array, timeS: Float64Array): Float64Array => {
  const fresh = freshRows(values);
  if (!fresh) return values;
  const line = values.slice();
  for (let at = 0; at + 1 < fresh.length; at++) {
    const [from, to] = [fresh[at], fresh[at + 1]];
    if (values[from] === 0 || values[to] === 0) continue;
    for (let row = from + 1; row < to; row++) line[row] = values[from] + (values[to] - values[from]) * (timeS[row] - timeS[from]) / (timeS[to] - timeS[from]);
  }
  return line;
};
