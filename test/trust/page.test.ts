// The page that every view starts from: nothing loads but its own script and style sheet, and each page has a nonce of its own.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { build } from 'esbuild';

interface Page {
  pageOf(webview: object, extensionUri: object, view: string): string;
  webviewOptions(extensionUri: object): { enableCommandUris: boolean; localResourceRoots: { path: string }[] };
}

/** The page's module with a stand-in for the editor, whose addresses are paths. */
async function load(): Promise<Page> {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-'));
  try {
    const outfile = join(folder, 'page.mjs');
    await build({
      entryPoints: [fileURLToPath(new URL('../../client/src/viewPage.ts', import.meta.url))], outfile, bundle: true, platform: 'node', format: 'esm', logLevel: 'error',
      plugins: [{ name: 'editor', setup: (plugin) => {
        plugin.onResolve({ filter: /^vscode$/ }, () => ({ path: 'vscode', namespace: 'editor' }));
        plugin.onLoad({ filter: /.*/, namespace: 'editor' }, () => ({ contents: "export const env = { language: 'en' }; export const Uri = { joinPath: (uri, ...parts) => ({ path: [uri.path, ...parts].join('/'), toString() { return this.path; } }) };" }));
      } }],
    });
    return await import(pathToFileURL(outfile).href) as Page;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

suite('trust: the page of a view', () => {
  test('content security policy, nonce, roots', async () => {
    const { pageOf, webviewOptions } = await load();
    const webview = { cspSource: 'https://own.example', asWebviewUri: (uri: { path: string }) => `https://own.example${uri.path}` };
    const pages = ['trace', 'table'].map((view) => pageOf(webview, { path: '/extension' }, view));
    const nonces = pages.map((html) => {
      const policy = /http-equiv="Content-Security-Policy" content="([^"]+)"/.exec(html)![1]!;
      const directives = new Map(policy.split(';').map((each): [string, string] => { const [name, ...rest] = each.trim().split(' '); return [name!, rest.join(' ')]; }));
      assert.equal(directives.get('default-src'), "'none'");
      const nonce = /^'nonce-([A-Za-z0-9+/=]{22,})'$/.exec(directives.get('script-src')!)![1]!;
      assert.deepEqual([...directives.keys()].filter((name) => !['default-src', 'script-src', 'style-src', 'img-src', 'font-src'].includes(name)), []);
      assert.doesNotMatch(policy, /unsafe|\*|https?:(?!\/\/own\.example)|data:/);
      // Every script bears the nonce and comes from a file; no handler stands in the markup.
      const scripts = [...html.matchAll(/<script[^>]*>([^<]*)/g)];
      assert.ok(scripts.length > 0 && scripts.every(([tag, body]) => tag.includes(`nonce="${nonce}"`) && tag.includes('src="') && body === ''));
      assert.doesNotMatch(html, /\son\w+=|javascript:|style="/);
      return nonce;
    });
    assert.equal(new Set(nonces).size, pages.length);
    const { enableCommandUris, localResourceRoots } = webviewOptions({ path: '/extension' });
    assert.equal(enableCommandUris, false);
    assert.deepEqual(localResourceRoots.map(({ path }) => path), ['/extension/dist/webview']);
  });
});
