// The trace's requests through the language server: numbers come whole through JSON, whatever is no session is answered with null.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { uriOf } from '../../server/src/disk/diskWorkspace.js';
import { unpackTables } from '../../server/src/protocol/numberTables.js';
import { TRACE, type TraceSample, type TraceSummary, type WindowResult } from '../../server/src/protocol/trace.js';
import { startClient } from '../support/lspClient.js';
import { sampleDrive } from '../support/sampleDrive.js';

suite('server: trace', () => {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-trace-'));
  suiteTeardown(() => rmSync(folder, { recursive: true, force: true }));

  test('a session that is not open in the editor is read from disk', async () => {
    writeFileSync(join(folder, 'run.session.csv'), sampleDrive());
    writeFileSync(join(folder, 'notes.csv'), 'a,b\n1,2\n');
    const client = await startClient(folder, {});
    const ask = <R>(method: string, params: object): Promise<R> => client.connection.sendRequest<R>(method, params);
    const uri = uriOf(join(folder, 'run.session.csv'));
    const summary = await ask<TraceSummary>(TRACE.summary, { uri });
    assert.equal(summary.samples, 1000);
    const packed = await ask<WindowResult<string>>(TRACE.window, { uri, channels: ['engine-speed', 'lambda'], fromS: 0, toS: 1, pixels: 500 });
    const [table] = unpackTables({ shapes: packed.shapes, data: Buffer.from(packed.data, 'base64') })!;
    assert.equal(table!.x[0], 0);
    assert.equal(table!.columns.length, 2);
    // The row of time 0.04 as the drive is written.
    const [, rpm, , , lambda] = sampleDrive().split('\n')[2]!.split(',').map(Number);
    assert.deepEqual([table!.x[1], table!.columns[0]![1], table!.columns[1]![1]], [0.04, rpm, Math.fround(lambda!)]);
    const sample = await ask<TraceSample>(TRACE.sample, { uri, line: 2 });
    assert.equal(sample.timeS, 0.04);
    for (const other of [uriOf(join(folder, 'notes.csv')), uriOf(join(folder, 'gone.session.csv'))]) {
      for (const method of Object.values(TRACE).filter((name) => name !== TRACE.runs)) {
        assert.equal(await ask(method, { uri: other, channels: [], fromS: 0, toS: 1, timeS: 0, pixels: 10, line: 0, character: 0 }), null, `${method} of ${other}`);
      }
    }
    await client.close();
  });
});
