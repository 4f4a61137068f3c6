// The language server as a client meets it: pushes or pulls, positions, settings, cancelling, and files that change outside of the editor.

import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import {
  CancellationTokenSource,
  LSPErrorCodes,
  type ClientCapabilities,
  type CodeAction,
  type Diagnostic,
  type DocumentDiagnosticReport,
  type DocumentSymbol,
  type Hover,
  type InlayHint,
  type WorkspaceDiagnosticReport,
} from 'vscode-languageserver-protocol/node';
import { uriOf } from '../../server/src/disk/diskWorkspace.js';
import { sessionThreads } from '../../server/src/disk/sessionThreads.js';
import { answerer, breathe, createForeground } from '../../server/src/lsp/answer.js';
import { threadProgram } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { startClient, type TestClient } from '../support/lspClient.js';
import { LEAN_CAR, SAMPLE_CAR, SAMPLE_TABLE, sampleDrive } from '../support/sampleDrive.js';

const PUSH: ClientCapabilities = {
  textDocument: {
    publishDiagnostics: { relatedInformation: true, codeDescriptionSupport: true },
    hover: { contentFormat: ['markdown', 'plaintext'] },
  },
};
const PULL: ClientCapabilities = {
  textDocument: { diagnostic: { relatedInformation: true, codeDescriptionSupport: true } },
  workspace: { diagnostics: { refreshSupport: true }, didChangeWatchedFiles: { dynamicRegistration: true } },
};

const BROKEN_TABLE = SAMPLE_TABLE.replace('2000, 3000', '3000, 2000');

async function withClient(
  fixture: string,
  capabilities: ClientCapabilities,
  use: (client: TestClient, folder: string) => Promise<void>,
  options: Parameters<typeof startClient>[2] = {},
): Promise<void> {
  await inFolder(fixture, async (folder) => {
    const client = await startClient(folder, capabilities, options);
    try {
      await use(client, folder);
    } finally {
      await client.close();
    }
  });
}

const has =
  (code: string) =>
  (diagnostics: readonly Diagnostic[]): boolean =>
    diagnostics.some((diagnostic) => diagnostic.code === code);
const lacks =
  (code: string) =>
  (diagnostics: readonly Diagnostic[]): boolean =>
    !has(code)(diagnostics);

suite('language server', () => {
  test('reviews a table against an earlier state of it, as Markdown, or says why not', async () => {
    await withClient(SAMPLE_CAR, PUSH, async (client, folder) => {
      const uri = uriOf(join(folder, 'tables/ve.table.csv'));
      const review = (oldText: string) =>
        client.connection.sendRequest<{ markdown?: string; refused?: string } | null>('leanspot/review', {
          uri,
          oldName: 'the last commit',
          oldText,
        });
      const { markdown } = (await review(SAMPLE_TABLE.replace('52.0', '50.0')))!;
      assert.match(markdown!, /\| 2000 rpm, 40 kPa \| 50 \| 52 \| \\\+4\.0 % \|/);
      assert.match(
        (await review(SAMPLE_TABLE.replace('volumetric efficiency (%)', 'ignition advance (deg)')))!.refused!,
        /ignition advance/,
      );
      assert.match((await review('hello'))!.refused!, /no cells|holds/);
    });
  });

  test('pushes to a client that cannot pull, also for files that are not open, and takes back what an edit mends', async () => {
    await withClient(SAMPLE_CAR, PUSH, async (client, folder) => {
      assert.equal(client.initialized.capabilities.diagnosticProvider, undefined);
      const uri = client.open(join(folder, 'tables/ve.table.csv'), BROKEN_TABLE, 'fuel-table');
      const diagnostic = (await client.diagnostics(uri, has('axis-not-monotonic'))).find(({ code }) => code === 'axis-not-monotonic')!;
      assert.equal(diagnostic.source, 'leanspot');
      assert.equal(diagnostic.codeDescription?.href, 'file:///docs/axis-not-monotonic.md');
      assert.equal(
        BROKEN_TABLE.split('\n')[diagnostic.range.start.line].slice(diagnostic.range.start.character, diagnostic.range.end.character),
        '2000',
      );
      const at = { line: 3, character: BROKEN_TABLE.split('\n')[3].indexOf('3000') };
      await client.connection.sendNotification('textDocument/didChange', {
        textDocument: { uri, version: 2 },
        contentChanges: [{ range: { start: at, end: { line: 3, character: at.character + 10 } }, text: '2000, 3000' }],
      });
      await client.diagnostics(uri, lacks('axis-not-monotonic'));
      await client.diagnostics(uriOf(join(folder, 'sessions/run.session.csv')));
    });
  });

  test('never pushes to a client that pulls; an unchanged file is answered unchanged', async () => {
    await withClient(SAMPLE_CAR, PULL, async (client, folder) => {
      const uri = client.open(join(folder, 'tables/ve.table.csv'), BROKEN_TABLE, 'fuel-table');
      const ask = (previousResultId?: string) =>
        client.connection.sendRequest<DocumentDiagnosticReport>('textDocument/diagnostic', { textDocument: { uri }, previousResultId });
      const first = await ask();
      assert.ok(first.kind === 'full' && has('axis-not-monotonic')(first.items));
      assert.deepEqual(await ask(first.resultId), { kind: 'unchanged', resultId: first.resultId });
      await client.heard('leanspot/status');
      assert.deepEqual(client.published, []);
    });
  });

  test('the whole folder can be pulled; the answer waits while nothing changes and a change on disk wakes it', async () => {
    await withClient(SAMPLE_CAR, PULL, async (client, folder) => {
      const known = new Map<string, string>();
      const ask = async (): Promise<WorkspaceDiagnosticReport> => {
        const report = await client.connection.sendRequest<WorkspaceDiagnosticReport>('workspace/diagnostic', {
          previousResultIds: [...known].map(([uri, value]) => ({ uri, value })),
        });
        for (const { uri, resultId } of report.items) if (resultId) known.set(uri, resultId);
        return report;
      };
      while (known.size < 3) await ask();
      const waiting = ask();
      const table = join(folder, 'tables/ve.table.csv');
      await client.heard('client/registerCapability');
      writeFileSync(table, BROKEN_TABLE);
      await client.connection.sendNotification('workspace/didChangeWatchedFiles', { changes: [{ uri: uriOf(table), type: 2 }] });
      const report = await waiting;
      const changed = report.items.find(({ uri }) => uri === uriOf(table));
      assert.ok(changed?.kind === 'full' && has('axis-not-monotonic')(changed.items));
    });
  });

  test('what an open text was answered stands: the report on the folder tells nothing of it until it is closed', async () => {
    await withClient(SAMPLE_CAR, PULL, async (client, folder) => {
      const known = new Map<string, string>();
      const ask = async (): Promise<WorkspaceDiagnosticReport['items']> => {
        const { items } = await client.connection.sendRequest<WorkspaceDiagnosticReport>('workspace/diagnostic', {
          previousResultIds: [...known].map(([uri, value]) => ({ uri, value })),
        });
        for (const { uri, resultId } of items) if (resultId) known.set(uri, resultId);
        return items;
      };
      const uri = client.open(join(folder, 'tables/ve.table.csv'), BROKEN_TABLE, 'fuel-table');
      const answered = await client.connection.sendRequest<DocumentDiagnosticReport>('textDocument/diagnostic', { textDocument: { uri } });
      assert.ok(answered.kind === 'full' && has('axis-not-monotonic')(answered.items));
      while (known.size < 2) await ask();
      assert.ok(!known.has(uri), [...known.keys()].join(' '));
      const waiting = ask();
      await client.connection.sendNotification('textDocument/didClose', { textDocument: { uri } });
      const told = (await waiting).find((item) => item.uri === uri);
      assert.ok(told?.kind === 'full' && lacks('axis-not-monotonic')(told.items));
    });
  });

  test('a pulling client is told to ask again when another file changes what is open', async () => {
    await withClient(SAMPLE_CAR, PULL, async (client, folder) => {
      const uri = client.open(join(folder, 'vehicle.json'), '{ "tables": { "fuel": "tables/new.table.csv" } }', 'json');
      const ask = () => client.connection.sendRequest<DocumentDiagnosticReport>('textDocument/diagnostic', { textDocument: { uri } });
      const before = await ask();
      assert.ok(before.kind === 'full' && has('file-missing')(before.items));
      writeFileSync(join(folder, 'tables/new.table.csv'), SAMPLE_TABLE);
      await client.connection.sendNotification('workspace/didChangeWatchedFiles', {
        changes: [{ uri: uriOf(join(folder, 'tables/new.table.csv')), type: 1 }],
      });
      await client.heard('workspace/diagnostic/refresh');
      const after = await ask();
      assert.ok(after.kind === 'full' && lacks('file-missing')(after.items));
    });
  });

  test('edits during the first analysis end in the answer of a server that only ever saw the last text', async () => {
    const pulling: ClientCapabilities = { ...PULL, workspace: { diagnostics: { refreshSupport: true } } };
    const last = `# another note\n${SAMPLE_TABLE}`;
    /** Asks as an editor does: again when it is told to, until the sessions have their say. */
    const settled = async (client: TestClient, uri: string): Promise<readonly Diagnostic[]> => {
      let wake = (): void => undefined;
      let told: boolean;
      client.connection.onRequest('workspace/diagnostic/refresh', () => {
        told = true;
        wake();
        return null;
      });
      for (;;) {
        told = false;
        const report = await client.connection.sendRequest<DocumentDiagnosticReport>('textDocument/diagnostic', { textDocument: { uri } });
        assert.ok(report.kind === 'full');
        if (has('cell-lean')(report.items)) return report.items;
        if (!told)
          await new Promise<void>((resolve) => {
            wake = resolve;
          });
      }
    };
    await withClient(LEAN_CAR, pulling, async (client, folder) => {
      const path = join(folder, 'tables/ve.table.csv');
      const uri = client.open(path, SAMPLE_TABLE, 'fuel-table');
      const refused: unknown[] = [];
      const texts = [SAMPLE_TABLE.replace('54.0', '5a.0'), SAMPLE_TABLE, BROKEN_TABLE, SAMPLE_TABLE.replace('56.0', ''), last];
      const asked = texts.map((text, index) => {
        const answer = client.connection.sendRequest('textDocument/diagnostic', { textDocument: { uri } }).catch((error: unknown) => {
          refused.push(error);
        });
        void client.connection.sendNotification('textDocument/didChange', {
          textDocument: { uri, version: index + 2 },
          contentChanges: [{ text }],
        });
        return answer;
      });
      await Promise.all(asked);
      assert.ok(refused.length > 0, 'some question was overtaken by an edit');
      for (const error of refused as { code: number; data: unknown }[]) {
        assert.deepEqual(
          [error.code, error.data],
          [LSPErrorCodes.ServerCancelled, { retriggerRequest: true }],
          'any other refusal would empty the list of findings',
        );
      }
      const found = await settled(client, uri);
      await withClient(LEAN_CAR, pulling, async (fresh, other) => {
        const expected = await settled(fresh, fresh.open(join(other, 'tables/ve.table.csv'), last, 'fuel-table'));
        const inFolderOf = (all: readonly Diagnostic[], root: string): unknown =>
          JSON.parse(JSON.stringify(all).replaceAll(uriOf(root), ''));
        assert.deepEqual(inFolderOf(found, folder), inFolderOf(expected, other));
      });
    });
  });

  test('a table is judged by evidence that another thread put together as by its own', async () => {
    await inFolder(LEAN_CAR, async (folder) => {
      const threads = sessionThreads(1, await threadProgram());
      let tallies = 0;
      const counting = {
        ...threads,
        tally: (...parts: Parameters<typeof threads.tally>) => {
          tallies++;
          return threads.tally(...parts);
        },
      };
      const found = async (options: Parameters<typeof startClient>[2]): Promise<readonly Diagnostic[]> => {
        const client = await startClient(folder, { textDocument: { publishDiagnostics: { relatedInformation: true } } }, options);
        try {
          return await client.diagnostics(client.open(join(folder, 'tables/ve.table.csv'), SAMPLE_TABLE, 'fuel-table'), (all) =>
            all.some(({ code }) => code === 'cell-lean'),
          );
        } finally {
          await client.close();
        }
      };
      const elsewhere = await found({ threads: counting, longTally: 1 });
      assert.ok(tallies > 0);
      assert.deepEqual(elsewhere, await found({}));
    });
  });

  test('work in the background waits while somebody waits for an answer', async () => {
    const foreground = createForeground();
    const order: string[] = [];
    const leave = foreground.enter();
    const background = foreground.quiet().then(() => {
      order.push('background');
    });
    // A request that takes more turns of the event loop than the background would wait by itself.
    for (let turn = 0; turn < 10; turn++) await breathe();
    order.push('answered');
    leave();
    await background;
    assert.deepEqual(order, ['answered', 'background']);
  });

  test('and while a message is still coming; who rests between pieces waits for no answer that takes turns', async () => {
    let isArriving = true;
    const foreground = createForeground(() => isArriving),
      order: string[] = [];
    foreground.enter();
    const resting = foreground.rest().then(() => {
      order.push('next piece');
    });
    for (let turn = 0; turn < 10; turn++) await breathe();
    order.push('arrived');
    isArriving = false;
    await resting;
    assert.deepEqual(order, ['arrived', 'next piece']);
  });

  test('an answer at hand is given before the next piece of work that rests', async () => {
    const foreground = createForeground(),
      order: string[] = [];
    const resting = foreground.rest().then(() => {
      order.push('next piece');
    });
    for (let request = 0; request < 3; request++) {
      const leave = foreground.enter();
      await breathe();
      order.push('answered');
      leave();
      await breathe();
    }
    await resting;
    assert.deepEqual(order, ['answered', 'answered', 'answered', 'next piece']);
  });

  test('places are counted in UTF-16, also behind an emoji in a header', async () => {
    const text = sampleDrive({ lambdaHeader: 'Lambda 🏁 (λ)' });
    await withClient(SAMPLE_CAR, { ...PUSH, general: { positionEncodings: ['utf-8', 'utf-16'] } }, async (client, folder) => {
      assert.equal(client.initialized.capabilities.positionEncoding, 'utf-16');
      const uri = client.open(join(folder, 'sessions/emoji.session.csv'), text);
      const header = text.split('\n')[0];
      const target = header.indexOf('Target Lambda');
      const hover = await client.connection.sendRequest<Hover>('textDocument/hover', {
        textDocument: { uri },
        position: { line: 0, character: target + 2 },
      });
      assert.equal(hover.range?.start.character, target);
      assert.match((hover.contents as { value: string }).value, /\*\*Target Lambda\*\*/);
    });
  });

  test('a hover is plain text for a client that knows no Markdown, and none where the setting says so', async () => {
    const capabilities: ClientCapabilities = {
      textDocument: { publishDiagnostics: {}, hover: { contentFormat: ['plaintext'] } },
      workspace: { configuration: true },
    };
    const ask = (client: TestClient, folder: string) =>
      client.connection.sendRequest<Hover | null>('textDocument/hover', {
        textDocument: { uri: client.open(join(folder, 'sessions/run.session.csv'), sampleDrive()) },
        position: { line: 0, character: 1 + 'Time (s),'.length },
      });
    await withClient(
      SAMPLE_CAR,
      capabilities,
      async (client, folder) => {
        const hover = await ask(client, folder);
        assert.equal((hover?.contents as { kind: string }).kind, 'plaintext');
        assert.match((hover?.contents as { value: string }).value, /^Engine Speed\nQuantity: engine speed/);
      },
      { settings: { hover: { enable: true } } },
    );
    await withClient(SAMPLE_CAR, capabilities, async (client, folder) => assert.equal(await ask(client, folder), null), {
      settings: { hover: { enable: false } },
    });
  });

  test('findings below the severity of the settings are not shown', async () => {
    const capabilities: ClientCapabilities = { ...PUSH, workspace: { configuration: true } };
    await withClient(
      SAMPLE_CAR,
      capabilities,
      async (client, folder) => {
        const text = '{ "nonsense": 1, "tables": { "fuel": "gone.table.csv" } }';
        const found = await client.diagnostics(client.open(join(folder, 'vehicle.json'), text, 'json'), has('file-missing'));
        assert.ok(
          found.every(({ severity }) => severity === 1),
          JSON.stringify(found),
        );
      },
      { settings: { check: { severity: 'error' } } },
    );
  });

  test('a cancelled request is answered as cancelled, and the server goes on', async () => {
    await withClient(SAMPLE_CAR, PUSH, async (client, folder) => {
      const uri = client.open(join(folder, 'sessions/run.session.csv'), sampleDrive());
      const source = new CancellationTokenSource();
      const asked = client.connection.sendRequest('textDocument/documentSymbol', { textDocument: { uri } }, source.token);
      source.cancel();
      await assert.rejects(asked, (error: { code: number }) => error.code === LSPErrorCodes.RequestCancelled);
      assert.ok(
        (await client.connection.sendRequest<DocumentSymbol[]>('textDocument/documentSymbol', { textDocument: { uri } })).length > 0,
      );
    });
  });

  test('an answer about a text that was edited meanwhile is refused; a failure is logged and answered with nothing', async () => {
    const logged: string[] = [];
    let version = 1;
    const answer = answerer(
      { console: { error: (text: string) => logged.push(text) } } as unknown as Parameters<typeof answerer>[0],
      { document: () => ({ version }) } as unknown as Parameters<typeof answerer>[1],
    );
    const token = new CancellationTokenSource().token;
    const edited = answer(
      'Hover',
      () => 'file:///x',
      async () => {
        version++;
        return 'about the old text';
      },
      'nothing',
    );
    await assert.rejects(edited({}, token), (error: { code: number }) => error.code === LSPErrorCodes.ContentModified);
    const failing = answer(
      'Hover',
      () => 'file:///x',
      async () => {
        throw new Error('broken inside');
      },
      'nothing',
    );
    assert.equal(await failing({}, token), 'nothing');
    assert.match(logged[0], /^Hover failed for file:\/\/\/x: .*broken inside/);
  });

  test('a plain .csv that reads as a session is offered once; one that does not never is', async () => {
    await withClient('=== note.txt\nx\n', PUSH, async (client, folder) => {
      client.open(join(folder, 'shopping.csv'), 'item,price\nbolt,2\n', 'csv');
      const uri = client.open(join(folder, 'plain.csv'), sampleDrive(), 'csv');
      const offered = (await client.heard('leanspot/offerSession')) as { uri: string; channels: string[] };
      assert.equal(offered.uri, uri);
      assert.ok(offered.channels.includes('Engine Speed'));
    });
  });

  test('an open table is answered at once, and again when the sessions have been weighed', async () => {
    const capabilities: ClientCapabilities = { ...PUSH, workspace: { inlayHint: { refreshSupport: true } } };
    await withClient(LEAN_CAR, capabilities, async (client, folder) => {
      const uri = client.open(join(folder, 'tables/ve.table.csv'), SAMPLE_TABLE, 'fuel-table');
      const ask = () =>
        client.connection.sendRequest<InlayHint[]>('textDocument/inlayHint', {
          textDocument: { uri },
          range: { start: { line: 0, character: 0 }, end: { line: 5, character: 0 } },
        });
      await client.heard('workspace/inlayHint/refresh');
      let hints = await ask();
      // The first telling may come before the weighing: the next one brings the factors.
      while (hints.length === 0) hints = await ask();
      const labels = hints.map(({ label }) => String(label));
      assert.equal(labels.filter((label) => /^×1\.0[56]$/.test(label)).length, 2, 'the two cells that were driven in');
      assert.deepEqual(
        [...new Set(hints.map(({ position }) => position.line))].sort(),
        [3, 4, 5],
        'the breakpoints too, within the range asked for',
      );
      // Equally wide and equally many on each line: the author's columns stay under each other.
      assert.deepEqual([...new Set(labels.map((label) => label.length))], [5]);
      for (const line of [3, 4, 5]) assert.equal(hints.filter(({ position }) => position.line === line).length, 5);
    });
  });

  test('a correction is one edit that makes the copy first, asks to be confirmed and says the cautions', async () => {
    const capabilities: ClientCapabilities = {
      ...PUSH,
      workspace: { workspaceEdit: { documentChanges: true, resourceOperations: ['create'], changeAnnotationSupport: {} } },
    };
    const ask = (client: TestClient, folder: string) => {
      const uri = client.open(join(folder, 'tables/ve.table.csv'), SAMPLE_TABLE, 'fuel-table');
      const at = { line: 4, character: 8 };
      return client.connection.sendRequest<CodeAction[]>('textDocument/codeAction', {
        textDocument: { uri },
        range: { start: at, end: at },
        context: { diagnostics: [] },
      });
    };
    await withClient(LEAN_CAR, capabilities, async (client, folder) => {
      const [action] = await ask(client, folder);
      assert.match(action.title, /^Correct this cell: 52\.0 → /);
      const changes = action.edit!.documentChanges!;
      assert.ok('kind' in changes[0] && changes[0].kind === 'create' && changes[0].uri.endsWith('/tables/history/ve-1.table.csv'));
      const last = changes.at(-1)!;
      assert.ok(
        'edits' in last &&
          last.textDocument.uri.endsWith('/tables/ve.table.csv') &&
          last.textDocument.version === 1 &&
          last.edits.length === 1,
      );
      // The cells are to be confirmed; the copy and the pins come with whichever of them are taken.
      const { correction, keeping } = action.edit!.changeAnnotations!;
      assert.deepEqual([correction.needsConfirmation, keeping.needsConfirmation], [true, false]);
      assert.match(correction.description!, /qualified person decides/);
      assert.deepEqual(
        changes.map((change) => ('kind' in change ? change.annotationId : (change.edits[0] as { annotationId?: string }).annotationId)),
        ['keeping', 'keeping', 'keeping', 'correction'],
      );
    });
    // A client that tells the cautions itself gets a command, and the edit when it asks for that.
    await withClient(
      LEAN_CAR,
      capabilities,
      async (client, folder) => {
        const [action] = await ask(client, folder);
        assert.equal(action.edit, undefined);
        assert.equal(action.command?.command, 'leanspot.correctTable');
        const taken = await client.connection.sendRequest<CodeAction>('leanspot/correction', action.command.arguments![0]);
        assert.equal(taken.title, action.title);
        assert.ok(taken.edit?.documentChanges);
      },
      { initializationOptions: { commands: true } },
    );
    await withClient(LEAN_CAR, PUSH, async (client, folder) =>
      assert.deepEqual(await ask(client, folder), [], 'none for a client that could not keep the copy'),
    );
  });

  test('a file that lies on no disk is read by its language', async () => {
    await withClient(SAMPLE_CAR, PUSH, async (client) => {
      for (const uri of ['untitled:Untitled-1', 'vscode-vfs://github/some/one/run.session.csv']) {
        await client.connection.sendNotification('textDocument/didOpen', {
          textDocument: { uri, languageId: 'session-log', version: 1, text: sampleDrive() },
        });
        assert.ok((await client.diagnostics(uri)).length >= 0);
        const symbols = await client.connection.sendRequest<DocumentSymbol[]>('textDocument/documentSymbol', { textDocument: { uri } });
        assert.equal(symbols[0].name, 'Channels');
      }
    });
  });

  test('a client that tells no version is answered all the same, about the file and what belongs to it', async () => {
    await withClient(SAMPLE_CAR, PUSH, async (client, folder) => {
      const open = async (path: string, text: string): Promise<string> => {
        const uri = uriOf(join(folder, path));
        await client.connection.sendNotification('textDocument/didOpen', { textDocument: { uri, languageId: 'x', text } } as never);
        return uri;
      };
      await open('vehicle.json', '{ "name": "Without" }');
      const uri = await open('sessions/run.session.csv', sampleDrive());
      const symbols = await client.connection.sendRequest<DocumentSymbol[]>('textDocument/documentSymbol', { textDocument: { uri } });
      assert.equal(symbols[0]?.name, 'Channels');
    });
  });

  test('a file that no reader can make sense of leaves the server up', async () => {
    await withClient(SAMPLE_CAR, PUSH, async (client, folder) => {
      const binary = String.fromCharCode(...Array.from({ length: 5000 }, (_, i) => (i * 7919) % 256));
      for (const [name, text] of [
        ['empty', ''],
        ['binary', binary],
        ['quote', `Time (s),"RPM\n${'0,1\n'.repeat(2000)}`],
        ['long', `Time (s),RPM (rpm)\n0,${'9'.repeat(200_000)}\n`],
      ]) {
        const uri = client.open(join(folder, `${name}.session.csv`), text);
        await client.diagnostics(uri);
        for (const method of ['documentSymbol', 'foldingRange', 'codeLens', 'documentLink'])
          assert.ok(Array.isArray(await client.connection.sendRequest(`textDocument/${method}`, { textDocument: { uri } })));
        for (const method of ['hover', 'definition', 'documentHighlight'])
          await client.connection.sendRequest(`textDocument/${method}`, { textDocument: { uri }, position: { line: 1, character: 1 } });
      }
    });
  });
});
