// Leads the bytes of a source through the fast scanner and, where quotes mean something, through csv-parse.

import type { ByteSource } from '../source.js';
import { scanPlain } from './plain.js';
import { PlainKernel } from './plainKernel.js';
import { OPEN_QUOTE_BYTES, readQuoted } from './quoted.js';
import type { Rows } from './rows.js';
import { Window, countLines, nextLine } from './window.js';

const CR = 13;
const QUOTE = 34;
const LONGEST_LINE_BYTES = 4 << 20;
/** After this many quotes that never close, quotes mean nothing in this file. */
const OPEN_QUOTES_BORNE = 64;

export interface ReadRowsOptions {
  readonly chunkBytes: number;
  /** Every record through csv-parse, for comparison. */
  readonly everythingQuoted: boolean;
  /** Sources of at least so many bytes are read with the compiled kernel's help: for a shorter one it is not worth being made. */
  readonly kernelFromBytes: number;
  /** Where the columns take so many bytes or more, all but the clock are kept packed; none where left out. */
  readonly packFromBytes?: number;
  /** Where they take so many, columns without blanks of which nothing is known are not kept for whoever wants the known alone. */
  readonly leaveFromBytes?: number;
}

/** What came up on the way that has no sample to stand at. */
export interface Read {
  /** Lines too long to be rows, left out. */
  readonly longLines: readonly number[];
  /** Lines whose quote never closes, and the sample read from each. */
  readonly openQuotes: readonly { readonly line: number; readonly sample: number }[];
  /** Where the file stops in the middle of a row: its line, how many whole cells it has, and its sample where there is one. */
  readonly cutOff: { readonly line: number; readonly cells: number; readonly sample: number | undefined } | undefined;
}

/** Rows read up to a line end, from which reading goes on where the source has grown. */
export interface RowsSoFar {
  readonly rows: Rows;
  readonly offset: number;
  readonly openQuotes: Read['openQuotes'];
}

/**
 * Reads all rows from `start` on into `rows`, or goes on `from` where an earlier reading of the same source stood, with its rows. Never
 * throws on what the bytes hold; memory is bounded by a chunk and the columns. `keep` is given where it stands behind the last line end,
 * unless what came before would be read otherwise in a longer source.
 */
export const readRows = (
  source: ByteSource,
  start: number,
  rows: Rows,
  options: ReadRowsOptions,
  from?: RowsSoFar,
  keep?: (soFar: RowsSoFar) => void,
): Read => {
  const window = new Window(source, from?.offset ?? start, options.chunkBytes);
  const delimiterText = String.fromCharCode(rows.delimiter);
  const longLines: number[] = [];
  const openQuotes: { line: number; sample: number }[] = [...(from?.openQuotes ?? [])];
  let cutOff: Read['cutOff'];
  let quotesMean = openQuotes.length < OPEN_QUOTES_BORNE;
  let isByItsEnd = false;
  let at = 0;
  const kernel = options.everythingQuoted || source.size < options.kernelFromBytes ? undefined : PlainKernel.for(rows);

  /** One line with its quotes as plain signs. */
  const readLiteral = (from: number): number => {
    const behind = nextLine(window.bytes, from, window.length);
    const sample = rows.columns.samples;
    const { line } = rows;
    scanPlain(window.bytes, from, behind, window.base, rows, false);
    if (rows.columns.samples > sample) rows.literal.add(sample);
    openQuotes.push({ line, sample });
    quotesMean = openQuotes.length < OPEN_QUOTES_BORNE;
    return behind;
  };

  /** Records from `from` on through csv-parse; the index behind them, or `from` where more bytes are needed first. */
  const readQuotedRecords = (from: number, whole: number): number => {
    for (let bytes = 1 << 12; ; bytes *= 4) {
      const to = Math.min(whole, from + bytes >= whole ? whole : nextLine(window.bytes, from + bytes, whole));
      const { records, open } = readQuoted(window.bytes, from, to, delimiterText);
      let behind = from;
      for (const record of records) {
        while (behind < record.start) behind = rows.note(window.bytes, behind, record.start);
        rows.record(record, window.base, Math.max(1, countLines(window.bytes, record.start, record.end)));
        behind = record.end;
      }
      if (records.length > 0 && (open || behind >= to)) return behind;
      if (!open) {
        // nothing but notes are left, or csv-parse passed over an empty rest
        while (behind < to) behind = isNote(window.bytes, behind, to) ? rows.note(window.bytes, behind, to) : skipLine(behind, to);
        return behind;
      }
      if (to - from >= OPEN_QUOTE_BYTES) return readLiteral(from);
      if (to < whole) continue;
      if (!window.ended) return from;
      isByItsEnd = true;
      if (whole === window.length) return readLiteral(from);
      whole = window.length; // the quote may close in the last line, which has no line end
    }
  };
  const skipLine = (from: number, to: number): number => {
    rows.line++;
    return nextLine(window.bytes, from, to);
  };

  /** Lines that are all at hand. */
  const readWhole = (from: number, to: number): number => {
    kernel?.take(window.bytes, from, to, window.base);
    while (from < to) {
      if (kernel) {
        const behind = kernel.read(from);
        // What it left at the end of its rows is one line for the scanner, after which it is asked again.
        from =
          behind < to
            ? scanPlain(window.bytes, behind, kernel.isIdle ? to : nextLine(window.bytes, behind, to), window.base, rows, quotesMean)
            : to;
        if (from > behind) continue;
      } else if (!options.everythingQuoted || !quotesMean) from = scanPlain(window.bytes, from, to, window.base, rows, quotesMean);
      // Notes are no records, and what stands in them opens no quote.
      while (from < to && isNote(window.bytes, from, to)) from = rows.note(window.bytes, from, to);
      if (from >= to) break;
      const behind = readQuotedRecords(from, to);
      if (behind === from) return from;
      from = behind;
    }
    return from;
  };

  /** The last line, which no line end closes: whole, or cut off in the middle of a cell. */
  const readLast = (from: number): void => {
    const { bytes, length } = window;
    const { width } = rows.columns;
    let delimiters = 0;
    let lastDelimiter = -1;
    let quotes = 0;
    for (let index = from; index < length; index++) {
      if (bytes[index] === rows.delimiter && quotes % 2 === 0) {
        delimiters++;
        lastDelimiter = index;
      }
      if (bytes[index] === QUOTE) quotes++;
    }
    const trailing = rows.trailingDelimiters * 2 > rows.columns.samples;
    const isCut = !isNote(bytes, from, length) && (delimiters < (trailing ? width : width - 1) || quotes % 2 === 1);
    if (!isCut) {
      const behind = readWhole(from, length);
      if (behind < length) readLiteral(behind);
      return;
    }
    const { samples } = rows.columns;
    cutOff = { line: rows.line, cells: delimiters, sample: undefined };
    if (delimiters > 0) {
      rows.cutting = true;
      bytes[lastDelimiter] = 10;
      readWhole(from, lastDelimiter + 1);
      rows.cutting = false;
      if (rows.columns.samples > samples) cutOff = { ...cutOff, sample: samples };
    }
  };

  for (;;) {
    window.refill(at);
    const whole = window.lastLineEnd(0);
    at = readWhole(0, whole);
    if (window.ended) break;
    if (whole === 0 && window.length > LONGEST_LINE_BYTES) {
      longLines.push(rows.line++);
      at = skipLongLine(window);
    }
  }
  // A carriage return at the very end may be half a line end.
  const isHalf = at >= window.length && window.bytes[window.length - 1] === CR;
  if (keep && !isHalf && !isByItsEnd && longLines.length === 0)
    keep({ rows: rows.fork(), offset: window.base + at, openQuotes: [...openQuotes] });
  if (at < window.length) readLast(at);
  return { longLines, openQuotes, cutOff };
};

const isNote = (bytes: Uint8Array, from: number, to: number): boolean => {
  while (from < to && (bytes[from] === 32 || bytes[from] === 9)) from++;
  return from < to && bytes[from] === 35;
};

/** Drops the line at hand and what follows of it; index behind its end. */
const skipLongLine = (window: Window): number => {
  for (;;) {
    const behind = nextLine(window.bytes, 0, window.length);
    const last = window.bytes[behind - 1];
    if (window.ended || behind < window.length || last === 10) return behind;
    window.refill(last === 13 ? behind - 1 : behind);
  }
};
