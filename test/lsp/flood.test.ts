// A flood of edits, hovers and cancels while an archive loads on other threads: everything is answered, in order, and the end is as if
// there had been no flood.

import assert from 'node:assert/strict';
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { CancellationTokenSource, LSPErrorCodes, type Hover } from 'vscode-languageserver-protocol/node';
import { sessionThreads } from '../../server/src/disk/sessionThreads.js';
import { uriOf } from '../../server/src/disk/diskWorkspace.js';
import { threadProgram } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { startClient } from '../support/lspClient.js';
import { SAMPLE_CAR, SAMPLE_TABLE, sampleDrive } from '../support/sampleDrive.js';

const SESSIONS = 12,
  ROUNDS = 150;
const PUSH = { textDocument: { publishDiagnostics: { relatedInformation: true }, hover: { contentFormat: ['plaintext' as const] } } };

suite('language server in a flood', () => {
  test('edits, hovers and cancels while an archive loads: each answered, in order, about the text of its moment', async () => {
    await inFolder(SAMPLE_CAR, async (folder) => {
      mkdirSync(join(folder, 'sessions'), { recursive: true });
      const paths = Array.from({ length: SESSIONS }, (_, index) => join(folder, `sessions/archive-${index}.session.csv`));
      for (const [index, path] of paths.entries()) writeFileSync(path, sampleDrive({ leanest: 1.02 + index / 100 }));
      const client = await startClient(folder, PUSH, { threads: sessionThreads(2, await threadProgram()) });
      try {
        const path = join(folder, 'tables/ve.table.csv'),
          uri = client.open(path, SAMPLE_TABLE, 'fuel-table');
        const line = SAMPLE_TABLE.split('\n').findIndex((text) => text.includes(' 70.0'));
        const character = SAMPLE_TABLE.split('\n')[line].indexOf('70.0');
        const answered: number[] = [],
          cancelled: number[] = [];
        const asked: Promise<void>[] = [];
        for (let round = 0; round < ROUNDS; round++) {
          const value = (70 + round / 10).toFixed(1);
          void client.connection.sendNotification('textDocument/didChange', {
            textDocument: { uri, version: 2 + round },
            contentChanges: [{ range: { start: { line, character }, end: { line, character: character + 4 } }, text: value }],
          });
          const source = new CancellationTokenSource();
          asked.push(
            client.connection
              .sendRequest<Hover | null>(
                'textDocument/hover',
                { textDocument: { uri }, position: { line, character: character + 1 } },
                source.token,
              )
              .then(
                (hover) => {
                  answered.push(round);
                  assert.ok(
                    hover && JSON.stringify(hover.contents).includes(Number(value).toString()),
                    `round ${round}: the hover tells ${value}`,
                  );
                },
                (error: { code?: number }) => {
                  assert.ok(error.code === LSPErrorCodes.RequestCancelled || error.code === LSPErrorCodes.ContentModified, String(error));
                  cancelled.push(round);
                },
              ),
          );
          if (round % 3 === 0) source.cancel();
          // Now and then the server is let at it.
          if (round % 10 === 9) await asked[round];
        }
        await Promise.all(asked);
        assert.equal(answered.length + cancelled.length, ROUNDS, 'every question has its answer');
        assert.deepEqual(
          answered,
          [...answered].sort((a, b) => a - b),
          'in the order asked',
        );
        assert.ok(answered.includes(ROUNDS - 1), 'the last one, about the text that stayed');
        for (const archived of paths)
          await client.diagnostics(uriOf(archived), (found) => found.some(({ code }) => code === 'lean-under-load'));
        const first = client.published.findIndex((each) => each.uri === uri),
          firstArchived = client.published.findIndex((each) => paths.some((archived) => uriOf(archived) === each.uri));
        assert.ok(first >= 0 && first < firstArchived, 'what is open goes before the archive');
        assert.equal(
          client.published.filter((each) => each.uri === uri).at(-1)!.version,
          ROUNDS + 1,
          'the findings that stay are of the last text',
        );
      } finally {
        await client.close();
      }
    });
  });
});
