// The head of a session file: encoding, notes, header, units row, and where the data begin.

import type { ByteSource } from '../source.js';
import type { Note } from './session.js';
import { range, type Range } from '../range.js';
import { parseUnit } from '../../quantities/parseUnit.js';
import {
  TextReader,
  detectDecimalComma,
  detectDelimiter,
  detectEncoding,
  stripQuoted,
  transcode,
  type Delimiter,
  type Encoding,
} from '../csv/dialect.js';
import { readNumber } from '../csv/number.js';
import { partedNumber } from '../csv/partedNumber.js';
import { readNote } from '../csv/rows.js';
import { nextLine } from '../csv/window.js';
import { MOST_COLUMNS, RowPlaces, unquote } from './places.js';

export interface HeaderCell {
  readonly text: string;
  readonly range: Range;
}

export interface Layout {
  /** UTF-8 or Windows-1252 bytes; `encoding` is the file's own. */
  readonly source: ByteSource;
  /** Bytes from the start on that all of this was told by. */
  readonly headBytes: number;
  readonly encoding: Encoding;
  readonly text: TextReader;
  readonly delimiter: Delimiter;
  readonly decimalComma: boolean;
  readonly notes: readonly Note[];
  /** Empty where the file has no rows; made-up names (`column 1`) where `headless`. */
  readonly header: readonly HeaderCell[];
  readonly headerRange: Range;
  /** One text a column, brackets taken off. */
  readonly unitsRow: readonly string[] | undefined;
  readonly dataOffset: number;
  readonly dataLine: number;
  /** The first data rows, texts as written. */
  readonly firstRows: readonly (readonly string[])[];
  /** The file's first row is numbers: nothing says what they are. */
  readonly headless: boolean;
  readonly trouble: 'none' | 'binary' | 'empty';
  /** Columns past the cap, left out. */
  readonly columnsLeftOut: number;
  readonly rows: RowPlaces;
  /** Bytes of a data row, on average over the first ones. */
  readonly rowBytes: number;
}

const HEAD_BYTES = 1 << 18;
const LONGEST_HEAD_BYTES = 1 << 22;
const SAMPLED_ROWS = 60;

interface Line {
  readonly start: number;
  readonly end: number;
  readonly line: number;
  readonly text: string;
}

const encoder = new TextEncoder();

/** Whether a text is a number, with a decimal point or comma. */
export const isNumberText = (text: string): boolean => {
  const bytes = encoder.encode(text);
  return readNumber(bytes, 0, bytes.length, 44) !== undefined || partedNumber(text) !== undefined;
};

const isTimeText = (text: string): boolean => /^\d{1,4}[:\-/]\d{1,2}[:\-/T.]?\d/.test(text);

/** Lines of the head, line ends taken off, the notes before the first row apart. */
const readLines = (bytes: Uint8Array, from: number, complete: boolean, text: TextReader): { notes: Note[]; lines: Line[] } => {
  const notes: Note[] = [];
  const lines: Line[] = [];
  let at = from;
  for (let line = 0; at < bytes.length && lines.length < SAMPLED_ROWS; line++) {
    const behind = nextLine(bytes, at, bytes.length);
    const closed = bytes[behind - 1] === 10 || bytes[behind - 1] === 13;
    if (!closed && !complete && lines.length > 0) break;
    const content = text.text(bytes, at, behind).replace(/[\r\n]+$/, '');
    if (/^\s*#/.test(content)) {
      if (lines.length === 0) notes.push(readNote(content, line));
    } else if (content.trim() !== '') lines.push({ start: at, end: behind, line, text: content });
    at = behind;
  }
  return { notes, lines };
};

/** Index of the header among the lines: the first, unless a few narrow lines of text stand before a wide one. */
const findHeader = (rows: readonly (readonly string[])[]): number => {
  const widths = rows
    .slice(1)
    .map((row) => row.length)
    .sort((a, b) => a - b);
  const usual = widths[widths.length >> 1] ?? 0;
  if (rows.length < 3 || usual < 3 || rows[0].length * 2 > usual) return 0;
  const header = rows.findIndex(
    (row, index) =>
      index < 20 && row.length >= usual - 1 && row.filter((cell) => cell !== '' && !isNumberText(cell)).length * 2 > row.length,
  );
  return Math.max(0, header);
};

const bracketless = (text: string): string =>
  text
    .trim()
    .replace(/^[([]|[)\]]$/g, '')
    .trim();

/** A row of nothing but units, at least half of them known ones. */
const isUnitsRow = (cells: readonly string[]): boolean => {
  const texts = cells.map(bracketless).filter((text) => text !== '' && !/^-+$/.test(text));
  if (texts.length === 0 || texts.some((text) => isNumberText(text) || isTimeText(text) || text.length > 30)) return false;
  const known = texts.filter((text) => parseUnit(text) !== undefined).length;
  return known * 2 >= texts.length && known > 0;
};

const BINARY_SAMPLE_BYTES = 1024;
/** A text has no control characters but tabs and line ends; compressed or packed bytes have one in eight. */
const BINARY_CONTROL_SHARE = 0.03;

/** Whether the first kilobyte is no text. Zeros at the end are the rest of a block that was never written. */
const looksBinary = (bytes: Uint8Array): boolean => {
  let end = Math.min(bytes.length, BINARY_SAMPLE_BYTES);
  while (end > 0 && bytes[end - 1] === 0) end--;
  let controls = 0;
  for (let at = 0; at < end; at++) if (bytes[at] < 32 && bytes[at] !== 9 && bytes[at] !== 10 && bytes[at] !== 13) controls++;
  return controls > 2 && controls > BINARY_CONTROL_SHARE * end;
};

/** Whether a line that is neither blank nor a note ends within the bytes: else a long header would be torn. */
const holdsWholeRow = (bytes: Uint8Array): boolean => {
  for (let at = 0; at < bytes.length;) {
    const behind = nextLine(bytes, at, bytes.length);
    if (bytes[behind - 1] !== 10 && bytes[behind - 1] !== 13) return false;
    while (at < behind && bytes[at] <= 32) at++;
    if (at < behind && bytes[at] !== 35) return true;
    at = behind;
  }
  return false;
};

/** How many of the header's columns stand behind the last that is read, up to the last one in which the header or a row holds something. */
const leftOut = (lines: readonly Line[], delimiter: string): number => {
  const rows = lines.map((line) => stripQuoted(line.text).split(delimiter));
  let width = rows[0].length;
  while (width > MOST_COLUMNS && rows.every((cells) => (cells[width - 1] ?? '').trim() === '')) width--;
  return Math.max(0, width - MOST_COLUMNS);
};

/** Reads the head, so many bytes or more where they hold no row. Never throws; what can't be read is said by `trouble`. */
export const readLayout = (original: ByteSource, leastBytes = HEAD_BYTES): Layout => {
  const found = detectEncoding(original.read(0, leastBytes));
  const isWide = found.encoding === 'utf-16le' || found.encoding === 'utf-16be';
  const source = isWide ? transcode(original, found) : original;
  const bomBytes = isWide ? 0 : found.bomBytes;
  const text = new TextReader(found.encoding);
  let size = leastBytes;
  let bytes = source.read(0, size).slice();
  while (bytes.length < source.size && size < LONGEST_HEAD_BYTES && !holdsWholeRow(bytes)) {
    size *= 4;
    bytes = source.read(0, size).slice();
  }
  const headBytes = bytes.length,
    complete = headBytes >= source.size;
  const { notes, lines } = readLines(bytes, bomBytes, complete, text);
  const delimiter = detectDelimiter(lines.map((line) => line.text));
  const rows = new RowPlaces(source, text, delimiter.charCodeAt(0));
  const base = {
    source,
    headBytes,
    encoding: found.encoding,
    text,
    delimiter,
    decimalComma: detectDecimalComma(
      lines.map((line) => line.text),
      delimiter,
    ),
    notes,
    rows,
    header: [],
    headerRange: range(0, 0, 0, 0),
    unitsRow: undefined,
    dataOffset: source.size,
    dataLine: lines[0]?.line ?? notes.length,
    firstRows: [],
    headless: false,
    columnsLeftOut: 0,
    rowBytes: 1,
  };
  if (lines.length === 0) return { ...base, trouble: 'empty' };
  if (bytes.subarray(lines[0].start, lines[0].end).includes(0) || looksBinary(bytes)) return { ...base, trouble: 'binary' };

  const table = lines.map((line) => rows.texts(line.start).slice(0, MOST_COLUMNS).map(unquote));
  const headerAt = findHeader(table);
  const headerLine = lines[headerAt];
  const placed = rows.cells(headerLine.start, headerLine.line, false),
    cells = table[headerAt].map((name, column): HeaderCell => ({ text: name, range: placed[column].range }));
  const allNotes = [...notes, ...lines.slice(0, headerAt).map((line) => ({ line: line.line, text: line.text.trim() }))];
  const headless = cells.every((cell) => cell.text === '' || isNumberText(cell.text) || isTimeText(cell.text));
  const dataAt = headerAt + (headless ? 0 : 1);
  // A header whose quotes run over several lines: the lines within are no rows.
  const headerEndLine = placed[placed.length - 1].range.end.line;
  const behindHeader = lines.findIndex((line, index) => index >= dataAt && line.line > headerEndLine);
  const firstData = headless ? headerAt : behindHeader === -1 ? lines.length : behindHeader;
  const unitsRow = !headless && firstData < lines.length && isUnitsRow(table[firstData]) ? table[firstData].map(bracketless) : undefined;
  const rowsAt = firstData + (unitsRow ? 1 : 0),
    firstRows = table.slice(rowsAt);
  const columnsLeftOut = placed.length > MOST_COLUMNS ? leftOut([headerLine, ...lines.slice(rowsAt)], delimiter) : 0;

  let width = cells.length;
  while (columnsLeftOut === 0 && width > 1 && cells[width - 1].text === '' && !firstRows.some((row) => (row[width - 1] ?? '') !== ''))
    width--;
  const header = cells
    .slice(0, width)
    .map((cell, index) => (headless || cell.text === '' ? { ...cell, text: `column ${index + 1}` } : cell));
  // The last line before the data: behind it, blank lines and notes are the reader's.
  const before = unitsRow
    ? lines[firstData]
    : (lines
        .slice(0, firstData)
        .reverse()
        .find((line) => line.line <= headerEndLine) ?? headerLine);
  const last = lines[lines.length - 1];
  const dataOffset = headless ? headerLine.start : before.end;
  return {
    ...base,
    notes: allNotes,
    header,
    unitsRow,
    headless,
    columnsLeftOut,
    firstRows,
    trouble: 'none',
    headerRange: { start: header[0].range.start, end: header[header.length - 1].range.end },
    dataOffset,
    rowBytes: Math.max(2, (last.end - dataOffset) / Math.max(1, firstRows.length)),
    dataLine: headless ? headerLine.line : before.line + 1,
  };
};
