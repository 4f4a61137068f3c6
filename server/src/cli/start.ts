// Starts the command line from its bundle, with what Node had compiled of it when it was built (`keepCompiled` in build.mjs): that takes
// half the time. Where that is not there, or is another Node's, the bundle is compiled anew.

import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { fileURLToPath } from 'node:url';
import { Script } from 'node:vm';

const program = fileURLToPath(new URL('cli/program.js', import.meta.url));

const compiled = (): Buffer | undefined => {
  try {
    return readFileSync(fileURLToPath(new URL('cli/program.compiled', import.meta.url)));
  } catch {
    return undefined;
  }
};

/** For the build, which asks it what was compiled. */
export const script = new Script(`(function (require, __filename) {${readFileSync(program, 'utf8')}\n})`, {
  filename: program,
  cachedData: compiled(),
});

(script.runInThisContext() as (require: NodeJS.Require, filename: string) => void)(createRequire(program), program);
