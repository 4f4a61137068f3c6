// A module of the client without an editor: bundled with a stand-in for the editor's interface.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { build } from 'esbuild';

/**
 * `path` below `client/src/`; `editor` is the text of a module that exports what it takes of `vscode`, `client` that of one in place of
 * client.ts.
 */
export async function clientModule<Module>(path: string, editor: string, client?: string): Promise<Module> {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-'));
  try {
    const outfile = join(folder, 'module.mjs');
    await build({
      entryPoints: [fileURLToPath(new URL(`../../client/src/${path}`, import.meta.url))],
      outfile,
      bundle: true,
      platform: 'node',
      format: 'esm',
      logLevel: 'error',
      plugins: [
        {
          name: 'editor',
          setup: (plugin) => {
            plugin.onResolve({ filter: /^vscode$/ }, () => ({ path: 'vscode', namespace: 'stand-in' }));
            if (client !== undefined) plugin.onResolve({ filter: /^\.\/client\.js$/ }, () => ({ path: 'client', namespace: 'stand-in' }));
            plugin.onLoad({ filter: /.*/, namespace: 'stand-in' }, ({ path }) => ({ contents: path === 'vscode' ? editor : client! }));
          },
        },
      ],
    });
    return (await import(pathToFileURL(outfile).href)) as Module;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
