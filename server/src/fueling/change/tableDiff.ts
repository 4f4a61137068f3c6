// What changed between two states of a table, cell by cell, and what the evidence said of each change.

import { lookup, axisDirection } from '../../formats/table/tableLookup.js';
import { FUEL_TABLE_QUANTITIES, type Axis, type Table } from '../../formats/table/table.js';
import { TABLE_QUANTITIES } from '../../formats/table/tableQuantity.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import type { CellEvidence, Evidence } from '../evidence.js';

/**
 * `proven`: firm evidence asked for it, and it goes no further than the 95 % interval. `within`: the new value lies in the interval, the
 * old one did too or the evidence is thin. `toward`: thin evidence, part of the way. `against`: away from what is required, or past its
 * interval. `no-evidence`: never driven there.
 */
export type ChangeVerdict = 'proven' | 'within' | 'toward' | 'against' | 'no-evidence';

export interface ChangedCell {
  /** Of the new table. */
  readonly row: number;
  readonly column: number;
  /**
   * The old table's value there (read between its breakpoints where it has others; NaN where blank), and the new one, in the table's unit.
   */
  readonly before: number;
  readonly after: number;
  /** NaN where the old value is 0 or either is none. */
  readonly percent: number;
  /** Undefined where sessions do not speak of the table at all. */
  readonly verdict?: ChangeVerdict;
  /** What the evidence asks for here, with its 95 % interval; undefined without. */
  readonly required?: {
    readonly value: number;
    readonly low: number;
    readonly high: number;
    readonly proof: 'firm' | 'thin';
    readonly samples: number;
  };
  /** The change differs from that of every neighbour by more than `JUMP_SHARE` (spark: `JUMP_DEG`) on the same side. */
  readonly jumps: boolean;
  /** The old table has no breakpoint as far out; its edge was held. */
  readonly beyondOld: boolean;
}

/** A breakpoint of the old table that the new one has not, where the new one reads otherwise. */
export interface LostPoint {
  readonly columnValue: number;
  readonly rowValue: number;
  readonly before: number;
  readonly after: number;
  readonly percent: number;
}

export interface TableDiff {
  /** Every changed cell, those to look at first first. */
  readonly cells: readonly ChangedCell[];
  readonly sameAxes: boolean;
  readonly lost: readonly LostPoint[];
  readonly counts: Readonly<Record<ChangeVerdict, number>> & { readonly changed: number; readonly jumps: number };
}

/** A change this much unlike its neighbours' makes a step in the table. Common practice, no source. */
export const JUMP_SHARE = 0.05;
export const JUMP_DEG = 3;
/** Between breakpoints less than this is the two grids' own difference. */
const LOST_SHARE = 0.005;

const FIRST: readonly (ChangeVerdict | undefined)[] = ['against', 'no-evidence', undefined, 'toward', 'within', 'proven'];

/**
 * `evidence` is of the new table, cell by cell. Refuses, in words that follow "… cannot be compared: ", tables that do not hold the same.
 */
export function diffTables(before: Table, after: Table, evidence?: Evidence): TableDiff | { readonly refused: string } {
  const refused = unlike(before, after);
  if (refused !== undefined) return { refused };
  const sameAxes = sameAxis(before.columns, after.columns) && sameAxis(before.rows, after.rows);
  const width = after.columns.values.length;
  const old = after.values.map((_, cell) =>
    sameAxes ? before.values[cell] : lookup(before, after.columns.canonical[cell % width], after.rows.canonical[Math.floor(cell / width)]),
  );
  const cells: ChangedCell[] = [];
  for (let cell = 0; cell < after.values.length; cell++) {
    const [row, column] = [Math.floor(cell / width), cell % width];
    const [was, is] = [old[cell], after.values[cell]];
    if (Object.is(was, is) || Math.abs(is - was) <= (sameAxes ? 0 : halfLastDecimal(after, row, column))) continue;
    const told = evidence?.cells[cell];
    cells.push({
      row,
      column,
      before: was,
      after: is,
      percent: percentOf(was, is),
      jumps: jumps(after, old, row, column),
      beyondOld:
        !sameAxes && (isOutside(before.columns, after.columns.canonical[column]) || isOutside(before.rows, after.rows.canonical[row])),
      ...(told ? judged(told, was, is) : {}),
    });
  }
  const size = ({ percent, before: was, after: is }: ChangedCell): number =>
    Number.isNaN(percent) ? Math.abs(is - was) || Infinity : Math.abs(percent);
  cells.sort((a, b) => FIRST.indexOf(a.verdict) - FIRST.indexOf(b.verdict) || Number(b.jumps) - Number(a.jumps) || size(b) - size(a));
  const count = (verdict: ChangeVerdict): number => cells.filter((cell) => cell.verdict === verdict).length;
  return {
    cells,
    sameAxes,
    lost: sameAxes ? [] : lostPoints(before, after),
    counts: {
      changed: cells.length,
      jumps: cells.filter((cell) => cell.jumps).length,
      proven: count('proven'),
      within: count('within'),
      toward: count('toward'),
      against: count('against'),
      'no-evidence': count('no-evidence'),
    },
  };
}

const percentOf = (was: number, is: number): number => (was === 0 ? NaN : (is / was - 1) * 100 * Math.sign(was));

function judged(
  { value, factor, factorLow, factorHigh, proof, samples }: CellEvidence,
  was: number,
  is: number,
): Pick<ChangedCell, 'verdict' | 'required'> {
  if (proof === 'none' || !(value > 0)) return { verdict: 'no-evidence' };
  const [low, high] = [factorLow * value, factorHigh * value];
  const required = { value: factor * value, low, high, proof, samples };
  const asked = was < low ? 1 : was > high ? -1 : 0;
  const inside = is >= low && is <= high;
  const onTheWay = asked > 0 ? is > was && is < low : asked < 0 && is < was && is > high;
  const verdict = proof === 'firm' && asked !== 0 && (inside || onTheWay) ? 'proven' : inside ? 'within' : onTheWay ? 'toward' : 'against';
  return { verdict, required };
}

/** Whether the change here differs from that of each neighbour, all on the same side. */
function jumps(after: Table, old: Float64Array, row: number, column: number): boolean {
  const [width, height] = [after.columns.values.length, after.rows.values.length];
  const additive = after.quantity === 'ignition-advance';
  const change = (r: number, c: number): number => {
    const at = r * width + c;
    return additive ? after.values[at] - old[at] : after.values[at] / old[at];
  };
  const own = change(row, column);
  const steps = [
    [0, -1],
    [0, 1],
    [-1, 0],
    [1, 0],
  ].flatMap(([down, right]) => {
    const [r, c] = [row + down, column + right];
    if (r < 0 || c < 0 || r >= height || c >= width) return [];
    const step = additive ? (own - change(r, c)) / JUMP_DEG : (own / change(r, c) - 1) / JUMP_SHARE;
    return Number.isFinite(step) ? [step] : [];
  });
  // 1e-9: a jump of just the limit, in binary fractions.
  return steps.length > 0 && (steps.every((step) => step > 1 + 1e-9) || steps.every((step) => step < -1 - 1e-9));
}

function unlike(before: Table, after: Table): string | undefined {
  for (const [table, which] of [
    [before, 'old'],
    [after, 'new'],
  ] as const) {
    if (table.values.length === 0) return `the ${which} one has no cells`;
  }
  const named = ({ quantity }: Table): string =>
    quantity === undefined ? 'something that is not said ("# quantity:")' : TABLE_QUANTITIES[quantity].title;
  if (before.quantity !== after.quantity) return `the old one holds ${named(before)}, the new one ${named(after)}`;
  const unit = ({ unit: own }: Table): string => `${own?.id ?? ''} ${own?.fuel ?? ''}`;
  if (unit(before) !== unit(after))
    return `the old one is in ${before.unit?.symbol || 'no unit'}, the new one in ${after.unit?.symbol || 'no unit'}`;
  if (
    before.dimensions !== after.dimensions ||
    (before.dimensions === 1 && (before.columns.values.length === 1) !== (after.columns.values.length === 1))
  ) {
    return 'the one is a grid and the other a single row or column, or they run along different axes';
  }
  for (const side of ['columns', 'rows'] as const) {
    const [a, b] = [before[side], after[side]];
    if (b.values.length === 1 && a.values.length === 1) continue;
    const axisName = ({ quantity }: Axis): string => (quantity === undefined ? 'something that is not said' : QUANTITIES[quantity].title);
    if (a.quantity !== b.quantity) return `the ${side} of the old one are ${axisName(a)}, those of the new one ${axisName(b)}`;
    if (sameAxis(a, b)) continue;
    for (const [axis, which] of [
      [a, 'old'],
      [b, 'new'],
    ] as const) {
      if (axisDirection(axis) === 0)
        return `their ${side} differ, and those of the ${which} one do not run one way, so they cannot be read between`;
    }
  }
  return undefined;
}

/** An axis of one breakpoint is not looked at, whatever its head holds. */
const sameAxis = (a: Axis, b: Axis): boolean =>
  a.canonical.length === b.canonical.length &&
  (a.canonical.length === 1 ||
    a.canonical.every((value, at) => Object.is(value, b.canonical[at]) || Math.abs(value - b.canonical[at]) <= 1e-9 * Math.abs(value)));

function isOutside({ canonical }: Axis, value: number): boolean {
  if (canonical.length < 2 || Number.isNaN(value)) return false;
  const [first, last] = [canonical[0], canonical[canonical.length - 1]];
  return value < Math.min(first, last) || value > Math.max(first, last);
}

function halfLastDecimal(table: Table, row: number, column: number): number {
  const decimals = /[.,](\d+)$/.exec(table.cellText(row, column).trim())?.[1].length ?? 0;
  return 0.5000001 * 10 ** -decimals;
}

function lostPoints(before: Table, after: Table): LostPoint[] {
  const has = ({ canonical }: Axis, value: number): boolean =>
    canonical.length === 1 || canonical.some((each) => Math.abs(each - value) <= 1e-9 * Math.abs(value));
  const width = before.columns.values.length;
  const points = Array.from(before.values).flatMap((was, cell): LostPoint[] => {
    const [row, column] = [Math.floor(cell / width), cell % width];
    const [x, y] = [before.columns.canonical[column], before.rows.canonical[row]];
    if (has(after.columns, x) && has(after.rows, y)) return [];
    const is = lookup(after, x, y);
    const share = Math.abs(is - was) / Math.abs(was || 1);
    return share > LOST_SHARE
      ? [
          {
            columnValue: before.columns.values[column],
            rowValue: before.rows.values[row],
            before: was,
            after: is,
            percent: percentOf(was, is),
          },
        ]
      : [];
  });
  return points.sort((a, b) => Math.abs(b.after - b.before) - Math.abs(a.after - a.before));
}

/** Whether sessions can speak of a change of this table. */
export const isFuelTable = ({ quantity }: Table): boolean => quantity !== undefined && FUEL_TABLE_QUANTITIES.includes(quantity);
