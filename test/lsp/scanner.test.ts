// The scan in the background when parts of it fail: what was found stays, and nobody is left waiting.

import assert from 'node:assert/strict';
import type { Connection } from 'vscode-languageserver';
import { createForeground } from '../../server/src/lsp/answer.js';
import { createGrowing } from '../../server/src/lsp/growing.js';
import { createScanner } from '../../server/src/lsp/scanner.js';
import type { FileCheck, LanguageService } from '../../server/src/service/languageService.js';

const URI = 'file:///car/tables/ve.table.csv';

/** A scanner over a service that does as told. */
function scannerOver(parts: {
  check: () => Promise<FileCheck | undefined>;
  filesBelow: () => Promise<readonly { uri: string; kind: 'table' }[]>;
}) {
  const logged: string[] = [];
  const connection = { console: { error: (message: string) => logged.push(message) } } as unknown as Connection;
  const service = {
    check: parts.check,
    checkSoFar: parts.check,
    filesBelow: parts.filesBelow,
    weigher: {},
    documents: { lanes: 1 },
  } as unknown as LanguageService;
  const scanner = createScanner(
    connection,
    service,
    { open: () => [], folders: () => ['file:///car'], stamp: async () => '1' },
    createForeground(),
  );
  let ended: () => void = () => undefined;
  scanner.onProgress((progress) => {
    if (progress === 'ended') ended();
  });
  const scanned = (): Promise<void> =>
    new Promise((resolve) => {
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
    check = async () => {
      throw new Error('disk trouble');
    };
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
    const result = (key: number, isFollowing?: true): FileCheck =>
      ({ kind: 'session', key: String(key), findings: [], isFollowing }) as unknown as FileCheck;
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
      check: async () => result(100),
      filesBelow: async () => [{ uri: long, kind: 'session' }],
      weigher: { weighAhead: async () => undefined },
      documents: { lanes: 1 },
    } as unknown as LanguageService;
    const scanner = createScanner(
      connection,
      service,
      { open: () => [long], folders: () => ['file:///car'], stamp: async () => '1' },
      createForeground(),
    );
    const ended = new Promise<void>((resolve) => {
      scanner.onProgress((progress) => {
        if (progress === 'ended') resolve();
      });
    });
    scanner.soon();
    await ended;
    assert.equal(asked, 3);
    assert.equal(scanner.results.get(long)?.key, '100');
    scanner.dispose();
  });

  test('an open log that is written without a rest is judged meanwhile, for a tenth of the time at most', async () => {
    const long = 'file:///car/sessions/long.session.csv',
      judgedMs: number[] = [];
    let clockMs = 0;
    const connection = { console: { error: (message: string) => assert.fail(message) } } as unknown as Connection,
      isOver = new Promise<void>((resolve) => {
        const service = {
          checkSoFar: async () => {
            clockMs += 500;
            if (clockMs >= 32_000) resolve();
            else setImmediate(() => scanner.soon());
            return { kind: 'session', key: String(clockMs), findings: [], isFollowing: true } as unknown as FileCheck;
          },
          check: async () => {
            judgedMs.push(clockMs);
            clockMs += 1000;
            return undefined;
          },
          filesBelow: async () => [],
          weigher: { weighAhead: async () => undefined },
          documents: { lanes: 1 },
        } as unknown as LanguageService;
        const scanner = createScanner(
          connection,
          service,
          { open: () => [long], folders: () => ['file:///car'], stamp: async () => '1' },
          createForeground(),
          undefined,
          () => clockMs,
        );
        scanner.soon();
      });
    await isOver;
    assert.ok(judgedMs.length >= 3 && judgedMs.every((atMs, i) => i === 0 || atMs - judgedMs[i - 1]! >= 10_000), judgedMs.join(' '));
  });

  test('one whole judging of a log that gives no rest is at work, whatever changes meanwhile', async () => {
    const long = 'file:///car/sessions/long.session.csv';
    let clockMs = 0,
      atWork = 0,
      most = 0,
      begun = 0,
      changes = 0;
    const connection = { console: { error: (message: string) => assert.fail(message) } } as unknown as Connection,
      isOver = new Promise<void>((resolve) => {
        const service = {
          checkSoFar: async () => {
            clockMs += 500;
            if (++changes >= 60) resolve();
            else setImmediate(() => scanner.soon());
            return { kind: 'session', key: String(clockMs), findings: [], isFollowing: true } as unknown as FileCheck;
          },
          // It takes as long as four changes.
          check: async () => {
            begun++;
            most = Math.max(most, ++atWork);
            for (const until = changes + 4; changes < until && changes < 60;) await new Promise(setImmediate);
            atWork--;
            return undefined;
          },
          filesBelow: async () => [],
          weigher: { weighAhead: async () => undefined },
          documents: { lanes: 1 },
        } as unknown as LanguageService;
        const scanner = createScanner(
          connection,
          service,
          { open: () => [long], folders: () => ['file:///car'], stamp: async () => '1' },
          createForeground(),
          undefined,
          () => clockMs,
        );
        scanner.soon();
      });
    await isOver;
    assert.ok(begun >= 1, 'none was begun');
    assert.equal(most, 1);
  });

  test('a log that is being written is read for a tenth of the time, and to its end when it rests', () => {
    const growing = createGrowing(() => nowMs),
      uri = 'file:///car/sessions/live.session.csv',
      tookMs = 800;
    let nowMs = 0,
      reads = 0,
      last = '';
    // A row each 300 ms for five minutes, then silence.
    for (; nowMs < 360_000; nowMs += 20) {
      const stamp = String(Math.floor(Math.min(nowMs, 300_000) / 300));
      if (growing.waitMs(uri, stamp) > 0) continue;
      if (stamp !== last) {
        reads++;
        nowMs += tookMs;
      }
      growing.wasRead(uri, stamp, tookMs);
      last = stamp;
    }
    assert.ok(reads * tookMs <= 0.1 * 300_000 + 3 * tookMs && reads >= 30, `${reads} times`);
    assert.equal(last, '1000');
    assert.equal(growing.waitMs(uri, 'another'), 0, 'a file that rested is read at once');
  });

  test('what was found in a file that has grown meanwhile is told', async () => {
    let told = 0;
    const { scanner, scanned } = scannerOver({
      filesBelow: async () => [{ uri: URI, kind: 'table' }],
      check: async () => {
        if (told === 0) scanner.soon();
        return { kind: 'table', key: String(told), findings: [] } as unknown as FileCheck;
      },
    });
    scanner.onChecked(() => {
      told++;
    });
    await scanned();
    assert.equal(told, 2);
    scanner.dispose();
  });

  test('a folder that cannot be searched ends the scan, and says so', async () => {
    const { scanner, scanned, logged } = scannerOver({
      check: async () => undefined,
      filesBelow: async () => {
        throw new Error('no rights');
      },
    });
    await scanned();
    // The failure is logged once the scan's promise has settled.
    await new Promise((resolve) => {
      setImmediate(resolve);
    });
    assert.match(logged.join('\n'), /Scanning the folders failed: .*no rights/);
    scanner.dispose();
  });
});
