// What a plot of so many pixels needs of a span of time: every sample where they are few, else each bucket's first, lowest, highest and
// last.

import type { NumberTable } from '../../protocol/numberTables.js';
import { decimate, POINTS_PER_BUCKET } from '../../signals/columns/pyramid.js';
import type { Signals } from '../../signals/signals.js';
import { sampleAtTime } from '../../signals/columns/spans.js';
import type { TraceColumn, TraceColumns } from './traceColumns.js';

/** No view may cost more than this on its way to the screen. */
export const MOST_BYTES = 280_000;

export interface TraceWindow {
  readonly table: NumberTable;
  /** Every sample is in it. */ readonly whole: boolean;
  readonly pixels: number;
}

/** Reaches one bucket (or sample) beyond both ends, so that lines run to the edge of the plot. Columns that are undefined are all NaN. */
export function traceWindow(
  signals: Signals,
  columns: TraceColumns,
  wanted: readonly (TraceColumn | undefined)[],
  fromS: number,
  toS: number,
  pixels: number,
): TraceWindow {
  const { timeS } = signals;
  const pointBytes = 8 + 4 * wanted.length;
  const buckets = Math.max(1, Math.min(pixels, Math.floor(MOST_BYTES / pointBytes / POINTS_PER_BUCKET) - 3));
  const from = Math.max(0, sampleAtTime(timeS, fromS) - 1);
  const to = Math.min(timeS.length, sampleAtTime(timeS, toS) + 1);
  if (to - from <= buckets * POINTS_PER_BUCKET) return { table: everySample(timeS, columns, wanted, from, to), whole: true, pixels };
  return { table: byBucket(timeS, columns, wanted, fromS, toS, buckets), whole: false, pixels };
}

/** Collects rows whose x must rise strictly. */
class Rows {
  readonly x: number[] = [];
  /** The point each row shows, −1 for a break in the line. */
  readonly points: number[] = [];

  push(x: number, point: number): void {
    const last = this.x.length > 0 ? this.x[this.x.length - 1] : -Infinity;
    // Repeated times differ by less than a screen can show.
    this.x.push(x > last ? x : last + Math.max(1e-9, Math.abs(last) * 1e-12));
    this.points.push(point);
  }

  table(columns: readonly (ArrayLike<number> | undefined)[]): NumberTable {
    return {
      x: Float64Array.from(this.x),
      columns: columns.map((values) => Float32Array.from(this.points, (point) => (point < 0 || !values ? NaN : values[point]))),
    };
  }
}

function everySample(
  timeS: Float64Array,
  columns: TraceColumns,
  wanted: readonly (TraceColumn | undefined)[],
  from: number,
  to: number,
): NumberTable {
  const rows = new Rows();
  for (let i = from; i < to; i++) {
    if (i > from && columns.breaksBefore(i)) rows.push((timeS[i - 1] + timeS[i]) / 2, -1);
    rows.push(timeS[i], i);
  }
  return rows.table(wanted.map((column) => column?.values));
}

function byBucket(
  timeS: Float64Array,
  columns: TraceColumns,
  wanted: readonly (TraceColumn | undefined)[],
  fromS: number,
  toS: number,
  buckets: number,
): NumberTable {
  // Buckets of a round length at round times: they stay the same while the view is moved, and nothing shimmers.
  const lengthS = 2 ** Math.ceil(Math.log2((toS - fromS) / buckets));
  const first = Math.floor(fromS / lengthS) - 1;
  const count = Math.ceil(toS / lengthS) + 1 - first;
  const edges = new Int32Array(count + 1);
  let at = sampleAtTime(timeS, first * lengthS);
  for (let k = 0; k <= count; k++) {
    const edgeS = (first + k) * lengthS;
    // Most buckets hold many samples; the search starts where the last one ended.
    at = timeS[at] >= edgeS ? at : gallop(timeS, at, edgeS);
    edges[k] = at;
  }
  const points = wanted.map((column) => column && decimate(column.pyramid, edges));
  const rows = new Rows();
  for (let k = 0; k < count; k++) {
    // A bucket without a sample is no gap by itself: a slow log has many.
    if (edges[k] === edges[k + 1]) continue;
    const startS = (first + k) * lengthS;
    if (columns.breaksBefore(edges[k]) && rows.x.length > 0) rows.push(startS, -1);
    for (let n = 0; n < POINTS_PER_BUCKET; n++) rows.push(startS + ((n + 0.5) / POINTS_PER_BUCKET) * lengthS, k * POINTS_PER_BUCKET + n);
  }
  return rows.table(points);
}

/** First sample at or behind a time, known to lie behind `from`. */
function gallop(timeS: Float64Array, from: number, whenS: number): number {
  let step = 1;
  while (from + step < timeS.length && timeS[from + step] < whenS) step *= 2;
  let low = from + (step >> 1),
    high = Math.min(timeS.length, from + step);
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timeS[middle] < whenS) low = middle + 1;
    else high = middle;
  }
  return low;
}
