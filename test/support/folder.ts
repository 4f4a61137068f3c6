// A fixture's files as a real folder, gone when the test is over.

import { mkdirSync, mkdtempSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fixtureFiles } from './fixture.js';

/** Runs `use` in a new folder that holds the fixture's files; the folder is taken away whatever happens. */
export async function inFolder<T>(fixture: string, use: (folder: string) => Promise<T> | T): Promise<T> {
  const folder = realpathSync(mkdtempSync(join(tmpdir(), 'leanspot-')));
  try {
    for (const { name, text } of fixtureFiles(fixture)) {
      const path = join(folder, name);
      mkdirSync(dirname(path), { recursive: true });
      writeFileSync(path, text);
    }
    return await use(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
