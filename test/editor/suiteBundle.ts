// Bundles the suite for the extension host, and reads back what it found.
import { build } from 'esbuild';
import { existsSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { bundleFolder, root } from './places.js';
import { nothing, type Tally } from './tally.js';

const sources = join(root, 'test/editor/suite');

/** Bundles every `suite/*.ts` into a CommonJS file of its own and returns the path of the entry, whose `run()` the editor calls. */
export async function bundleSuite(): Promise<string> {
  rmSync(bundleFolder, { recursive: true, force: true });
  const tests = readdirSync(sources).filter((name) => name.endsWith('.test.ts'));
  await build({
    entryPoints: ['index.ts', ...tests].map((name) => join(sources, name)),
    outdir: bundleFolder,
    outExtension: { '.js': '.cjs' },
    bundle: true,
    platform: 'node',
    format: 'cjs',
    target: 'node20',
    sourcemap: 'inline',
    logLevel: 'warning',
    // mocha stays what the checkout has installed; the editor itself provides `vscode`.
    external: ['vscode', 'mocha'],
  });
  return join(bundleFolder, 'index.cjs');
}

/** The counts that `run()` left at `path`; none means that it never came to its end. */
export function readTally(path: string): Tally {
  if (!existsSync(path)) return { ...nothing, failed: 1 };
  return JSON.parse(readFileSync(path, 'utf8')) as Tally;
}
