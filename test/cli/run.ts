// Runs the command line as a user does, in a process of its own, from the sources.

import { spawn } from 'node:child_process';
import { join } from 'node:path';

const ROOT = join(import.meta.dirname, '..', '..');

export interface Outcome { readonly status: number | null; readonly stdout: string; readonly stderr: string }

/** `leanspot ARGS` in a folder; `input` goes to standard input. */
export function leanspot(args: readonly string[], { cwd = ROOT, input, env = {} }: { cwd?: string; input?: string | Uint8Array; env?: Record<string, string> } = {}): Promise<Outcome> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, ['--import', import.meta.resolve('tsx'), join(ROOT, 'server/src/cli/main.ts'), ...args], {
      cwd, env: { ...process.env, FORCE_COLOR: undefined, NODE_OPTIONS: undefined, ...env },
    });
    let stdout = '';
    let stderr = '';
    child.stdout.setEncoding('utf8').on('data', (text: string) => { stdout += text; });
    child.stderr.setEncoding('utf8').on('data', (text: string) => { stderr += text; });
    child.on('error', reject);
    child.on('close', (status) => resolve({ status, stdout, stderr }));
    child.stdin.on('error', () => undefined);
    child.stdin.end(input ?? '');
  });
}
