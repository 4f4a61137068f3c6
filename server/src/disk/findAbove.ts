// Finds something of the package from where the program lies, bundled or not.

import { existsSync, realpathSync } from 'node:fs';
import { dirname, join } from 'node:path';

/** `relativePath` in the folder of `start` or the nearest folder above; undefined where no folder has it. */
export function findAbove(start: string, relativePath: string): string | undefined {
  if (!existsSync(start)) return undefined;
  for (let folder = dirname(realpathSync(start)); ; folder = dirname(folder)) {
    const candidate = join(folder, relativePath);
    if (existsSync(candidate)) return candidate;
    if (dirname(folder) === folder) return undefined;
  }
}
