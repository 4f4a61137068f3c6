// The only place where the product writes: what the user asked for, whole or not at all.

import { chmodSync, existsSync, mkdirSync, realpathSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname } from 'node:path';

export const fileExists = (path: string): boolean => existsSync(path);

/** A new file is never written over one that is there; one that is there (where it really lies: a link stays a link) is replaced in one step, its rights kept. */
export function writeBytes(path: string, bytes: Uint8Array, { isNew }: { readonly isNew: boolean }): void {
  if (isNew) {
    mkdirSync(dirname(path), { recursive: true });
    writeFileSync(path, bytes, { flag: 'wx' });
    return;
  }
  const real = realpathSync(path);
  const beside = `${real}.leanspot-${process.pid}`;
  try {
    writeFileSync(beside, bytes, { flag: 'wx', mode: 0o600 });
    // A mode given at creation would be narrowed by the umask.
    chmodSync(beside, statSync(real).mode);
    renameSync(beside, real);
  } finally {
    rmSync(beside, { force: true });
  }
}
