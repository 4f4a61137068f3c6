// Columns as the plot wants them: null where the line breaks, the close look laid over the wide one, values in the reader's unit.

import type { NumberTable } from '../../server/src/protocol/numberTables.js';

/** `null` breaks a line; `undefined` has nothing to say at that x. */
export type Line = (number | null | undefined)[];

export interface Drawn {
  readonly x: Float64Array;
  readonly columns: readonly Float32Array[];
}

/** How far beyond the close look the wide one is kept, in lengths of the close look: as far as a hand moves before new numbers come. */
const BESIDE = 3;

/** What lies within the close look comes from it, what lies beside it from the wide one. Both have the same columns. */
export function overlaid(wide: NumberTable, close: NumberTable | undefined): Drawn {
  if (!close || close.x.length === 0 || close.columns.length !== wide.columns.length) return wide;
  const first = close.x[0],
    last = close.x[close.x.length - 1],
    reach = BESIDE * (last - first);
  const start = countBelow(wide.x, first - reach),
    before = countBelow(wide.x, first);
  const after = countBelow(wide.x, last, true),
    end = countBelow(wide.x, last + reach, true);
  const length = before - start + close.x.length + end - after;
  const join = <T extends Float64Array | Float32Array>(into: T, outer: T, inner: T): T => {
    into.set(outer.subarray(start, before) as never, 0);
    into.set(inner as never, before - start);
    into.set(outer.subarray(after, end) as never, before - start + inner.length);
    return into;
  };
  return {
    x: join(new Float64Array(length), wide.x, close.x),
    columns: wide.columns.map((column, k) => join(new Float32Array(length), column, close.columns[k])),
  };
}

/** How many of a rising list are below a value (or not above it). */
export function countBelow(rising: ArrayLike<number>, value: number, orEqual = false): number {
  let low = 0,
    high = rising.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rising[middle] < value || (orEqual && rising[middle] === value)) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** A column in the reader's unit. */
export function lineOf(column: Float32Array, convert: (value: number) => number): Line {
  const line: Line = new Array<number | null>(column.length);
  for (let i = 0; i < line.length; i++) {
    const value = column[i];
    line[i] = value === value ? convert(value) : null;
  }
  return line;
}

/** Lowest and highest of a line; undefined of nothing. */
export function extremesOf(lines: readonly Line[]): readonly [low: number, high: number] | undefined {
  let low = Infinity,
    high = -Infinity;
  for (const line of lines) {
    for (const value of line) {
      if (typeof value !== 'number') continue;
      if (value < low) low = value;
      if (value > high) high = value;
    }
  }
  return low <= high ? [low, high] : undefined;
}

/** The row whose x is nearest. */
export function nearestRow(x: ArrayLike<number>, at: number): number {
  const after = countBelow(x, at);
  if (after <= 0) return 0;
  if (after >= x.length) return x.length - 1;
  return at - x[after - 1] < x[after] - at ? after - 1 : after;
}

/** Lines over x of their own brought over one x: rising, each value once; nothing where a line has no point. */
export function overOneX(tables: readonly { readonly x: ArrayLike<number>; readonly lines: readonly Line[] }[]): {
  readonly x: Float64Array;
  readonly lines: readonly Line[];
} {
  const x = Float64Array.from(new Set(tables.flatMap((table) => Array.from(table.x)))).sort();
  const lines = tables.flatMap((table) => {
    const out = table.lines.map((): Line => new Array<undefined>(x.length).fill(undefined));
    let row = 0;
    for (let i = 0; i < x.length && row < table.x.length; i++) {
      if (x[i] !== table.x[row]) continue;
      table.lines.forEach((line, k) => {
        out[k][i] = line[row];
      });
      row++;
    }
    return out;
  });
  return { x, lines };
}
