// The recipes of server/docs/recipes.md as they stand there: a git repository, its hook and its CI script, run for real.

import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { chmodSync, mkdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { inFolder } from '../support/folder.js';
import { SAMPLE_CAR } from '../support/sampleDrive.js';
import { program } from './run.js';

const DOCS = join(import.meta.dirname, '../../server/docs/recipes.md');

/** The block of the page that begins with ```` ```sh NAME ````. */
function recipe(name: string): string {
  const found = new RegExp(`^\`\`\`sh ${name}\\n([^]*?)^\`\`\`$`, 'm').exec(readFileSync(DOCS, 'utf8'));
  assert.ok(found, `no recipe ${name}`);
  return found[1];
}

interface Run {
  readonly status: number | null;
  readonly output: string;
}

/**
 * Runs a shell script or a program in the folder, with `leanspot` (and a stand-in for `npm`, which the tests must not let loose) on the
 * path.
 */
async function run(cwd: string, command: string, args: readonly string[], env: Record<string, string> = {}): Promise<Run> {
  const child = spawn(command, args, {
    cwd,
    env: {
      ...process.env,
      PATH: `${join(cwd, '.tools')}:${process.env.PATH}`,
      GIT_CONFIG_GLOBAL: '/dev/null',
      GIT_CONFIG_NOSYSTEM: '1',
      GIT_AUTHOR_NAME: 'A',
      GIT_AUTHOR_EMAIL: 'a@example.invalid',
      GIT_COMMITTER_NAME: 'A',
      GIT_COMMITTER_EMAIL: 'a@example.invalid',
      ...env,
    },
  });
  let output = '';
  for (const stream of [child.stdout, child.stderr])
    stream.setEncoding('utf8').on('data', (text: string) => {
      output += text;
    });
  const status = await new Promise<number | null>((resolve, reject) => {
    child.on('close', resolve).on('error', reject);
  });
  return { status, output };
}
const shell = (cwd: string, script: string, env?: Record<string, string>): Promise<Run> => run(cwd, 'sh', ['-c', script], env);

function addTool(cwd: string, name: string, script: string): void {
  mkdirSync(join(cwd, '.tools'), { recursive: true });
  writeFileSync(join(cwd, '.tools', name), `#!/bin/sh\n${script}\n`);
  chmodSync(join(cwd, '.tools', name), 0o755);
}

/** A repository of one car whose session has errors; the first commit holds it as it is. */
async function inRepository(use: (cwd: string) => Promise<void>): Promise<void> {
  const bundle = await program();
  await inFolder(`${SAMPLE_CAR}=== .gitignore\n.tools\nchecked\n`, async (cwd) => {
    addTool(cwd, 'leanspot', `exec "${process.execPath}" "${bundle}" "$@"`);
    const { status, output } = await shell(cwd, 'git init -q -b main . && git add . && git commit -q -m "the car"');
    assert.equal(status, 0, output);
    await use(cwd);
  });
}

const TABLE = 'tables/ve.table.csv';
const edit = (cwd: string, path: string, change: (text: string) => string): void =>
  writeFileSync(join(cwd, path), change(readFileSync(join(cwd, path), 'utf8')));
const broken = (text: string): string => text.replace('2000, 3000', '3000, 2000');

suite('recipes', () => {
  test('the hook refuses a commit with a new error, looks at what is staged, and lets the rest through', async () => {
    await inRepository(async (cwd) => {
      mkdirSync(join(cwd, '.git/hooks'), { recursive: true });
      writeFileSync(join(cwd, '.git/hooks/pre-commit'), recipe('pre-commit'));
      chmodSync(join(cwd, '.git/hooks/pre-commit'), 0o755);
      const commit = (what: string): Promise<Run> => shell(cwd, `${what} && git commit -q -m change`);

      edit(cwd, TABLE, (text) => text.replace('52.0', '52.5'));
      const refused = await commit('git add -A');
      assert.equal(refused.status, 1, refused.output);
      assert.match(refused.output, /error lean-under-load/, 'the car has an error from the start');

      const wrote = await shell(cwd, recipe('baseline'));
      assert.deepEqual([wrote.status, /wrote leanspot-baseline\.json: \d+ findings? rests?/.test(wrote.output)], [0, true], wrote.output);
      assert.equal((await commit('git add -A')).status, 0, 'old findings rest');

      edit(cwd, TABLE, broken);
      const stillRefused = await commit('git add -A');
      assert.equal(stillRefused.status, 1, stillRefused.output);
      assert.match(stillRefused.output, /axis-not-monotonic/);
      assert.doesNotMatch(stillRefused.output, /lean-under-load/);

      const unstaged = await commit(`git reset -q && echo note > notes.md && git add notes.md`);
      assert.equal(unstaged.status, 0, `what is not staged is not looked at: ${unstaged.output}`);
      edit(cwd, TABLE, (text) => text.replace('3000, 2000', '2000, 3000').replace('54.0', '54.5'));
      const mended = await commit('git add -A');
      assert.equal(mended.status, 0, mended.output);
    });
  });

  test('the CI script writes SARIF, passes while nothing is new, and fails on a new error', async () => {
    const bundle = await program();
    await inRepository(async (cwd) => {
      mkdirSync(join(cwd, 'checked/dist'), { recursive: true });
      symlinkSync(bundle, join(cwd, 'checked/dist/leanspot.js'));
      addTool(cwd, 'npm', 'echo "npm $*" in "${PWD##*/}"');
      addTool(cwd, 'node', `exec "${process.execPath}" "$@"`);
      await shell(cwd, recipe('baseline'));
      const ci = (): Promise<Run> => shell(cwd, recipe('ci'), { LEANSPOT: join(cwd, 'checked') });
      const good = await ci();
      assert.equal(good.status, 0, good.output);
      assert.match(good.output, /npm ci .* in checked\nnpm run build in checked/);
      edit(cwd, TABLE, broken);
      const bad = await ci();
      assert.equal(bad.status, 1, bad.output);
      const { results } = (
        JSON.parse(readFileSync(join(cwd, 'leanspot.sarif'), 'utf8')) as {
          runs: { results: { baselineState: string; ruleId: string }[] }[];
        }
      ).runs[0];
      assert.ok(results.filter(({ baselineState }) => baselineState === 'new').some(({ ruleId }) => ruleId === 'axis-not-monotonic'));
      assert.ok(results.some(({ baselineState }) => baselineState === 'unchanged'));
    });
  });

  test('the review compares with what was committed', async () => {
    await inRepository(async (cwd) => {
      edit(cwd, TABLE, (text) => text.replace('52.0', '53.0'));
      const { status, output } = await shell(cwd, recipe('review'));
      assert.equal(status, 0, output);
      assert.match(output, /^\| 2000 rpm, 40 kPa \| 52 \| 53 \| \\\+1\.9 % \| against the evidence/m);
    });
  });

  test('a baseline: what rests is counted and fails nothing, wherever the check is run from', async () => {
    await inRepository(async (cwd) => {
      await shell(cwd, recipe('baseline'));
      const used = await shell(cwd, recipe('baseline-used'));
      assert.equal(used.status, 0);
      assert.match(used.output, /more findings? rests? in leanspot-baseline\.json/);
      const elsewhere = await shell(
        dirname(cwd),
        `"${join(cwd, '.tools/leanspot')}" check "${cwd}" --format json --baseline "${join(cwd, 'leanspot-baseline.json')}"`,
      );
      assert.equal(elsewhere.status, 0);
      const json = JSON.parse(elsewhere.output) as { findings: unknown[]; resting: number };
      assert.deepEqual(json.findings, []);
      assert.ok(json.resting > 0);
      const before = readFileSync(join(cwd, 'leanspot-baseline.json'), 'utf8');
      await shell(cwd, `leanspot check tables --baseline leanspot-baseline.json --write-baseline`);
      assert.equal(readFileSync(join(cwd, 'leanspot-baseline.json'), 'utf8'), before, 'files that were not checked keep their entries');
    });
  });

  test('a baseline that is none, missing, or not named is refused in one line and nothing is overwritten', async () => {
    await inRepository(async (cwd) => {
      const refusal = async (args: string, says: RegExp): Promise<void> => {
        const { status, output } = await shell(cwd, `leanspot check . ${args}`);
        assert.equal(status, 2, output);
        assert.match(output, says);
        assert.equal(output.trim().split('\n').length, 1, output);
      };
      await refusal('--baseline none.json', /no such baseline: none\.json/);
      await refusal('--baseline vehicle.json', /vehicle\.json is no baseline/);
      const before = readFileSync(join(cwd, 'vehicle.json'), 'utf8');
      await refusal('--baseline vehicle.json --write-baseline', /vehicle\.json is no baseline; nothing is overwritten/);
      assert.equal(readFileSync(join(cwd, 'vehicle.json'), 'utf8'), before);
      await refusal('--write-baseline', /--write-baseline needs the file/);
      await refusal('--baseline none/known.json --write-baseline', /no such folder: none/);
    });
  });
});
