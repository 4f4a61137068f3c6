// Whether what proven cells want fades as one over the air flow, or over the fuel of an injection: something flows in that is the same at
// all times, or each injection is off by the same, and no table is wrong so.

import type { Table } from '../../formats/table/table.js';
import { medianByPlace } from '../../formats/median.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { CellEvidence } from '../evidence.js';

/** Ln of what is wanted in the cell of least flow, and how many of the proven cells the law holds for. */
export interface SteadyFlow {
  readonly most: number;
  readonly flowAt: (cell: CellEvidence) => number;
  readonly leastFlow: number;
  /** It is the fuel of an injection, and not the air flow. */
  readonly isPerStroke: boolean;
  /** What it leaves of the cells, ln, mean. */
  readonly off: number;
}

/** How many cells must tell it, and those between the ends by themselves; how far the flow must reach. Common practice, no source. */
const LEAST_CELLS = 6,
  LEAST_BETWEEN = 3,
  LEAST_REACH = 4,
  LEAST_STROKE_REACH = 2.5;
/**
 * What it must come to at the least flow; what a cell may be off; and of the middle cells, by which share. What is promised of a firm cell
 * is 3 %.
 */
const LEAST_MOST = 0.04,
  OFF = 0.015,
  OFF_SHARE = 0.25,
  NEARLY_ALL = 0.9,
  ALIKE_SHARE = 0.4;
/** Between the ends: less is not told from nothing, more is told by the cell of least flow itself. */
const BETWEEN_FROM = 0.2,
  BETWEEN_TO = 0.6;

/** Undefined where it fades otherwise, or too little is proven to tell. */
export const steadyFlow = (table: Table, firm: readonly CellEvidence[]): SteadyFlow | undefined => {
  if (firm.length < LEAST_CELLS) return undefined;
  const flow = fading(firm, flowOf(table), false),
    stroke = fading(firm, strokeOf(table), true);
  return stroke && !(flow && flow.off <= stroke.off) ? stroke : flow;
};

const fading = (firm: readonly CellEvidence[], flowAt: SteadyFlow['flowAt'] | undefined, isPerStroke: boolean): SteadyFlow | undefined => {
  if (!flowAt) return undefined;
  const flows = firm.map(flowAt),
    leastFlow = Math.min(...flows),
    share = (at: number): number => leastFlow / flows[at];
  if (!(leastFlow > 0 && Math.max(...flows) > (isPerStroke ? LEAST_STROKE_REACH : LEAST_REACH) * leastFlow)) return undefined;
  const ln = firm.map(({ factor }) => Math.log(factor)),
    told = (from: number, to: number): number[] =>
      [...ln.keys()].filter((at) => share(at) > from && share(at) <= to).map((at) => ln[at] / share(at));
  const between = told(BETWEEN_FROM, BETWEEN_TO),
    most = medianByPlace(Float64Array.from(told(BETWEEN_TO, 1))),
    middle = medianByPlace(Float64Array.from(between));
  const offs = ln.map((each, at) => Math.abs(each - most * share(at))),
    fits = offs.filter((each) => each < Math.max(OFF, OFF_SHARE * Math.abs(most))).length;
  return between.length >= LEAST_BETWEEN &&
    Math.abs(most) >= LEAST_MOST &&
    Math.abs(middle - most) < ALIKE_SHARE * Math.abs(most) &&
    fits >= NEARLY_ALL * firm.length
    ? { most, flowAt, leastFlow, isPerStroke, off: offs.reduce((sum, each) => sum + each, 0) / offs.length }
    : undefined;
};

/** The air flow of a cell in a measure of its own; undefined where the table's axes do not tell it. */
const flowOf = (table: Table): ((cell: CellEvidence) => number) | undefined => {
  if (table.quantity === 'mass-air-flow') return ({ value }) => value;
  const along = (quantity: QuantityId): ((cell: CellEvidence) => number) | undefined =>
    table.columns.quantity === quantity
      ? ({ column }) => table.columns.canonical[column]
      : table.rows.quantity === quantity
        ? ({ row }) => table.rows.canonical[row]
        : undefined;
  const rpm = along('engine-speed'),
    kPa = along('manifold-pressure') ?? (({ manifoldPressureKPa }) => manifoldPressureKPa);
  return rpm && ((cell) => rpm(cell) * kPa(cell));
};

/** The fuel of an injection in a cell, likewise. */
const strokeOf = ({ quantity, columns, rows }: Table): SteadyFlow['flowAt'] | undefined => {
  if (quantity === 'fuel-mass' || quantity === 'injector-pulse-width') return ({ value }) => value;
  if (quantity !== 'volumetric-efficiency') return undefined;
  const kPaAt: SteadyFlow['flowAt'] =
    rows.quantity === 'manifold-pressure'
      ? ({ row }) => rows.canonical[row]
      : columns.quantity === 'manifold-pressure'
        ? ({ column }) => columns.canonical[column]
        : ({ manifoldPressureKPa }) => manifoldPressureKPa;
  return (cell) => (cell.value * kPaAt(cell)) / cell.targetLambda;
};

/** Ln of what it makes a cell want. */
export const steadyShare = ({ most, flowAt, leastFlow }: SteadyFlow, cell: CellEvidence): number => (most * leastFlow) / flowAt(cell);
