// Killed at any moment, every file is whole: the old one or the new one, and never a changed table without its copy and its pins.

import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import {
  chmodSync,
  cpSync,
  existsSync,
  lstatSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  realpathSync,
  rmSync,
  statSync,
  symlinkSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';
import { writeBytes } from '../../server/src/disk/writeFile.js';
import { leanspot, program } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { talkTo } from '../support/lspClient.js';
import { LEAN_CAR } from '../support/sampleDrive.js';
import { savedBytes } from './savedBytes.js';
import { drawsFor } from './seeded.js';

/** How often a program is killed; the nightly run asks for more. */
const CORRECTIONS = Number(process.env.LEANSPOT_KILLS ?? 10);
const SAVES = Number(process.env.LEANSPOT_KILLS ?? 20);
const here = (name: string): string => fileURLToPath(new URL(name, import.meta.url));
const CORRECT = ['correct', 'tables/ve.table.csv', '--write'];
const [TABLE, VEHICLE, COPY] = ['tables/ve.table.csv', 'vehicle.json', 'tables/history/ve-1.table.csv'];

suite('trust: killed', () => {
  test(`a correction killed at ${CORRECTIONS} random points leaves every file whole, and can be made again`, async () => {
    const { whole: draw, seed } = drawsFor('killed corrections');
    await inFolder(LEAN_CAR, async (folder) => {
      const at = (car: string, path: string): string => join(folder, car, path);
      const copyOf = (car: string): string => {
        rmSync(join(folder, car), { recursive: true, force: true });
        for (const name of ['vehicle.json', 'tables', 'sessions']) cpSync(join(folder, name), at(car, name), { recursive: true });
        return join(folder, car);
      };
      const preload = `--import ${new URL('./killAtStep.mjs', import.meta.url)}`;
      const counted = await leanspot(CORRECT, {
        cwd: copyOf('whole'),
        env: { NODE_OPTIONS: preload, LEANSPOT_STEPS_TO: join(folder, 'steps') },
      });
      assert.equal(counted.status, 0, counted.stderr);
      const steps = Number(readFileSync(join(folder, 'steps'), 'utf8'));
      assert.ok(steps > 30, `${steps} steps on the disk`);
      const [before, after] = [folder, at('whole', '.')].map((car) => (path: string) => readFileSync(join(car, path), 'utf8'));

      for (let kill = 0; kill < CORRECTIONS; kill++) {
        const step = draw(0, steps - 1);
        const cwd = copyOf('killed');
        const { status } = await leanspot(CORRECT, { cwd, env: { NODE_OPTIONS: preload, LEANSPOT_KILL_AT: String(step) } });
        const where = `killed at step ${step}, seed ${seed}`;
        assert.equal(status, null, where);
        const now = (path: string): string => readFileSync(join(cwd, path), 'utf8');
        for (const path of [TABLE, VEHICLE]) assert.ok([before(path), after(path)].includes(now(path)), `${path} is torn: ${where}`);
        if (existsSync(join(cwd, COPY))) assert.equal(now(COPY), before(TABLE), where);
        if (now(VEHICLE) !== before(VEHICLE)) assert.ok(existsSync(join(cwd, COPY)), `pinned to a table that is not there: ${where}`);
        if (now(TABLE) !== before(TABLE)) assert.equal(now(VEHICLE), after(VEHICLE), `corrected without a pin: ${where}`);
        if (kill % 5 > 0) continue;
        const again = await leanspot(CORRECT, { cwd });
        assert.equal(again.status, 0, again.stderr);
        assert.equal(now(TABLE), after(TABLE), where);
      }
    });
  });

  test(`a save killed ${SAVES} times at random moments leaves the old text or the new one`, async () => {
    const { between, seed } = drawsFor('killed saves');
    const folder = realpathSync(mkdtempSync(join(tmpdir(), 'leanspot-')));
    try {
      const saver = join(folder, 'saver.mjs');
      await build({
        entryPoints: [here('./saveForever.ts')],
        outfile: saver,
        bundle: true,
        platform: 'node',
        format: 'esm',
        logLevel: 'error',
      });
      const file = join(folder, 'kept', 'file.csv');
      writeBytes(file, savedBytes(0), { isNew: true });
      const whole = [savedBytes(0), savedBytes(1)].map((bytes) => Buffer.from(bytes));
      for (let kill = 0; kill < SAVES; kill++) {
        const child = spawn(process.execPath, [saver, file], { stdio: ['ignore', 'pipe', 'inherit'] });
        await once(child.stdout, 'data');
        setTimeout(() => child.kill('SIGKILL'), between(0, 30));
        await once(child, 'exit');
        const now = readFileSync(file);
        assert.ok(
          whole.some((bytes) => bytes.equals(now)),
          `torn: ${now.length} bytes, kill ${kill}, seed ${seed}`,
        );
      }
      assert.deepEqual(
        readdirSync(join(folder, 'kept')).filter((name) => !name.startsWith('.leanspot-')),
        ['file.csv'],
      );
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  });

  test('a file keeps its rights and stays a link; a new one is never written over another; nothing is left beside it', () =>
    inFolder('=== a.csv\nold\n', (folder) => {
      const [file, link] = [join(folder, 'a.csv'), join(folder, 'link.csv')];
      symlinkSync('a.csv', link);
      chmodSync(file, 0o640);
      writeBytes(link, Buffer.from('new\n'), { isNew: false });
      assert.equal(readFileSync(file, 'utf8'), 'new\n');
      assert.ok(lstatSync(link).isSymbolicLink());
      if (process.platform !== 'win32') assert.equal(statSync(file).mode & 0o777, 0o640);
      assert.throws(() => writeBytes(file, Buffer.from('other'), { isNew: true }), { code: 'EEXIST', path: file });
      assert.throws(() => writeBytes(join(folder, 'none.csv'), Buffer.from('other'), { isNew: false }), { code: 'ENOENT' });
      assert.equal(readFileSync(file, 'utf8'), 'new\n');
      assert.deepEqual(readdirSync(folder).sort(), ['a.csv', 'link.csv']);
    }));

  test('a server killed at work has changed nothing; another one that is told the same has the same answers', () =>
    inFolder(LEAN_CAR, async (folder) => {
      const paths = ['vehicle.json', TABLE, 'sessions/cruise [1].session.csv'];
      const bytes = (): Buffer[] => paths.map((path) => readFileSync(join(folder, path)));
      const before = bytes();
      const typed = before[1]!.toString().replace('52.0', '53.0');
      const start = async () => {
        const child = spawn(process.execPath, [await program(), 'serve', '--stdio'], { stdio: ['pipe', 'pipe', 'inherit'] });
        const client = await talkTo(child.stdout, child.stdin, folder, {
          textDocument: { publishDiagnostics: {} },
          workspace: { workspaceEdit: { documentChanges: true, resourceOperations: ['create'] } },
        });
        const uri = client.open(join(folder, TABLE), typed, 'fuel-table');
        const actions = (): Promise<unknown> =>
          client.connection.sendRequest('textDocument/codeAction', {
            textDocument: { uri },
            range: { start: { line: 4, character: 8 }, end: { line: 4, character: 8 } },
            context: { diagnostics: [] },
          });
        const leans = async (): Promise<unknown> => client.diagnostics(uri, (told) => told.some(({ code }) => code === 'cell-lean'));
        return { child, client, actions, leans };
      };
      const first = await start();
      const [findings, corrections] = [await first.leans(), await first.actions()];
      assert.ok((corrections as unknown[]).length > 0);
      first.client.connection.onClose(() => undefined);
      first.actions().catch(() => undefined);
      first.child.kill('SIGKILL');
      await once(first.child, 'exit');
      first.client.connection.dispose();
      assert.deepEqual(bytes(), before);

      const second = await start();
      assert.deepEqual([await second.leans(), await second.actions()], [findings, corrections]);
      second.child.kill();
      await once(second.child, 'exit');
      second.client.connection.dispose();
    }));
});
