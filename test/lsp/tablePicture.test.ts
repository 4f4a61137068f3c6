// The table picture's requests through the language server: they pass the view's own checks after their way through JSON, follow an open
// text, and are null for other files.

import assert from 'node:assert/strict';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { uriOf } from '../../server/src/disk/diskWorkspace.js';
import { TABLE, type PathResult, type TablePicture } from '../../server/src/protocol/table.js';
import { isToTableView } from '../../server/src/protocol/tableMessages.js';
import { TABLE_WORDS as words } from '../../server/src/protocol/tableWords.js';
import { fixtureFiles } from '../support/fixture.js';
import { startClient } from '../support/lspClient.js';
import { SAMPLE_CAR } from '../support/sampleDrive.js';

suite('server: table picture', () => {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-picture-'));
  suiteTeardown(() => rmSync(folder, { recursive: true, force: true }));

  test('a picture, and a pull over it', async () => {
    for (const { name, text } of fixtureFiles(SAMPLE_CAR)) {
      mkdirSync(dirname(join(folder, name)), { recursive: true });
      writeFileSync(join(folder, name), text);
    }
    const client = await startClient(folder, {});
    const ask = <R>(method: string, params: object): Promise<R> => client.connection.sendRequest<R>(method, params);
    const uri = uriOf(join(folder, 'tables/ve.table.csv')),
      session = uriOf(join(folder, 'sessions/run.session.csv'));
    const picture = await ask<TablePicture>(TABLE.picture, { uri, duty: true });
    assert.ok(isToTableView({ type: 'picture', picture, words }));
    assert.ok(picture.cells.length > 0 && picture.cells.length === picture.cellCount);
    const path = await ask<PathResult>(TABLE.path, { uri, session, run: 0 });
    assert.ok(isToTableView({ type: 'path', ask: 1, path }) && path.places.length > 0);
    for (const other of [session, uriOf(join(folder, 'gone.table.csv'))]) {
      assert.equal(await ask(TABLE.picture, { uri: other, duty: false }), null);
      assert.equal(await ask(TABLE.path, { uri: other, session, run: 0 }), null);
    }
    await client.close();
  });
});
