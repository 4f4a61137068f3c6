// Runs rounds of inputs in a thread that is watched: one that hangs or runs out of memory is a fault as well.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import { build } from 'esbuild';
import { inputAt, type Fault, type Round } from './feed.js';

/** Without a step for so long a thread hangs, s. The limit of processor time is told long before, unless the answer never comes. */
const STILL_S = 60;
/** Heap of the thread; whoever needs more for inputs of a megabyte has lost measure. */
const HEAP_MB = 1024;

let bundled: Promise<string> | undefined;
/** The thread's program as plain JavaScript, gone when the process ends. */
async function threadProgram(): Promise<string> {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-fuzz-'));
  process.on('exit', () => rmSync(folder, { recursive: true, force: true }));
  const outfile = join(folder, 'feed.mjs');
  await build({
    entryPoints: [fileURLToPath(new URL('./feed.ts', import.meta.url))],
    outfile,
    bundle: true,
    platform: 'node',
    format: 'esm',
    target: 'node20',
    mainFields: ['module', 'main'],
    logLevel: 'error',
    sourcemap: 'inline',
    banner: { js: "import { createRequire } from 'node:module'; const require = createRequire(import.meta.url);" },
  });
  return outfile;
}

/** The faults of all rounds, each kind once a round. */
export async function fuzz(rounds: readonly Round[]): Promise<Fault[]> {
  const faults: Fault[] = [];
  const progress = new Int32Array(new SharedArrayBuffer(8));
  const program = await (bundled ??= threadProgram());
  const stopped = await new Promise<string | undefined>((resolve) => {
    const thread = new Worker(program, {
      workerData: { fuzz: true, rounds, progress },
      execArgv: ['--enable-source-maps'],
      resourceLimits: { maxOldGenerationSizeMb: HEAP_MB },
    });
    let last = '',
      stillS = 0;
    const watch = setInterval(() => {
      const now = `${progress[0]} ${progress[1]}`;
      stillS = now === last ? stillS + 1 : 0;
      last = now;
      if (stillS >= STILL_S) void thread.terminate().then(() => end(`no answer within ${STILL_S} s`));
    }, 1000);
    const end = (why: string | undefined): void => {
      clearInterval(watch);
      resolve(why);
    };
    thread.on('message', (fault: Fault) => faults.push(fault));
    thread.on('error', (error) => end(error.message));
    thread.on('exit', () => end(undefined));
  });
  if (stopped !== undefined) {
    const round = rounds[progress[0]!]!;
    faults.push({ target: round.target, seed: round.seed, index: progress[1]!, what: stopped, bytes: inputAt(round, progress[1]!) });
  }
  return faults;
}

/** Rounds that share so many inputs among the targets. */
export const roundsOf = (targets: readonly string[], seed: number, inputs: number, longEvery: number, start = 0): Round[] => {
  const each = Math.ceil(inputs / targets.length);
  return targets.map((target) => ({ target, seed, from: start, to: start + each, longEvery }));
};
