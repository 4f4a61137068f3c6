// A program of Node's in a process of its own, and what it used: time of processor and clock, and the most memory.

import { spawnSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
/** Told by the process itself as it ends: what it used, and the most memory it held (Linux and macOS by Node in kibibytes). */
const TELLS =
  'process.on("exit", () => { const { userCPUTime, systemCPUTime, maxRSS } = process.resourceUsage(); require("node:fs").writeSync(2, `\\n@${userCPUTime} ${systemCPUTime} ${maxRSS}\\n`); });';

/** Processor time, and what a clock on the wall shows from start to exit. */
export interface Times {
  readonly userMs: number;
  readonly wallMs: number;
}
export interface Usage extends Times {
  readonly megabytes: number;
}

/** Runs a program of Node's and gives what it used; `folder` takes a file of ours. */
export const run = (folder: string, ...args: string[]): Usage => {
  const tells = join(folder, 'tells.cjs');
  writeFileSync(tells, TELLS);
  const beganMs = performance.now();
  const { stderr, status } = spawnSync(process.execPath, ['--require', tells, ...args], {
    cwd: ROOT,
    encoding: 'utf8',
    maxBuffer: 1 << 28,
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  const wallMs = performance.now() - beganMs,
    told = /@(\d+) (\d+) (\d+)/.exec(stderr);
  if (status !== 0 || !told) throw new Error(`${args.join(' ')} failed: ${stderr}`);
  return { userMs: Number(told[1]) / 1000, wallMs, megabytes: Number(told[3]) / 1024 };
};
