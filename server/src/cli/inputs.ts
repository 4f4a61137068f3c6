// PATH… of a command: each a file, a folder, a glob or `-` for standard input, made into the files to look at.

import { glob } from 'tinyglobby';
import { diskWorkspace, pathKind, uriOf } from '../disk/diskWorkspace.js';
import { withMemory } from '../disk/memory.js';
import type { FileKind } from '../service/fileKind.js';
import { createFileService, type FileService } from '../service/fileService.js';
import type { Workspace } from '../service/workspace.js';
import { Failure } from './failure.js';
import { wantFile } from './paths.js';
import { BYTES_A_THREAD, laterThreads } from './threads.js';
import { tell } from './output/write.js';

export interface Input {
  readonly uri: string;
  readonly kind: FileKind;
}

export interface Inputs {
  readonly service: FileService;
  readonly workspace: Workspace;
  /** Each file once: vehicle files, then sessions, then tables, so that a table finds its sessions already read. */
  readonly files: readonly Input[];
  /** Named by the user but none of ours. */
  readonly skipped: readonly string[];
}

/** The name that standard input goes by. */
export const STANDARD_INPUT = '-';

/** Files that may hold a session whatever their header says, where the user names them himself. */
const MAY_BE_SESSION = /\.(csv|tsv|txt|log|dat)$/i;

/** Each file is checked once; those begun meanwhile are asked for next. */
const CHECKS_REMEMBERED = 16;

const ORDER: readonly FileKind[] = ['vehicle', 'session', 'table'];

/** Throws a `Failure` where a path names nothing. `vehicle` is the path of a vehicle file that all belong to. */
export async function findInputs(paths: readonly string[], vehicle?: string): Promise<Inputs> {
  if (vehicle !== undefined) wantFile(vehicle, 'vehicle file');
  let workspace = diskWorkspace([uriOf('.')]);
  if (paths.includes(STANDARD_INPUT)) workspace = withMemory(workspace, uriOf(STANDARD_INPUT), await readStandardInput());
  const threads = laterThreads(BYTES_A_THREAD.check, uriOf(STANDARD_INPUT));
  const service = createFileService(workspace, {
    ...threads.options,
    checksRemembered: CHECKS_REMEMBERED,
    knownAlone: true,
    ...(vehicle === undefined ? {} : { vehicleUri: uriOf(vehicle) }),
  });

  const files = new Map<string, FileKind>();
  const skipped: string[] = [];
  const addFile = async (path: string): Promise<void> => {
    const kind = await kindOf(service, path);
    if (kind) files.set(uriOf(path), kind);
    else skipped.push(path);
  };

  for (const path of paths) {
    switch (path === STANDARD_INPUT ? 'file' : pathKind(path)) {
      case 'file':
        await addFile(path);
        break;
      case 'folder':
        for (const { uri, kind } of await service.filesBelow(uriOf(path))) files.set(uri, kind);
        for (const uri of await workspace.find(uriOf(path), ['**/*.csv'])) {
          // A plain .csv counts where its header reads as ours.
          const kind = files.has(uri) ? undefined : (await service.kindOf(uri))?.kind;
          if (kind) files.set(uri, kind);
        }
        break;
      case 'other':
        throw new Failure(`${path} is neither a file nor a folder`);
      case undefined:
        for (const each of await expand(path)) await addFile(each);
    }
  }
  if (files.size === 0) {
    throw new Failure(
      skipped.length > 0
        ? `nothing to check: ${skipped.join(', ')} is neither a session, a table nor a vehicle file`
        : `nothing to check below ${paths.join(', ')}: no session, table or vehicle.json there`,
    );
  }
  const sorted = [...files]
    .map(([uri, kind]) => ({ uri, kind }))
    .sort((a, b) => ORDER.indexOf(a.kind) - ORDER.indexOf(b.kind) || (a.uri < b.uri ? -1 : 1));
  await threads.begin(
    workspace,
    sorted.flatMap(({ uri, kind }) => (kind === 'session' ? [uri] : [])),
  );
  return { service, workspace, files: sorted, skipped };
}

/** The files that a path or glob names; throws a `Failure` where there are none. */
export async function expand(path: string): Promise<readonly string[]> {
  const kind = pathKind(path);
  if (kind === 'file') return [path];
  if (kind === 'folder') throw new Failure(`${path} is a folder: name files, or a glob such as '${path.replace(/[\\/]+$/, '')}/*.csv'`);
  const pattern = process.platform === 'win32' ? path.replaceAll('\\', '/') : path;
  if (!isGlob(path)) throw new Failure(`no such file or folder: ${path}`);
  const found = await glob([pattern], { ignore: ['**/node_modules/**'], expandDirectories: false });
  if (found.length === 0) throw new Failure(`no file matches: ${path}`);
  return found.sort();
}

const isGlob = (path: string): boolean => /[*?[{]/.test(path);

/**
 * The sessions (URIs, each once) that paths and globs name; a file named outright that is none is refused, one that a glob met is left out
 * with a word.
 */
export async function expandSessions(service: FileService, paths: readonly string[]): Promise<readonly string[]> {
  const sessions = new Set<string>();
  for (const path of paths) {
    const found = await expand(path);
    const kinds = await Promise.all(found.map(async (each) => kindOf(service, each)));
    const others = found.filter((_, index) => kinds[index] !== 'session');
    if (others.length === found.length) throw new Failure(found[0] === path ? `${path} is not a session` : `no session matches: ${path}`);
    for (const other of others) tell(`leanspot: left out ${other}: not a session\n`);
    for (const each of found) if (!others.includes(each)) sessions.add(uriOf(each));
  }
  return [...sessions];
}

/** What a file that the user names is: where its name and header do not say, a text is a session. */
const kindOf = async (service: FileService, path: string): Promise<FileKind | undefined> =>
  (await service.kindOf(uriOf(path)))?.kind ?? (path === STANDARD_INPUT || MAY_BE_SESSION.test(path) ? 'session' : undefined);

async function readStandardInput(): Promise<Uint8Array> {
  const chunks: Buffer[] = [];
  for await (const chunk of process.stdin) chunks.push(chunk as Buffer);
  return Buffer.concat(chunks);
}
