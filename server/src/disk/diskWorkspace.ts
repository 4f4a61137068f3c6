// The workspace over real files: finds and opens them, and keeps every path inside its folder.

import { lstatSync, realpathSync, statSync } from 'node:fs';
import { dirname, isAbsolute, join, relative, resolve, sep } from 'node:path';
import { glob } from 'tinyglobby';
import { globInsideFolder, insideFolder } from '../formats/vehicle/folderPath.js';
import type { Workspace } from '../service/workspace.js';
import { fileHolds, fileSource } from './fileSource.js';
import { pathOf, uriOf } from './fileUri.js';

export { pathOf, uriOf };

/** A glob longer than this is a mistake or an attack, not a path. */
const LONGEST_GLOB = 1000;

/** Files on disk below (and, for single files, outside) the folders given as URIs. Other schemes than `file` have no files here. */
export function diskWorkspace(folders: readonly string[]): Workspace {
  return {
    folders,
    open: async (uri) => {
      const path = pathOf(uri);
      return path === undefined ? undefined : fileSource(path);
    },
    holds: (uri, bytes) => {
      const path = pathOf(uri);
      return path !== undefined && fileHolds(path, bytes);
    },
    stamp: async (uri) => {
      const path = pathOf(uri);
      const stats = path === undefined ? undefined : statSync(path, { throwIfNoEntry: false });
      return stats?.isFile() ? `${stats.mtimeMs}:${stats.size}:${stats.ino}` : undefined;
    },
    find: async (folderUri, globs) => {
      const folder = pathOf(folderUri);
      const inside = globs.flatMap((each) => (each.length <= LONGEST_GLOB ? (globInsideFolder(each) ?? []) : []));
      if (folder === undefined || inside.length === 0 || !isFolder(folder)) return [];
      const found = await glob(inside, {
        cwd: folder,
        dot: false,
        onlyFiles: true,
        followSymbolicLinks: false,
        expandDirectories: false,
        ignore: ['**/node_modules/**'],
      });
      return found.sort(byPath).flatMap((path) => {
        const full = join(folder, path);
        return isLink(full) && !isWithin(folder, full) ? [] : [uriOf(full)];
      });
    },
    resolve: async (folderUri, relativePath) => {
      const folder = pathOf(folderUri);
      const inside = insideFolder(relativePath);
      if (folder === undefined || inside === undefined) return undefined;
      const full = resolve(folder, inside);
      return isWithin(folder, full) ? uriOf(full) : undefined;
    },
  };
}

/** Whether a path, links followed as far as it exists, lies below the folder. */
function isWithin(folder: string, path: string): boolean {
  const real = relative(realpath(folder), realpath(path));
  return real !== '..' && !real.startsWith(`..${sep}`) && !isAbsolute(real);
}

function realpath(path: string): string {
  try {
    return realpathSync.native(path);
  } catch {
    const parent = dirname(path);
    return parent === path ? path : join(realpath(parent), relative(parent, path));
  }
}

const isLink = (path: string): boolean => lstatSync(path, { throwIfNoEntry: false })?.isSymbolicLink() ?? false;
const isFolder = (path: string): boolean => statSync(path, { throwIfNoEntry: false })?.isDirectory() ?? false;

/** By code unit, so that the order is the same on every machine. */
const byPath = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/** What a path names, links followed; undefined where there is nothing. */
export function pathKind(path: string): 'file' | 'folder' | 'other' | undefined {
  try {
    const stats = path.includes('\0') ? undefined : statSync(path, { throwIfNoEntry: false });
    return stats === undefined ? undefined : stats.isFile() ? 'file' : stats.isDirectory() ? 'folder' : 'other';
  } catch (error) {
    // A path too long or with a file for a folder names nothing either.
    if (['ENAMETOOLONG', 'ENOTDIR', 'ELOOP'].includes((error as { code?: string }).code ?? '')) return undefined;
    throw error;
  }
}
