// Runs the command line as a user does, in a process of its own, bundled once from the sources as they are now.

import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { build } from 'esbuild';
import { STAND_INS } from '../support/makeLicences.js';

const ROOT = join(dirname(fileURLToPath(import.meta.url)), '..', '..');

export interface Outcome {
  readonly status: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

let bundled: Promise<string> | undefined;

/** Path of a bundle like the shipped one, gone when the tests end. */
export const program = (): Promise<string> => (bundled ??= bundle());

async function bundle(): Promise<string> {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-bundle-'));
  process.on('exit', () => rmSync(folder, { recursive: true, force: true }));
  await build({
    entryPoints: { leanspot: join(ROOT, 'server/src/cli/entry.ts') },
    outdir: folder,
    bundle: true,
    platform: 'node',
    format: 'cjs',
    target: 'node20',
    mainFields: ['module', 'main'],
    logLevel: 'error',
    alias: STAND_INS,
    banner: { js: "const bundleUrl = require('node:url').pathToFileURL(__filename).href;" },
    define: { 'import.meta.url': 'bundleUrl' },
  });
  return join(folder, 'leanspot.js');
}

/** The program of the threads that work on sessions: the same, which sees where it runs. */
export const threadProgram = async (): Promise<URL> => pathToFileURL(await program());

/** `leanspot ARGS` in a folder; `input` goes to standard input. */
export async function leanspot(
  args: readonly string[],
  { cwd = ROOT, input, env = {} }: { cwd?: string; input?: string; env?: Record<string, string> } = {},
): Promise<Outcome> {
  const path = await program();
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [path, ...args], {
      cwd,
      env: { ...process.env, FORCE_COLOR: undefined, NODE_OPTIONS: undefined, ...env },
    });
    let stdout = '';
    let stderr = '';
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      stdout += text;
    });
    child.stderr.setEncoding('utf8').on('data', (text: string) => {
      stderr += text;
    });
    child.on('error', reject);
    child.on('close', (status) => resolve({ status, stdout, stderr }));
    child.stdin.on('error', () => undefined);
    child.stdin.end(input ?? '');
  });
}
