// The only place where the product writes: what the user asked for, whole or not at all.

import { existsSync, mkdirSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname } from 'node:path';

export const fileExists = (path: string): boolean => existsSync(path);

/** A new file is never written over one that is there; one that is there is replaced in one step, its rights kept. */
export function writeBytes(path: string, bytes: Uint8Array, { isNew }: { readonly isNew: boolean }): void {
  if (isNew) {
    mkdirSync(dirname(path), { recursive: true });
    writeFileSync(path, bytes, { flag: 'wx' });
    return;
  }
  const beside = `${path}.leanspot-${process.pid}`;
  try {
    writeFileSync(beside, bytes, { flag: 'wx', mode: statSync(path).mode });
    renameSync(beside, path);
  } finally {
    rmSync(beside, { force: true });
  }
}
