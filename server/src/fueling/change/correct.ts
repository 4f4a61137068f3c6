// The correction that the evidence justifies: bounded, no further than proven, smooth only within what is uncertain.

import type { Table } from '../../formats/table/table.js';
import type { CellEvidence, Evidence } from '../evidence.js';
import type { Held } from '../doubts/gate.js';

export interface CorrectionOptions {
  /** Largest change of a cell in one step, percent of its present value. Common practice is 5 to 10. */
  readonly maxChangePercent?: number;
  /** Only these cells; every proven cell otherwise. */
  readonly cells?: readonly { readonly row: number; readonly column: number }[];
  /** Goes to the best estimate; otherwise to the end of the 95 % interval that lies nearer to the present value. */
  readonly toEstimate?: boolean;
  /** Corrects thin cells too. Never unvisited ones. */
  readonly thinToo?: boolean;
}

export const DEFAULT_MAX_CHANGE_PERCENT = 10;

export interface CorrectedCell {
  readonly row: number;
  readonly column: number;
  /** As written in the table now, and as corrected (not yet rounded to the author's decimals). */
  readonly before: number;
  readonly after: number;
  /** after / before. */
  readonly factor: number;
  /** The largest step stopped it short of what is proven: log again and correct again. */
  readonly capped: boolean;
  readonly evidence: CellEvidence;
}

export interface Correction {
  readonly cells: readonly CorrectedCell[];
  /** Cells asked for or proven that stay as they are, by reason. */
  readonly left: { readonly notProven: number; readonly withinUncertainty: number };
  /** Cells that would change, and must not. */
  readonly held: readonly (Pick<CorrectedCell, 'row' | 'column' | 'before' | 'after'> & { readonly why: Held })[];
}

/** Changes below this are not worth a diff: 0.05 %. */
const LEAST_CHANGE = 5e-4;
const SMOOTHING_ROUNDS = 20;
/** How much of the half interval smoothing may take: the rest is what the readings gave. */
const SMOOTHED_SHARE = 0.25;

/**
 * Cells to change with their new values, row by row. A cell whose 95 % interval holds 1 is left alone (unless `toEstimate`); the factor
 * never crosses the interval's near end nor the largest step. What is held (gate.ts) stays; of evidence that is refused nothing comes.
 */
export const correct = (table: Table, evidence: Evidence, options: CorrectionOptions = {}): Correction => {
  const width = table.columns.canonical.length;
  const cap = (options.maxChangePercent ?? DEFAULT_MAX_CHANGE_PERCENT) / 100;
  const asked = options.cells?.map(({ row, column }) => row * width + column);
  const left = { notProven: 0, withinUncertainty: 0 },
    held: Correction['held'][number][] = [];
  if (evidence.refused !== undefined) return { cells: [], left, held };
  const bounds = new Map<number, { least: number; most: number; capped: boolean }>();
  const wanted = new Map<number, number>();
  for (const cell of asked ?? evidence.cells.keys()) {
    const each = evidence.cells[cell];
    if (each === undefined || each.proof === 'none' || (each.proof === 'thin' && !options.thinToo)) {
      if (asked) left.notProven++;
      continue;
    }
    const proven = options.toEstimate ? each.factor : each.factorLow > 1 ? each.factorLow : each.factorHigh < 1 ? each.factorHigh : 1;
    const stepped = Math.max(1 - cap, Math.min(1 + cap, proven));
    if (Math.abs(stepped - 1) < LEAST_CHANGE) {
      left.withinUncertainty++;
      continue;
    }
    const why = evidence.held?.get(cell);
    if (why) {
      held.push({ row: each.row, column: each.column, before: each.value, after: each.value * stepped, why });
      continue;
    }
    wanted.set(cell, stepped);
    // Smoothing may give a cell a little less than is proven, within what is uncertain anyway; never more, and never the other way.
    const uncertain = (SMOOTHED_SHARE * (each.factorHigh - each.factorLow)) / 2;
    bounds.set(
      cell,
      stepped > 1
        ? { least: Math.max(1, stepped - uncertain), most: stepped, capped: stepped !== proven }
        : { least: stepped, most: Math.min(1, stepped + uncertain), capped: stepped !== proven },
    );
  }
  smooth(wanted, bounds, width);
  const cells = [...wanted]
    .sort(([a], [b]) => a - b)
    .flatMap(([cell, factor]): CorrectedCell[] => {
      const each = evidence.cells[cell];
      return Math.abs(factor - 1) < LEAST_CHANGE
        ? []
        : [
            {
              row: each.row,
              column: each.column,
              before: each.value,
              after: each.value * factor,
              factor,
              capped: bounds.get(cell)!.capped,
              evidence: each,
            },
          ];
    });
  return { cells, left, held };
};

/** Draws each factor toward the mean of its corrected neighbours, inside its bounds. */
const smooth = (wanted: Map<number, number>, bounds: ReadonlyMap<number, { least: number; most: number }>, width: number): void => {
  for (let round = 0; round < SMOOTHING_ROUNDS; round++) {
    for (const [cell, { least, most }] of bounds) {
      const column = cell % width;
      const neighbours = [column > 0 ? cell - 1 : -1, column < width - 1 ? cell + 1 : -1, cell - width, cell + width].flatMap(
        (each) => wanted.get(each) ?? [],
      );
      if (neighbours.length < 2) continue;
      const mean = neighbours.reduce((sum, value) => sum + value, 0) / neighbours.length;
      wanted.set(cell, Math.max(least, Math.min(most, mean)));
    }
  }
};
