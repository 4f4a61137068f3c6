// Findings carried along edits: each place stays with its words, and the edited rows say what reading the whole text again says.

import assert from 'node:assert/strict';
import { TextDocument } from 'vscode-languageserver-textdocument';
import { sessionFindings } from '../../server/src/findings/check.js';
import type { Finding } from '../../server/src/findings/finding.js';
import type { Range } from '../../server/src/formats/range.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { followEdits, movedLine, placeBefore, touchedLines, type Edit } from '../../server/src/service/followEdits.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { drawsFor } from '../trust/seeded.js';

const ROWS = 400;
const CLEAN = `# fuel: E10\nTime (s),Engine speed (rpm),Manifold pressure (kPa),Lambda,Note\n${Array.from({ length: ROWS }, (_, row) => `${(row / 10).toFixed(1)},${900 + row},35,1.0,${row % 7}\n`).join('')}`;

const findingsOf = (text: string): Finding[] => sessionFindings(analyse(readSession(textSource(text)), EMPTY_VEHICLE));
const isOfRows = ({ code, data }: Finding): boolean =>
  ['text', 'not-finite', 'too-few', 'too-many'].includes(String(data?.kind)) && ['value-not-a-number', 'row-ragged'].includes(code);
const said = (findings: readonly Finding[]): unknown =>
  findings.filter(isOfRows).map(({ code, range, message, severity, channel }) => ({ code, range, message, severity, channel }));

/** A text in an editor, and what was done to it. */
const editor = (text: string) => {
  const document = TextDocument.create('memory:/a.session.csv', 'session-log', 1, text);
  const edits: Edit[] = [];
  return {
    document,
    edits,
    put(from: number, to: number, typed: string) {
      const edit = { range: { start: document.positionAt(from), end: document.positionAt(to) }, text: typed };
      edits.push(edit);
      TextDocument.update(document, [edit], document.version + 1);
    },
    edited: {
      edits,
      lines: (from: number, to: number) =>
        Array.from({ length: Math.max(0, Math.min(to, document.lineCount) - from) }, (_, index) =>
          document.getText({ start: { line: from + index, character: 0 }, end: { line: from + index + 1, character: 0 } }),
        ),
    },
  };
};

suite('findings that follow edits', () => {
  test('what is typed into one row of a clean session is told as by reading the whole again', () => {
    const random = drawsFor('rows typed into');
    let spoke = 0;
    for (let round = 0; round < 60; round++) {
      const { document, edits, edited, put } = editor(CLEAN);
      const line = random.whole(70, ROWS - 10);
      for (let typed = random.whole(1, 6); typed > 0; typed--) {
        const row = edited.lines(line, line + 1)[0],
          at = document.offsetAt({ line, character: 0 });
        const from = random.whole(0, row.length - 1),
          to = Math.min(row.length - 1, from + random.whole(0, 3));
        put(at + from, at + to, random.pick(['', 'x', ',', '1', '.', '-', ' ', '1e999', 'err', ';']));
      }
      const now = followEdits(findingsOf(CLEAN), edited, EMPTY_VEHICLE);
      assert.ok(now);
      assert.deepEqual(said(now), said(findingsOf(document.getText())), JSON.stringify(edits));
      if (now.some(isOfRows)) spoke++;
    }
    assert.ok(spoke > 10, `${spoke} of 60 rounds had something to tell`);
  });

  test('rows put in, taken out and mended anywhere below the head: the others keep their words under their places', () => {
    const random = drawsFor('places that follow');
    for (let round = 0; round < 60; round++) {
      const rows = CLEAN.split('\n');
      // Apart from each other, so that each is a finding of its own.
      const bad = [100, 180, 260].map((line) => line + random.whole(0, 40));
      for (const line of bad) rows[line] = rows[line].replace(',1.0,', ',err,');
      const { document, edited, put } = editor(rows.join('\n'));
      const before = findingsOf(document.getText());
      const words = (text: TextDocument, range: Range): string => text.getText(range);
      const told = before.filter(isOfRows).map(({ range }) => words(document, range));
      assert.deepEqual(told, ['err', 'err', 'err']);
      for (let typed = random.whole(1, 8); typed > 0; typed--) {
        const line = random.whole(70, document.lineCount - 3);
        if (edited.lines(line - 1, line + 2).some((row) => row.includes('err'))) continue;
        const at = document.offsetAt({ line, character: 0 }),
          next = document.offsetAt({ line: line + 1, character: 0 });
        if (random.chance(0.5)) put(at, at, random.pick(['# a note\n', '\n', '0.5,1000,36,1.0,2\n', '1,1000,36,1.0,2\n# two\n']));
        else put(at, next, '');
      }
      const now = followEdits(before, edited, EMPTY_VEHICLE);
      assert.ok(now);
      assert.deepEqual(
        now.filter(isOfRows).map(({ range }) => words(document, range)),
        ['err', 'err', 'err'],
      );
      assert.deepEqual(said(now), said(findingsOf(document.getText())));
      // And back: a line that nobody wrote into is found where it was.
      const lines = document.getText().split('\n'),
        back = lines.map((_, line) => placeBefore({ line, character: 3 }, edited.edits));
      assert.ok(back.filter((place) => place !== undefined).length > ROWS - 30);
      back.forEach((place, line) => {
        if (place) assert.deepEqual([rows[place.line], place.character], [lines[line], 3]);
      });
    }
  });

  test('an edited head, or too much at once, is left to a whole reading; with quotes the places follow alone', () => {
    const head = editor(CLEAN);
    head.put(15, 15, 'x');
    assert.equal(followEdits(findingsOf(CLEAN), head.edited, EMPTY_VEHICLE), undefined);
    const paste = editor(CLEAN);
    const at = paste.document.offsetAt({ line: 200, character: 0 });
    paste.put(at, at, '0,1,2,3,4\n'.repeat(3000));
    assert.equal(followEdits(findingsOf(CLEAN), paste.edited, EMPTY_VEHICLE), undefined);
    const quoted = editor(CLEAN);
    quoted.put(at, at, '"');
    assert.deepEqual(followEdits(findingsOf(CLEAN), quoted.edited, EMPTY_VEHICLE), findingsOf(CLEAN));
  });

  test('touched lines move with the edits that follow', () => {
    const edit = (line: number, toLine: number, text: string): Edit => ({
      range: { start: { line, character: 0 }, end: { line: toLine, character: 0 } },
      text,
    });
    assert.deepEqual(touchedLines([edit(10, 10, 'x')]), [{ from: 10, to: 11 }]);
    assert.deepEqual(touchedLines([edit(10, 10, 'x'), edit(4, 4, 'a\nb\n')]), [
      { from: 4, to: 7 },
      { from: 12, to: 13 },
    ]);
    assert.deepEqual(touchedLines([edit(10, 10, 'x'), edit(4, 6, '')]), [
      { from: 4, to: 5 },
      { from: 8, to: 9 },
    ]);
    assert.deepEqual(touchedLines([edit(10, 10, 'x'), edit(9, 12, '')]), [{ from: 9, to: 10 }]);
    assert.deepEqual(touchedLines([edit(10, 10, 'a\r\nb\rc'), edit(11, 11, 'y')]), [{ from: 10, to: 13 }]);
  });

  test('a row keeps its line behind what is put before it, also right before it', () => {
    const put = (line: number, toLine: number, character: number, text: string): Edit => ({
      range: { start: { line, character }, end: { line: toLine, character } },
      text,
    });
    assert.equal(movedLine(200, [put(200, 200, 0, 'x\n'.repeat(100))]), 300);
    assert.equal(movedLine(200, [put(100, 100, 0, 'x\n'.repeat(100)), put(300, 300, 0, '1')]), 300);
    assert.equal(movedLine(200, [put(200, 200, 3, '1')]), 200);
    assert.equal(movedLine(200, [put(201, 202, 0, '')]), 200);
    assert.equal(movedLine(200, [put(190, 195, 0, '')]), 195);
  });
});
