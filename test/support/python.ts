// The general-purpose libraries of Python that judge ours, where they are installed.

import { spawnSync } from 'node:child_process';

/** The Python that knows a module: the one on the path, or Debian's own behind another; undefined where neither does. */
export const pythonWith = (module: string): string | undefined =>
  ['python3', '/usr/bin/python3'].find((python) => spawnSync(python, ['-c', `import ${module}`], { stdio: 'ignore' }).status === 0);
