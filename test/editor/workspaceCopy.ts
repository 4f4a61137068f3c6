// The folder an editor is given: copies in a temporary place, so that no test touches the checkout's own files.
import assert from 'node:assert/strict';
import { cpSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, relative } from 'node:path';
import { benchCarFiles, benchCarName, firstCarName, sampleName } from './benchCar.js';
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

/**
 * Makes a folder with the named cars in it, as a shop keeps them; the sample and the bench car where none is named. The caller removes it.
 */
export function copyWorkspace(names: readonly string[] = [sampleName, benchCarName]): string {
  const folder = realpathSync(mkdtempSync(join(tmpdir(), 'leanspot-shop-')));
  if (names.includes(sampleName)) cpSync(join(root, sampleName), join(folder, sampleName), { recursive: true });
  if (names.includes(firstCarName)) cpSync(join(root, 'client/sample', firstCarName), join(folder, firstCarName), { recursive: true });
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

/**
 * Plays in a folder and fails where its files are others afterwards: nothing is written that nobody asked for. The harness' own settings do
 * not count.
 */
export async function leavingFiles(folder: string, play: () => Promise<void>): Promise<void> {
  const files = (): Readonly<Record<string, string>> =>
    Object.fromEntries(
      readdirSync(folder, { recursive: true, withFileTypes: true })
        .filter((entry) => entry.isFile())
        .map((entry) => join(entry.parentPath, entry.name))
        .map((path) => [relative(folder, path), readFileSync(path, 'latin1')] as const)
        .filter(([path]) => !path.startsWith('.vscode'))
        .sort(),
    );
  const before = files();
  await play();
  const after = files();
  assert.deepEqual(Object.keys(after), Object.keys(before), 'files came or went');
  for (const path of Object.keys(before)) assert.ok(after[path] === before[path], `${path} was written`);
}
