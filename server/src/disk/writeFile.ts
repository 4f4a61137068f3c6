// The only place where the product writes: what the user asked for, whole or not at all, whenever the program or the machine is stopped.

import {
  accessSync,
  chmodSync,
  chownSync,
  closeSync,
  constants,
  existsSync,
  fsyncSync,
  linkSync,
  mkdirSync,
  openSync,
  realpathSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { randomBytes } from 'node:crypto';
import { dirname, join } from 'node:path';

export const fileExists = (path: string): boolean => existsSync(path);

/**
 * A new file is never written over one that is there (EEXIST); one that is there (where it really lies: a link stays a link) is replaced in
 * one step, its rights kept, and not where it is write-protected. Throws the system's error with `path` as it was given.
 */
export function writeBytes(path: string, bytes: Uint8Array, { isNew }: { readonly isNew: boolean }): void {
  try {
    if (isNew) createWhole(path, bytes);
    else replaceWhole(realpathSync(path), bytes);
  } catch (error) {
    throw Object.assign(error as Error, { path });
  }
}

function createWhole(path: string, bytes: Uint8Array): void {
  mkdirSync(dirname(path), { recursive: true });
  withFileBeside(path, bytes, 0o666, (beside) => linkNew(beside, path));
}

/**
 * A new file, filled by `fill` under another name in the same folder, so that it is there whole or not at all. Throws as `writeBytes` does.
 */
export async function fillNewFile(path: string, fill: (beside: string) => Promise<void>): Promise<void> {
  const beside = join(dirname(path), `.leanspot-${randomBytes(6).toString('hex')}`);
  try {
    await fill(beside);
    const file = openSync(beside, 'r+');
    try {
      fsyncSync(file);
    } finally {
      closeSync(file);
    }
    linkNew(beside, path);
  } catch (error) {
    throw (error as { code?: string }).code === undefined ? error : Object.assign(error as Error, { path });
  } finally {
    rmSync(beside, { force: true });
  }
  flushFolder(dirname(path));
}

/** Gives a file its name, unless that is taken. */
function linkNew(beside: string, path: string): void {
  try {
    // Unlike a rename, it fails where the name is taken.
    linkSync(beside, path);
  } catch (error) {
    // A file system without hard links.
    if (existsSync(path) || (error as { code?: string }).code === 'EEXIST') throw error;
    renameSync(beside, path);
  }
}

function replaceWhole(path: string, bytes: Uint8Array): void {
  accessSync(path, constants.W_OK);
  withFileBeside(path, bytes, 0o600, (beside) => {
    const { mode, uid, gid } = statSync(path);
    try {
      chownSync(beside, uid, gid);
    } catch {
      /* Only the administrator can; the file is the writer's then. */
    }
    // A mode given at creation would be narrowed by the umask.
    chmodSync(beside, mode);
    renameSync(beside, path);
  });
}

/**
 * Writes and flushes a hidden file in the same folder, hands it over, and takes away what is left of it. A stop in between leaves it, under
 * a name that nothing reads.
 */
function withFileBeside(path: string, bytes: Uint8Array, mode: number, use: (beside: string) => void): void {
  const folder = dirname(path);
  const beside = join(folder, `.leanspot-${randomBytes(6).toString('hex')}`);
  try {
    const file = openSync(beside, 'wx', mode);
    try {
      writeFileSync(file, bytes);
      fsyncSync(file);
    } finally {
      closeSync(file);
    }
    use(beside);
  } finally {
    rmSync(beside, { force: true });
  }
  flushFolder(folder);
}

/** So that the name lasts through a loss of power too; a system that cannot flush folders has its own way. */
function flushFolder(folder: string): void {
  let file: number | undefined;
  try {
    file = openSync(folder, 'r');
    fsyncSync(file);
  } catch {
    /* Windows opens no folders. */
  } finally {
    if (file !== undefined) closeSync(file);
  }
}
