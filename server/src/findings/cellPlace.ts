// Where a cell is, in the words of its axes.

import { formatNumber } from '../quantities/format.js';
import type { Axis, Table } from '../formats/table/table.js';

/** A breakpoint as its author wrote it, with its unit: `1600 rpm`. Empty where the axis has none there. */
export const breakpointText = (axis: Axis, index: number): string => {
  const value = axis.values[index];
  if (value === undefined || Number.isNaN(value)) return '';
  const number = Number.isInteger(value) ? String(value) : formatNumber(value, 2).replace(/0$/, '');
  return axis.unit?.symbol ? `${number} ${axis.unit.symbol}` : number;
};

/** `1600 rpm, 45 kPa`; for a cell without sound breakpoints its row and column, counted from 1. */
export const cellPlace = (table: Table, row: number, column: number): string => {
  const parts = [breakpointText(table.columns, column), breakpointText(table.rows, row)].filter((part) => part !== '');
  return parts.length > 0 ? parts.join(', ') : `row ${row + 1}, column ${column + 1}`;
};
