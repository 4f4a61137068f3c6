// A table (fuel, target, spark …) in memory: axes, values, and where each stands in the text.

import type { QuantityId } from '../../quantities/quantity.js';
import type { Unit } from '../../quantities/units.js';
import type { Problem } from '../problem.js';
import type { Range } from '../range.js';

export type TableQuantity =
  | 'volumetric-efficiency'
  | 'fuel-mass'
  | 'injector-pulse-width'
  | 'mass-air-flow'
  | 'multiplier'
  | 'target-lambda'
  | 'target-afr'
  | 'ignition-advance'
  | 'manifold-pressure-target';

/** The first five of `TableQuantity`: they scale the fuel delivered. */
export const FUEL_TABLE_QUANTITIES: readonly TableQuantity[] = [
  'volumetric-efficiency',
  'fuel-mass',
  'injector-pulse-width',
  'mass-air-flow',
  'multiplier',
];

export interface Axis {
  /** Undefined where the text does not say or says what is not known. */
  readonly quantity: QuantityId | undefined;
  readonly unit: Unit | undefined;
  /** Breakpoints as written, in `unit`. */
  readonly values: Float64Array;
  /** Breakpoints in the quantity's canonical unit (as written where unknown). */
  readonly canonical: Float64Array;
  readonly ranges: readonly Range[];
}

export interface Table {
  readonly kind: 'table';
  readonly quantity: TableQuantity | undefined;
  /** Unit of the values as written. */
  readonly unit: Unit | undefined;
  readonly columns: Axis;
  /**
   * A one-dimensional table has one breakpoint on the axis that it does not run along (NaN where the head is empty): `rows` of a single
   * row, `columns` of a single column.
   */
  readonly rows: Axis;
  /** 2: a grid. 1: one row or one column. */
  readonly dimensions: 1 | 2;
  /** Row by row, in file order, in `unit`; NaN where a cell is blank or not a number. Length rows × columns. */
  readonly values: Float64Array;
  readonly metadata: ReadonlyMap<string, string>;
  /** Codes silenced for the file, and per grid row (index → codes). */
  readonly ignored: readonly string[];
  readonly ignoredInRow: ReadonlyMap<number, readonly string[]>;
  readonly problems: readonly Problem[];
  /** The number's own range, blanks round it left out; `row` and `column` count from 0 in file order. */
  cellRange(row: number, column: number): Range;
  /** As written. */
  cellText(row: number, column: number): string;
  /** The cell at a place of the text; a breakpoint of the columns has row −1, one of the rows has column −1. Undefined elsewhere. */
  at(line: number, character: number): { readonly row: number; readonly column: number } | undefined;
  readonly headRange: Range;
}

/** One replacement of text, as LSP has it. */
export interface TextEdit {
  readonly range: Range;
  readonly newText: string;
}
