// A table's breakpoints as a plain grid of cells, and where an operating point stands between them.

import type { Table } from '../../formats/table/table.js';
import { FUEL_TABLE_QUANTITIES } from '../../formats/table/table.js';

export interface Grid {
  /** Breakpoints in canonical units, in file order; a one-dimensional table has one breakpoint (any number) on the other axis. */
  readonly columns: Float64Array;
  readonly rows: Float64Array;
}

/** A table's values, dead time taken off. */
export const fuellingOf = ({ values }: Table, deadTimeMs: number): Float64Array => {
  const fuelling = values.slice();
  for (let cell = 0; cell < fuelling.length; cell++) fuelling[cell] -= deadTimeMs;
  return fuelling;
};

export const gridOf = (table: Table): Grid => ({ columns: table.columns.canonical, rows: table.rows.canonical });

const monotonic = (axis: Float64Array): boolean => {
  for (let at = 0; at < axis.length; at++) {
    if (!Number.isFinite(axis[at]) && axis.length > 1) return false;
    if (at > 1 && (axis[at] - axis[at - 1]) * (axis[1] - axis[0]) <= 0) return false;
  }
  return axis.length > 0 && (axis.length < 2 || axis[0] !== axis[1]);
};

/** Whether readings can speak of the table: it scales fuel, and its axes are known quantities that run one way. */
export const canBeWeighed = (table: Table): boolean =>
  table.quantity !== undefined &&
  FUEL_TABLE_QUANTITIES.includes(table.quantity) &&
  [table.columns, table.rows].every((axis) => monotonic(axis.canonical) && (axis.canonical.length < 2 || axis.quantity !== undefined));

/** Whether evidence placed on one grid holds on another: the same breakpoints. */
export const sameGrid = (a: Grid, b: Grid): boolean =>
  [
    [a.columns, b.columns],
    [a.rows, b.rows],
  ].every(([x, y]) => x.length === y.length && (x.length < 2 || x.every((value, at) => value === y[at])));

/**
 * Where a value stands on an axis, counted in breakpoints: 2.25 is a quarter of the way from the third to the fourth. Held at the ends,
 * as engine controllers read a table. NaN stays NaN.
 */
export const positionOn = (axis: Float64Array, value: number): number => {
  const last = axis.length - 1;
  if (last < 1) return 0;
  if (Number.isNaN(value)) return NaN;
  const sign = axis[last] > axis[0] ? 1 : -1;
  if (sign * (value - axis[0]) <= 0) return 0;
  if (sign * (value - axis[last]) >= 0) return last;
  let [low, high] = [0, last];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (sign * (value - axis[middle]) >= 0) low = middle;
    else high = middle;
  }
  return low + (value - axis[low]) / (axis[high] - axis[low]);
};

/** How far a value stands beyond the axis, in steps between its last two breakpoints; 0 within. */
export const beyondAxis = (axis: Float64Array, value: number): number => {
  const last = axis.length - 1;
  if (last < 1) return 0;
  return Math.max(0, (axis[0] - value) / (axis[1] - axis[0]), (value - axis[last]) / (axis[last] - axis[last - 1]));
};

/** The lower breakpoint of the step that a position stands in; the last step keeps its upper end. */
export const stepOf = (position: number, count: number): number => Math.max(0, Math.min(count - 2, Math.floor(position)));

/** Bilinear value at a pair of positions. */
export const valueAt = (values: Float64Array, { columns, rows }: Grid, columnPosition: number, rowPosition: number): number => {
  const column = stepOf(columnPosition, columns.length),
    row = stepOf(rowPosition, rows.length);
  return withinCell(values, columns.length, row * columns.length + column, columnPosition - column, rowPosition - row);
};

/** Bilinear value in a cell of a table so many columns wide: `u` of the way to the next column and `v` of the way to the next row. */
export const withinCell = (values: Float64Array, width: number, at: number, u: number, v: number): number => {
  // A cell without weight is not read: in the last step it may not be there, and a blank one must not spread.
  const here = u === 0 ? values[at] : (1 - u) * values[at] + u * values[at + 1];
  if (v === 0) return here;
  const next = at + width;
  return (1 - v) * here + v * (u === 0 ? values[next] : (1 - u) * values[next] + u * values[next + 1]);
};
