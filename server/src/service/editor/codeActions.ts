// Quick fixes of a table: the proven correction of a cell, of the selected cells, of all proven cells; after a hand edit, the earlier table
// kept.

import type { Range } from '../../formats/range.js';
import type { Table } from '../../formats/table/table.js';
import type { TableActionKind } from '../../protocol/messages.js';
import type { Documents } from '../documents.js';
import { planCorrection, planKeeping, type FileChange } from '../correction.js';
import type { Weigher } from '../evidence.js';
import type { Workspace } from '../workspace.js';

/** An action before it is put in the protocol's shape. */
export interface TableAction {
  /** What it does: corrects the selected cells, corrects all, or keeps the table as the sessions knew it. */
  readonly kind: TableActionKind;
  readonly title: string;
  readonly changes: readonly FileChange[];
  /** The one that most likely is wanted. */
  readonly preferred: boolean;
  /** Where the cells stand that it mends, for the findings it answers. */
  readonly ranges: readonly Range[];
}

export async function tableActions(
  workspace: Workspace,
  documents: Documents,
  weigher: Weigher,
  tableUri: string,
  selected: readonly Range[],
  maxChangePercent: number,
): Promise<TableAction[]> {
  const actions = await keeping(workspace, documents, weigher, tableUri, selected);
  const all = await planCorrection(workspace, documents, weigher, tableUri, { maxChangePercent });
  if (!all || all.changes.length === 0) return actions;
  const cells = cellsIn(all.table, selected);
  const chosen = cells.length > 0 ? await planCorrection(workspace, documents, weigher, tableUri, { maxChangePercent, cells }) : undefined;
  if (chosen && chosen.changes.length > 0) {
    const [first] = chosen.correction.cells;
    actions.push({
      kind: 'cells',
      title:
        chosen.edits.length === 1
          ? `Correct this cell: ${first.oldText} → ${first.newText} (${first.percent > 0 ? '+' : '−'}${Math.abs(first.percent).toFixed(1)} %${first.capped ? ', one step' : ''})`
          : `Correct the ${chosen.edits.length} selected cells that are proven`,
      changes: chosen.changes,
      preferred: true,
      ranges: chosen.correction.cells.map(({ row, column }) => all.table.cellRange(row, column)),
    });
  }
  actions.push({
    kind: 'all',
    title:
      all.edits.length === 1 ? 'Correct the one proven cell of this table' : `Correct all ${all.edits.length} proven cells of this table`,
    changes: all.changes,
    preferred: false,
    ranges: all.correction.cells.map(({ row, column }) => all.table.cellRange(row, column)),
  });
  return actions;
}

/** At the head of a table that was edited by hand. */
async function keeping(
  workspace: Workspace,
  documents: Documents,
  weigher: Weigher,
  tableUri: string,
  selected: readonly Range[],
): Promise<TableAction[]> {
  const table = (await documents.table(tableUri))?.value;
  if (!table || !selected.some(({ start }) => start.line <= table.headRange.end.line)) return [];
  const kept = await planKeeping(workspace, documents, weigher, tableUri);
  if (!kept) return [];
  return [
    {
      kind: 'keep',
      title: `Keep the table as it was and pin ${sessionsText(kept.sessions)} to it`,
      changes: kept.changes,
      preferred: true,
      ranges: [],
    },
  ];
}

/** `1 session`, `3 sessions`. */
export const sessionsText = (count: number): string => `${count} session${count === 1 ? '' : 's'}`;

/** Cells that a selection touches; the one under the cursor where it is empty. */
function cellsIn(table: Table, selected: readonly Range[]): { row: number; column: number }[] {
  const width = table.columns.values.length;
  return Array.from(table.values.keys(), (cell) => ({ row: Math.floor(cell / width), column: cell % width })).filter(({ row, column }) => {
    const place = table.cellRange(row, column);
    return selected.some(({ start, end }) => {
      const isBefore = place.end.line < start.line || (place.end.line === start.line && place.end.character < start.character);
      const isBehind = place.start.line > end.line || (place.start.line === end.line && place.start.character > end.character);
      return !isBefore && !isBehind;
    });
  });
}
