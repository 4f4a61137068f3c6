// Paths, names and line ends as Windows and macOS have them: addresses with drive letters, two ways to write an accent, CR LF and CR.

import assert from 'node:assert/strict';
import { globInsideFolder, insideFolder } from '../../server/src/formats/vehicle/folderPath.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { readVehicle } from '../../server/src/formats/vehicle/readVehicle.js';
import { textSource } from '../../server/src/formats/source.js';
import { setCells } from '../../server/src/formats/table/editTable.js';
import { edited } from '../../server/src/service/correction.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { baseName, folderOf, isBelow, join, relativeTo } from '../../server/src/service/uris.js';
import { pinnedTable } from '../../server/src/service/vehicleFolders.js';
import { normalUri } from '../../server/src/lsp/editorWorkspace.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { sampleDrive, SAMPLE_TABLE } from '../support/sampleDrive.js';

suite('trust: other systems', () => {
  test('drive letters: in either case and however encoded, they are one address (RFC 8089, as editors write it)', () => {
    const spellings = [
      'file:///c%3A/cars/coupe/ve.table.csv',
      'file:///C:/cars/coupe/ve.table.csv',
      'file:///c:/cars/coupe/ve.table.csv',
      'file:///C%3A/cars/coupe/ve.table.csv',
    ].map(normalUri);
    assert.equal(new Set(spellings).size, 1, spellings.join('\n'));
    const [uri] = spellings;
    assert.equal(baseName(uri!), 've.table.csv');
    assert.equal(relativeTo(folderOf(folderOf(uri!)), uri!), 'coupe/ve.table.csv');
    assert.equal(join(folderOf(uri!), 'history/a b.csv'), 'file:///c%3A/cars/coupe/history/a%20b.csv');
    assert.equal(isBelow('file:///d%3A/cars', uri!), false);
    assert.equal(folderOf('file:///c%3A/'), 'file:///c%3A/', 'a root is its own folder');
  });

  test('shares: another host is another place', () => {
    assert.equal(relativeTo('file://shop/cars', 'file://shop/cars/a.csv'), 'a.csv');
    assert.equal(relativeTo('file://shop/cars', 'file://other/cars/a.csv'), undefined);
    assert.equal(relativeTo('file://shop/cars', 'file:///cars/a.csv'), undefined);
  });

  test('paths with backslashes are read, and none leaves the folder', () => {
    assert.equal(insideFolder('tables\\ve.table.csv'), 'tables/ve.table.csv');
    assert.equal(insideFolder('.\\tables\\.\\ve.table.csv'), 'tables/ve.table.csv');
    for (const path of [
      '..\\x.csv',
      'C:\\x.csv',
      'c:x.csv',
      '\\\\host\\share\\x.csv',
      '\\x.csv',
      'a\\..\\..\\x.csv',
      'a/../b:x.csv',
      './c:/x.csv',
      '//host/x.csv',
    ])
      assert.equal(insideFolder(path), undefined, path);
    assert.equal(globInsideFolder('sessions\\*.session.csv'), 'sessions/*.session.csv');
    assert.equal(globInsideFolder('..\\*.csv'), undefined);
  });

  test('names in composed and decomposed writing, in capitals, with blanks and signs: each file is found as the system names it', async () => {
    for (const name of ['Überprüfung', 'Überprüfung'.normalize('NFD'), 'RUN 1 (wet) [2]', '100%', 'a#b', 'ランプ', '😀']) {
      const workspace = memoryWorkspace(
        `=== vehicle.json\n{ "sessions": [{ "files": ${JSON.stringify(`sessions/${name}.session.csv`)}, "loggedWith": "tables/ve.table.csv" }] }\n=== tables/ve.table.csv\n${SAMPLE_TABLE}`,
      );
      const uri = join(folderOf(workspace.uri('vehicle.json')), `sessions/${name}.session.csv`);
      assert.equal(baseName(uri), `${name}.session.csv`);
      assert.equal(normalUri(uri), uri, 'its address is stable');
      const folder = await createLanguageService(workspace).vehicleFolder(uri);
      assert.equal(pinnedTable(folder!, uri), 'tables/ve.table.csv', name);
    }
  });

  test('line ends: LF, CR LF and CR read alike, and an edit keeps them', () => {
    for (const end of ['\r\n', '\r']) {
      const drive = sampleDrive();
      const [plain, other] = [drive, drive.replaceAll('\n', end)].map((text) => readSession(textSource(text)));
      assert.equal(other!.samples, plain!.samples);
      assert.deepEqual(
        other!.channels.map(({ values }) => values[500]),
        plain!.channels.map(({ values }) => values[500]),
      );
      assert.deepEqual(other!.problems, plain!.problems);
      const text = SAMPLE_TABLE.replaceAll('\n', end);
      const table = readTable(text);
      assert.deepEqual(table.values, readTable(SAMPLE_TABLE).values);
      const after = edited(text, setCells(table, text, [{ row: 1, column: 1, value: 73 }]));
      assert.equal(after, text.replace('72.0', '73.0'));
    }
    assert.deepEqual(
      readVehicle('{\r\n  "name": "x",\r\n  "nope": 1\r\n}').problems.map(({ range }) => range.start.line),
      [2],
    );
  });
});
