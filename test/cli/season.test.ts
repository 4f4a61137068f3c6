// Many sessions, one at a time or elsewhere: evidence kept and merged from the command line.

import assert from 'node:assert/strict';
import { readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { inFolder } from '../support/folder.js';
import { LEAN_CAR } from '../support/sampleDrive.js';
import { leanspot } from './run.js';

const TABLE = 'tables/ve.table.csv';

suite('command line: kept evidence', () => {
  test('sessions weighed apart and merged say what they say together; a session met twice counts once', async () => {
    const cruise = LEAN_CAR.slice(LEAN_CAR.indexOf('Time (s)'));
    const other = cruise.replace(/^(\d+\.\d+),(\d+)/gm, (_, time: string, rpm: string) => `${time},${Number(rpm) + 20}`);
    await inFolder(`${LEAN_CAR}=== sessions/b.session.csv\n${other}`, async (cwd) => {
      const run = async (...args: string[]): Promise<string> => {
        const { status, stdout, stderr } = await leanspot(['weigh', TABLE, '--format', 'json', ...args], { cwd });
        assert.equal(status, 0, stderr);
        return stdout;
      };
      const proofs = (json: string): string[] =>
        JSON.parse(json).cells.map(({ proof, samples }: { proof: string; samples: number }) => `${proof} ${samples}`);
      const together = await run();
      await run('--sessions', 'sessions/b*', '--save-evidence', 'b.jsonl');
      await run('--sessions', 'sessions/cruise*', '--save-evidence', 'a.jsonl');
      assert.deepEqual(proofs(await run('--from-evidence', 'a.jsonl', 'b.jsonl')), proofs(together));
      assert.ok(statSync(join(cwd, 'a.jsonl')).size < statSync(join(cwd, 'sessions/cruise [1].session.csv')).size / 5);
      const twice = await leanspot(
        ['weigh', TABLE, '--from-evidence', 'a.jsonl', 'b.jsonl', 'a.jsonl', '--save-evidence', 'all.jsonl', '--format', 'json'],
        { cwd },
      );
      assert.deepEqual(proofs(twice.stdout), proofs(together));
      assert.match(twice.stderr, /1 session met twice/);
      assert.equal(readFileSync(join(cwd, 'all.jsonl'), 'utf8').trim().split('\n').length, 2);
    });
  });

  test('what is there is not overwritten, what does not read is said with its line', async () => {
    await inFolder(LEAN_CAR, async (cwd) => {
      writeFileSync(join(cwd, 'kept.jsonl'), '\n{"kind":"x"}\n');
      const taken = await leanspot(['weigh', TABLE, '--save-evidence', 'kept.jsonl'], { cwd });
      assert.deepEqual([taken.status, taken.stdout], [2, '']);
      assert.match(taken.stderr, /^leanspot: kept\.jsonl is there already: name a new file, nothing is overwritten\n$/);
      const unread = await leanspot(['weigh', TABLE, '--from-evidence', 'kept.jsonl'], { cwd });
      assert.deepEqual([unread.status, unread.stdout], [2, '']);
      assert.match(unread.stderr, /^leanspot: line 2 of kept\.jsonl is no use here: it is no evidence of Leanspot\n$/);
    });
  });
});
