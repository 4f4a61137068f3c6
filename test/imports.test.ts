// The layers hold: reads every import of the sources and fails on one that points up or out. The map is DEVELOPERS.md.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { dirname, join, relative, sep } from 'node:path';
import { fileURLToPath } from 'node:url';
import { globSync } from 'tinyglobby';

const ROOT = join(dirname(fileURLToPath(import.meta.url)), '..');

/** Left to right; a folder may import any to its left. */
const CHAIN = ['quantities', 'formats', 'signals', 'fueling', 'findings', 'service'];

/** Beyond the chain: what each may import of ours besides itself. */
const MAY: Readonly<Record<string, readonly string[]>> = {
  ...Object.fromEntries(CHAIN.map((layer, i) => [layer, layer === 'service' ? [...CHAIN.slice(0, i), 'protocol'] : CHAIN.slice(0, i)])),
  protocol: ['quantities'],
  disk: [...CHAIN],
  report: [...CHAIN, 'protocol'],
  lsp: [...CHAIN, 'protocol', 'disk', 'report'],
  cli: [...CHAIN, 'protocol', 'disk', 'report', 'lsp'],
  client: ['protocol', 'quantities'],
  webview: ['protocol', 'quantities'],
};

/** Packages that each may import; `node:` and `vscode` are packages here. */
const PACKAGES: Readonly<Record<string, readonly RegExp[]>> = {
  quantities: [],
  signals: [/^fft\.js$/],
  fueling: [],
  findings: [],
  protocol: [],
  formats: [/^csv-parse\//, /^jsonc-parser$/, /^@cfworker\/json-schema$/],
  service: [/^vscode-languageserver-types$/, /^vscode-uri$/, /^picomatch$/, /^jsonc-parser$/],
  disk: [/^node:/, /^tinyglobby$/, /^vscode-uri$/],
  report: [/^node:crypto$/],
  lsp: [/^vscode-languageserver(\/|-|$)/, /^vscode-uri$/, /^picomatch$/, /^buffer\/$/, /^node:/],
  cli: [/^node:/, /^commander$/, /^picocolors$/, /^cli-progress$/, /^tinyglobby$/, /^vscode-uri$/, /^hyparquet-writer$/],
  // No Node: it runs in a browser too.
  client: [/^vscode$/, /^vscode-languageclient(\/|$)/, /^vscode-uri$/],
  webview: [/^uplot$/],
};

/** The layer a source file belongs to. */
function layerOf(path: string): string {
  const parts = relative(ROOT, path).split(sep);
  if (parts[0] === 'server') return parts[2]!;
  return parts[1] === 'webview' ? 'webview' : 'client';
}

const IMPORT =
  /(?:^|\n)\s*(?:import|export)\s[^'"]*?from\s*['"]([^'"]+)['"]|(?:^|\n)\s*import\s*['"]([^'"]+)['"]|import\(\s*['"]([^'"]+)['"]\s*\)/g;

const FILES = globSync(['server/src/**/*.ts', 'client/src/**/*.ts', 'client/webview/**/*.ts'], { cwd: ROOT, absolute: true });

suite('imports', () => {
  test('every arrow points down', () => {
    assert.ok(FILES.length > 20, 'sources found');
    const wrong: string[] = [];
    for (const file of FILES) {
      const layer = layerOf(file);
      assert.ok(layer in MAY, `${relative(ROOT, file)} is in no known layer`);
      for (const match of readFileSync(file, 'utf8').matchAll(IMPORT)) {
        const target = (match[1] ?? match[2] ?? match[3])!;
        if (target.startsWith('.')) {
          const other = layerOf(join(dirname(file), target));
          if (other !== layer && !MAY[layer]!.includes(other)) wrong.push(`${relative(ROOT, file)} imports ${other} (${target})`);
        } else if (!PACKAGES[layer]!.some((allowed) => allowed.test(target))) {
          wrong.push(`${relative(ROOT, file)} imports the package ${target}`);
        }
      }
    }
    assert.deepEqual(wrong, []);
  });

  test('every source file opens by saying why it exists', () => {
    const silent = FILES.filter((file) => !/^(#!.*\n)?(\/\/|\/\*)/.test(readFileSync(file, 'utf8')));
    assert.deepEqual(
      silent.map((file) => relative(ROOT, file)),
      [],
    );
  });
});
