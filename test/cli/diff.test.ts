// `leanspot diff` from outside: a table short of fuel by 6 % in its first row, changed rightly, wrongly and where nobody drove.

import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { inFolder } from '../support/folder.js';
import { LEAN_CAR, SAMPLE_TABLE } from '../support/sampleDrive.js';
import { leanspot } from './run.js';

const CHANGED = SAMPLE_TABLE.replace('52.0, 54.0', '50.0, 57.0').replace('95.0, 94.0', '95.0, 99.0');
const inCar = (use: (cwd: string) => Promise<void>): Promise<void> =>
  inFolder(`${LEAN_CAR}=== old.table.csv\n${SAMPLE_TABLE}`, async (cwd) => {
    writeFileSync(join(cwd, 'tables/ve.table.csv'), CHANGED);
    await use(cwd);
  });
interface Json {
  schema: number;
  old: string;
  new: string;
  sameAxes: boolean;
  counts: Record<string, number>;
  evidence: { sessions: { session: string; loggedWith: string }[] } | null;
  cells: {
    row: number;
    column: number;
    old: number;
    new: number;
    percent: number;
    verdict: string | null;
    jumps: boolean;
    required: { value: number; low: number; high: number } | null;
  }[];
}

suite('command line: diff', () => {
  test('JSON: each changed cell with its verdict; sessions speak of the old table', async () => {
    await inCar(async (cwd) => {
      const { status, stdout, stderr } = await leanspot(['diff', 'old.table.csv', 'tables/ve.table.csv', '--format', 'json'], { cwd });
      assert.deepEqual([status, stderr], [0, '']);
      const json = JSON.parse(stdout) as Json;
      assert.deepEqual([json.schema, json.old, json.new, json.sameAxes], [1, 'old.table.csv', 'tables/ve.table.csv', true]);
      assert.deepEqual(
        json.evidence!.sessions.map(({ session, loggedWith }) => [session, loggedWith]),
        [['sessions/cruise [1].session.csv', 'old.table.csv']],
      );
      assert.deepEqual(
        json.cells.map(({ row, column, verdict }) => [row, column, verdict]),
        [
          [0, 0, 'against'],
          [3, 4, 'no-evidence'],
          [0, 1, 'proven'],
        ],
      );
      const proven = json.cells[2];
      assert.ok(Math.abs(proven.percent - 100 * (57 / 54 - 1)) < 1e-3);
      // The drive was made 6 % lean throughout: 54 should have been 57.24.
      assert.ok(proven.required!.low < 57.24 && proven.required!.high > 57.24, JSON.stringify(proven));
    });
  });

  test('where a correction pinned a session to the old table, one that says nothing came after it and speaks of the new one', async () => {
    await inFolder(LEAN_CAR, async (cwd) => {
      assert.equal((await leanspot(['correct', 'tables/ve.table.csv', '--write'], { cwd })).status, 0);
      // As lean again on the corrected table: what 54 asks for by the first drive, 57.2, asks for 6 % more by the second.
      const drive = readFileSync(join(cwd, 'sessions/cruise [1].session.csv'), 'utf8');
      writeFileSync(
        join(cwd, 'sessions/after.session.csv'),
        drive
          .split('\n')
          .filter((_, line) => line === 0 || line > 700)
          .join('\n'),
      );
      const args = ['tables/history/ve-1.table.csv', 'tables/ve.table.csv', '--format', 'json', '--sessions'];
      const required = async (...sessions: string[]): Promise<number> =>
        (JSON.parse((await leanspot(['diff', ...args, ...sessions], { cwd })).stdout) as Json).cells.find(({ column }) => column === 1)!
          .required!.value;
      const before = await required('sessions/cruise*'),
        { cells } = JSON.parse((await leanspot(['diff', ...args, 'sessions/*'], { cwd })).stdout) as Json;
      assert.ok(Math.abs(before - 57.24) < 0.3, String(before));
      const { required: both } = cells.find(({ column }) => column === 1)!;
      assert.ok(both!.value > 57.8, `${before}, then ${both!.value}`);
      assert.equal(
        (
          JSON.parse((await leanspot(['weigh', 'tables/ve.table.csv', '--format', 'json'], { cwd })).stdout) as {
            cells: { suggested: number }[];
          }
        ).cells[1].suggested.toFixed(1),
        both!.value.toFixed(1),
        'as weigh has it',
      );
    });
  });

  test('text says it in words; Markdown is safe in a pull request, file names too', async () => {
    await inCar(async (cwd) => {
      const text = (await leanspot(['diff', 'old.table.csv', 'tables/ve.table.csv'], { cwd })).stdout;
      assert.match(text, /^3 of 20 cells changed, from −3\.8 % to \+5\.6 %\.$/m);
      assert.match(text, /^1 against the evidence, 1 no evidence, 1 proven\.$/im);
      assert.match(text, /^ {2}2000 rpm, 40 kPa: 52 → 50, −3\.8 %; against the evidence: 55\.\d+ wanted/m);
      assert.match(text, /Caution:/);
      const nasty = 'a|b <img> [x](y) @someone.table.csv';
      writeFileSync(join(cwd, nasty), readFileSync(join(cwd, 'old.table.csv')));
      const markdown = (await leanspot(['diff', nasty, 'tables/ve.table.csv', '--format', 'markdown'], { cwd })).stdout;
      assert.match(markdown, /^### tables\/ve\\\.table\\\.csv\\?: what changed since a\\\|b \\<img\\> \\\[x\\\]\\\(y\\\) \\@someone/m);
      const rows = markdown.split('\n').filter((line) => line.startsWith('|'));
      assert.equal(rows.length, 5);
      assert.ok(
        rows.every((row) => row.replaceAll('\\|', '').split('|').length === 8),
        markdown,
      );
    });
  });

  test('a table without sessions, of another kind, or missing', async () => {
    await inFolder(
      `=== a.table.csv\n${SAMPLE_TABLE}=== b.table.csv\n${CHANGED}=== t.table.csv\n# quantity: target lambda\n# columns: engine speed (rpm)\n,1000,2000\n,1,0.9\n=== x.txt\nhello\n`,
      async (cwd) => {
        const json = JSON.parse((await leanspot(['diff', 'a.table.csv', 'b.table.csv', '--format', 'json'], { cwd })).stdout) as Json;
        assert.deepEqual([json.evidence, json.cells.map(({ verdict }) => verdict)], [null, [null, null, null]]);
        assert.match((await leanspot(['diff', 'a.table.csv', 'a.table.csv'], { cwd })).stdout, /^No cell changed\.$/m);
        for (const [args, says] of [
          [
            ['a.table.csv', 't.table.csv'],
            /a\.table\.csv and t\.table\.csv cannot be compared: the old one holds volumetric efficiency, the new one target lambda/,
          ],
          [['a.table.csv', 'gone.csv'], /no such table: gone\.csv/],
          [['x.txt', 'a.table.csv'], /x\.txt does not read as a table|cannot be compared/],
          [['a.table.csv'], /missing required argument 'new'/],
          [['a.table.csv', 'b.table.csv', '--format', 'sarif'], /'sarif' is invalid/],
        ] as const) {
          const { status, stdout, stderr } = await leanspot(['diff', ...args], { cwd });
          assert.deepEqual([status, stdout], [2, '']);
          assert.match(stderr, says);
          assert.equal(stderr.trim().split('\n').length, 1);
        }
      },
    );
  });
});
