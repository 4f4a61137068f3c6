// Nothing leaves the machine: no command and no request of the server opens a socket, and no bundle could.

import assert from 'node:assert/strict';
import { spawn, spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';
import { leanspot, program } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { talkTo } from '../support/lspClient.js';
import { STAND_INS } from '../support/makeLicences.js';
import { LEAN_CAR } from '../support/sampleDrive.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const PRELOAD = `--import ${new URL('./noNetwork.mjs', import.meta.url)}`;

suite('trust: no network', () => {
  test('the guard catches a socket', () => {
    const { status } = spawnSync(process.execPath, [
      ...PRELOAD.split(' '),
      '-e',
      "require('node:http').get('http://127.0.0.1:9/').on('error', () => process.exit(0))",
    ]);
    assert.equal(status, 99);
  });

  test('no command opens a socket', () =>
    inFolder(LEAN_CAR, async (cwd) => {
      const runs = [
        ['check', '.'],
        ['weigh', 'tables/ve.table.csv'],
        ['correct', 'tables/ve.table.csv', '--output', 'next.table.csv'],
        ['convert', '14.7', 'AFR'],
        ['--help'],
        ['compare', 'tables/ve.table.csv', '--before', 'sessions/*.csv', '--after', 'none.csv'],
      ];
      for (const args of runs) {
        const { status, stderr } = await leanspot(args, { cwd, env: { NODE_OPTIONS: PRELOAD } });
        assert.notEqual(status, 99, args.join(' '));
        assert.doesNotMatch(stderr, /SOCKET/);
      }
    }));

  test('the language server opens none, whatever it is asked', () =>
    inFolder(LEAN_CAR, async (folder) => {
      const child = spawn(process.execPath, [await program(), 'serve', '--stdio'], {
        stdio: ['pipe', 'pipe', 'pipe'],
        env: { ...process.env, NODE_OPTIONS: PRELOAD },
      });
      let said = '';
      child.stderr.on('data', (text) => {
        said += String(text);
      });
      const client = await talkTo(child.stdout, child.stdin, folder, { textDocument: { publishDiagnostics: {} } });
      const path = join(folder, 'tables/ve.table.csv');
      const uri = client.open(path, readFileSync(path, 'utf8'), 'fuel-table');
      await client.diagnostics(uri, (told) => told.some(({ code }) => code === 'cell-lean'));
      for (const method of ['hover', 'codeLens', 'documentSymbol', 'references', 'codeAction']) {
        await client.connection.sendRequest(`textDocument/${method}`, {
          textDocument: { uri },
          position: { line: 4, character: 8 },
          range: { start: { line: 4, character: 8 }, end: { line: 4, character: 8 } },
          context: { diagnostics: [], includeDeclaration: true },
        });
      }
      await client.close();
      child.kill();
      assert.equal(said, '');
    }));

  test("what of Node each program takes in: of the network only the pipe and socket transports that the protocol's library brings and nothing here starts", async () => {
    const taken = async (entry: string): Promise<string[]> => {
      const { metafile } = await build({
        entryPoints: [join(ROOT, entry)],
        bundle: true,
        platform: 'node',
        format: 'cjs',
        mainFields: ['module', 'main'],
        alias: STAND_INS,
        external: ['vscode'],
        write: false,
        metafile: true,
        logLevel: 'error',
        outdir: 'x',
      });
      return [
        ...new Set(Object.values(metafile.outputs).flatMap(({ imports }) => imports.map(({ path }) => path.replace('node:', '')))),
      ].sort();
    };
    const network = (modules: readonly string[]): string[] =>
      modules.filter((name) => /^(net|tls|dgram|dns|https?|http2|inspector|worker_threads|child_process|cluster)$/.test(name));
    assert.deepEqual(
      network(await taken('server/src/lsp/entry.ts')),
      ['child_process', 'net', 'worker_threads'],
      'vscode-languageserver: --socket, --pipe and the search for globally installed modules; our own threads',
    );
    assert.deepEqual(network(await taken('server/src/disk/sessionThread.ts')), ['worker_threads'], 'the program of a thread');
    assert.deepEqual(
      network(await taken('client/src/client.ts')),
      ['child_process', 'net'],
      'vscode-languageclient: how the server is started',
    );
    for (const file of ['server/src', 'client/src', 'client/webview']) {
      const { stdout } = spawnSync(
        'grep',
        ['-rnE', 'fetch\\(|XMLHttpRequest|WebSocket|sendBeacon|EventSource|telemetry|https?://', join(ROOT, file)],
        { encoding: 'utf8' },
      );
      // Addresses that are names, not places to go: schemas.
      assert.deepEqual(
        stdout
          .split('\n')
          .filter(
            (line) => line !== '' && !/json\.schemastore\.org\/sarif-2\.1\.0\.json|json-schema\.org\/draft-07|www\.w3\.org\//.test(line),
          ),
        [],
      );
    }
  });
});
