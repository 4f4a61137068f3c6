// A long text in blocks says what the protocol's own library says of it, whatever is edited in it.

import assert from 'node:assert/strict';
import type { TextDocumentContentChangeEvent } from 'vscode-languageserver';
import { TextDocument } from 'vscode-languageserver-textdocument';
import { LongText } from '../../server/src/lsp/longText.js';
import { drawsFor } from '../trust/seeded.js';

suite('long texts', () => {
  test('places, ranges and edits are those of the library, with each line end and blocks of any size', () => {
    const draws = drawsFor('edits of a text'),
      { seed } = draws;
    const whole = (below: number): number => draws.whole(0, below - 1);
    const words = (most: number): string =>
      Array.from(
        { length: whole(most) },
        () => ['a', 'bc', ',', '\n', '\r\n', '\r', 'µ', '😀', '\n\n', '\ud83d', '\ude00'][whole(11)],
      ).join('');
    for (let round = 0; round < 150; round++) {
      const text = words(60),
        reference = TextDocument.create('file:///a', 'x', 1, text),
        long = new LongText('file:///a', 'x', 1, text, 1 + whole(12));
      const given: [Uint8Array, Buffer][] = [];
      const place = (): { line: number; character: number } => ({ line: whole(reference.lineCount + 3) - 1, character: whole(12) - 1 });
      for (let edit = 0; edit < 12; edit++) {
        const why = `seed ${seed}, round ${round}, edit ${edit}: ${JSON.stringify(reference.getText())}`;
        assert.equal(long.getText(), reference.getText(), why);
        assert.deepEqual(
          [long.lineCount, long.length, long.version],
          [reference.lineCount, reference.getText().length, reference.version],
          why,
        );
        if (draws.chance(0.7)) given.push([long.source().read(0, Infinity), Buffer.from(reference.getText())]);
        for (let offset = -1; offset <= reference.getText().length + 1; offset++)
          assert.deepEqual(long.positionAt(offset), reference.positionAt(offset), `${why} at ${offset}`);
        for (let each = 0; each < 10; each++) {
          const range = { start: place(), end: place() };
          assert.deepEqual(
            [long.offsetAt(range.start), long.getText(range)],
            [reference.offsetAt(range.start), reference.getText(range)],
            `${why} in ${JSON.stringify(range)}`,
          );
        }
        const changes = Array.from({ length: 1 + whole(2) }, (): TextDocumentContentChangeEvent =>
          draws.chance(0.1)
            ? { text: words(30) }
            : draws.chance(0.5)
              ? {
                  range: { start: { line: reference.lineCount, character: 0 }, end: { line: reference.lineCount, character: 0 } },
                  text: words(8),
                }
              : { range: { start: place(), end: place() }, text: words(8) },
        );
        // The library takes a range whose ends are out of order, or beyond the text, by its lines: an editor sends none.
        for (const change of changes) {
          if ('range' in change)
            change.range = {
              start: reference.positionAt(reference.offsetAt(change.range.start)),
              end: reference.positionAt(reference.offsetAt(change.range.end)),
            };
          TextDocument.update(reference, [change], edit + 2);
          long.update([change], edit + 2);
        }
      }
      for (const [bytes, utf8] of given) assert.ok(utf8.equals(bytes), `seed ${seed}, round ${round}: what was given stays as it was`);
    }
  });

  test('it has grown where more came behind what it was, since it was asked last, and nothing else', () => {
    const long = new LongText('file:///a', 'x', 1, 'a\r\nb\n'),
      put = (line: number, character: number, text: string, until = character): void => {
        long.update([{ range: { start: { line, character }, end: { line, character: until } }, text }], 2);
      };
    const asked = (...edits: (() => void)[]): boolean => {
      for (const edit of edits) edit();
      return long.hasGrown();
    };
    const atEnd = (): void => put(long.lineCount - 1, 0, 'c\n'),
      inside = (): void => put(1, 0, 'x');
    assert.deepEqual(
      [asked(atEnd), asked(), asked(atEnd), asked(atEnd, atEnd), asked(inside), asked(atEnd, inside), asked(inside, atEnd), asked(atEnd)],
      [false, false, true, true, false, false, false, true],
    );
    // The last line goes on; then it is cut and written again.
    assert.deepEqual(
      [
        asked(() => put(long.lineCount - 1, 0, '1,2')),
        asked(() => put(long.lineCount - 1, 3, ',3')),
        asked(
          () => put(long.lineCount - 1, 2, '', 5),
          () => put(long.lineCount - 1, 2, 'and more'),
        ),
      ],
      [true, true, false],
    );
    assert.equal(
      asked(() => long.update([{ text: `${long.getText()}d\n` }], 3)),
      false,
      'all of it came anew',
    );
  });

  test('of a text that grows only what came is made bytes, behind those that threads have already', () => {
    const long = new LongText('file:///a', 'x', 1, '1,2\n'.repeat(500_000)),
      first = long.source().read(0, Infinity);
    for (let row = 0; row < 10; row++)
      long.update(
        [{ range: { start: { line: long.lineCount, character: 0 }, end: { line: long.lineCount, character: 0 } }, text: '3,4\n' }],
        2 + row,
      );
    const grown = long.source().read(0, Infinity);
    assert.ok(grown.buffer === first.buffer && grown.buffer instanceof SharedArrayBuffer);
    assert.deepEqual(
      [first.length, grown.length, Buffer.from(grown.subarray(first.length)).toString()],
      [2_000_000, 2_000_040, '3,4\n'.repeat(10)],
    );
  });

  // Browsers refuse shared memory to TextEncoder and TextDecoder, though the Encoding standard allows it.
  test('in a browser, where there is no thread, none of it is shared', () => {
    const worker = globalThis as { importScripts?: unknown };
    worker.importScripts = null;
    try {
      const long = new LongText('file:///a', 'x', 1, '1,2\n');
      assert.ok(long.source().read(0, 4).buffer instanceof ArrayBuffer);
      long.update([{ range: { start: { line: 1, character: 0 }, end: { line: 1, character: 0 } }, text: '3,4\n' }], 2);
      const bytes = long.source().read(0, 8);
      assert.ok(bytes.buffer instanceof ArrayBuffer);
      assert.equal(new TextDecoder().decode(bytes), '1,2\n3,4\n');
    } finally {
      delete worker.importScripts;
    }
  });

  test('a key in ten million characters leaves the rest as it is', () => {
    const line = '0.12,880,35.1,14.7\n',
      long = new LongText('file:///a', 'x', 1, line.repeat(500_000));
    long.update([{ range: { start: { line: 250_000, character: 4 }, end: { line: 250_000, character: 5 } }, text: ';x' }], 2);
    assert.equal(long.length, 500_000 * line.length + 1);
    assert.equal(long.lineCount, 500_001);
    assert.equal(
      long.getText({ start: { line: 249_999, character: 0 }, end: { line: 250_002, character: 0 } }),
      `${line}0.12;x880,35.1,14.7\n${line}`,
    );
  });
});
