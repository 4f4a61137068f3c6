// What a correction may not rest on, cell by cell: every proposal goes by this (correct.ts), and the cell rules say the same.

import { STANDARD_CONTEXT } from '../quantities/convert.js';
import type { QuantityId } from '../quantities/quantity.js';
import type { Table } from '../formats/table.js';
import { lookup } from '../formats/tableLookup.js';
import { tableToCanonical } from '../formats/tableQuantity.js';
import type { Vehicle } from '../formats/vehicle.js';
import type { CellEvidence } from './evidence.js';
import { isBurntOtherwise, leanTarget } from './leanTarget.js';
import type { SessionEvidence } from './weigh.js';

/** `target-unsafe`: no fuel is taken out toward it. `not-driven-since`: no log is of the value that it has now. */
export type Held = 'target-unsafe' | 'not-driven-since';

/** Before a list of cells. */
export const HELD_WORDS: Readonly<Record<Held, string>> = {
  'target-unsafe': 'mend the target first: fuel would be taken out toward one that is leaner than it may be at this load',
  'not-driven-since': 'log again first: no session was logged with the value that these cells have now',
};

export interface AroundTable {
  readonly vehicle: Pick<Vehicle, 'fuel' | 'limits'> | undefined;
  /** The vehicle's target table. */
  readonly target: Table | undefined;
}

/** Cells that evidence speaks of and that stay as they are all the same, by index. */
export const heldCells = (table: Table, cells: readonly CellEvidence[], evidences: readonly SessionEvidence[], around: AroundTable): ReadonlyMap<number, Held> => {
  const held = new Map<number, Held>();
  const isUnsafe = unsafeTargets(table, around);
  cells.forEach((cell, at) => {
    if (cell.proof === 'none') return;
    if (cell.factor < 1 && isUnsafe(cell)) held.set(at, 'target-unsafe');
    else if (!evidences.some((evidence) => isLoggedWith(evidence, at, cell.value) && visitedBy(evidence)[at] === 1)) held.set(at, 'not-driven-since');
  });
  return held;
};

/** A logged target that is this far from the target table's is another: a mean over a cell differs by less. No source. */
const SAME_TARGET = 0.05;

/** Whether the target at a cell is too lean for its load: the target table's there, or what was aimed at where that is another. */
const unsafeTargets = (table: Table, { vehicle, target }: AroundTable): ((cell: CellEvidence) => boolean) => {
  if (isBurntOtherwise(vehicle, target)) return () => false;
  const set = vehicle?.limits ?? {}, toLambda = target && tableToCanonical(target, STANDARD_CONTEXT);
  return (cell) => {
    const at = (quantity: QuantityId | undefined): number | undefined => (quantity === undefined ? undefined
      : table.columns.quantity === quantity ? table.columns.canonical[cell.column] : table.rows.quantity === quantity ? table.rows.canonical[cell.row] : undefined);
    const along = ({ quantity, canonical }: Table['columns']): number => (canonical.length < 2 ? 0 : at(quantity) ?? NaN);
    const said = target ? toLambda!(lookup(target, along(target.columns), along(target.rows))) : NaN;
    const aimed = Math.abs(said - cell.targetLambda) < SAME_TARGET ? said : cell.targetLambda;
    const kPa = at('manifold-pressure') ?? (Number.isNaN(cell.manifoldPressureKPa) ? undefined : cell.manifoldPressureKPa), throttlePercent = at('throttle');
    return leanTarget(aimed, { ...(kPa === undefined ? {} : { kPa }), ...(throttlePercent === undefined ? {} : { throttlePercent }) }, set) !== undefined;
  };
};

/** Kept evidence holds seven digits of a value. */
const isLoggedWith = ({ reference, deadTimeMs }: SessionEvidence, at: number, value: number): boolean => Math.abs(reference[at] + deadTimeMs - value) <= 1e-6 * Math.abs(value);

/** A block is a visit to a cell from this bilinear weight on. */
const VISIT_WEIGHT = 0.2;
const visits = new WeakMap<SessionEvidence, Uint8Array>();

const visitedBy = (evidence: SessionEvidence): Uint8Array => {
  let visited = visits.get(evidence);
  if (visited) return visited;
  const { blocks: { count, cell, weights }, reference, grid } = evidence, width = grid.columns.length, offsets = [0, 1, width, width + 1];
  visits.set(evidence, visited = new Uint8Array(reference.length));
  for (let at = 0; at < count; at++) for (let i = 0; i < 4; i++) if (weights[4 * at + i] >= VISIT_WEIGHT) visited[cell[at] + offsets[i]] = 1;
  return visited;
};
