// What moves a table's text, or the paths to it, without changing a number: alignment and file renames; and the tokens that colour a text.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { TextDocument } from 'vscode-languageserver-textdocument';
import { readTable } from '../../server/src/formats/table/readTable.js';
import type { TextEdit } from '../../server/src/formats/table/table.js';
import { alignTable } from '../../server/src/service/editor/formatting.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace, ROOT } from '../support/memoryWorkspace.js';
import { SAMPLE_CAR, SAMPLE_TABLE, sampleDrive } from '../support/sampleDrive.js';

/** The edits put in by the protocol's reference implementation. */
const edited = (text: string, edits: readonly TextEdit[]): string =>
  TextDocument.applyEdits(TextDocument.create('memory:/t', 'fuel-table', 1, text), [...edits]);
const aligned = (text: string): string => edited(text, alignTable(text));
const words = (text: string): string => text.replace(/[^\S\r\n]+/g, '');

suite('service: aligning a table', () => {
  test('decimal signs stand under each other; comments, quotes and line ends stay', () => {
    assert.equal(
      aligned('# mine\n,800,1200\r\n30,42.25,7 # ignore cell-lean\r\n100,"101",99.5\r\n'),
      ['# mine\n', '    ,   800, 1200\r\n', ' 30 , 42.25,  7    # ignore cell-lean\r\n', '100 , "101", 99.5\r\n'].join(''),
    );
  });

  test('the sample stands as its author aligned it; tabs align themselves', () => {
    assert.deepEqual(alignTable(readFileSync('samples/bramble-coupe/tables/ve.table.csv', 'utf8')), []);
    assert.deepEqual(alignTable(SAMPLE_TABLE.replaceAll(',', '\t')), []);
    assert.deepEqual(alignTable(''), []);
  });

  test('for any table: nothing but blanks moves, it reads the same, and a second time changes nothing', () => {
    const cell = fc.oneof(
      fc.double({ min: -1000, max: 1000, noNaN: true }).map((value) => value.toFixed(2)),
      fc.integer({ min: -99, max: 9999 }).map(String),
      fc.constantFrom('', 'x', '"4.5"', '1e3', '-.5'),
    );
    const row = fc.tuple(
      fc.array(cell, { minLength: 1, maxLength: 6 }),
      fc.constantFrom('', ' # ignore cell-lean', '  #'),
      fc.constantFrom('', ' ', '   '),
    );
    fc.assert(
      fc.property(
        fc.array(row, { minLength: 1, maxLength: 6 }),
        fc.constantFrom(',', ';'),
        fc.constantFrom('\n', '\r\n'),
        (rows, delimiter, ending) => {
          const text = rows.map(([cells, comment, blanks]) => blanks + cells.join(delimiter + blanks) + comment).join(ending);
          const once = aligned(text);
          assert.equal(words(once), words(text));
          assert.equal(aligned(once), once);
          const [before, after] = [readTable(text), readTable(once)];
          assert.deepEqual([...after.values], [...before.values]);
          assert.deepEqual([...after.columns.values], [...before.columns.values]);
        },
      ),
    );
  });
});

suite('service: files get other names', () => {
  const car = (more = '') => {
    const workspace = memoryWorkspace(
      SAMPLE_CAR.replace(
        '"sessions": ["extra/*.csv"]',
        '"sessions": ["extra/*.csv", { "files": "sessions/run.session.csv", "loggedWith": "tables/old.table.csv" }]',
      ) + more,
    );
    return { workspace, service: createLanguageService(workspace), vehicle: workspace.uri('vehicle.json') };
  };
  const after = async (car_: ReturnType<typeof car>, renames: Record<string, string>): Promise<Record<string, string>> => {
    const found = await car_.service.renameEdits(
      Object.entries(renames).map(([from, to]) => ({
        oldUri: car_.workspace.uri(from),
        newUri: to.startsWith('memory:') ? to : car_.workspace.uri(to),
      })),
    );
    const texts = await Promise.all(
      found.map(async ({ uri, edits }) => {
        const source = (await car_.workspace.open(uri))!;
        return [uri.slice(ROOT.length + 1), edited(new TextDecoder().decode(source.read(0, source.size)), edits)] as const;
      }),
    );
    return Object.fromEntries(texts);
  };

  test('the vehicle file follows a table, a listed session and an earlier table', async () => {
    const { tables, sessions } = JSON.parse(
      (
        await after(car(), {
          'tables/ve.table.csv': 'fuel/main.table.csv',
          'tables/old.table.csv': 'tables/history/1.table.csv',
          'sessions/run.session.csv': 'sessions/hill.session.csv',
        })
      )['vehicle.json'],
    );
    assert.deepEqual(tables, { fuel: 'fuel/main.table.csv' });
    assert.deepEqual(sessions, ['extra/*.csv', { files: 'sessions/hill.session.csv', loggedWith: 'tables/history/1.table.csv' }]);
  });

  test("a folder takes its files along, and a session's note follows", async () => {
    const texts = await after(car(`=== sessions/b.session.csv\n# car: x\n# logged-with: tables/old.table.csv\n${sampleDrive()}`), {
      tables: 'maps',
    });
    assert.equal(JSON.parse(texts['vehicle.json']).tables.fuel, 'maps/ve.table.csv');
    assert.match(texts['sessions/b.session.csv'], /^# car: x\n# logged-with: maps\/old\.table\.csv\nTime/);
  });

  test("what would lead out of the vehicle's folder, and what nothing names, is left", async () => {
    assert.deepEqual(await after(car(), { 'tables/ve.table.csv': 'memory:/elsewhere.table.csv' }), {});
    assert.deepEqual(await after(car(), { 'tables/unnamed.table.csv': 'tables/b.table.csv', 'extra/a.csv': 'extra/b.csv' }), {});
  });
});

suite('service: tokens and symbols', () => {
  const textsOf = (
    text: string,
    tokens: readonly { line: number; character: number; length: number; kind: string; modifier?: string }[],
  ): string[] =>
    tokens.map(
      ({ line, character, length, kind, modifier }) =>
        `${kind}${modifier ? ` ${modifier}` : ''}: ${text.split('\n')[line].slice(character, character + length)}`,
    );

  test('a session: channels and units; readings in a dropout are not to be believed', async () => {
    const lines = sampleDrive().split('\n');
    // Two seconds of cruise in which the sensor is unplugged.
    for (let row = 200; row < 250; row++)
      lines[row + 1] = lines[row + 1]
        .split(',')
        .map((cell, index) => (index === 4 ? '0.000' : cell))
        .join(',');
    const text = lines.join('\n');
    const workspace = memoryWorkspace(`=== a.session.csv\n${text}`);
    const service = createLanguageService(workspace);
    const all = textsOf(text, await service.semanticTokens(workspace.uri('a.session.csv')));
    assert.deepEqual(all.slice(0, 4), ['property: Engine Speed', 'type: rpm', 'property: Manifold Pressure', 'type: kPa']);
    assert.equal(all.filter((each) => each === 'number deprecated: 0.000').length, 50);
    assert.deepEqual(textsOf(text, await service.semanticTokens(workspace.uri('a.session.csv'), { first: 211, last: 212 })), [
      'number deprecated: 0.000',
      'number deprecated: 0.000',
    ]);
  });

  test('a table: breakpoints and cells in the order of the text', async () => {
    const workspace = memoryWorkspace(SAMPLE_CAR);
    const tokens = await createLanguageService(workspace).semanticTokens(workspace.uri('tables/ve.table.csv'), { first: 3, last: 4 });
    assert.deepEqual(textsOf(SAMPLE_TABLE, tokens), [
      ...['2000', '3000', '4000', '5000', '6000', '40'].map((each) => `property readonly: ${each}`),
      ...['52.0', '54.0', '55.0', '56.0', '55.0'].map((each) => `number: ${each}`),
    ]);
  });

  test('a car, a session and a table are found by letters of their names', async () => {
    const workspace = memoryWorkspace(SAMPLE_CAR);
    const service = createLanguageService(workspace);
    const names = async (query: string): Promise<string[]> => (await service.workspaceSymbols(query)).map(({ name }) => name);
    assert.deepEqual(await names(''), ['Test coupe', 'run.session.csv', 've.table.csv (volumetric efficiency)']);
    assert.deepEqual(await names('vol EFF'), ['ve.table.csv (volumetric efficiency)']);
    assert.deepEqual(await names('zz'), []);
  });
});
