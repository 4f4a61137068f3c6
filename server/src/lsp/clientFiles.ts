// The workspace over the editor's file system: for a worker, which has no disk, and for folders that are not on one.

import picomatch from 'picomatch';
import type { Connection } from 'vscode-languageserver';
import { globInsideFolder, insideFolder } from '../formats/vehicle/folderPath.js';
import { bytesSource } from '../formats/source.js';
import { fromBase64 } from '../protocol/base64.js';
import { FILES, type FileAsk, type FileBytes } from '../protocol/files.js';
import { join } from '../service/uris.js';
import type { Workspace } from '../service/workspace.js';

/** A glob longer than this is a mistake or an attack, not a path. */
const LONGEST_GLOB = 1000;

/** Files of the client. Links cannot be followed from here, so that the client passes over them. */
export function clientFiles(connection: Pick<Connection, 'sendRequest'>, folders: readonly string[]): Workspace {
  const ask = <Answer>(method: string, uri: string): Promise<Answer | null> =>
    connection.sendRequest<Answer | null>(method, { uri } satisfies FileAsk);
  return {
    folders,
    async open(uri) {
      const bytes = await ask<FileBytes>(FILES.read, uri);
      return bytes === null ? undefined : bytesSource(typeof bytes === 'string' ? fromBase64(bytes) : bytes);
    },
    stamp: async (uri) => (await ask<string>(FILES.stamp, uri)) ?? undefined,
    async find(folderUri, globs) {
      const inside = globs.flatMap((each) => (each.length <= LONGEST_GLOB ? (globInsideFolder(each) ?? []) : []));
      if (inside.length === 0) return [];
      const matches = picomatch(inside, { dot: false });
      const paths = (await ask<readonly string[]>(FILES.list, folderUri)) ?? [];
      return paths
        .filter((path) => matches(path))
        .sort((a, b) => (a < b ? -1 : a > b ? 1 : 0))
        .map((path) => join(folderUri, path));
    },
    async resolve(folderUri, path) {
      const inside = insideFolder(path);
      return inside === undefined ? undefined : join(folderUri, inside);
    },
  };
}

/** Files on disk where they have one, the client's for every other scheme. */
export function bySchemes(disk: Workspace, others: Workspace): Workspace {
  const of = (uri: string): Workspace => (uri.startsWith('file:') ? disk : others);
  return {
    folders: disk.folders,
    open: (uri) => of(uri).open(uri),
    holds: (uri, bytes) => of(uri).holds?.(uri, bytes) ?? false,
    stamp: (uri) => of(uri).stamp(uri),
    find: (uri, globs) => of(uri).find(uri, globs),
    resolve: (uri, path) => of(uri).resolve(uri, path),
  };
}
