// From samples to places in the text and back. Only row offsets are kept; a cell's place is found by reading its row again.

import type { SessionPlaces } from './session.js';
import type { ByteSource } from '../source.js';
import { range, type Range } from '../range.js';
import type { TextReader } from '../csv/dialect.js';
import type { RowOffsets } from '../csv/rowOffsets.js';
import { OPEN_QUOTE_BYTES, placeFields, trimField } from '../csv/quoted.js';
import { nextLine } from '../csv/window.js';

/** A cell of a row as it stands in the text: its place and what it says, quotes kept. */
export interface PlacedCell {
  readonly range: Range;
  readonly fieldEnd: { readonly line: number; readonly character: number };
  readonly text: string;
}

/** Bytes of a row between two delimiters. */
interface Field {
  readonly start: number;
  readonly end: number;
}

const ROW_BYTES = 1 << 12;
/** No session has more columns than this: what stands behind them is left out. */
export const MOST_COLUMNS = 1024;

/** Reads rows of a source again, cell by cell. */
export class RowPlaces {
  private cached: { readonly offset: number; readonly cells: readonly PlacedCell[] } | undefined;

  constructor(
    private readonly source: ByteSource,
    private readonly text: TextReader,
    private readonly delimiter: number,
  ) {}

  /**
   * The cells of the record at a byte offset, which begins at the start of `line`. `literal`: its quotes are plain signs. What stands
   * behind the first `MOST_COLUMNS` cells is one more: a row may be a million delimiters.
   */
  cells(offset: number, line: number, literal: boolean): readonly PlacedCell[] {
    if (this.cached?.offset === offset) return this.cached.cells;
    const { bytes, fields } = this.read(offset, literal),
      cells = this.place(bytes, fields, line);
    this.cached = { offset, cells };
    return cells;
  }

  /** What those cells say, for whoever asks no place; quotes are no plain signs. */
  texts(offset: number): string[] {
    const { bytes, fields } = this.read(offset, false);
    return fields.map(({ start, end }) => this.textOf(bytes, trimField(bytes, start, end, this.delimiter)));
  }

  private read(offset: number, literal: boolean): { readonly bytes: Uint8Array; readonly fields: readonly Field[] } {
    for (let size = ROW_BYTES; ; size *= 4) {
      const bytes = this.source.read(offset, Math.min(offset + size, this.source.size));
      const whole = bytes.length < size;
      const lineEnd = nextLine(bytes, 0, bytes.length);
      if (lineEnd === bytes.length && !whole) continue;
      const quote = literal ? -1 : bytes.indexOf(34);
      let fields: readonly Field[];
      if (quote === -1 || quote >= lineEnd) fields = this.split(bytes, lineEnd);
      else {
        const placed = placeFields(bytes, 0, bytes.length, String.fromCharCode(this.delimiter), MOST_COLUMNS);
        if (!placed && !whole && size <= OPEN_QUOTE_BYTES) continue;
        fields = placed ?? this.split(bytes, lineEnd);
      }
      return { bytes, fields };
    }
  }

  private split(bytes: Uint8Array, lineEnd: number): Field[] {
    while (lineEnd > 0 && (bytes[lineEnd - 1] === 10 || bytes[lineEnd - 1] === 13)) lineEnd--;
    const fields: Field[] = [];
    let start = 0;
    for (let at = 0; at <= lineEnd; at++) {
      if (at === lineEnd || (bytes[at] === this.delimiter && fields.length < MOST_COLUMNS)) {
        fields.push({ start, end: at });
        start = at + 1;
      }
    }
    return fields;
  }

  private textOf(bytes: Uint8Array, { start, end }: Field): string {
    return this.text.text(bytes, start, end).trim();
  }

  private place(bytes: Uint8Array, fields: readonly Field[], firstLine: number): PlacedCell[] {
    let at = 0;
    let line = firstLine;
    let character = 0;
    const advance = (to: number): { line: number; character: number } => {
      while (at < to) {
        const lineEnd = nextLine(bytes, at, to);
        const broken = bytes[lineEnd - 1] === 10 || (bytes[lineEnd - 1] === 13 && !(lineEnd === to && bytes[to] === 10));
        if (broken) {
          line++;
          character = 0;
        } else character += this.text.units(bytes, at, lineEnd);
        at = lineEnd;
      }
      return { line, character };
    };
    return fields.map((field) => {
      const trimmed = trimField(bytes, field.start, field.end, this.delimiter);
      const from = advance(trimmed.start);
      const to = advance(trimmed.end);
      const fieldEnd = advance(field.end);
      return { range: range(from.line, from.character, to.line, to.character), fieldEnd, text: this.textOf(bytes, trimmed) };
    });
  }
}

/** A cell's text without its quotes. */
export const unquote = (text: string): string =>
  text.length >= 2 && text.startsWith('"') && text.endsWith('"') ? text.slice(1, -1).replace(/""/g, '"') : text;

/** Samples and the lines that they stand in: line = sample + shift, the shift changing at a few samples. */
export interface SampleLines {
  readonly samples: number;
  readonly changeSamples: readonly number[];
  readonly changeShifts: readonly number[];
}

export const lineOf = (lines: SampleLines, sample: number): number => {
  let low = 0;
  let high = lines.changeSamples.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (lines.changeSamples[middle] <= sample) low = middle;
    else high = middle - 1;
  }
  return sample + (lines.changeShifts[low] ?? 0);
};

/** The last sample whose line is not behind `line`; −1 where there is none. */
export const sampleNotAfter = (lines: SampleLines, line: number): number => {
  let low = -1;
  let high = lines.samples - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (lineOf(lines, middle) <= line) low = middle;
    else high = middle - 1;
  }
  return low;
};

/** What the places of a wide session stand on. */
export interface WidePlaces {
  readonly rows: RowPlaces;
  readonly offsets: RowOffsets;
  readonly lines: SampleLines;
  readonly literal: ReadonlySet<number>;
  /** Column of the text that holds each channel. */
  readonly columnOf: readonly number[];
  readonly timeColumn: number;
}

/** Places of a session that has one sample a row. */
export const widePlaces = (
  wide: WidePlaces,
): SessionPlaces & { readonly columnRange: (column: number, sample: number) => Range; readonly rowRange: (sample: number) => Range } => {
  const cellsAt = (sample: number): readonly PlacedCell[] =>
    wide.rows.cells(wide.offsets.at(sample), lineOf(wide.lines, sample), wide.literal.has(sample));
  const columnRange = (column: number, sample: number): Range => {
    const cells = cellsAt(sample);
    return (cells[column] ?? cells[0]).range;
  };
  const channelOfColumn = new Map(wide.columnOf.map((column, channel) => [column, channel]));
  return {
    columnRange,
    rowRange: (sample) => {
      const cells = cellsAt(sample);
      return { start: cells[0].range.start, end: cells[cells.length - 1].range.end };
    },
    cellRange: (channel, sample) => columnRange(channel < 0 ? wide.timeColumn : wide.columnOf[channel], sample),
    spanRange: (channel, fromSample, toSample) => {
      const column = channel < 0 ? wide.timeColumn : wide.columnOf[channel];
      return { start: columnRange(column, fromSample).start, end: columnRange(column, toSample).end };
    },
    cellText: (channel, sample) => unquote(cellsAt(sample)[channel < 0 ? wide.timeColumn : wide.columnOf[channel]]?.text ?? ''),
    lineOf: (sample) => lineOf(wide.lines, sample),
    sampleAt: (line) => {
      const sample = sampleNotAfter(wide.lines, line);
      if (sample < 0) return undefined;
      if (lineOf(wide.lines, sample) === line) return sample;
      const cells = cellsAt(sample);
      return cells[cells.length - 1].fieldEnd.line >= line ? sample : undefined;
    },
    channelAt: (line, character) => {
      const sample = sampleNotAfter(wide.lines, line);
      if (sample < 0) return undefined;
      const cells = cellsAt(sample);
      const column = cells.findIndex(({ fieldEnd }) => fieldEnd.line > line || (fieldEnd.line === line && character <= fieldEnd.character));
      if (column < 0 || cells[cells.length - 1].fieldEnd.line < line) return undefined;
      return column === wide.timeColumn ? -1 : channelOfColumn.get(column);
    },
  };
};
