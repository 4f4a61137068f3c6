// Results kept in a folder of the editor's own for the next start, each in a file named by its name's hash; the oldest go when there are
// too many.

import { createHash } from 'node:crypto';
import { mkdirSync, readdirSync, readFileSync, renameSync, rmSync, statSync, utimesSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Keep } from '../service/keep.js';

const MOST_BYTES = 512 << 20;
const ENDING = '.kept';

/** Nothing here throws: what cannot be kept is made anew. */
export function keepFolder(folder: string, version: string, mostBytes = MOST_BYTES): Keep {
  let left = mostBytes;
  let isReady = false;
  const makeReady = (): void => {
    if (isReady) return;
    isReady = true;
    mkdirSync(folder, { recursive: true });
    left = mostBytes - trimmed(folder, mostBytes);
  };
  const fileOf = (name: string): string => join(folder, `${createHash('sha256').update(name).digest('hex').slice(0, 40)}${ENDING}`);

  return {
    version,
    async get(name) {
      try {
        const path = fileOf(name);
        const text = readFileSync(path, 'utf8');
        const head = `${JSON.stringify(name)}\n`;
        if (!text.startsWith(head)) return undefined;
        const now = new Date();
        utimesSync(path, now, now);
        return text.slice(head.length);
      } catch {
        return undefined;
      }
    },
    async put(name, text) {
      try {
        makeReady();
        const content = `${JSON.stringify(name)}\n${text}`;
        if (content.length > left) left = mostBytes - trimmed(folder, mostBytes / 2);
        if (content.length > left) return;
        const path = fileOf(name);
        const beside = `${path}.${process.pid}`;
        writeFileSync(beside, content, { mode: 0o600 });
        renameSync(beside, path);
        left -= content.length;
      } catch {
        /* a full or read-only disk keeps nothing */
      }
    },
  };
}

/**
 * Takes away the files used longest ago until those left have no more bytes than `most`, and whatever a stop has left half written; the
 * bytes left.
 */
function trimmed(folder: string, most: number): number {
  const files = readdirSync(folder)
    .flatMap((name) => {
      const path = join(folder, name);
      if (name.endsWith(ENDING)) {
        const { size, mtimeMs } = statSync(path);
        return [{ path, size, mtimeMs }];
      }
      if (name.includes(`${ENDING}.`)) rmSync(path, { force: true });
      return [];
    })
    .sort((a, b) => a.mtimeMs - b.mtimeMs);
  let bytes = files.reduce((sum, { size }) => sum + size, 0);
  for (const { path, size } of files) {
    if (bytes <= most) break;
    rmSync(path, { force: true });
    bytes -= size;
  }
  return bytes;
}
