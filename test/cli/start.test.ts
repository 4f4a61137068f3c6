// The command line starts from its bundle alone, from what was compiled of it, and from a file that is none of that.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { buildSync } from 'esbuild';

const ROOT = join(import.meta.dirname, '../..');

suite("the command line's start", () => {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-start-'));
  const compiled = join(folder, 'cli/program.compiled');
  const run = (...args: string[]): string => spawnSync(process.execPath, [...args], { cwd: folder, encoding: 'utf8' }).stdout;

  suiteSetup(() => {
    mkdirSync(join(folder, 'cli'));
    writeFileSync(
      join(folder, 'cli/program.js'),
      'const twice = (x) => 2 * x; console.log(twice(21), /^[λº]$/.test("\\u03bb") ? `■` : "?", require("node:path").basename(__filename), process.argv[2]);',
    );
    buildSync({
      entryPoints: { leanspot: join(ROOT, 'server/src/cli/start.ts') },
      outdir: folder,
      bundle: true,
      platform: 'node',
      format: 'cjs',
      target: 'node20',
      logLevel: 'error',
      banner: { js: "const bundleUrl = require('node:url').pathToFileURL(__filename).href;" },
      define: { 'import.meta.url': 'bundleUrl' },
    });
  });
  suiteTeardown(() => rmSync(folder, { recursive: true, force: true }));

  test('runs the bundle without, with and with a wrong compiled file', () => {
    assert.equal(run('leanspot.js', 'word'), '42 ■ program.js word\n');
    run(
      '-e',
      `const { script } = require('./leanspot.js'); require('node:fs').writeFileSync(${JSON.stringify(compiled)}, script.createCachedData());`,
    );
    assert.equal(run('leanspot.js', 'word'), '42 ■ program.js word\n');
    assert.equal(run('-p', 'require("./leanspot.js").script.cachedDataRejected'), '42 ■ program.js undefined\nfalse\n');
    writeFileSync(compiled, "another Node's");
    assert.equal(run('leanspot.js', 'word'), '42 ■ program.js word\n');
  });
});
