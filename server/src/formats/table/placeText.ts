// Where a cell is, by its breakpoints alone.

import type { Table } from './table.js';

/** `4000 / 180`, column and row; of a table of one row or column the one breakpoint there is. */
export const placeText = ({ columns, rows }: Pick<Table, 'columns' | 'rows'>, row: number, column: number): string =>
  [columns.values[column], rows.values[row]].filter((value) => value !== undefined && !Number.isNaN(value)).join(' / ');
