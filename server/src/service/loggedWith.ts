// Which table was in the engine computer when a session was logged: as the session says, as the vehicle file pins it, else as it was when
// the session was first seen beside it.

import { readTable } from '../formats/table/readTable.js';
import type { Table } from '../formats/table/table.js';
import { createCache } from './cache.js';
import type { Documents } from './documents.js';
import { parsed, printOf, type Keep } from './keep.js';
import { madeTheTable, readHead, type SessionHead } from './sessionHead.js';
import { pinnedTable, type VehicleFolder } from './vehicleFolders.js';
import type { Workspace } from './workspace.js';

/** A table as it stood at some time; the key is that of its text. */
export interface TableState {
  readonly key: string;
  readonly table: Table;
  readonly text: string;
  readonly pinned?: string;
}

export interface LoggedWith {
  /**
   * Undefined where the named table is not there, or where the table came of this session. `keeps`: what is seen now counts as first seen.
   * To ask in the middle of an edit must not make that state the first that was seen.
   */
  stateFor(sessionUri: string, tableUri: string, keeps: boolean): Promise<TableState | undefined>;
  /** A table as it stands now. */
  stateOf(uri: string): Promise<TableState | undefined>;
  /**
   * The table that a session of the folder is said to be logged with, by its own note or by the vehicle file; without a state where it is
   * not there.
   */
  saidTable(
    sessionUri: string,
    folder: VehicleFolder | undefined,
    known?: SessionHead,
  ): Promise<{ readonly path: string; readonly state: TableState | undefined } | undefined>;
  headOf(sessionUri: string): Promise<SessionHead | undefined>;
  /** As it was read last. */
  lastHead(sessionUri: string): SessionHead | undefined;
  /** Whether the table was seen beside the session before. */
  isFirstSeen(sessionUri: string, tableUri: string): boolean;
}

export function createLoggedWith(workspace: Workspace, documents: Documents, keep?: Keep): LoggedWith {
  const heads = createCache<SessionHead>(20_000);
  const asFirstSeen = new Map<string, { readonly drive: string; readonly state: TableState }>();

  const stateFor: LoggedWith['stateFor'] = async (sessionUri, tableUri, keeps) => {
    const said = await saidTable(sessionUri, await documents.vehicleFolder(sessionUri));
    if (said) return said.state && { ...said.state, pinned: said.path };
    const head = await headOf(sessionUri);
    // A hand edit must not make a session testify about the new value, so the first sight of the table stays; another drive under the same
    // name is another session.
    const name = `${sessionUri} ${tableUri}`;
    const seen = asFirstSeen.get(name);
    if (seen && seen.drive === head?.drive) return seen.state;
    const now = await stateOf(tableUri);
    if (!now || !head) return now;
    // The table as it is now came of this drive: what the engine had is the one before, which nobody has.
    const present = madeTheTable(now.table, head) ? undefined : now;
    if (!keeps) return present;
    const state = (await firstSeenBefore(name, head.drive, now, present !== undefined)) ?? present;
    if (state) asFirstSeen.set(name, { drive: head.drive, state });
    return state;
  };

  /** The table as it was when an earlier run first saw it beside this drive; kept now where none did. */
  const firstSeenBefore = async (name: string, drive: string, now: TableState, puts: boolean): Promise<TableState | undefined> => {
    if (!keep) return undefined;
    // Of every version: what was in the engine computer does not change with the program.
    const place = `table first seen\n${name}`;
    const before = parsed(await keep.get(place)) as { readonly drive?: unknown; readonly text?: unknown } | undefined;
    if (before?.drive !== drive || typeof before.text !== 'string') {
      if (puts) await keep.put(place, JSON.stringify({ drive, text: now.text }));
      return undefined;
    }
    const { text } = before;
    return text === now.text ? now : { key: printOf(text), text, table: readTable(text) };
  };

  const saidTable: LoggedWith['saidTable'] = async (sessionUri, folder, known) => {
    const path = (known ?? (await headOf(sessionUri)))?.loggedWith ?? (folder && pinnedTable(folder, sessionUri));
    if (path === undefined) return undefined;
    const uri = folder && (await workspace.resolve(folder.uri, path));
    return { path, state: uri === undefined ? undefined : await stateOf(uri) };
  };

  const stateOf: LoggedWith['stateOf'] = async (uri) => {
    const read = await documents.table(uri);
    const text = await documents.text(uri);
    return read && text !== undefined ? { key: printOf(text), table: read.value, text } : undefined;
  };

  const headOf: LoggedWith['headOf'] = async (sessionUri) => {
    const key = await workspace.stamp(sessionUri);
    return key === undefined ? undefined : heads.get(sessionUri, key, async () => readHead(await workspace.open(sessionUri)));
  };

  return {
    stateFor,
    stateOf,
    saidTable,
    headOf,
    lastHead: (sessionUri) => heads.last(sessionUri),
    isFirstSeen: (sessionUri, tableUri) => asFirstSeen.has(`${sessionUri} ${tableUri}`),
  };
}
