// What a vehicle file names and the folder does not hold, and what the folder holds beyond what is read: told as the reader's problems are,
// at the path's own place.

import type { Problem } from '../formats/problem.js';
import { range } from '../formats/range.js';
import type { Session } from '../formats/session/session.js';
import { FUEL_TABLE_QUANTITIES, type TableQuantity } from '../formats/table/table.js';
import { TABLE_QUANTITIES } from '../formats/table/tableQuantity.js';
import type { Documents } from './documents.js';
import { relativeTo } from './uris.js';
import {
  isEarlierTable,
  leftOutOf,
  listsAsTable,
  MOST_FILES,
  plainFilesOf,
  sessionsOf,
  tablesOf,
  type VehicleFolder,
} from './vehicleFolders.js';
import type { Workspace } from './workspace.js';

/**
 * Problems of code `file-missing`; `data.path` is the path or glob as written, `data.key` where it stands (`tables.fuel`).
 * Kinds: `table`, `session` and `logged-with` (no such file), `sessions` (the glob matches no file), `outside` (a link leads out of the
 * folder).
 */
export async function missingFiles(workspace: Workspace, folder: VehicleFolder): Promise<Problem[]> {
  const { tables, sessions, joins } = folder.document.vehicle;
  const problems: Problem[] = [];
  const tell = (kind: string, key: readonly (string | number)[], path: string): void => {
    const place = folder.document.rangeOf(key) ?? folder.document.rangeOf(key.slice(0, -1)) ?? range(0, 0, 0, 0);
    problems.push({ code: 'file-missing', kind, range: place, count: 1, data: { path, key: key.join('.') } });
  };
  const lookFor = async (kind: string, key: readonly (string | number)[], path: string): Promise<void> => {
    const uri = await workspace.resolve(folder.uri, path);
    if (uri === undefined) tell('outside', key, path);
    else if (!(await workspace.stamp(uri))) tell(kind, key, path);
  };

  for (const [role, path] of Object.entries(tables)) if (path !== undefined) await lookFor('table', ['tables', role], path);
  for (const [index, { files, loggedWith }] of sessions.entries()) {
    const written = folder.document.rangeOf(['sessions', index, 'files']) ? ['sessions', index, 'files'] : ['sessions', index];
    if ((await workspace.find(folder.uri, [files])).length === 0) tell('sessions', written, files);
    if (loggedWith !== undefined) await lookFor('logged-with', ['sessions', index, 'loggedWith'], loggedWith);
  }
  for (const [index, { first, second }] of joins.entries()) {
    await lookFor('session', ['join', index, 0], first);
    await lookFor('session', ['join', index, 1], second);
  }
  return problems;
}

/** More sessions or tables than are read of one vehicle. */
export async function tooManyFiles(workspace: Workspace, folder: VehicleFolder): Promise<Problem[]> {
  const place = folder.document.rangeOf(['sessions']) ?? range(0, 0, 0, 0);
  return Object.entries(await leftOutOf(workspace, folder))
    .filter(([, left]) => left > 0)
    .map(([what, left]): Problem => ({
      code: 'vehicle-invalid',
      kind: 'too-many-files',
      range: place,
      count: 1,
      data: { key: what, what, most: MOST_FILES, left },
    }));
}

/** Of a folder full of other texts only so many are looked into. */
const MOST_LOOKED_INTO = 100;

/** Files whose header reads as a session's and that the vehicle file does not list: they are checked, but no evidence. */
export async function unlistedSessions(documents: Documents, workspace: Workspace, folder: VehicleFolder): Promise<Problem[]> {
  // What a file that is no JSON lists is not known.
  if (folder.document.problems.some(({ kind }) => kind === 'syntax')) return [];
  const paths: string[] = [];
  for (const uri of (await plainFilesOf(workspace, folder)).slice(0, MOST_LOOKED_INTO)) {
    if ((await documents.kindOf(uri))?.kind === 'session') paths.push(relativeTo(folder.uri, uri) ?? uri);
  }
  if (paths.length === 0) return [];
  return [
    {
      code: 'vehicle-invalid',
      kind: 'sessions-unlisted',
      range: folder.document.rangeOf(['sessions']) ?? range(0, 0, 0, 0),
      count: 1,
      data: { key: 'sessions', path: paths.join('|'), paths },
    },
  ];
}

/** Tables that can stand for the whole of the fuel; a multiplier is one correction among others. */
const WHOLE_FUEL: readonly TableQuantity[] = FUEL_TABLE_QUANTITIES.filter((quantity) => quantity !== 'multiplier');

/**
 * Fuel tables that the vehicle file does not name and that may be what the engine runs by: such as hold what the named one holds, or, where
 * none is named, two and more. Not those kept as an earlier state:
 * under `history`, or said to be logged with, by the vehicle file or by a session's own note (`notedTable`).
 */
export async function unlistedTables(
  documents: Documents,
  workspace: Workspace,
  folder: VehicleFolder,
  notedTable: (sessionUri: string) => Promise<string | undefined>,
): Promise<Problem[]> {
  if (folder.document.problems.some(({ kind }) => kind === 'syntax')) return [];
  const { tables } = folder.document.vehicle,
    fuel = tables.fuel === undefined ? undefined : await workspace.resolve(folder.uri, tables.fuel);
  const quantityOf = async (uri: string): Promise<TableQuantity | undefined> => (await documents.table(uri))?.value.quantity;
  const named = fuel === undefined ? undefined : await quantityOf(fuel),
    rivals = named === undefined ? WHOLE_FUEL : WHOLE_FUEL.filter((quantity) => quantity === named);
  // A table that is named and not there, or is no fuel table, is told as that.
  if (tables.fuel !== undefined && named === undefined) return [];
  const paths: string[] = [];
  for (const uri of (await tablesOf(workspace, folder))
    .filter((each) => !listsAsTable(folder, each) && !isEarlierTable(folder, each))
    .slice(0, MOST_LOOKED_INTO)) {
    const quantity = await quantityOf(uri),
      path = relativeTo(folder.uri, uri);
    if (path !== undefined && quantity !== undefined && rivals.includes(quantity)) paths.push(path);
  }
  const isTold = (left: readonly string[]): boolean => left.length >= (named === undefined ? 2 : 1);
  if (!isTold(paths)) return [];
  const noted = new Set<string | undefined>();
  for (const session of await sessionsOf(workspace, folder)) {
    // As it is written there: it may begin at this folder (`./`).
    const path = await notedTable(session),
      uri = path === undefined ? undefined : await workspace.resolve(folder.uri, path);
    noted.add(uri === undefined ? undefined : relativeTo(folder.uri, uri));
  }
  const left = paths.filter((path) => !noted.has(path));
  if (!isTold(left)) return [];
  const place = folder.document.rangeOf(['tables', 'fuel']) ?? folder.document.rangeOf(['tables']) ?? range(0, 0, 0, 0);
  return [
    {
      code: 'vehicle-invalid',
      kind: 'tables-unlisted',
      range: place,
      count: 1,
      data: { key: 'tables.fuel', path: left.join('|'), paths: left, ...(tables.fuel === undefined ? {} : { named: tables.fuel }) },
    },
  ];
}

const TARGETS: readonly TableQuantity[] = ['target-lambda', 'target-afr'];

/**
 * Tables of `tables.fuel` and `tables.target` that hold another quantity than their key says; those whose quantity is not known are told in
 * the table.
 */
export async function misplacedTables(documents: Documents, workspace: Workspace, folder: VehicleFolder): Promise<Problem[]> {
  const problems: Problem[] = [];
  for (const [role, fitting, wanted] of [
    ['fuel', FUEL_TABLE_QUANTITIES, 'a table that the fuel goes by'],
    ['target', TARGETS, 'target lambda or AFR'],
  ] as const) {
    const path = folder.document.vehicle.tables[role],
      uri = path === undefined ? undefined : await workspace.resolve(folder.uri, path);
    const quantity = uri === undefined ? undefined : (await documents.table(uri))?.value.quantity;
    if (quantity === undefined || fitting.includes(quantity)) continue;
    problems.push({
      code: 'vehicle-invalid',
      kind: 'table-misplaced',
      range: folder.document.rangeOf(['tables', role]) ?? range(0, 0, 0, 0),
      count: 1,
      data: { key: `tables.${role}`, path: path ?? '', holds: TABLE_QUANTITIES[quantity].title, wanted },
    });
  }
  return problems;
}

/** Sessions that the vehicle file joins and whose clocks do not go together. */
export async function refusedJoins(documents: Documents, workspace: Workspace, folder: VehicleFolder): Promise<Problem[]> {
  const problems: Problem[] = [];
  for (const [index, { first, second }] of folder.document.vehicle.joins.entries()) {
    const uri = await workspace.resolve(folder.uri, first);
    const joined = uri === undefined ? undefined : await documents.joined(uri);
    if (!joined || joined.path !== second || !('refused' in joined)) continue;
    problems.push({
      code: 'vehicle-invalid',
      kind: 'join-refused',
      range: folder.document.rangeOf(['join', index]) ?? range(0, 0, 0, 0),
      count: 1,
      data: { key: `join.${index}`, first, second, why: joined.refused },
    });
  }
  return problems;
}

/** The same for a table that a session's own note names: the problem stands at the path in the note. */
export function missingNoted({ notes }: Session, path: string): Problem {
  const note = notes.find(({ key, value }) => key === 'logged-with' && value === path);
  const start = (note?.character ?? 0) + Math.max(0, note?.text.lastIndexOf(path) ?? 0);
  return {
    code: 'file-missing',
    kind: 'logged-with',
    range: range(note?.line ?? 0, start, note?.line ?? 0, start + path.length),
    count: 1,
    data: { path },
  };
}
