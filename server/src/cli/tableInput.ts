// TABLE and its sessions, as `weigh`, `correct` and `compare` take them.

import { diskWorkspace, uriOf } from '../disk/diskWorkspace.js';
import type { Table } from '../formats/table/table.js';
import { canBeWeighed } from '../fueling/solution/grid.js';
import { createFileService, type FileService } from '../service/fileService.js';
import { weighedSessionsOf } from '../service/vehicleFolders.js';
import type { Workspace } from '../service/workspace.js';
import { expandSessions } from './inputs.js';
import { Failure } from './failure.js';
import { tell } from './output/write.js';
import { wantFile } from './paths.js';
import { fromWorkingFolder } from './places.js';
import { BYTES_A_THREAD, laterThreads, type LaterThreads } from './threads.js';

export interface TableInput {
  readonly workspace: Workspace;
  readonly service: FileService;
  readonly threads: LaterThreads;
  readonly uri: string;
  readonly path: string;
  readonly table: Table;
}

/** Throws a `Failure` for a path that is no file, or a table that readings can't speak of. */
export async function openTable(path: string, vehicle?: string): Promise<TableInput> {
  wantFile(path, 'table');
  if (vehicle !== undefined) wantFile(vehicle, 'vehicle file');
  const workspace = diskWorkspace([uriOf('.')]);
  const threads = laterThreads(BYTES_A_THREAD.weigh);
  const service = createFileService(workspace, { ...threads.options, ...(vehicle === undefined ? {} : { vehicleUri: uriOf(vehicle) }) });
  const uri = uriOf(path);
  const table = (await service.documents.table(uri))?.value;
  if (!table || table.values.length === 0) throw new Failure(`${path} does not read as a table`);
  if (!canBeWeighed(table)) {
    throw new Failure(
      `sessions can't speak of ${path}: ${
        table.quantity === undefined
          ? 'its "# quantity:" is not said or not known'
          : 'it is no fuel table, or an axis is not said or does not run one way'
      } (leanspot check ${path} tells more)`,
    );
  }
  return { workspace, service, threads, uri, path, table };
}

/** Says on standard error which sessions are no evidence because the table they were logged with is not there. */
export async function tellUnheard({ service: { weigher }, uri }: TableInput, sessions: readonly string[]): Promise<void> {
  for (const session of sessions) {
    if (await weigher.loggedWith(session, uri)) continue;
    tell(
      `leanspot: ${fromWorkingFolder(session)} is no evidence: ${(await weigher.madeTheTable(session, uri)) ? 'the table was corrected by it ("# corrected-from" there), and nothing says which one it was logged with' : "the table that it is said to be logged with is not found in the vehicle's folder"}\n`,
    );
  }
}

/** Sessions that globs (or paths) name, else the vehicle's. */
export async function sessionsFor(input: TableInput, globs: readonly string[] | undefined): Promise<readonly string[]> {
  const sessions = await namedSessions(input, globs);
  await input.threads.begin(input.workspace, sessions);
  return sessions;
}

/** Says on standard error which files of a vehicle are left out: beyond what is read, or not listed. */
export async function tellLeftOut(service: FileService, vehicleUri: string): Promise<void> {
  const told = ((await service.check(vehicleUri))?.findings ?? []).filter(
    ({ data }) => data?.kind === 'too-many-files' || data?.kind === 'sessions-unlisted' || data?.kind === 'tables-unlisted',
  );
  for (const { message } of told) tell(`leanspot: ${message}\n`);
}

async function namedSessions(
  { workspace, service, uri, path }: TableInput,
  globs: readonly string[] | undefined,
): Promise<readonly string[]> {
  if (globs !== undefined && globs.length > 0) return expandSessions(service, globs);
  const folder = await service.vehicleFolder(uri);
  if (!folder) throw new Failure(`no vehicle.json above ${path}: name the sessions with --sessions`);
  const sessions = await weighedSessionsOf(workspace, folder);
  await tellLeftOut(service, folder.fileUri);
  if (sessions.length === 0)
    throw new Failure(`the vehicle in ${fromWorkingFolder(folder.uri)} has no sessions: name some with --sessions`);
  return sessions;
}
