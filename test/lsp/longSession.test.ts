// A long session that is being typed in: places and edited rows are right at once, the rest when the typing pauses, and the end is what a
// fresh server says.

import assert from 'node:assert/strict';
import { join } from 'node:path';
import type { Diagnostic, DocumentDiagnosticReport, WorkspaceDiagnosticReport } from 'vscode-languageserver-protocol/node';
import { uriOf } from '../../server/src/disk/diskWorkspace.js';
import { sessionThreads } from '../../server/src/disk/sessionThreads.js';
import { threadProgram } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { startClient, type TestClient } from '../support/lspClient.js';
import { LEAN_CAR, sampleDrive } from '../support/sampleDrive.js';

const PUSH = { textDocument: { publishDiagnostics: { relatedInformation: true } } };
const TEXT = sampleDrive({ leanest: 1.2 });
const LINES = TEXT.split('\n');
const LINE = 100;
const HEADER = LINES.findIndex((line) => line.includes('Lambda'));
const BAD = /"x[\d.]+" in .* is not a number/;

const told = (all: readonly Diagnostic[]): string[] =>
  all.map(({ code, range, message }) => JSON.stringify({ code, range, message })).sort();
const put = (client: TestClient, uri: string, version: number, line: number, character: number, text: string): void => {
  void client.connection.sendNotification('textDocument/didChange', {
    textDocument: { uri, version },
    contentChanges: [{ range: { start: { line, character }, end: { line, character } }, text }],
  });
};

suite('language server: a long session being typed in', () => {
  test('a pull is answered with places that moved and the edited row judged; the lean pull itself is judged again afterwards', async () => {
    await inFolder(LEAN_CAR, async (folder) => {
      const path = join(folder, 'sessions/lean.session.csv');
      const client = await startClient(folder, { textDocument: { diagnostic: {} } }, { longText: 1000 });
      try {
        const uri = client.open(path, TEXT);
        const pull = async (): Promise<{ items: Diagnostic[]; resultId?: string }> =>
          (await client.connection.sendRequest<DocumentDiagnosticReport>('textDocument/diagnostic', { textDocument: { uri } })) as {
            items: Diagnostic[];
            resultId?: string;
          };
        const first = await pull();
        const judged = first.items.filter(({ code }) => code === 'lean-under-load');
        assert.ok(judged.length > 0 && judged.every(({ range }) => range.start.line > LINE), 'the drive is lean somewhere below');
        const character = LINES[LINE].indexOf(',') + 1;
        put(client, uri, 2, LINE, character, 'x');
        put(client, uri, 3, LINE + 1, 0, '# a note\n# and another\n');
        const following = await pull();
        assert.match(following.resultId ?? '', /\|following/);
        assert.equal(following.items.filter(({ message, range }) => BAD.test(String(message)) && range.start.line === LINE).length, 1);
        const after = following.items.filter(({ code }) => code === 'lean-under-load');
        assert.deepEqual(
          after.map(({ range, message }) => [range.start.line - 2, range.end.line - 2, message]),
          judged.map(({ range, message }) => [range.start.line, range.end.line, message]),
        );
        assert.ok(following.items.length === first.items.length + 1);
      } finally {
        await client.close();
      }
    });
  });

  test('who asks again when told to is told first what the reader noticed, then all; who does not is told all', async () => {
    await inFolder(LEAN_CAR, async (folder) => {
      const path = join(folder, 'sessions/lean.session.csv'),
        text = LINES.map((line, at) => (at === LINE ? line.replace(',', ',x') : line)).join('\n');
      const open = async (
        refreshSupport: boolean,
      ): Promise<{ client: TestClient; pull: () => Promise<{ items: Diagnostic[]; resultId?: string }> }> => {
        const client = await startClient(
          folder,
          { textDocument: { diagnostic: {} }, workspace: { diagnostics: { refreshSupport } } },
          { longText: 1000, threads: sessionThreads(1, await threadProgram()) },
        );
        const uri = client.open(path, text);
        return {
          client,
          pull: async () =>
            (await client.connection.sendRequest<DocumentDiagnosticReport>('textDocument/diagnostic', { textDocument: { uri } })) as {
              items: Diagnostic[];
            },
        };
      };
      const [asksAgain, doesNot] = [await open(true), await open(false)];
      try {
        const first = await asksAgain.pull(),
          all = told((await doesNot.pull()).items);
        assert.match(first.resultId ?? '', /\|first$/);
        assert.ok(told(first.items).some((each) => each.includes('value-not-a-number')));
        assert.deepEqual(
          told(first.items).filter((each) => !all.includes(each)),
          [],
        );
        assert.ok(
          all.some((each) => each.includes('lean-under-load')) && !told(first.items).some((each) => each.includes('lean-under-load')),
        );
        await asksAgain.client.heard('workspace/diagnostic/refresh');
        assert.deepEqual(told((await asksAgain.pull()).items), all);
      } finally {
        await asksAgain.client.close();
        await doesNot.client.close();
      }
    });
  });

  test('opened as it lies on the disk it is known already; what is shown and said of it is that of the text, edited or not', async () => {
    await inFolder(`${LEAN_CAR}=== sessions/lean.session.csv\n${TEXT}`, async (folder) => {
      const path = join(folder, 'sessions/lean.session.csv'),
        options = { longText: 1000, threads: sessionThreads(1, await threadProgram()) };
      const client = await startClient(
          folder,
          { textDocument: { diagnostic: {} }, workspace: { diagnostics: { refreshSupport: true } } },
          options,
        ),
        fresh = await startClient(folder, { textDocument: { diagnostic: {} } });
      try {
        const uri = uriOf(path),
          known = new Map<string, string>();
        while (!known.has(uri)) {
          const { items } = await client.connection.sendRequest<WorkspaceDiagnosticReport>('workspace/diagnostic', {
            previousResultIds: [],
          });
          for (const each of items) known.set(each.uri, each.resultId ?? '');
        }
        const ask = async (from: TestClient, shift: number): Promise<unknown[]> => [
          (
            (await from.connection.sendRequest<DocumentDiagnosticReport>('textDocument/diagnostic', { textDocument: { uri } })) as {
              items: Diagnostic[];
            }
          ).items
            .map((each) => JSON.stringify(each))
            .sort(),
          await from.connection.sendRequest('textDocument/documentSymbol', { textDocument: { uri } }),
          await from.connection.sendRequest('textDocument/hover', {
            textDocument: { uri },
            position: { line: LINE + 200 + shift, character: LINES[LINE + 200].indexOf(',') + 2 },
          }),
        ];
        client.open(path, TEXT);
        fresh.open(path, TEXT);
        const { resultId } = await client.connection.sendRequest<{ resultId?: string }>('textDocument/diagnostic', {
          textDocument: { uri },
        });
        assert.equal(resultId, known.get(uri));
        assert.deepEqual(await ask(client, 0), await ask(fresh, 0));
        put(client, uri, 2, LINE + 1, 0, '# a note\n');
        const following = await client.connection.sendRequest<{ resultId?: string }>('textDocument/diagnostic', { textDocument: { uri } });
        assert.match(following.resultId ?? '', /\|following/);
        put(fresh, uri, 2, LINE + 1, 0, '# a note\n');
        const wanted = await ask(fresh, 1),
          [findings, , said] = await ask(client, 1);
        assert.deepEqual([findings, said], [wanted[0], wanted[2]]);
        for (const name of ['a', 'b', 'c', 'd']) {
          const other = client.open(join(folder, `sessions/${name}.session.csv`), TEXT);
          await client.connection.sendRequest('textDocument/hover', {
            textDocument: { uri: other },
            position: { line: LINE, character: 3 },
          });
        }
        assert.deepEqual((await ask(client, 1))[2], wanted[2], 'also when its thread has others at hand');
      } finally {
        await client.close();
        await fresh.close();
      }
    });
  });

  test('once the typing pauses, findings are those of a server that sees the text for the first time; also outside of any folder', async () => {
    for (const within of [true, false]) {
      await inFolder(LEAN_CAR, async (folder) => {
        const path = join(folder, 'sessions/lean.session.csv');
        const client = await startClient(within ? folder : undefined, PUSH, { longText: 1000 }),
          fresh = await startClient(within ? folder : undefined, PUSH);
        try {
          const uri = client.open(path, TEXT);
          await client.diagnostics(uri, (all) => all.some(({ code }) => code === 'lean-under-load'));
          // Without its lambda the drive shows nothing lean: only judging the whole can tell.
          const lambda = LINES[HEADER].split(',').findIndex((name) => name.includes('Lambda'));
          const changes = LINES.flatMap((line, at) => {
            const cells = line.split(',');
            const from = cells.slice(0, lambda).join(',').length + 1;
            return at > HEADER + 70 && cells.length > lambda
              ? [{ range: { start: { line: at, character: from }, end: { line: at, character: from + cells[lambda].length } }, text: '' }]
              : [];
          });
          await client.connection.sendNotification('textDocument/didChange', {
            textDocument: { uri, version: 2 },
            contentChanges: changes,
          });
          const last = LINES.map((line, at) =>
            changes.some(({ range }) => range.start.line === at)
              ? line
                  .split(',')
                  .map((cell, column) => (column === lambda ? '' : cell))
                  .join(',')
              : line,
          ).join('\n');
          fresh.open(path, last);
          const wanted = told(await fresh.diagnostics(uri, (all) => all.length > 0));
          assert.ok(!wanted.some((each) => each.includes('lean-under-load')));
          assert.deepEqual(told(await client.diagnostics(uri, (all) => JSON.stringify(told(all)) === JSON.stringify(wanted))), wanted);
        } finally {
          await client.close();
          await fresh.close();
        }
      });
    }
  });

  test('outline, folds, call-outs, tokens and what is said of a place keep their places while it is typed in, and are those of the whole text behind the pause', async () => {
    await inFolder(LEAN_CAR, async (folder) => {
      const path = join(folder, 'sessions/lean.session.csv'),
        moved = TEXT.split('\n')
          .map((line, at) => (at === LINE + 1 ? `# a note\n# and another\n${line}` : line))
          .join('\n');
      const client = await startClient(
        folder,
        { textDocument: { diagnostic: {} } },
        { longText: 1000, threads: sessionThreads(1, await threadProgram()), initializationOptions: { commands: true } },
      );
      try {
        const uri = client.open(path, TEXT);
        const views = async (from: TestClient): Promise<unknown[]> => {
          const all: unknown[] = [];
          for (const method of ['documentSymbol', 'foldingRange', 'codeLens', 'semanticTokens/full'])
            all.push(await from.connection.sendRequest(`textDocument/${method}`, { textDocument: { uri } }));
          const { data } = all.pop() as { data: number[] };
          return [data, ...all];
        };
        /** A reading far below, and the header. */
        const places = async (from: TestClient, shift: number): Promise<unknown[]> => {
          const all: unknown[] = [];
          for (const position of [
            { line: LINE + 200 + shift, character: LINES[LINE + 200].indexOf(',') + 2 },
            { line: HEADER, character: LINES[HEADER].indexOf(',') + 2 },
          ]) {
            for (const method of ['hover', 'documentHighlight', 'definition', 'selectionRange'])
              all.push(
                await from.connection.sendRequest(`textDocument/${method}`, { textDocument: { uri }, position, positions: [position] }),
              );
          }
          return all;
        };
        const fresh = async (text: string, ask: (from: TestClient) => Promise<unknown[]>): Promise<unknown[]> => {
          const other = await startClient(folder, { textDocument: { diagnostic: {} } }, { initializationOptions: { commands: true } });
          try {
            other.open(path, text);
            return await ask(other);
          } finally {
            await other.close();
          }
        };
        const first = await views(client);
        assert.ok(JSON.stringify(first[3]).includes('Pull 1'), 'a call-out to move');
        assert.deepEqual(first, await fresh(TEXT, views));
        const said = await places(client, 0);
        assert.deepEqual(
          said.map((each) => JSON.stringify(each).includes('range')),
          [true, true, true, true, true, false, false, true],
          'nothing lights up with a header, and no cell fuelled it',
        );
        assert.deepEqual(said, await fresh(TEXT, (from) => places(from, 0)));
        put(client, uri, 2, LINE + 1, 0, '# a note\n# and another\n');
        const following = await views(client),
          wanted = await fresh(moved, views),
          wantedOfPlaces = await fresh(moved, (from) => places(from, 2));
        assert.deepEqual([following[0], following[3]], [wanted[0], wanted[3]]);
        assert.deepEqual(await places(client, 2), wantedOfPlaces);
        const typed = { line: LINE + 1, character: 3 };
        assert.equal(await client.connection.sendRequest('textDocument/hover', { textDocument: { uri }, position: typed }), null);
        assert.deepEqual(
          await client.connection.sendRequest('textDocument/selectionRange', { textDocument: { uri }, positions: [typed] }),
          [{ range: { start: typed, end: typed } }],
        );
        const lines = (symbols: unknown): unknown =>
          JSON.parse(JSON.stringify(symbols, (key, value: unknown) => (key === 'detail' ? undefined : value)));
        assert.deepEqual(lines(following[1]), lines(wanted[1]));
        for (let resultId = 'following'; resultId.includes('following');) {
          ({ resultId = '' } = await client.connection
            .sendRequest<{ resultId?: string }>('textDocument/diagnostic', { textDocument: { uri } })
            .catch(() => ({ resultId: 'following' })));
          await new Promise((later) => {
            setTimeout(later, 20);
          });
        }
        assert.deepEqual(await views(client), wanted);
        assert.deepEqual(await places(client, 2), wantedOfPlaces);
      } finally {
        await client.close();
      }
    });
  });
});
