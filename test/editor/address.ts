// Builds the page address that opens a folder in the browser-hosted editor with the extension run from its source.
import { existsSync, realpathSync, rmSync, symlinkSync } from 'node:fs';
import { join } from 'node:path';
import { cacheFolder, root } from './places.js';

export interface Opening {
  folder: string;
  /** Files shown at once, in this order; the last has the focus. */
  files?: string[];
  /** A CommonJS file whose `run()` the extension host calls. */
  tests?: string;
  /** The extension is installed in the editor, so it is not run from its source. */
  installed?: boolean;
}

export function pageAddress(authority: string, { folder, files = [], tests, installed = false }: Opening): string {
  const remote = (path: string) => `vscode-remote://${authority}${path}`;
  const payload = [
    ...(installed ? [] : [['extensionDevelopmentPath', remote(linkToCheckout())]]),
    ...(tests ? [['extensionTestsPath', remote(tests)]] : []),
    ...files.map((file) => ['openFile', remote(file)]),
  ];
  return `http://${authority}/?folder=${encodeURIComponent(folder)}&payload=${encodeURIComponent(JSON.stringify(payload))}`;
}

/**
 * The checkout under another path. The editor takes every extension below the folder it develops for one under development, and
 * its own, which lie in the cache inside the checkout, would lose their themes and grammars.
 */
function linkToCheckout(): string {
  const link = join(cacheFolder, 'checkout');
  // A cache that was copied along with its link would have another checkout tested than this.
  if (!existsSync(link) || realpathSync(link) !== realpathSync(root)) {
    rmSync(link, { force: true });
    symlinkSync(root, link, 'junction');
  }
  return link;
}
