// What was found in a long session, carried along while somebody types in it: every place stays true at once, and the rows that were edited
// are read again by themselves. The rest is judged again when the typing pauses.

import { OF_ROWS, rowFindings, worstFirst } from '../findings/check.js';
import type { Finding } from '../findings/finding.js';
import { readLayout } from '../formats/session/header.js';
import { range, type Position, type Range } from '../formats/range.js';
import { readSession } from '../formats/session/readSession.js';
import { textSource } from '../formats/source.js';
import type { Vehicle } from '../formats/vehicle/vehicle.js';
import { analyse } from '../signals/analyse.js';

/** What an editor did to a text: the range as it stood before, and what stands there now. */
export interface Edit {
  readonly range: Range;
  readonly text: string;
}

/** The edits between two states of a text, in their order, and the text as it stands after them. */
export interface Edited {
  readonly edits: readonly Edit[];
  /** Lines `from` (inclusive) to `to` (exclusive, cut to the text), each with its line end. */
  lines(from: number, to: number): readonly string[];
}

/** So many lines edited at once are read with the whole. */
const MOST_LINES = 2000;
/** A layout is found from so many rows (see formats/session/header.ts); the head with its notes is not longer than this. */
const LAYOUT_ROWS = 60,
  LONGEST_HEAD_LINES = 2000;

/**
 * The findings of a session after edits: those of before at their places now, and those of the edited rows (`value-not-a-number`,
 * `row-ragged`) as they are now. Undefined where only reading the whole can tell: the head was edited, or too much at once.
 */
export function followEdits(findings: readonly Finding[], { edits, lines }: Edited, vehicle: Vehicle): readonly Finding[] | undefined {
  const touched = touchedLines(edits);
  if (touched.reduce((sum, { from, to }) => sum + to - from, 0) > MOST_LINES) return undefined;
  const head = headOf(lines);
  if (!head || touched.some(({ from }) => from < head.dataLine)) return undefined;
  const moved = findings.flatMap((finding) => movedFinding(finding, edits) ?? []);
  const rows = touched.flatMap(({ from, to }) => findingsOfRows(head, lines(from, to), from, vehicle) ?? [undefined]);
  // Quotes may run over lines, so that a row is not told by its own line: its findings are those of before until the whole is read.
  if (rows.includes(undefined)) return moved;
  const isOfRows = ({ code, range, data }: Finding): boolean =>
    OF_ROWS.has(`${code} ${String(data?.kind)}`) && touched.some(({ from, to }) => from <= range.start.line && range.end.line < to);
  return worstFirst([...moved.filter((finding) => !isOfRows(finding)), ...rows.filter((finding) => finding !== undefined)]);
}

interface Lines {
  readonly from: number;
  readonly to: number;
}

/** The lines of the text as it stands that any edit wrote into, apart and ascending. */
export function touchedLines(edits: readonly Edit[]): Lines[] {
  let touched: Lines[] = [];
  for (const edit of edits) {
    const added = lineEnds(edit.text),
      last = edit.range.end.line,
      shift = edit.range.start.line + added - last;
    const here = { from: edit.range.start.line, to: edit.range.start.line + added + 1 };
    const kept = touched.flatMap(({ from, to }): Lines[] => [
      ...(from < here.from ? [{ from, to: Math.min(to, here.from) }] : []),
      ...(to > last + 1 ? [{ from: Math.max(from, last + 1) + shift, to: to + shift }] : []),
    ]);
    touched = [...kept, here].sort((a, b) => a.from - b.from);
  }
  // Neighbours are one.
  return touched.reduce<Lines[]>((all, next) => {
    const before = all.at(-1);
    if (before && next.from <= before.to) all[all.length - 1] = { from: before.from, to: Math.max(before.to, next.to) };
    else all.push(next);
    return all;
  }, []);
}

const lineEnds = (text: string): number => text.match(/\r\n|\r|\n/g)?.length ?? 0;

const isBefore = (a: Position, b: Position): boolean => a.line < b.line || (a.line === b.line && a.character < b.character);

/**
 * Where a place is after an edit. What is put exactly at it stands before a start and behind an end: a finding does not grow by what is
 * typed beside it.
 */
function movedPlace(place: Position, { range, text }: Edit, isEnd: boolean): Position {
  if (isBefore(place, range.start) || (isEnd && !isBefore(range.start, place))) return place;
  const added = lineEnds(text);
  const end =
    added === 0
      ? { line: range.start.line, character: range.start.character + text.length }
      : { line: range.start.line + added, character: text.length - Math.max(text.lastIndexOf('\n'), text.lastIndexOf('\r')) - 1 };
  if (isBefore(place, range.end)) return isEnd ? range.start : end;
  return {
    line: place.line - range.end.line + end.line,
    character: place.line === range.end.line ? place.character - range.end.character + end.character : place.character,
  };
}

/** Undefined where nothing is left of the range. */
export function movedRange(range: Range, edits: readonly Edit[]): Range | undefined {
  let moved = range;
  for (const edit of edits) {
    moved = { start: movedPlace(moved.start, edit, false), end: movedPlace(moved.end, edit, true) };
    if (isBefore(moved.end, moved.start)) return undefined;
  }
  return moved;
}

/** The line of a row, also where others were put right before it. */
export const movedLine = (line: number, edits: readonly Edit[]): number | undefined =>
  movedRange(range(line, 0, line, Number.MAX_SAFE_INTEGER), edits)?.start.line;

/** Where a place of the text as it stands was before the edits; undefined on a line that they wrote into. */
export function placeBefore(place: Position, edits: readonly Edit[]): Position | undefined {
  let { line } = place;
  for (const {
    range: { start, end },
    text,
  } of [...edits].reverse()) {
    const last = start.line + lineEnds(text);
    if (line > last) line += end.line - last;
    else if (line >= start.line) return undefined;
  }
  return { line, character: place.character };
}

function movedFinding(finding: Finding, edits: readonly Edit[]): Finding | undefined {
  const range = movedRange(finding.range, edits);
  if (!range) return undefined;
  const related = finding.related?.flatMap((each) => {
    const place = each.file === undefined ? movedRange(each.range, edits) : each.range;
    return place ? [{ ...each, range: place }] : [];
  });
  return { ...finding, range, ...(related ? { related } : {}) };
}

/** The start of a session that tells how its rows are read. */
interface Head {
  readonly beforeRows: string;
  readonly rows: string;
  readonly dataLine: number;
  readonly way: string;
}

function headOf(lines: Edited['lines']): Head | undefined {
  const head: string[] = [];
  for (let rows = 0; rows < LAYOUT_ROWS && head.length < LONGEST_HEAD_LINES;) {
    const more = lines(head.length, head.length + LAYOUT_ROWS - rows);
    if (more.length === 0) break;
    head.push(...more);
    rows += more.filter((line) => !/^\s*(#|$)/.test(line)).length;
  }
  const layout = readLayout(textSource(head.join('')));
  if (layout.trouble !== 'none' || layout.headless || layout.dataLine >= head.length) return undefined;
  return {
    beforeRows: head.slice(0, layout.dataLine).join(''),
    rows: head.slice(layout.dataLine).join(''),
    dataLine: layout.dataLine,
    way: wayOf(layout),
  };
}

const wayOf = ({ delimiter, decimalComma }: { readonly delimiter: string; readonly decimalComma: boolean }): string =>
  `${delimiter} ${decimalComma}`;

/** What the rows of these lines tell by themselves, the first of them being line `line`; undefined where they do not. */
function findingsOfRows(head: Head, rows: readonly string[], line: number, vehicle: Vehicle): Finding[] | undefined {
  const text = rows.join('');
  if (text.includes('"') || text.includes('\0')) return undefined;
  // Before the rows of the head: those tell the layout, and what is wrong in them does not use up the few places that are told.
  const session = readSession(textSource(`${head.beforeRows}${text}${/[\r\n]$/.test(text) || text === '' ? '' : '\n'}${head.rows}`), {
    vehicle,
  });
  if (session.form !== 'wide' || wayOf(session) !== head.way) return undefined;
  const end = head.dataLine + rows.length;
  const problems = session.problems.flatMap((problem) => {
    if (problem.range.start.line < head.dataLine || problem.range.start.line >= end || !OF_ROWS.has(`${problem.code} ${problem.kind}`))
      return [];
    const { start, end: to } = problem.range;
    const at = (place: Position): Position => ({ line: place.line - head.dataLine + line, character: place.character });
    const last = to.line < end ? to : { line: end - 1, character: rows[rows.length - 1].replace(/[\r\n]+$/, '').length };
    return [{ ...problem, timeS: undefined, range: { start: at(start), end: at(last) }, data: { ...problem.data, moreRuns: 0 } }];
  });
  return rowFindings(analyse({ ...session, problems }, vehicle));
}
