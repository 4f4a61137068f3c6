// What a first start has found is there for the second, which reads no session again; what changed is found anew.

import assert from 'node:assert/strict';
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { diskWorkspace, uriOf } from '../../server/src/disk/diskWorkspace.js';
import { keepFolder } from '../../server/src/disk/keepFolder.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import type { Workspace } from '../../server/src/service/workspace.js';
import { inFolder } from '../support/folder.js';
import { LEAN_CAR } from '../support/sampleDrive.js';

const SESSION = 'sessions/cruise [1].session.csv';
const TABLE = 'tables/ve.table.csv';

async function withKeep(use: (folder: string, start: (version?: string) => ReturnType<typeof started>) => Promise<void>): Promise<void> {
  const kept = mkdtempSync(join(tmpdir(), 'leanspot-keep-'));
  try {
    await inFolder(LEAN_CAR, (folder) => use(folder, (version = '1') => started(folder, kept, version)));
  } finally {
    rmSync(kept, { recursive: true, force: true });
  }
}

/** A service as after a start, and the most bytes of the session that were read at once. */
function started(folder: string, kept: string, version: string) {
  const disk = diskWorkspace([uriOf(folder)]);
  const read = { bytes: 0 };
  const workspace: Workspace = {
    ...disk,
    open: async (uri) => {
      const source = await disk.open(uri);
      if (!source || !uri.includes('cruise')) return source;
      return {
        size: source.size,
        read: (start, end) => {
          read.bytes += Math.min(end, source.size) - start;
          return source.read(start, end);
        },
      };
    },
  };
  return {
    service: createLanguageService(workspace, { keep: keepFolder(kept, version) }),
    read,
    session: uriOf(join(folder, SESSION)),
    table: uriOf(join(folder, TABLE)),
  };
}

suite('language server: results kept', () => {
  test("a second start tells the same and reads no more than the session's head", async () => {
    await withKeep(async (_folder, start) => {
      const first = start();
      const [check, evidence] = [await first.service.check(first.session), await first.service.weigher.evidence(first.table)];
      const second = start();
      assert.deepEqual(await second.service.check(second.session), JSON.parse(JSON.stringify(check)));
      const again = await second.service.weigher.evidence(second.table);
      assert.deepEqual(
        again?.value.cells.map(({ proof, samples }) => [proof, samples]),
        evidence?.value.cells.map(({ proof, samples }) => [proof, samples]),
      );
      assert.ok(again!.value.cells.some(({ proof }) => proof === 'firm'));
      assert.ok(first.read.bytes > 200_000 && second.read.bytes <= 8192, `${first.read.bytes} and ${second.read.bytes}`);
    });
  });

  test('a session that changed, another version of the program and a broken file are read anew', async () => {
    await withKeep(async (folder, start) => {
      const first = start();
      await first.service.weigher.evidence(first.table);
      const path = join(folder, SESSION);
      writeFileSync(path, readFileSync(path, 'utf8').replaceAll('1.06', '1.00'));
      const second = start();
      const cells = (await second.service.weigher.evidence(second.table))!.value.cells;
      assert.ok(second.read.bytes > 200_000);
      assert.ok(cells.some(({ proof, factor }) => proof === 'firm' && factor < 1.03));
      const other = start('2');
      await other.service.check(other.session);
      assert.ok(other.read.bytes > 200_000);
    });
  });

  test('a hand edit between two starts does not make the session testify about the new value', async () => {
    await withKeep(async (folder, start) => {
      const first = start();
      const before = (await first.service.weigher.evidence(first.table))!.value.cells;
      const path = join(folder, TABLE);
      writeFileSync(path, readFileSync(path, 'utf8').replace('52.0, 54.0', '55.1, 57.2'));
      const second = start();
      const after = (await second.service.weigher.evidence(second.table))!.value.cells;
      const firm = before.findIndex(({ proof }) => proof === 'firm');
      assert.ok(firm >= 0);
      assert.ok(
        Math.abs(after[firm].suggested / before[firm].suggested - 1) < 0.002,
        `${before[firm].suggested} became ${after[firm].suggested}`,
      );
    });
  });

  test('what was used longest ago goes first, and a folder that cannot be written keeps nothing', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'leanspot-keep-'));
    try {
      const keep = keepFolder(folder, '1', 4000);
      for (let n = 0; n < 20; n++) await keep.put(`n${n}`, 'x'.repeat(500));
      assert.equal(await keep.get('n19'), 'x'.repeat(500));
      assert.equal(await keep.get('n0'), undefined);
      assert.ok(readdirSync(folder).length <= 8);
      const nowhere = keepFolder(join(folder, readdirSync(folder)[0], 'below'), '1');
      await nowhere.put('a', 'b');
      assert.equal(await nowhere.get('a'), undefined);
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  });
});
