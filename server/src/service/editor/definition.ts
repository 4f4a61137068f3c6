// From a row of a session to the cell of the fuel table that fuelled it, the transport delay taken off.

import type { LocationLink } from 'vscode-languageserver-types';
import { range, type Position } from '../../formats/range.js';
import type { Table } from '../../formats/table/table.js';
import type { Signals } from '../../signals/signals.js';
import type { Delays } from '../delays.js';
import { fuelledCell } from '../fuelledCell.js';

/** Empty off the rows, and where the table's axes are not logged. */
export function sessionDefinition(
  signals: Signals,
  { line, character }: Position,
  table: Table,
  tableUri: string,
  delays: Delays,
): LocationLink[] {
  const { places } = signals.session;
  const sample = places.sampleAt(line);
  const fuelled = sample === undefined ? undefined : fuelledCell(signals, table, sample, delays.delaysS);
  if (sample === undefined || !fuelled) return [];
  const channel = places.channelAt(line, character);
  const cell = table.cellRange(fuelled.row, fuelled.column);
  return [
    {
      originSelectionRange: channel !== undefined && channel >= 0 ? places.cellRange(channel, sample) : range(line, 0, line, character),
      targetUri: tableUri,
      targetRange: cell,
      targetSelectionRange: cell,
    },
  ];
}
