// The scan in the background when parts of it fail: what was found stays, and nobody is left waiting.

import assert from 'node:assert/strict';
import type { Connection } from 'vscode-languageserver';
import { createForeground } from '../../server/src/lsp/answer.js';
import { createScanner } from '../../server/src/lsp/scanner.js';
import type { FileCheck, LanguageService } from '../../server/src/service/languageService.js';

const URI = 'file:///car/tables/ve.table.csv';

/** A scanner over a service that does as told. */
function scannerOver(parts: { check: () => Promise<FileCheck | undefined>; filesBelow: () => Promise<readonly { uri: string; kind: 'table' }[]> }) {
  const logged: string[] = [];
  const connection = { console: { error: (message: string) => logged.push(message) } } as unknown as Connection;
  const service = { check: parts.check, checkSoFar: parts.check, filesBelow: parts.filesBelow, weigher: {}, documents: { lanes: 1 } } as unknown as LanguageService;
  const scanner = createScanner(connection, service, { open: () => [], folders: () => ['file:///car'] }, createForeground());
  let ended: () => void = () => undefined;
  scanner.onProgress((progress) => { if (progress === 'ended') ended(); });
  const scanned = (): Promise<void> => new Promise((resolve) => {
    ended = resolve;
    scanner.soon();
  });
  return { scanner, scanned, logged };
}

suite('scanner', () => {
  test('a check that fails leaves what was found before', async () => {
    const found = { kind: 'table', key: '1', findings: [] } as unknown as FileCheck;
    let check = async (): Promise<FileCheck | undefined> => found;
    const { scanner, scanned, logged } = scannerOver({ check: () => check(), filesBelow: async () => [{ uri: URI, kind: 'table' }] });
    await scanned();
    assert.equal(scanner.results.get(URI), found);
    check = async () => { throw new Error('disk trouble'); };
    await scanned();
    assert.equal(scanner.results.get(URI), found);
    assert.match(logged.join('\n'), /disk trouble/);
    check = async () => undefined;
    await scanned();
    assert.equal(scanner.results.has(URI), false, 'gone is gone');
    scanner.dispose();
  });

  test('a key pressed while the places follow does not lose the whole check behind it', async () => {
    const long = 'file:///car/sessions/long.session.csv';
    const result = (key: number, isFollowing?: true): FileCheck => ({ kind: 'session', key: String(key), findings: [], isFollowing }) as unknown as FileCheck;
    let asked = 0;
    const connection = { console: { error: (message: string) => assert.fail(message) } } as unknown as Connection;
    const service = {
      checkSoFar: async () => {
        asked++;
        if (asked === 2) scanner.soon();
        // The first rest is cut short by a key as well.
        if (asked === 1) setImmediate(() => scanner.soon());
        return result(asked, true);
      },
      check: async () => result(100), filesBelow: async () => [{ uri: long, kind: 'session' }], weigher: { weighAhead: async () => undefined }, documents: { lanes: 1 },
    } as unknown as LanguageService;
    const scanner = createScanner(connection, service, { open: () => [long], folders: () => ['file:///car'] }, createForeground());
    const ended = new Promise<void>((resolve) => { scanner.onProgress((progress) => { if (progress === 'ended') resolve(); }); });
    scanner.soon();
    await ended;
    assert.equal(asked, 3);
    assert.equal(scanner.results.get(long)?.key, '100');
    scanner.dispose();
  });

  test('a folder that cannot be searched ends the scan, and says so', async () => {
    const { scanner, scanned, logged } = scannerOver({ check: async () => undefined, filesBelow: async () => { throw new Error('no rights'); } });
    await scanned();
    // The failure is logged once the scan's promise has settled.
    await new Promise((resolve) => { setImmediate(resolve); });
    assert.match(logged.join('\n'), /Scanning the folders failed: .*no rights/);
    scanner.dispose();
  });
});
