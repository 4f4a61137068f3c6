// Whether two tables are one: by what readings are placed by, and by their numbers.

import type { Table } from '../formats/table/table.js';

/** Breakpoints, quantity and unit: all of a table that readings are placed by. */
export const gridKey = ({ columns, rows, quantity, unit }: Table): string =>
  JSON.stringify([[...columns.canonical], columns.quantity, [...rows.canonical], rows.quantity, quantity, unit?.id]);

/** Whether two tables say the same, notes and spacing aside. */
export const sameNumbers = (a: Table, b: Table): boolean =>
  gridKey(a) === gridKey(b) && a.values.length === b.values.length && a.values.every((value, cell) => Object.is(value, b.values[cell]));
