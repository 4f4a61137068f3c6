// How soon does the editor know? The language server as a process of its own: a 10 MB session opened and edited, a table among fifty
// sessions edited, hovers, and a folder of 500 sessions. Times from the message sent to the answer heard, on this machine's clock; what the
// client takes to put a long text in a message is not the server's time.

import { spawn, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import type { DocumentDiagnosticReport, WorkspaceDiagnosticReport } from 'vscode-languageserver-protocol/node';
import { SAMPLE_TABLE, SAMPLE_VEHICLE, sampleDrive } from '../support/sampleDrive.js';
import { talkTo, type TestClient } from '../support/lspClient.js';
import { makeDriveBytes } from './driveBytes.js';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const RUNS = Number(process.env.LEANSPOT_RUNS ?? 20);
const FOLDER_SESSIONS = Number(process.env.LEANSPOT_FOLDER_SESSIONS ?? 500);
/** A 10 MB session is so many rows of 24 channels; one of the folder's sessions has 8 MB. */
const LONG_ROWS = 76_000,
  FOLDER_ROWS = 60_000;
const BARS = { openMs: 150, tableMs: 16, sessionMs: 50, hoverMs: 5, folderMs: 300, memoryMB: 1024 } as const;

export interface BenchResult {
  readonly pass: boolean;
  readonly text: string;
}

const quantile = (values: readonly number[], share: number): number =>
  [...values].sort((a, b) => a - b)[Math.min(values.length - 1, Math.floor(share * values.length))];
/** As the editor does: it pulls, and asks again when told to. */
const PULL = {
  textDocument: { diagnostic: { relatedInformation: true }, hover: { contentFormat: ['markdown' as const] } },
  workspace: { diagnostics: { refreshSupport: true } },
};

/** A server over a folder that `fill` has filled; gone with it. */
const withServer = async <T>(
  fill: (folder: string) => void,
  use: (client: TestClient, folder: string, opens: (path: string, text: string) => () => void, memoryMB: () => number) => Promise<T>,
): Promise<T> => {
  const folder = mkdtempSync(join(tmpdir(), 'leanspot-editor-'));
  let child: ReturnType<typeof spawn> | undefined;
  try {
    fill(folder);
    child = spawn(process.execPath, [join(ROOT, 'dist/server.js'), '--stdio'], { stdio: ['pipe', 'pipe', 'inherit'] });
    const client = await talkTo(child.stdout!, child.stdin!, folder, PULL);
    const memoryMB = (): number =>
      Number(/VmHWM:\s*(\d+)/.exec(spawnSync('cat', [`/proc/${child!.pid}/status`], { encoding: 'utf8' }).stdout)?.[1] ?? NaN) / 1024;
    /** The message is made ready; what comes back sends it. */
    const opens = (path: string, text: string): (() => void) => {
      const textDocument = { uri: pathToFileURL(path).toString(), languageId: 'session-log', version: 1, text };
      const body = Buffer.from(JSON.stringify({ jsonrpc: '2.0', method: 'textDocument/didOpen', params: { textDocument } })),
        head = Buffer.from(`Content-Length: ${body.length}\r\n\r\n`);
      return () => {
        for (const part of [head, body]) child!.stdin!.write(part);
      };
    };
    const result = await use(client, folder, opens, memoryMB);
    await client.close();
    return result;
  } finally {
    child?.kill();
    rmSync(folder, { recursive: true, force: true });
  }
};

/** Milliseconds from an action to the findings of the file as it stands then. */
const toFindings = async (client: TestClient, uri: string, act: () => void): Promise<number> =>
  (await toAllFindings(client, uri, act)).firstMs;

/** The same, and to every finding: of a long session that is opened the first are what its reader noticed, while it is still judged. */
const toAllFindings = async (
  client: TestClient,
  uri: string,
  act: () => void,
  toAll = false,
): Promise<{ firstMs: number; allMs: number }> => {
  const startedAt = performance.now();
  let firstMs: number | undefined, toldToAsk: Promise<void> | undefined;
  const listen = (): Promise<void> =>
    new Promise((resolve) => {
      client.connection.onRequest('workspace/diagnostic/refresh', () => {
        resolve();
        return null;
      });
    });
  act();
  for (;;) {
    toldToAsk = listen();
    // Told that the text changed meanwhile, the editor asks again.
    const report = await client.connection
      .sendRequest<DocumentDiagnosticReport>('textDocument/diagnostic', { textDocument: { uri } })
      .catch(() => undefined);
    if (!report) continue;
    firstMs ??= performance.now() - startedAt;
    if (!toAll || !report.resultId?.endsWith('|first')) return { firstMs, allMs: performance.now() - startedAt };
    await toldToAsk;
  }
};

/** Until the folder's findings were told for so many files, those aside that are open and were answered. */
const untilChecked = async (client: TestClient, files: number): Promise<void> => {
  const known = new Map<string, string>();
  while (known.size < files) {
    const { items } = await client.connection.sendRequest<WorkspaceDiagnosticReport>('workspace/diagnostic', {
      previousResultIds: [...known].map(([uri, value]) => ({ uri, value })),
    });
    for (const { uri, resultId } of items) known.set(uri, resultId ?? '');
  }
};

const change = (client: TestClient, uri: string, version: number, line: number, character: number, length: number, text: string): void => {
  void client.connection.sendNotification('textDocument/didChange', {
    textDocument: { uri, version },
    contentChanges: [{ range: { start: { line, character }, end: { line, character: character + length } }, text }],
  });
};

const longSession = (): Promise<{ openMs: number[]; allMs: number[]; editMs: number[]; hoverMs: number[] }> =>
  withServer(
    (folder) => writeFileSync(join(folder, 'long.session.csv'), makeDriveBytes(LONG_ROWS)),
    async (client, folder, opens) => {
      const path = join(folder, 'long.session.csv'),
        text = readFileSync(path, 'utf8');
      const lines = text.split('\n'),
        line = 40_000,
        character = lines[line].indexOf(',') + 1;
      const openMs: number[] = [],
        allMs: number[] = [],
        editMs: number[] = [],
        hoverMs: number[] = [];
      let uri = '';
      for (let run = 0; run < Math.min(RUNS, 7); run++) {
        const other = join(folder, `run-${run}.session.csv`);
        uri = pathToFileURL(other).toString();
        const opened = await toAllFindings(client, uri, opens(other, text), true);
        openMs.push(opened.firstMs);
        allMs.push(opened.allMs);
        if (run < Math.min(RUNS, 7) - 1) void client.connection.sendNotification('textDocument/didClose', { textDocument: { uri } });
      }
      // The text is made longer and shorter again with a word that is no number: what is found changes each time.
      for (let edit = 0; edit < 2 * RUNS; edit++) {
        editMs.push(
          await toFindings(client, uri, () => {
            if (edit % 2 === 0) change(client, uri, edit + 2, line, character, 0, 'x');
            else change(client, uri, edit + 2, line, character, 1, '');
          }),
        );
      }
      for (let hover = 0; hover < 5 * RUNS; hover++) {
        const startedAt = performance.now();
        await client.connection.sendRequest('textDocument/hover', {
          textDocument: { uri },
          position: { line: 100 + hover * 700, character: 8 + hover },
        });
        if (hover >= RUNS) hoverMs.push(performance.now() - startedAt);
      }
      return { openMs, allMs, editMs, hoverMs };
    },
  );

const tableAmong = (): Promise<{ editMs: number[]; hoverMs: number[] }> =>
  withServer(
    (folder) => {
      writeFileSync(join(folder, 'vehicle.json'), SAMPLE_VEHICLE);
      mkdirSync(join(folder, 'tables'));
      mkdirSync(join(folder, 'sessions'));
      writeFileSync(join(folder, 'tables/ve.table.csv'), SAMPLE_TABLE);
      for (let each = 0; each < 50; each++)
        writeFileSync(join(folder, `sessions/${each}.session.csv`), sampleDrive({ leanest: 1.02 + each / 500 }));
    },
    async (client, folder) => {
      const uri = client.open(join(folder, 'tables/ve.table.csv'), SAMPLE_TABLE, 'fuel-table');
      await untilChecked(client, 52);
      const lines = SAMPLE_TABLE.split('\n'),
        line = lines.findIndex((each) => each.includes('70.0')),
        character = lines[line].indexOf('70.0');
      const editMs: number[] = [],
        hoverMs: number[] = [];
      for (let edit = 0; edit < 4 * RUNS; edit++) {
        const value = edit % 2 === 0 ? '7x.0' : '70.0';
        const ms = await toFindings(client, uri, () => change(client, uri, edit + 2, line, character, 4, value));
        if (edit >= RUNS) editMs.push(ms);
        const startedAt = performance.now();
        await client.connection.sendRequest('textDocument/hover', { textDocument: { uri }, position: { line, character: character + 8 } });
        if (edit >= RUNS) hoverMs.push(performance.now() - startedAt);
      }
      return { editMs, hoverMs };
    },
  );

/** So many drives are made; each session of the folder begins at a place of its own in one of them, so that no two have the same bytes. */
const FOLDER_DRIVES = 10;

/** The folder's table and one of its sessions opened as soon as the server is there, and the time and memory until all is checked. */
const folderOf = (): Promise<{
  tableMs: number;
  session: { firstMs: number; allMs: number };
  knownMs: number;
  restMs: number;
  memoryMB: number;
}> =>
  withServer(
    (folder) => {
      writeFileSync(join(folder, 'vehicle.json'), SAMPLE_VEHICLE);
      mkdirSync(join(folder, 'tables'));
      mkdirSync(join(folder, 'sessions'));
      writeFileSync(join(folder, 'tables/ve.table.csv'), SAMPLE_TABLE);
      const perDrive = Math.ceil(FOLDER_SESSIONS / FOLDER_DRIVES);
      for (let drive = 0; drive < FOLDER_DRIVES; drive++) {
        const bytes = Buffer.from(makeDriveBytes(FOLDER_ROWS + 10 * perDrive, 4711 + drive));
        const lineFrom = (at: number): number => bytes.indexOf(10, at) + 1;
        const head = bytes.subarray(0, lineFrom(lineFrom(0)));
        for (let each = 0, from = head.length; each < perDrive && drive * perDrive + each < FOLDER_SESSIONS; each++) {
          writeFileSync(join(folder, `sessions/${drive * perDrive + each}.session.csv`), Buffer.concat([head, bytes.subarray(from)]));
          for (let row = 0; row < 10; row++) from = lineFrom(from);
        }
      }
    },
    async (client, folder, opens, memoryMB) => {
      const [table, session] = ['tables/ve.table.csv', 'sessions/7.session.csv'].map((path) => join(folder, path));
      const startedAt = performance.now();
      const tableMs = await toFindings(client, pathToFileURL(table).toString(), () => {
        client.open(table, SAMPLE_TABLE, 'fuel-table');
      });
      const text = readFileSync(session, 'utf8');
      const opened = await toAllFindings(client, pathToFileURL(session).toString(), opens(session, text), true);
      // The vehicle file and the other sessions: the two that are open were answered by themselves.
      await untilChecked(client, FOLDER_SESSIONS);
      const restMs = performance.now() - startedAt,
        knownMs: number[] = [];
      for (const each of [1, 2, 3]) {
        const known = join(folder, `sessions/${each}.session.csv`),
          its = readFileSync(known, 'utf8');
        knownMs.push((await toAllFindings(client, pathToFileURL(known).toString(), opens(known, its), true)).allMs);
      }
      return { tableMs, session: opened, knownMs: quantile(knownMs, 0.5), restMs, memoryMB: memoryMB() };
    },
  );

/** Needs `npm run build` first. `LEANSPOT_FOLDER_SESSIONS` makes the folder smaller (0: not measured). */
export const bench = async (): Promise<BenchResult> => {
  const session = await longSession(),
    table = await tableAmong();
  const bars: [string, boolean][] = [];
  const bar = (what: string, value: number, most: number, unit = 'ms'): void => {
    bars.push([`${what}: ${value.toFixed(value < 10 ? 1 : 0)} ${unit} (at most ${most})`, value <= most]);
  };
  bar(
    'a 10 MB session, opened to its first findings (what the reader noticed; the rest follows by itself), median',
    quantile(session.openMs, 0.5),
    BARS.openMs,
  );
  bar('the same: to every finding, median', quantile(session.allMs, 0.5), BARS.openMs);
  bar(
    'a keystroke in it to every finding at its place and the edited rows judged again, p95 (the rest is judged when the typing pauses for 400 ms)',
    quantile(session.editMs, 0.95),
    BARS.sessionMs,
  );
  bar('a keystroke in a table, 50 sessions weighed, to new findings, p95', quantile(table.editMs, 0.95), BARS.tableMs);
  bar('hover in the session, p95', quantile(session.hoverMs, 0.95), BARS.hoverMs);
  bar('hover in the table, p95', quantile(table.hoverMs, 0.95), BARS.hoverMs);
  if (FOLDER_SESSIONS > 0) {
    const folder = await folderOf();
    bar(`a folder of ${FOLDER_SESSIONS} sessions of 8 MB: first findings of the open table`, folder.tableMs, BARS.folderMs);
    bar('the same: first findings of a session of it opened meanwhile (what the reader noticed)', folder.session.firstMs, BARS.folderMs);
    bar('the same: every finding of it', folder.session.allMs, BARS.folderMs);
    bar('the same: every finding of a session of it that is opened when all were checked, median', folder.knownMs, BARS.openMs);
    bar(`the same: most memory until all were checked (${(folder.restMs / 1000).toFixed(0)} s)`, folder.memoryMB, BARS.memoryMB, 'MB');
  }
  return { pass: bars.every(([, held]) => held), text: bars.map(([words, held]) => `${held ? 'held ' : 'MISSED'} ${words}`).join('\n') };
};

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const { pass, text } = await bench();
  console.log(text);
  process.exitCode = pass ? 0 : 1;
}
