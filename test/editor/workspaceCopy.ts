// The folder an editor is given: copies in a temporary place, so that no test touches the checkout's own files.
import { cpSync, mkdirSync, mkdtempSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { benchCarFiles, benchCarName, sampleName } from './benchCar.js';
import { HOSTILE_PAGE } from '../trust/hostile.js';
import { carSaying } from '../trust/hostileCar.js';
import { root } from './places.js';

/** A car whose files say what would do something if it were taken for more than text, its files' names too. */
export const hostileCarName = 'hostile-car';
export const hostileFileName = '<img src=x onerror=alert(3)>';

const made: Readonly<Record<string, () => Readonly<Record<string, string>>>> = {
  [benchCarName]: () => benchCarFiles,
  [hostileCarName]: () => carSaying(HOSTILE_PAGE, hostileFileName),
};

/** Makes a folder with the named cars in it, as a shop keeps them; the sample and the bench car where none is named. The caller removes it. */
export function copyWorkspace(names: readonly string[] = [sampleName, benchCarName]): string {
  const folder = realpathSync(mkdtempSync(join(tmpdir(), 'leanspot-shop-')));
  if (names.includes(sampleName)) cpSync(join(root, sampleName), join(folder, sampleName), { recursive: true });
  for (const name of names) {
    for (const [path, text] of Object.entries(made[name]?.() ?? {})) {
      const file = join(folder, name, path);
      mkdirSync(dirname(file), { recursive: true });
      writeFileSync(file, text);
    }
  }
  return folder;
}

/** Removes it again; an editor just stopped may still be writing, so it is tried more than once. */
export function removeFolder(folder: string): void {
  rmSync(folder, { recursive: true, force: true, maxRetries: 5, retryDelay: 100 });
}
