// Sessions that contradict each other, on the command line.

import assert from 'node:assert/strict';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { inFolder } from '../support/folder.js';
import { CONTRADICTED_CAR } from '../support/sampleDrive.js';
import { leanspot } from './run.js';

suite('command line: sessions that contradict each other', () => {
  test('weigh says which wants what, correct that nothing rests on them, compare that no change of the table did it', async () => {
    await inFolder(CONTRADICTED_CAR, async (cwd) => {
      const words =
        /The sessions contradict each other in \d cells.*cruise \[1\]\.session\.csv \+[56]\.\d %, sessions\/cruise \[2\]\.session\.csv [+−]0\.\d %.*check the lambda sensor's calibration, fuel pressure and pump/;
      assert.match((await leanspot(['weigh', 'tables/ve.table.csv'], { cwd })).stdout, words);
      const { cells } = JSON.parse((await leanspot(['weigh', 'tables/ve.table.csv', '--format', 'json'], { cwd })).stdout);
      assert.ok(!cells.some(({ proof }: { proof: string }) => proof === 'firm'));
      const corrected = await leanspot(['correct', 'tables/ve.table.csv', '--output', 'next.table.csv'], { cwd });
      assert.deepEqual([corrected.status, corrected.stdout, existsSync(join(cwd, 'next.table.csv'))], [2, '', false]);
      assert.match(corrected.stderr, words);
      assert.doesNotMatch(corrected.stderr, /\.;/);
      const compared = await leanspot(['compare', 'tables/ve.table.csv', '--before', 'sessions/*1*', '--after', 'sessions/*2*'], { cwd });
      assert.match(compared.stdout, /^The table is the same on both sides, yet the fuel that is wanted changed/);
      writeFileSync(join(cwd, 'tables/next.table.csv'), readFileSync(join(cwd, 'tables/ve.table.csv'), 'utf8').replace('52.0', '53.0'));
      const differs = await leanspot(['diff', 'tables/ve.table.csv', 'tables/next.table.csv'], { cwd });
      assert.match(differs.stdout, /The sessions contradict each other in \d cells.*cruise \[1\]\.session\.csv \+\d/);
    });
  });
});
