// Alignment, tokens and renames as a client asks for them.

import assert from 'node:assert/strict';
import { join } from 'node:path';
import type { SemanticTokens, SemanticTokensDelta, TextEdit, WorkspaceEdit } from 'vscode-languageserver-protocol/node';
import { uriOf } from '../../server/src/disk/diskWorkspace.js';
import { inFolder } from '../support/folder.js';
import { startClient } from '../support/lspClient.js';
import { SAMPLE_CAR, SAMPLE_TABLE } from '../support/sampleDrive.js';

suite('language server: editing', () => {
  test('after an edit the tokens come as a difference smaller than the whole', async () => {
    await inFolder(SAMPLE_CAR, async (folder) => {
      const client = await startClient(folder, {});
      try {
        const uri = client.open(join(folder, 'tables/ve.table.csv'), SAMPLE_TABLE, 'fuel-table');
        const whole = await client.connection.sendRequest<SemanticTokens>('textDocument/semanticTokens/full', { textDocument: { uri } });
        assert.equal(whole.data.length, 5 * (5 + 4 + 20));
        await client.connection.sendNotification('textDocument/didChange', {
          textDocument: { uri, version: 2 },
          contentChanges: [{ range: { start: { line: 5, character: 7 }, end: { line: 5, character: 11 } }, text: '170.5' }],
        });
        const ask = { textDocument: { uri }, previousResultId: whole.resultId };
        const delta = await client.connection.sendRequest<SemanticTokensDelta>('textDocument/semanticTokens/full/delta', ask);
        const { data: again } = await client.connection.sendRequest<SemanticTokens>('textDocument/semanticTokens/full', {
          textDocument: { uri },
        });
        const put = [...whole.data];
        for (const { start, deleteCount, data = [] } of [...delta.edits].reverse()) put.splice(start, deleteCount, ...data);
        assert.deepEqual(put, again);
        assert.ok(delta.edits.reduce((sum, { data }) => sum + (data?.length ?? 0), 0) < whole.data.length / 4);
      } finally {
        await client.close();
      }
    });
  });

  test('a table is aligned on request, and a rename takes the vehicle file along', async () => {
    await inFolder(SAMPLE_CAR, async (folder) => {
      const client = await startClient(folder, {});
      try {
        const path = join(folder, 'tables/ve.table.csv');
        const uri = client.open(path, SAMPLE_TABLE.replace('  80 , 70.0', '80,70.0'), 'fuel-table');
        const edits = await client.connection.sendRequest<TextEdit[]>('textDocument/formatting', {
          textDocument: { uri },
          options: { tabSize: 2, insertSpaces: true },
        });
        assert.ok(edits.some(({ newText }) => /^ 80 , 70\.0, 72\.0/.test(newText)));
        const { changes } = (await client.connection.sendRequest<WorkspaceEdit | null>('workspace/willRenameFiles', {
          files: [{ oldUri: uri, newUri: uriOf(join(folder, 'tables/main.table.csv')) }],
        }))!;
        assert.deepEqual(
          changes?.[uriOf(join(folder, 'vehicle.json'))]?.map(({ newText }) => newText),
          ['"tables/main.table.csv"'],
        );
      } finally {
        await client.close();
      }
    });
  });
});
