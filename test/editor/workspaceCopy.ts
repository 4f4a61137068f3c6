// The folder an editor is given: copies in a temporary place, so that no test touches the checkout's own files.
import { cpSync, existsSync, mkdirSync, mkdtempSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { benchCarFiles, benchCarName } from './benchCar.js';
import { root } from './places.js';

/** Makes a folder with the sample and the bench car in it, as a shop keeps its cars. The caller removes it. */
export function copyWorkspace(): string {
  const folder = realpathSync(mkdtempSync(join(tmpdir(), 'leanspot-shop-')));
  const sample = join(root, 'samples');
  if (existsSync(sample)) cpSync(sample, join(folder, 'samples'), { recursive: true });
  for (const [path, text] of Object.entries(benchCarFiles)) {
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
