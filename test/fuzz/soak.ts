// A long day at the editor, drawn: edits, saves, renames, deletes and cancels on an open vehicle folder; now and then a fresh server must
// say the same.

import assert from 'node:assert/strict';
import { mkdirSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
import {
  CancellationTokenSource,
  type Diagnostic,
  type DocumentDiagnosticReport,
  type WorkspaceDiagnosticReport,
} from 'vscode-languageserver-protocol/node';
import { uriOf } from '../../server/src/disk/diskWorkspace.js';
import type { Random } from '../support/faults/random.js';
import { inFolder } from '../support/folder.js';
import { startClient, type TestClient } from '../support/lspClient.js';
import { sampleDrive, SAMPLE_CAR } from '../support/sampleDrive.js';
import { CANDUMP, SESSION, TABLE, VEHICLE } from './grammars.js';

/** Ends of names by kind, and texts to put into them. */
const KINDS = [
  {
    ending: '.session.csv',
    folder: 'sessions',
    texts: [...SESSION.examples, sampleDrive(), sampleDrive({ leanest: 1.2 })],
    language: 'session-log',
  },
  { ending: '.table.csv', folder: 'tables', texts: TABLE.examples, language: 'fuel-table' },
  { ending: '.candump.log', folder: 'sessions', texts: CANDUMP.examples, language: 'session-log' },
] as const;
const CAPABILITIES = {
  textDocument: { diagnostic: {} },
  workspace: {
    didChangeWatchedFiles: { dynamicRegistration: true },
    workspaceEdit: { documentChanges: true, resourceOperations: ['create' as const] },
  },
};

interface Open {
  readonly uri: string;
  text: string;
  version: number;
}

/** Plays `steps` steps, compares at each hundredth and at the end; `checked` hears how many comparisons were made. */
export async function soak(steps: number, random: Random, checked: (comparisons: number) => void): Promise<void> {
  await inFolder(SAMPLE_CAR, async (folder) => {
    // Every session counts as long: its findings follow the edits first, and are judged whole afterwards.
    const client = await startClient(folder, CAPABILITIES, { longText: 0 });
    const open = new Map<string, Open>();
    const at = (path: string): string => join(folder, path);
    const files = (): string[] =>
      readdirSync(folder, { recursive: true, withFileTypes: true })
        .filter((entry) => entry.isFile())
        .map((entry) => relative(folder, join(entry.parentPath, entry.name)).split('\\').join('/'))
        .sort();
    const changed = (path: string, type: 1 | 2 | 3): void => {
      void client.connection.sendNotification('workspace/didChangeWatchedFiles', { changes: [{ uri: uriOf(at(path)), type }] });
    };
    const language = (path: string): string => KINDS.find(({ ending }) => path.endsWith(ending))?.language ?? 'json';
    const openIt = (path: string): void => {
      if (open.has(path)) return;
      const text = readFileSync(at(path), 'utf8');
      open.set(path, { uri: client.open(at(path), text, language(path)), text, version: 1 });
    };
    const closeIt = (path: string): void => {
      const file = open.get(path);
      if (!file) return;
      open.delete(path);
      void client.connection.sendNotification('textDocument/didClose', { textDocument: { uri: file.uri } });
    };
    const anyFile = (): string => random.pick(files());
    const put = (path: string, text: string, type: 1 | 2): void => {
      mkdirSync(dirname(at(path)), { recursive: true });
      writeFileSync(at(path), text);
      changed(path, type);
    };

    const acts: readonly (() => void)[] = [
      () => openIt(anyFile()),
      () => {
        if (open.size > 1) closeIt(random.pick([...open.keys()]));
      },
      // Typing: a stretch of an open file replaced, told as the editor tells it.
      ...Array.from({ length: 5 }, () => () => {
        if (open.size === 0) return openIt(anyFile());
        const path = random.pick([...open.keys()]);
        const file = open.get(path)!;
        const from = random.whole(0, file.text.length);
        const to = Math.min(file.text.length, from + random.whole(0, 6));
        const grammar = path.endsWith('.json') ? VEHICLE : path.endsWith('.table.csv') ? TABLE : SESSION;
        const typed = random.pick(['', '1', '.', ',', '\n', '-', '9.5', ...grammar.tokens]);
        const places = [from, to].map((offset) => {
          const before = file.text.slice(0, offset).split(/\r\n|\r|\n/);
          return { line: before.length - 1, character: before[before.length - 1]!.length };
        });
        // A place between CR and LF is none; the whole text is sent then, as editors do after a reload.
        const tornAt = (offset: number): boolean => file.text[offset - 1] === '\r' && file.text[offset] === '\n';
        const whole = tornAt(from) || tornAt(to);
        file.text = file.text.slice(0, from) + typed + file.text.slice(to);
        void client.connection.sendNotification('textDocument/didChange', {
          textDocument: { uri: file.uri, version: ++file.version },
          contentChanges: [whole ? { text: file.text } : { range: { start: places[0], end: places[1] }, text: typed }],
        });
      }),
      () => {
        if (open.size === 0) return;
        const path = random.pick([...open.keys()]);
        put(path, open.get(path)!.text, 2);
      },
      () => {
        const kind = random.pick(KINDS);
        put(`${kind.folder}/f${random.whole(0, 5)}${kind.ending}`, random.pick(kind.texts), 1);
      },
      () => {
        const path = anyFile();
        if (files().length < 5 || (path === 'vehicle.json' && random.chance(0.7))) return;
        closeIt(path);
        rmSync(at(path));
        changed(path, 3);
      },
      () => {
        const path = anyFile();
        const kind = KINDS.find(({ ending }) => path.endsWith(ending));
        if (!kind) return;
        const to = `${kind.folder}/r${random.whole(0, 5)}${kind.ending}`;
        if (files().includes(to)) return;
        closeIt(path);
        mkdirSync(dirname(at(to)), { recursive: true });
        renameSync(at(path), at(to));
        changed(path, 3);
        changed(to, 1);
      },
      () => {
        if (!files().includes('vehicle.json') || random.chance(0.2)) put('vehicle.json', random.pick(VEHICLE.examples), 1);
      },
      // Questions that nobody waits for.
      () => {
        const uri = uriOf(at(anyFile()));
        const cancel = new CancellationTokenSource();
        const position = { line: random.whole(0, 40), character: random.whole(0, 40) };
        const method = random.pick([
          'textDocument/hover',
          'textDocument/codeAction',
          'textDocument/codeLens',
          'textDocument/references',
          'textDocument/diagnostic',
          'textDocument/definition',
          'textDocument/inlayHint',
        ]);
        client.connection
          .sendRequest(
            method,
            {
              textDocument: { uri },
              position,
              range: { start: position, end: position },
              context: { diagnostics: [], includeDeclaration: true },
            },
            cancel.token,
          )
          .catch(() => undefined);
        if (random.chance(0.7)) cancel.cancel();
      },
    ];

    let comparisons = 0;
    for (let step = 1; step <= steps; step++) {
      random.pick(acts)();
      if (step % 100 !== 0 && step !== steps) continue;
      await compare(client, folder, files(), open, language, `step ${step}`);
      comparisons++;
    }
    checked(comparisons);
    await client.close();
  });
}

/** The server that has seen it all, and one that sees it for the first time, on every file. */
async function compare(
  old: TestClient,
  folder: string,
  files: readonly string[],
  open: ReadonlyMap<string, Open>,
  language: (path: string) => string,
  when: string,
): Promise<void> {
  const fresh = await startClient(folder, CAPABILITIES);
  for (const [path, { text }] of open) fresh.open(join(folder, path), text, language(path));
  for (const path of files) {
    const uri = uriOf(join(folder, path));
    const answers = async (client: TestClient): Promise<unknown> => {
      const place = { textDocument: { uri }, position: { line: 4, character: 9 } };
      return {
        outline: await settled(client, 'textDocument/documentSymbol', place),
        folding: await settled(client, 'textDocument/foldingRange', place),
        hover: await settled(client, 'textDocument/hover', place),
        links: await settled(client, 'textDocument/documentLink', place),
        // A table's findings rest on what was weighed so far, and which table each session was first seen with: a matter of history, by
        // design.
        findings: path.endsWith('.table.csv') ? undefined : findingsOf(await wholeFindings(client, uri)),
      };
    };
    if (path.endsWith('.table.csv')) {
      const outlines = await Promise.all(
        [old, fresh].map(async (client) => settled(client, 'textDocument/documentSymbol', { textDocument: { uri } })),
      );
      assert.deepEqual(outlines[0], outlines[1], `${path} at ${when}`);
    } else assert.deepEqual(await answers(old), await answers(fresh), `${path} at ${when}`);
  }
  await fresh.close();
}

const findingsOf = (report: unknown): unknown =>
  (report as { items?: readonly Diagnostic[] } | null)?.items?.map(({ code, range, message }) => ({ code, range, message }));

/** The findings once the whole file was judged: those that only follow the edits say so in their id. */
async function wholeFindings(client: TestClient, uri: string): Promise<unknown> {
  for (;;) {
    const report = (await settled(client, 'textDocument/diagnostic', { textDocument: { uri } })) as DocumentDiagnosticReport;
    if (!report.resultId?.includes('|following')) return report;
    const { resultId } = report;
    for (let isSame = true; isSame;) {
      const { items } = await client.connection.sendRequest<WorkspaceDiagnosticReport>('workspace/diagnostic', {
        previousResultIds: [{ uri, value: resultId }],
      });
      isSame = !items.some((each) => each.uri === uri);
    }
  }
}

/** Asked until it is answered: an answer that an edit has overtaken is no answer. */
async function settled(client: TestClient, method: string, params: object): Promise<unknown> {
  for (let tries = 0; ; tries++) {
    try {
      return await client.connection.sendRequest(method, params);
    } catch (error) {
      if (tries > 20 || ![-32801, -32802].includes((error as { code?: number }).code ?? 0)) throw error;
    }
  }
}
