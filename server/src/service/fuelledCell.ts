// Which place of the fuel table a reading speaks of: the operating point at which its fuel was injected, a transport delay earlier.

import type { Table } from '../formats/table/table.js';
import { weightsOn } from '../formats/table/tableLookup.js';
import type { Signals } from '../signals/signals.js';
import { sampleAtTime } from '../signals/columns/spans.js';

export interface FuelledCell {
  /** The cell with the greatest share in the interpolated value. */
  readonly row: number;
  readonly column: number;
  /** Its share, 0 to 1. */
  readonly share: number;
  readonly delayS: number;
  /** Sample at which the fuel was injected. */
  readonly sample: number;
}

/** Undefined where the table's axes are not logged at that moment or the moment lies before the log. `delaysS` is one delay a sample. */
export function fuelledCell(signals: Signals, table: Table, sample: number, delaysS: Float64Array): FuelledCell | undefined {
  const delayS = delaysS[sample];
  const at = sampleAtTime(signals.timeS, signals.timeS[sample] - delayS);
  if (!(at < signals.timeS.length) || signals.timeS[sample] - delayS < signals.timeS[0] - signals.stepS) return undefined;
  const column = nearest(signals, table.columns, at);
  const row = nearest(signals, table.rows, at);
  return column && row ? { row: row.index, column: column.index, share: row.share * column.share, delayS, sample: at } : undefined;
}

/** The breakpoint with the greater weight. An axis of one breakpoint (or of none, in one dimension) has that alone. */
function nearest(signals: Signals, axis: Table['columns'], sample: number): { index: number; share: number } | undefined {
  if (axis.values.length <= 1) return { index: 0, share: 1 };
  const value = axis.quantity && signals.held(axis.quantity)?.[sample];
  if (value === undefined || Number.isNaN(value)) return undefined;
  const { index, fraction } = weightsOn(axis, value);
  if (Number.isNaN(fraction)) return undefined;
  return fraction > 0.5 ? { index: index + 1, share: fraction } : { index, share: 1 - fraction };
}
