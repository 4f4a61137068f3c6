// The fast way in: rows of plain numbers, scanned from bytes straight into columns. Whatever is not a plain number is handed on, cell by
// cell.

import { POWERS_OF_TEN } from './number.js';
import type { Rows } from './rows.js';

const LF = 10;
const CR = 13;
const SPACE = 32;
const QUOTE = 34;
const HASH = 35;
const PLUS = 43;
const MINUS = 45;
const POINT = 46;
const TAB = 9;

/** Digits whose number stays below 2³¹, so that whole-number arithmetic does. */
const SMALL_DIGITS = 9;

/**
 * How many of the four bytes of a little-endian word, from the first on, are digits: a digit has 3 in its upper half and at most 9 in its
 * lower.
 */
const digitsIn = (word: number): number => {
  const others = ((word ^ 0x30303030) & 0xf0f0f0f0) | (((word & 0x0f0f0f0f) + 0x06060606) & 0x10101010);
  return others === 0 ? 4 : (31 - Math.clz32(others & -others)) >> 3;
};

/** The number of the first `count` (1 to 4) digits of a word: two digits to a pair, two pairs to a number. */
const numberIn = (word: number, count: number): number => {
  const figures = (word << (32 - 8 * count)) & 0x0f0f0f0f;
  const pairs = figures * 10 + (figures >> 8);
  return (pairs & 0xff) * 100 + ((pairs >> 16) & 0xff);
};

const WHOLE_POWERS = Int32Array.of(1, 10, 100, 1000, 10_000);

/** Whether the line at `from` has a quote. */
const hasQuote = (bytes: Uint8Array, from: number): boolean => {
  for (let at = from; ; at++) {
    const byte = bytes[at];
    if (byte === QUOTE) return true;
    if (byte === LF || byte === CR) return false;
  }
};

/**
 * Reads the lines of `bytes[from..to)`; `bytes[to]` must be a line feed or belong to the next line, and three bytes more must be there.
 * `base` is the offset of `bytes[0]` in the source. Where quotes mean something (`quotesMean`), stops at the start of the first line that
 * has one;
 * index of the first line that was not read.
 */
export const scanPlain = (bytes: Uint8Array, from: number, to: number, base: number, rows: Rows, quotesMean: boolean): number => {
  const { columns, delimiter, comma } = rows;
  const { width, block } = columns;
  const words = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const tabIsBlank = delimiter !== TAB;
  let at = from;
  while (at < to) {
    const rowStart = at;
    const rowAt = columns.rowAt;
    let column = 0;
    let cellStart: number;
    let extra = false;
    let quoteLooked = !quotesMean;
    let byte = bytes[at];
    while (byte === SPACE || (byte === TAB && tabIsBlank)) byte = bytes[++at];
    if (byte === HASH) {
      at = rows.note(bytes, rowStart, to);
      continue;
    }
    for (;;) {
      cellStart = at;
      let value: number;
      // Most cells are `123` or `12.345`, no part longer than four digits: each part is one word.
      const word = words.getInt32(at, true);
      const whole = digitsIn(word);
      if (whole > 0) {
        let end = at + whole;
        let behind = whole < 4 ? (word >> (8 * whole)) & 0xff : bytes[end];
        let small = numberIn(word, whole);
        let decimals = 0;
        if (behind === POINT || behind === comma) {
          const part = words.getInt32(end + 1, true);
          decimals = digitsIn(part);
          if (decimals > 0) {
            end += 1 + decimals;
            behind = decimals < 4 ? (part >> (8 * decimals)) & 0xff : bytes[end];
            small = Math.imul(small, WHOLE_POWERS[decimals]) + numberIn(part, decimals);
          }
        }
        if (behind === delimiter || behind === LF || behind === CR) {
          if (column < width) block[rowAt + column] = decimals === 0 ? small : small / POWERS_OF_TEN[decimals];
          else extra = true;
          column++;
          at = end;
          byte = behind;
          if (behind !== delimiter) break;
          byte = bytes[++at];
          while (byte === SPACE || (byte === TAB && tabIsBlank)) byte = bytes[++at];
          continue;
        }
      }
      let negative = false;
      if (byte === MINUS) {
        negative = true;
        byte = bytes[++at];
      } else if (byte === PLUS) byte = bytes[++at];
      const firstDigit = at;
      let mantissa = 0;
      let digit = byte - 48;
      while (digit >= 0 && digit <= 9) {
        mantissa = (Math.imul(mantissa, 10) + digit) | 0;
        byte = bytes[++at];
        digit = byte - 48;
      }
      let digits = at - firstDigit;
      let decimals = 0;
      if (byte === POINT || byte === comma) {
        byte = bytes[++at];
        const firstDecimal = at;
        digit = byte - 48;
        while (digit >= 0 && digit <= 9) {
          mantissa = (Math.imul(mantissa, 10) + digit) | 0;
          byte = bytes[++at];
          digit = byte - 48;
        }
        decimals = at - firstDecimal;
        digits += decimals;
      }
      while (byte === SPACE || (byte === TAB && tabIsBlank)) byte = bytes[++at];
      if ((byte === delimiter || byte === LF || byte === CR) && digits > 0 && digits <= SMALL_DIGITS) {
        value = decimals === 0 ? mantissa : mantissa / POWERS_OF_TEN[decimals];
        if (negative) value = -value;
      } else if (at === cellStart && (byte === delimiter || byte === LF || byte === CR)) {
        value = NaN;
      } else {
        // Nothing of the row was told so far: it can still be left to the reader of quotes.
        if (!quoteLooked && hasQuote(bytes, cellStart)) return rowStart;
        quoteLooked = true;
        while (byte !== delimiter && byte !== LF && byte !== CR) byte = bytes[++at];
        value = column < width ? rows.cell(bytes, cellStart, at, column) : NaN;
      }
      if (column < width) block[rowAt + column] = value;
      else if (at !== cellStart) extra = true;
      column++;
      if (byte !== delimiter) break;
      byte = bytes[++at];
      while (byte === SPACE || (byte === TAB && tabIsBlank)) byte = bytes[++at];
    }
    rows.end(column, extra, at === cellStart, base + rowStart, 1);
    at += byte === CR && bytes[at + 1] === LF ? 2 : 1;
  }
  return at;
};
