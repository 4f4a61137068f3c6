// The folder an editor is given: copies in a temporary place, so that no test touches the checkout's own files.
import { cpSync, mkdirSync, mkdtempSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { benchCarFiles, benchCarName, sampleName } from './benchCar.js';
import { root } from './places.js';

/** Makes a folder with the named cars in it, as a shop keeps them; all of them where none is named. The caller removes it. */
export function copyWorkspace(names: readonly string[] = [sampleName, benchCarName]): string {
  const folder = realpathSync(mkdtempSync(join(tmpdir(), 'leanspot-shop-')));
  if (names.includes(sampleName)) cpSync(join(root, sampleName), join(folder, sampleName), { recursive: true });
  for (const [path, text] of names.includes(benchCarName) ? Object.entries(benchCarFiles) : []) {
    const file = join(folder, benchCarName, path);
    mkdirSync(dirname(file), { recursive: true });
    writeFileSync(file, text);
  }
  return folder;
}

/** Removes it again; an editor just stopped may still be writing, so it is tried more than once. */
export function removeFolder(folder: string): void {
  rmSync(folder, { recursive: true, force: true, maxRetries: 5, retryDelay: 100 });
}
