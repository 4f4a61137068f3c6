// What is fed, and what must hold of every answer: it comes, its places lie inside the text, its words are words.

import assert from 'node:assert/strict';
import picomatch from 'picomatch';
import { sessionFindings, tableFindings, vehicleFindings } from '../../server/src/findings/check.js';
import type { Finding } from '../../server/src/findings/finding.js';
import { checkFirstOf, troubleCodeOf } from '../../server/src/findings/troubleCodes.js';
import { readCandump } from '../../server/src/formats/can/readCandump.js';
import { setCells } from '../../server/src/formats/table/editTable.js';
import { globInsideFolder, insideFolder } from '../../server/src/formats/vehicle/folderPath.js';
import type { Problem } from '../../server/src/formats/problem.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { readVehicle } from '../../server/src/formats/vehicle/readVehicle.js';
import type { Session } from '../../server/src/formats/session/session.js';
import { bytesSource } from '../../server/src/formats/source.js';
import { canBeWeighed } from '../../server/src/fueling/solution/grid.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { edited } from '../../server/src/service/correction.js';
import { asMarkdown } from '../../server/src/service/editor/card.js';
import { sessionSymbols, tableSymbols } from '../../server/src/service/editor/documentSymbols.js';
import { noteFolding, sessionFolding } from '../../server/src/service/editor/foldingRanges.js';
import { sessionHover } from '../../server/src/service/editor/sessionHover.js';
import { tableHover } from '../../server/src/service/editor/tableHover.js';
import { textOf } from '../../server/src/service/text.js';
import { vehicleHover } from '../../server/src/service/editor/vehicleHover.js';
import { withPins } from '../../server/src/service/vehiclePins.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { CANDUMP, CODES, GLOBS, NOTES, SESSION, TABLE, VEHICLE } from './grammars.js';
import type { Grammar } from './mutate.js';

export interface Target {
  readonly name: string;
  readonly grammar: Grammar;
  /** Throws where something does not hold; the answer is kept alive for the measurement of its memory. */
  readonly feed: (bytes: Uint8Array) => unknown;
  /** Fed with long inputs too. */
  readonly isLong: boolean;
}

const session =
  (read: (bytes: Uint8Array) => Session) =>
  (bytes: Uint8Array): unknown => {
    const found = read(bytes);
    assert.equal(found.timeS.length, found.samples, 'a time a sample');
    for (let sample = 0; sample < found.samples; sample++) {
      assert.ok(Number.isFinite(found.timeS[sample]), `time ${sample} is ${found.timeS[sample]}`);
      assert.ok(sample === 0 || found.timeS[sample]! >= found.timeS[sample - 1]!, `time ${sample} goes back`);
    }
    for (const channel of found.channels) assert.equal(channel.values.length, found.samples, 'a value a sample');
    const signals = analyse(found, EMPTY_VEHICLE);
    const findings = sessionFindings(signals);
    placesHold(bytes, [...found.problems, ...findings]);
    wordsHold(findings);
    for (const sample of [0, found.samples >> 1, found.samples - 1]) {
      if (sample < 0 || found.samples === 0) continue;
      const line = found.places.lineOf(sample);
      assert.equal(found.places.sampleAt(line), sample, 'a sample is found by its line');
      for (let channel = -1; channel < Math.min(found.channels.length, 6); channel++) {
        const card = sessionHover(signals, found.places.cellRange(channel, sample).start, undefined);
        if (card) asMarkdown(card);
      }
    }
    sessionSymbols(signals);
    sessionFolding(signals);
    return signals;
  };

const table = (bytes: Uint8Array): unknown => {
  const text = textOf(bytesSource(bytes));
  const read = readTable(text);
  assert.equal(read.values.length, read.rows.values.length * read.columns.values.length);
  const findings = tableFindings({ table: read, vehicle: undefined, evidence: undefined });
  placesHold(bytes, [...read.problems, ...findings], text);
  wordsHold(findings);
  noteFolding(text);
  tableSymbols(read);
  // A number written into a cell is read back, and nothing else changes.
  const width = read.columns.values.length;
  // A long text is read again for one of them alone: it is the reading whose time is measured.
  for (const cell of new Set(bytes.length > 200_000 ? [read.values.length >> 1] : [0, read.values.length >> 1, read.values.length - 1])) {
    if (!Number.isFinite(read.values[cell])) continue;
    const [row, column] = [Math.floor(cell / width), cell % width];
    const card = tableHover(read, read.cellRange(row, column).start, undefined, undefined, 101.325);
    if (card) asMarkdown(card);
    const edits = setCells(read, text, [{ row, column, value: read.values[cell]! * 1.05 }]);
    // Only of a table that readings can speak of is an edit offered.
    if (edits.length === 0 || !canBeWeighed(read)) continue;
    const again = readTable(edited(text, edits));
    assert.equal(again.values.length, read.values.length, 'an edit keeps the grid');
    again.values.forEach((value, other) =>
      assert.ok(other === cell || Object.is(value, read.values[other]), `an edit of cell ${cell} changes cell ${other}`),
    );
  }
  return read;
};

const vehicle = (bytes: Uint8Array): unknown => {
  const text = textOf(bytesSource(bytes));
  const read = readVehicle(text);
  const findings = vehicleFindings(read);
  placesHold(bytes, [...read.problems, ...findings], text);
  wordsHold(findings);
  for (const path of Object.values(read.vehicle.tables)) assert.ok(path === undefined || staysInside(path), `leaves the folder: ${path}`);
  for (const { files, loggedWith } of read.vehicle.sessions) {
    assert.ok(staysInside(files) && (loggedWith === undefined || staysInside(loggedWith)), `leaves the folder: ${files}`);
  }
  vehicleHover(text, { line: 2, character: 6 });
  const pinned = withPins(text, [{ files: 'a "b".session.csv', loggedWith: 'tables/history/ve-1.table.csv' }]);
  // What was read before is read after it too.
  if (pinned !== undefined && !read.problems.some(({ kind }) => kind !== 'unknown-key')) {
    const again = readVehicle(pinned);
    assert.deepEqual(
      again.problems.map(({ kind }) => kind),
      read.problems.map(({ kind }) => kind),
      'a pin breaks nothing',
    );
    assert.equal(again.vehicle.sessions.length, read.vehicle.sessions.length + 1, 'a pin is read');
  }
  return read;
};

const codes = (bytes: Uint8Array): unknown => {
  const code = troubleCodeOf(textOf(bytesSource(bytes)));
  return code && checkFirstOf(code);
};

const globs = (bytes: Uint8Array): unknown => {
  const text = textOf(bytesSource(bytes)).slice(0, 300);
  const path = insideFolder(text);
  assert.ok(path === undefined || staysInside(path), `leaves the folder: ${path}`);
  const glob = globInsideFolder(text);
  if (glob === undefined) return undefined;
  try {
    const matches = picomatch(glob);
    return [matches('sessions/a.session.csv'), matches(`${'a'.repeat(60)}/${'ab'.repeat(40)}.csv`)];
  } catch (error) {
    // What the library refuses is told as no match; it must be refused, not hang.
    return error;
  }
};

const staysInside = (path: string): boolean => !/^(?:[/\\]|[a-z]:)/i.test(path) && !path.split(/[/\\]/).includes('..');

type Placed = Pick<Problem, 'range'> | Finding;

/** Every place lies inside the text. A text's lines end with LF, CRLF or CR. */
function placesHold(bytes: Uint8Array, placed: readonly Placed[], text = textOf(bytesSource(bytes))): void {
  if (placed.length === 0) return;
  // A whole line ends where the next one would begin, also behind the last.
  const lines = [...text.split(/\r\n|\r|\n/), ''];
  for (const {
    range: { start, end },
  } of placed) {
    assert.ok(start.line < lines.length - 1, `place ${JSON.stringify({ start, end })} begins behind the text`);
    assert.ok(
      start.line >= 0 &&
        start.character >= 0 &&
        end.line < lines.length &&
        (start.line < end.line || (start.line === end.line && start.character <= end.character)),
      `place ${JSON.stringify({ start, end })} of ${lines.length} lines`,
    );
    assert.ok(
      start.character <= lines[start.line]!.length && end.character <= lines[end.line]!.length,
      `place ${JSON.stringify({ start, end })} in a line of ${lines[end.line]!.length}`,
    );
  }
}

function wordsHold(findings: readonly Finding[]): void {
  for (const { message, code } of findings) {
    assert.ok(message.length > 10 && message.length < 4000, `${code}: ${message.length} characters`);
    assert.ok(!/\bundefined\b|\[object |function |=>/.test(message.replace(/"[^"]*"|“[^”]*”|'[^']*'/g, '')), `${code}: ${message}`);
  }
}

export const TARGETS: readonly Target[] = [
  { name: 'session', grammar: SESSION, feed: session((bytes) => readSession(bytesSource(bytes))), isLong: true },
  { name: 'notes', grammar: NOTES, feed: session((bytes) => readSession(bytesSource(bytes))), isLong: true },
  { name: 'candump', grammar: CANDUMP, feed: session((bytes) => readCandump(bytesSource(bytes), {})), isLong: true },
  { name: 'table', grammar: TABLE, feed: table, isLong: true },
  { name: 'vehicle', grammar: VEHICLE, feed: vehicle, isLong: true },
  { name: 'codes', grammar: CODES, feed: codes, isLong: false },
  { name: 'globs', grammar: GLOBS, feed: globs, isLong: false },
];
