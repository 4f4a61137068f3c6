// A changed table for its review: the cells that changed, what the vehicle's sessions said of each, and what was taken for granted.

import type { Table } from '../formats/table/table.js';
import { contradictionWords } from '../fueling/doubts/contradictionWords.js';
import type { SessionWeight } from '../fueling/evidence.js';
import { canBeWeighed } from '../fueling/solution/grid.js';
import { countedOnce } from '../fueling/doubts/sameReadings.js';
import { diffTables, isFuelTable, type TableDiff } from '../fueling/change/tableDiff.js';
import { judge, type SessionEvidence } from '../fueling/weigh.js';
import type { Documents } from './documents.js';
import type { Weigher } from './evidence.js';
import { sameNumbers } from './sameTable.js';
import { baseName } from './uris.js';
import { weighedSessionsOf } from './vehicleFolders.js';
import type { Progress, Workspace } from './workspace.js';

export interface OldTable {
  readonly table: Table;
  readonly text: string;
  readonly name: string;
}

export interface TableReview {
  readonly oldName: string;
  readonly newName: string;
  readonly table: Table;
  readonly diff: TableDiff;
  /** The sessions that were weighed; undefined where none could be. */
  readonly sessions?: readonly SessionWeight[];
  /** The table that sessions are taken to be logged with where nothing says which it was. */
  readonly silentAre?: string;
  /** Where the sessions contradict each other, in words. */
  readonly contradiction?: string;
  /** Why no session speaks of the change. */
  readonly silent?: string;
}

export interface ReviewOptions {
  /** Sessions (URIs) instead of the vehicle's. */
  readonly sessions?: readonly string[];
  /** How the new table is called; its file's name where left out. */
  readonly newName?: string;
  readonly progress?: Progress;
}

/**
 * Undefined where the new table is not there. A session that names no table was logged with the old one: it was there before the change.
 * Where others are pinned to the old one it came after them, and was logged with the new one.
 */
export async function reviewTable(
  workspace: Workspace,
  documents: Documents,
  weigher: Weigher,
  old: OldTable,
  newUri: string,
  { sessions, newName = baseName(newUri), progress }: ReviewOptions = {},
): Promise<TableReview | { readonly refused: string } | undefined> {
  const table = (await documents.table(newUri))?.value,
    text = await documents.text(newUri);
  if (!table || text === undefined) return undefined;
  const plain = diffTables(old.table, table);
  if ('refused' in plain) return plain;
  const about = { oldName: old.name, newName, table };
  if (!isFuelTable(table)) return { ...about, diff: plain, silent: 'it is no fuel table: sessions do not speak of it' };
  if (!canBeWeighed(table) || !canBeWeighed(old.table))
    return { ...about, diff: plain, silent: 'an axis is not said or does not run one way' };
  if (plain.cells.length === 0) return { ...about, diff: plain, silent: 'nothing changed' };
  const folder = await documents.vehicleFolder(newUri);
  const uris = sessions ?? (folder ? await weighedSessionsOf(workspace, folder) : []);
  if (uris.length === 0)
    return {
      ...about,
      diff: plain,
      silent: folder ? 'the vehicle has no sessions' : 'there is no vehicle.json above it, and no sessions are named',
    };
  const evidences: SessionEvidence[] = [],
    states = await Promise.all(uris.map((session) => weigher.loggedWith(session, newUri)));
  // A correction pins the sessions before it to the old table: where any is, those that say nothing came after.
  const isPinned = states.some((state) => state?.pinned !== undefined && sameNumbers(state.table, old.table));
  for (const [done, session] of uris.entries()) {
    if (progress?.cancelled) break;
    await progress?.report(done, uris.length, session);
    const state = states[done];
    // A drive that the new table was made of came before it.
    const isOld = state
      ? state.pinned === undefined && !isPinned && sameNumbers(state.table, table)
      : await weigher.madeTheTable(session, newUri);
    if ((!state && !isOld) || (await documents.signalsKey(session)) === undefined) continue;
    const { text: then, name } = isOld ? old : { text: state!.text, name: state!.pinned ?? newName };
    evidences.push(await weigher.weigh(session, table, { table: text, loggedWith: { name, table: then }, isAssumed: false }));
  }
  const evidence = judge(table, countedOnce(evidences));
  const diff = diffTables(old.table, table, evidence) as TableDiff,
    contradiction = contradictionWords(evidence, table, baseName);
  return {
    ...about,
    diff,
    sessions: evidence.sessions,
    ...(contradiction === undefined ? {} : { contradiction }),
    silentAre: isPinned ? newName : old.name,
  };
}
