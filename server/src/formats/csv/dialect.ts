// How a file is written: encoding, delimiter, decimal sign. Found from the first bytes and rows; nothing is asked of the user.

import type { ByteSource } from '../source.js';

export type Encoding = 'utf-8' | 'utf-16le' | 'utf-16be' | 'windows-1252';
export type Delimiter = ',' | ';' | '\t';

/** What is told from the first bytes; `bomBytes` stand before the text. */
export interface EncodingFound {
  readonly encoding: Encoding;
  readonly bomBytes: number;
}

/**
 * UTF-16 by its mark, UTF-8 by its mark or because the head is valid UTF-8 (a character cut at the head's end is forgiven), else
 * Windows-1252.
 */
export const detectEncoding = (head: Uint8Array): EncodingFound => {
  if (head[0] === 0xff && head[1] === 0xfe) return { encoding: 'utf-16le', bomBytes: 2 };
  if (head[0] === 0xfe && head[1] === 0xff) return { encoding: 'utf-16be', bomBytes: 2 };
  if (head[0] === 0xef && head[1] === 0xbb && head[2] === 0xbf) return { encoding: 'utf-8', bomBytes: 3 };
  try {
    new TextDecoder('utf-8', { fatal: true }).decode(head, { stream: true });
    return { encoding: 'utf-8', bomBytes: 0 };
  } catch {
    return { encoding: 'windows-1252', bomBytes: 0 };
  }
};

const PIECE_BYTES = 1 << 20;

/** A UTF-16 source as UTF-8 in memory (characters and so positions are the same). */
export const transcode = (source: ByteSource, found: EncodingFound): ByteSource => {
  const decoder = new TextDecoder(found.encoding, { ignoreBOM: true });
  const encoder = new TextEncoder();
  const pieces: Uint8Array[] = [];
  let size = 0;
  let carried = '';
  for (let at = found.bomBytes; at < source.size; at += PIECE_BYTES) {
    let text = carried + decoder.decode(source.read(at, at + PIECE_BYTES), { stream: at + PIECE_BYTES < source.size });
    carried = /[\ud800-\udbff]$/.exec(text)?.[0] ?? '';
    text = text.slice(0, text.length - carried.length);
    const piece = encoder.encode(text);
    pieces.push(piece);
    size += piece.length;
  }
  const all = new Uint8Array(size);
  let at = 0;
  for (const piece of pieces) {
    all.set(piece, at);
    at += piece.length;
  }
  return { size, read: (start, end) => all.subarray(start, end) };
};

/** Bytes to text. ASCII, by far the most, never reaches the decoder. */
export class TextReader {
  private readonly decoder: TextDecoder;

  constructor(readonly encoding: Encoding) {
    this.decoder = new TextDecoder(encoding === 'windows-1252' ? 'windows-1252' : 'utf-8', { ignoreBOM: true });
  }

  text(bytes: Uint8Array, start: number, end: number): string {
    let text = '';
    for (let at = start; at < end; at++) {
      if (bytes[at] > 127 || at - start > 256) return this.decoder.decode(bytes.subarray(start, end));
      text += String.fromCharCode(bytes[at]);
    }
    return text;
  }

  /** UTF-16 units of the text. */
  units(bytes: Uint8Array, start: number, end: number): number {
    for (let at = start; at < end; at++) if (bytes[at] > 127) return this.decoder.decode(bytes.subarray(start, end)).length;
    return end - start;
  }
}

/** A line with each quoted text as one letter. */
export const stripQuoted = (line: string): string => (line.includes('"') ? line.replace(/"(?:[^"]|"")*"/g, 'q') : line);

/**
 * The delimiter of the lines (header first, notes left out). A tab or a semicolon wins where the header and most rows have it as more than
 * a trailing sign or a blank beside another delimiter: then commas are decimal signs or words. Else a comma.
 */
export const detectDelimiter = (lines: readonly string[]): Delimiter => {
  const plain = lines.map(stripQuoted);
  for (const delimiter of ['\t', ';'] as const) {
    const has = (line: string): boolean => {
      const bare = delimiter === '\t' ? line.replace(/(?:(?<!\s)\s+)?[,;]\s*/g, 'x') : line;
      return bare
        .trimEnd()
        .replace(/(?<![\t;])[\t;]+$/, '')
        .includes(delimiter);
    };
    const withIt = plain.filter(has).length;
    if (plain.length > 0 && has(plain[0]) && withIt * 2 >= plain.length) return delimiter;
    // A first column that is blank in most rows leaves only trailing signs; count those against the header's.
    if (delimiter === ';' && plain.length > 1 && has(plain[0]) && plain.slice(1).every((line) => line.includes(';'))) return delimiter;
  }
  return ',';
};

/** A number in quotes with a comma that parts no thousands, and one that another sign is in. */
const DECIMAL_COMMA = /"[+-]?(?:0?|\d+),(?:\d{1,2}|\d{4,})"|"[+-]?0\d*,\d+"/,
  THOUSANDS = /"[+-]?\d{1,3},\d{3}"/,
  OTHER_SIGN = /(?:^|,)\s*"?[+-]?\d*\.\d+"?\s*(?:,|$)|"[+-]?\d+(?:,\d+){2,}"/;

/**
 * Whether the rows' numbers have a decimal comma: more numbers with a comma than with a point. Where commas part the cells too, only in
 * quotes (RFC 4180), and where the file knows no other sign and no more rows with what may be thousands alone.
 */
export const detectDecimalComma = (lines: readonly string[], delimiter: Delimiter): boolean => {
  if (delimiter === ',') {
    const rows = lines.slice(1),
      decimal = rows.filter((line) => DECIMAL_COMMA.test(line)),
      either = rows.filter((line) => THOUSANDS.test(line) && !DECIMAL_COMMA.test(line));
    return decimal.length > 0 && decimal.length >= either.length && !rows.some((line) => OTHER_SIGN.test(line));
  }
  let commas = 0;
  let points = 0;
  for (const cell of lines.slice(1).flatMap((line) => line.split(delimiter))) {
    if (/^\s*"?[+-]?\d*,\d+(?:e[+-]?\d+)?"?\s*$/i.test(cell)) commas++;
    else if (/^\s*"?[+-]?\d*\.\d+(?:e[+-]?\d+)?"?\s*$/i.test(cell)) points++;
  }
  return commas > points;
};
