// The decimal sign: a comma for the eye of a reader whose language has one, and a point in every file, whoever reads it.

import assert from 'node:assert/strict';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { CodeAction, CodeLens, DocumentSymbol, Hover, InlayHint } from 'vscode-languageserver-protocol';
import { TRACE, type CsvResult, type TraceSummary } from '../../server/src/protocol/trace.js';
import { decimalSign, withDecimalSign } from '../../server/src/quantities/format.js';
import { leanspot } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { startClient, type TestClient } from '../support/lspClient.js';
import { LEAN_CAR, leanPull } from '../support/sampleDrive.js';

const CAR = `${LEAN_CAR}=== sessions/pull.session.csv\n${leanPull()}`;
const CAPABILITIES = {
  textDocument: { publishDiagnostics: { relatedInformation: true } },
  workspace: { workspaceEdit: { documentChanges: true, resourceOperations: ['create' as const] } },
};

/** All that a client shows of a table and a session, and all that it would write. */
async function asked(client: TestClient, folder: string): Promise<{ shown: string[]; written: string[] }> {
  const { connection } = client;
  const open = (path: string, language: string): string =>
    client.open(join(folder, path), readFileSync(join(folder, path), 'utf8'), language);
  const [table, session] = [open('tables/ve.table.csv', 'fuel-table'), open('sessions/pull.session.csv', 'session-log')];
  const told = [
    ...(await client.diagnostics(table, (all) => all.some(({ code }) => code === 'cell-lean'))),
    ...(await client.diagnostics(session, (all) => all.some(({ code }) => code === 'lean-under-load'))),
  ];
  const whole = { start: { line: 0, character: 0 }, end: { line: 999, character: 0 } };
  const hover = async (uri: string, line: number, character: number): Promise<string> => {
    const answer = await connection.sendRequest<Hover | null>('textDocument/hover', {
      textDocument: { uri },
      position: { line, character },
    });
    // The title is the cell as it is written.
    return (answer!.contents as { value: string }).value.replace(/^.*\n/, '');
  };
  const of = <T>(method: string, uri: string, more: object = {}): Promise<T> =>
    connection.sendRequest<T>(`textDocument/${method}`, { textDocument: { uri }, ...more });
  const actions = await of<CodeAction[]>('codeAction', table, {
    range: { start: { line: 4, character: 8 }, end: { line: 4, character: 8 } },
    context: { diagnostics: [] },
  });
  const summary = await connection.sendRequest<TraceSummary>(TRACE.summary, { uri: session });
  const csv = await connection.sendRequest<CsvResult>(TRACE.csv, {
    uri: session,
    channels: summary.channels.map(({ id }) => id),
    fromS: 0,
    toS: 1,
  });
  const row = leanPull()
    .split('\n')
    .findIndex((line) => line.startsWith('25.00'));
  const details = (symbols: readonly DocumentSymbol[]): string[] =>
    symbols.flatMap(({ detail, children }) => [detail ?? '', ...details(children ?? [])]);
  return {
    shown: [
      ...told.map(({ message }) => String(message)),
      await hover(table, 4, 8),
      await hover(session, row, leanPull().split('\n')[row]!.split(',').slice(0, 4).join(',').length + 2),
      ...(await of<CodeLens[]>('codeLens', session)).map(({ command }) => command!.title),
      ...(await of<InlayHint[]>('inlayHint', table, { range: whole })).map(({ label }) => String(label)),
      ...details(await of<DocumentSymbol[]>('documentSymbol', session)).filter((detail) => /Pull|λ/.test(detail)),
      ...summary.runs.map(({ words }) => words),
      ...summary.spells.map(({ message }) => message),
    ],
    written: [
      csv.text,
      ...actions.flatMap(({ edit }) =>
        (edit?.documentChanges ?? []).flatMap((change) =>
          'edits' in change ? change.edits.map((each) => ('newText' in each ? each.newText : '')) : [],
        ),
      ),
    ],
  };
}

/** Decimals in words, quoted ones out of files left aside. */
const decimals = (texts: readonly string[], sign: '.' | ','): string[] =>
  texts.flatMap(
    (text) =>
      text.replace(/"[^"]*"|\w+\.(?:table|session)\.csv/g, '').match(sign === '.' ? /(?<![\w.])\d+\.\d+/g : /(?<![\w,])\d+,\d+/g) ?? [],
  );

suite('trust: decimal sign', () => {
  test('a comma where the language has one; what is quoted, and what is a name, stays as it is', () => {
    assert.deepEqual(['de', 'de-CH', 'fr', 'en', 'en-GB', 'ja', 'pt-br', undefined, '', 'C', 'no such'].map(decimalSign), [
      ',',
      '.',
      ',',
      '.',
      '.',
      '.',
      ',',
      '.',
      '.',
      '.',
      '.',
    ]);
    const words =
      'λ 0.95 (-3.5 %), 12.5 ms, ×1.06, 95 % between 1.050 and 1.070. "25.4x" is no number; ve-1.2.table.csv, v1.2.3, 10.0.csv.';
    assert.equal(
      withDecimalSign(words, ','),
      'λ 0,95 (-3,5 %), 12,5 ms, ×1,06, 95 % between 1,050 and 1,070. "25.4x" is no number; ve-1.2.table.csv, v1.2.3, 10.0.csv.',
    );
    assert.equal(withDecimalSign(words, '.'), words);
  });

  test('hovers, findings, call-outs, hints, outline and trace for a German reader; edits and copied rows keep the point', () =>
    inFolder(CAR, async (folder) => {
      const texts = new Map<string, { shown: string[]; written: string[] }>();
      for (const locale of ['en', 'de']) {
        const client = await startClient(folder, CAPABILITIES, { locale });
        texts.set(locale, await asked(client, folder));
        await client.close();
      }
      const [english, german] = [texts.get('en')!, texts.get('de')!];
      assert.ok(decimals(english.shown, '.').length > 40, english.shown.join('\n'));
      assert.deepEqual(decimals(german.shown, '.'), []);
      assert.deepEqual(
        decimals(german.shown, ',').map((each) => each.replace(',', '.')),
        decimals(english.shown, '.'),
      );
      assert.ok(
        german.shown.some((text) => /0,85 \(/.test(text) || /λ 0,85/.test(text)),
        german.shown.join('\n'),
      );
      assert.deepEqual(german.written, english.written);
      assert.ok(
        german.written.some((text) => /^\d+\.\d+$/.test(text)),
        'a cell is written with a point',
      );
    })).timeout(60_000);

  test('the views: in the language of their page, through one way for all numbers', async () => {
    Object.assign(globalThis, { document: { documentElement: { lang: 'de' } } });
    try {
      const { fixed, shown } = (await import(`../../client/webview/numbers.js?${'de'}`)) as {
        fixed(value: number, decimals: number): string;
        shown(text: string): string;
      };
      assert.deepEqual([fixed(0.95, 2), fixed(-12, 1), fixed(7, 0), shown('0:04.50')], ['0,95', '-12,0', '7', '0:04,50']);
    } finally {
      Reflect.deleteProperty(globalThis, 'document');
    }
    // The others make drawings' coordinates, or text that still goes that way.
    const folder = new URL('../../client/webview/', import.meta.url);
    assert.deepEqual(
      readdirSync(folder).filter((name) => name.endsWith('.ts') && readFileSync(new URL(name, folder), 'utf8').includes('.toFixed(')),
      ['laneViews.ts', 'numbers.ts', 'svg.ts', 'tableSlice.ts', 'units.ts'],
    );
  });

  test('the command line writes points, whatever the language of the system', async () => {
    const written = (env: Record<string, string>): Promise<string[]> =>
      inFolder(CAR, async (cwd) => {
        const said: string[] = [];
        for (const args of [
          ['check', '.', '--format', 'json', '--fail-on', 'never'],
          ['weigh', 'tables/ve.table.csv', '--format', 'csv'],
          ['report', '.', '--output', 'page.html', '--date', '2026-09-16'],
          ['correct', 'tables/ve.table.csv', '--output', 'next.table.csv'],
        ]) {
          const { status, stdout, stderr } = await leanspot(args, { cwd, env });
          assert.equal(status, 0, stderr);
          said.push(stdout);
        }
        return [...said, ...['page.html', 'next.table.csv'].map((path) => readFileSync(join(cwd, path), 'utf8'))];
      });
    assert.deepEqual(await written({ LANG: 'de_DE.UTF-8', LC_ALL: 'de_DE.UTF-8' }), await written({ LANG: 'C', LC_ALL: 'C' }));
  }).timeout(120_000);
});
