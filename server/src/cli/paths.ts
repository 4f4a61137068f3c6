// Paths that a command is given, looked at before anything is read or computed: each function throws a `Failure` that says what is wrong.

import { dirname } from 'node:path';
import { pathKind } from '../disk/diskWorkspace.js';
import { Failure } from './failure.js';

/** `what` was asked for: `table`, `session`. */
export function wantFile(path: string, what: string): void {
  const kind = pathKind(path);
  if (kind !== 'file') throw new Failure(kind === 'folder' ? `${path} is a folder, not a ${what}` : `no such ${what}: ${path}`);
}

/** The folder that `option`'s file is to lie in. */
export function wantFolderOf(path: string, option = '--output'): void {
  if (pathKind(dirname(path)) !== 'folder') throw new Failure(`no such folder: ${dirname(path)} (${option} makes none)`);
}
