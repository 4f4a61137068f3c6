// The trace's requests through the language server: numbers come whole through JSON, whatever is no session is answered with null.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { uriOf } from '../../server/src/disk/diskWorkspace.js';
import { unpackTables } from '../../server/src/protocol/numberTables.js';
import { TRACE, type TraceSample, type TraceSummary, type WindowResult } from '../../server/src/protocol/trace.js';
import { TABLE } from '../../server/src/protocol/table.js';
import { VEHICLE } from '../../server/src/protocol/vehicle.js';
import { sessionThreads } from '../../server/src/disk/sessionThreads.js';
import { threadProgram } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { startClient, type TestClient } from '../support/lspClient.js';
import { LEAN_CAR, sampleDrive } from '../support/sampleDrive.js';

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
    const packed = await ask<WindowResult<string>>(TRACE.window, {
      uri,
      channels: ['engine-speed', 'lambda'],
      fromS: 0,
      toS: 1,
      pixels: 500,
    });
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
        assert.equal(
          await ask(method, { uri: other, channels: [], fromS: 0, toS: 1, timeS: 0, pixels: 10, line: 0, character: 0 }),
          null,
          `${method} of ${other}`,
        );
      }
    }
    await client.close();
  });

  test('long sessions, open and on the disk, are asked of the threads, and say the same as when they are read here; also while one is typed in', async () => {
    await inFolder(LEAN_CAR, async (car) => {
      const threads = sessionThreads(1, await threadProgram());
      let asked = 0;
      const counted: typeof threads = {
        ...threads,
        ask: (...question) => {
          asked++;
          return threads.ask(...question);
        },
      };
      const run = join(car, 'sessions/run.session.csv'),
        text = sampleDrive({ leanest: 1.2 });
      writeFileSync(run, sampleDrive());
      writeFileSync(join(car, 'sessions/open.session.csv'), text);
      const there = await startClient(car, {}, { longText: 1000, threads: counted }),
        here = await startClient(car, {});
      try {
        const table = uriOf(join(car, 'tables/ve.table.csv'));
        const uris = [uriOf(run), uriOf(join(car, 'sessions/open.session.csv'))];
        for (const client of [there, here]) client.open(join(car, 'sessions/open.session.csv'), text);
        const ask = async (from: TestClient): Promise<unknown[]> => {
          const answers: unknown[] = [];
          // All is weighed by then: what the readings speak of rests on it.
          await from.connection.sendRequest(TRACE.visits, { uri: table, line: 4, character: 8 });
          for (const uri of uris) {
            const put = async (method: string, params: object): Promise<void> => {
              answers.push(await from.connection.sendRequest(method, { uri, ...params }));
            };
            const { key: _, ...summary } = await from.connection.sendRequest<TraceSummary>(TRACE.summary, { uri });
            answers.push(summary);
            const { key: __, ...window } = await from.connection.sendRequest<WindowResult<string>>(TRACE.window, {
              uri,
              channels: ['lambda', 'engine-speed'],
              fromS: 0,
              toS: 30,
              pixels: 300,
            });
            answers.push(window);
            await put(TRACE.sample, { line: 200 });
            await put(TRACE.span, { fromS: 3, toS: 9 });
            await put(TRACE.csv, { channels: ['lambda'], fromS: 3, toS: 4 });
            for (const against of ['speed', 'seconds'])
              await put(TRACE.runs, {
                runs: uris.map((each) => ({ uri: each, run: 0 })),
                channels: ['lambda', '#time'],
                against,
                align: 'match',
                alignRpm: 3000,
                pixels: 400,
              });
            answers.push(await from.connection.sendRequest(TRACE.visits, { uri: table, line: 4, character: 8, session: uri }));
            answers.push(await from.connection.sendRequest(TABLE.path, { uri: table, session: uri, run: 0 }));
            answers.push(await from.connection.sendRequest(VEHICLE.session, { uri }));
          }
          answers.push(await from.connection.sendRequest(TABLE.picture, { uri: table, duty: true }));
          return answers;
        };
        const [first, wanted] = [await ask(there), await ask(here)];
        assert.deepEqual(first, wanted);
        assert.ok(
          first.every((each) => each !== null),
          JSON.stringify(first.map((each) => each === null)),
        );
        assert.ok(asked >= 2, `${asked} sessions asked of threads`);
        // While it is typed in, what the view shows is asked about as it was read, and nothing is read for it.
        const uri = uris[1]!,
          readBefore = asked,
          put = (version: number, line: number, text: string): void => {
            void there.connection.sendNotification('textDocument/didChange', {
              textDocument: { uri, version },
              contentChanges: [{ range: { start: { line, character: 0 }, end: { line, character: 0 } }, text }],
            });
          };
        const now = async <R>(method: string, params: object): Promise<R> => there.connection.sendRequest<R>(method, { uri, ...params });
        const window = { channels: ['lambda'], fromS: 0, toS: 30, pixels: 300 },
          [wide, sample] = [await now(TRACE.window, window), await now<TraceSample>(TRACE.sample, { line: 200 })];
        put(2, 150, '# a note\n');
        put(3, 300, 'x');
        assert.deepEqual(
          [
            await now(TRACE.window, window),
            await now(TRACE.sample, { line: 201 }),
            await now(TRACE.sample, { timeS: sample.timeS }),
            await now(TRACE.sample, { line: 300 }),
          ],
          [wide, { ...sample, line: 201 }, { ...sample, line: 201 }, null],
        );
        assert.equal(asked, readBefore);
        const renewed = await now<TraceSummary>(TRACE.summary, {});
        assert.notEqual(renewed.key, (wide as { key: string }).key);
        assert.equal((await now<WindowResult<string>>(TRACE.window, window)).key, renewed.key);
        assert.equal((await now<TraceSample>(TRACE.sample, { line: 201 })).line, 201);
      } finally {
        await there.close();
        await here.close();
      }
    });
  });
});
