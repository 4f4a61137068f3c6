// From a cell of a table to the rows of the sessions that are evidence on it, the most telling first.

import type { Location } from 'vscode-languageserver-types';
import { range, type Position } from '../../formats/range.js';
import type { Table } from '../../formats/table/table.js';
import type { Evidence } from '../../fueling/evidence.js';
import { cellAt } from './tableHover.js';

/** More rows than this are no list to look through; the hover says how many there are. */
const MOST_REFERENCES = 200;

export function tableReferences(table: Table, position: Position, evidence: Evidence | undefined): Location[] {
  const cell = cellAt(table, position);
  const found = cell && evidence?.cells[cell.row * table.columns.values.length + cell.column];
  return (found?.moments ?? []).slice(0, MOST_REFERENCES).flatMap(({ session, line }) => {
    const uri = evidence?.sessions[session]?.session;
    return uri === undefined ? [] : [{ uri, range: range(line, 0, line, 0) }];
  });
}
