// Records with quotes, read by csv-parse, which is the authority on them; on demand it also says where each field ends, so places come from
// it too.

import { parse } from 'csv-parse/sync';
import { nextLine } from './window.js';

/**
 * The texts of one record as Latin-1 (one character a byte, so that any encoding passes); `start` and `end` are its bytes, line end
 * included.
 */
export interface QuotedRecord {
  readonly texts: readonly string[];
  readonly start: number;
  readonly end: number;
}
/** A field's bytes between the delimiters. */
export interface Field {
  readonly start: number;
  readonly end: number;
}

/** A quote that is still open after this many bytes was never meant as one. */
export const OPEN_QUOTE_BYTES = 1 << 16;

/** `"1,5" ` keeps its quotes in csv-parse because of the blank behind them; here they come off. */
const unwrap = (text: string): string => {
  const trimmed = text.replace(/(?<![ \t])[ \t]+$/, '');
  return trimmed.length >= 2 && trimmed.startsWith('"') && trimmed.endsWith('"') ? trimmed.slice(1, -1) : trimmed;
};

const OPTIONS = {
  quote: '"',
  escape: '"',
  record_delimiter: ['\r\n', '\n', '\r'],
  encoding: 'latin1',
  relax_quotes: true,
  relax_column_count: true,
  ltrim: true,
  comment: '#',
  comment_no_infix: true,
} as const;

/**
 * The records of `bytes[from..to)`, which must end at a line end or at the end of the file. `open` says that the last quote found no end:
 * the records before it are whole, and it begins behind the last of them. Notes (`#`) are no records: they show as a gap before the next
 * one.
 */
export const readQuoted = (
  bytes: Uint8Array,
  from: number,
  to: number,
  delimiter: string,
): { readonly records: QuotedRecord[]; readonly open: boolean } => {
  const records: QuotedRecord[] = [];
  let behind = from;
  try {
    parse(bytes.subarray(from, to), {
      ...OPTIONS,
      delimiter,
      on_record: (texts, context) => {
        const end = from + context.bytes;
        records.push({ texts: texts.map(unwrap), start: skipNotes(bytes, behind, end), end });
        behind = end;
        return null;
      },
    });
    return { records, open: false };
  } catch {
    return { records, open: true };
  }
};

/** Thrown through csv-parse to stop it once a record is read. */
class Enough extends Error {}

/**
 * Where the first `most` fields of the record at `from` are, by csv-parse; what stands behind them in their line is one more. Undefined
 * where its quote finds no end before `to`. Slow: for one record at a time.
 */
export const placeFields = (bytes: Uint8Array, from: number, to: number, delimiter: string, most: number): readonly Field[] | undefined => {
  const fields: Field[] = [];
  let start = from;
  try {
    parse(bytes.subarray(from, to), {
      ...OPTIONS,
      delimiter,
      cast: (_, context) => {
        fields.push({ start, end: from + context.bytes });
        start = from + context.bytes + 1;
        if (fields.length === most) throw new Enough();
        return '';
      },
      on_record: () => {
        throw new Enough();
      },
    });
  } catch (error) {
    if (!(error instanceof Enough)) return undefined;
  }
  if (fields.length === most && bytes[start - 1] === delimiter.charCodeAt(0)) {
    let end = nextLine(bytes, start, to);
    while (end > start && (bytes[end - 1] === 10 || bytes[end - 1] === 13)) end--;
    fields.push({ start, end });
  }
  return fields.length > 0 ? fields : undefined;
};

const isBlank = (byte: number): boolean => byte === 32 || byte === 9;

/** Index behind the note lines that stand at `from`. */
const skipNotes = (bytes: Uint8Array, from: number, to: number): number => {
  let at = from;
  for (;;) {
    let first = at;
    while (first < to && isBlank(bytes[first])) first++;
    if (first >= to || bytes[first] !== 35) return at;
    while (first < to && bytes[first] !== 10 && bytes[first] !== 13) first++;
    if (first < to) first += bytes[first] === 13 && bytes[first + 1] === 10 ? 2 : 1;
    if (first >= to) return at;
    at = first;
  }
};

/** A field's own bytes: blanks round it left out, its quotes kept. */
export const trimField = (bytes: Uint8Array, start: number, end: number, delimiter: number): { start: number; end: number } => {
  const blank = (byte: number): boolean => byte === 32 || (byte === 9 && delimiter !== 9);
  let from = start;
  let to = end;
  while (from < to && blank(bytes[from])) from++;
  while (to > from && blank(bytes[to - 1])) to--;
  return from === to ? { start, end } : { start: from, end: to };
};
