// How an engine computer reads a table: straight lines between breakpoints, the edge held outside them.

import type { Axis, Table } from './table.js';

/** 1 strictly up, −1 strictly down, 0 neither (or a breakpoint is no number). A single breakpoint runs up. */
const directions = new WeakMap<Axis, 1 | -1 | 0>();

/** Which way an axis runs: 1 up, −1 down, 0 where it does neither all the way and so cannot be looked up in. */
export const axisDirection = (axis: Axis): 1 | -1 | 0 => {
  const known = directions.get(axis);
  if (known !== undefined) return known;
  const { canonical } = axis;
  let direction: 1 | -1 | 0 = canonical.length === 0 ? 0 : canonical.length > 1 && canonical[1] < canonical[0] ? -1 : 1;
  for (let i = 1; i < canonical.length; i++)
    if (!((canonical[i] - canonical[i - 1]) * direction > 0)) {
      direction = 0;
      break;
    }
  directions.set(axis, direction);
  return direction;
};

/**
 * Where a value stands on an axis: between breakpoint `index` and the next, `fraction` of the way (0 to 1), in the order of the file.
 * Outside the axis it is held at the end; a single breakpoint holds everywhere. `fraction` is NaN where the value is, and on an axis that
 * is not strictly up or down. `xCanonical` in the canonical unit of the axis' quantity.
 */
export const weightsOn = (axis: Axis, xCanonical: number): { index: number; fraction: number } => {
  const { canonical } = axis;
  const last = canonical.length - 1;
  if (last === 0) return { index: 0, fraction: 0 };
  const direction = axisDirection(axis);
  if (direction === 0 || Number.isNaN(xCanonical)) return { index: 0, fraction: NaN };
  if ((xCanonical - canonical[0]) * direction <= 0) return { index: 0, fraction: 0 };
  if ((xCanonical - canonical[last]) * direction >= 0) return { index: last - 1, fraction: 1 };
  let low = 0,
    high = last; // the value lies from low to high
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if ((xCanonical - canonical[middle]) * direction >= 0) low = middle;
    else high = middle;
  }
  return { index: low, fraction: (xCanonical - canonical[low]) / (canonical[high] - canonical[low]) };
};

/**
 * The table's value at an operating point, in the unit of its values as written: bilinear, edges held. A one-dimensional table does not
 * look at the axis it has no breakpoints on. NaN where an axis is unsound, a value is NaN, or a cell that takes part is blank.
 */
export const lookup = (table: Table, columnCanonical: number, rowCanonical: number): number => {
  const width = table.columns.values.length;
  if (table.values.length === 0) return NaN;
  const x = weightsOn(table.columns, columnCanonical);
  const y = weightsOn(table.rows, rowCanonical);
  // A cell of no weight has no say, even if it is blank.
  const along = (row: number): number => {
    const at = row * width + x.index;
    return x.fraction === 0
      ? table.values[at]
      : x.fraction === 1
        ? table.values[at + 1]
        : table.values[at] * (1 - x.fraction) + table.values[at + 1] * x.fraction;
  };
  return y.fraction === 0
    ? along(y.index)
    : y.fraction === 1
      ? along(y.index + 1)
      : along(y.index) * (1 - y.fraction) + along(y.index + 1) * y.fraction;
};
