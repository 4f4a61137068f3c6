// The page that every view starts from: nothing loads but its own script and style sheet, and each page has a nonce of its own.

import assert from 'node:assert/strict';
import { clientModule } from './clientModule.js';

interface Page {
  pageOf(webview: object, extensionUri: object, view: string): string;
  webviewOptions(extensionUri: object): { enableCommandUris: boolean; localResourceRoots: { path: string }[] };
}

/** Addresses are paths. */
const EDITOR =
  "export const env = { language: 'en' }; export const l10n = { t: (text) => text }; export const Uri = { joinPath: (uri, ...parts) => ({ path: [uri.path, ...parts].join('/'), toString() { return this.path; } }) };";

suite('trust: the page of a view', () => {
  test('content security policy, nonce, roots', async () => {
    const { pageOf, webviewOptions } = await clientModule<Page>('viewPage.ts', EDITOR);
    const webview = { cspSource: 'https://own.example', asWebviewUri: (uri: { path: string }) => `https://own.example${uri.path}` };
    const pages = ['trace', 'table'].map((view) => pageOf(webview, { path: '/extension' }, view));
    const nonces = pages.map((html) => {
      const policy = /http-equiv="Content-Security-Policy" content="([^"]+)"/.exec(html)![1]!;
      const directives = new Map(
        policy.split(';').map((each): [string, string] => {
          const [name, ...rest] = each.trim().split(' ');
          return [name!, rest.join(' ')];
        }),
      );
      assert.equal(directives.get('default-src'), "'none'");
      const nonce = /^'nonce-([A-Za-z0-9+/=]{22,})'$/.exec(directives.get('script-src')!)![1]!;
      assert.deepEqual(
        [...directives.keys()].filter((name) => !['default-src', 'script-src', 'style-src', 'img-src', 'font-src'].includes(name)),
        [],
      );
      assert.doesNotMatch(policy, /unsafe|\*|https?:(?!\/\/own\.example)|data:/);
      // Every script bears the nonce and comes from a file; no handler stands in the markup.
      const scripts = [...html.matchAll(/<script[^>]*>([^<]*)/g)];
      assert.ok(
        scripts.length > 0 && scripts.every(([tag, body]) => tag.includes(`nonce="${nonce}"`) && tag.includes('src="') && body === ''),
      );
      assert.doesNotMatch(html, /\son\w+=|javascript:|style="/);
      return nonce;
    });
    assert.equal(new Set(nonces).size, pages.length);
    const { enableCommandUris, localResourceRoots } = webviewOptions({ path: '/extension' });
    assert.equal(enableCommandUris, false);
    assert.deepEqual(
      localResourceRoots.map(({ path }) => path),
      ['/extension/dist/webview'],
    );
  });
});
