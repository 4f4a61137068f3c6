// The fast way in: rows of plain numbers, scanned from bytes straight into columns. Whatever is not a plain number is handed on, cell by cell.

import { POWERS_OF_TEN } from './number.js';
import type { Rows } from './rows.js';

const LF = 10;
const CR = 13;
const SPACE = 32;
const HASH = 35;
const PLUS = 43;
const MINUS = 45;
const POINT = 46;
const TAB = 9;

/** Digits whose number stays below 2³¹, so that whole-number arithmetic does. */
const SMALL_DIGITS = 9;

/**
 * Reads the lines of `bytes[from..to)`, none of which has a quote that means one; `bytes[to]` must be a line feed or belong to the next line.
 * `base` is the offset of `bytes[0]` in the source.
 */
export const scanPlain = (bytes: Uint8Array, from: number, to: number, base: number, rows: Rows): void => {
  const { columns, delimiter, comma } = rows;
  const { width, block } = columns;
  const tabIsBlank = delimiter !== TAB;
  let at = from;
  while (at < to) {
    const rowStart = at;
    const rowAt = columns.rowAt;
    let column = 0;
    let cellStart: number;
    let extra = false;
    let byte = bytes[at];
    while (byte === SPACE || (byte === TAB && tabIsBlank)) byte = bytes[++at];
    if (byte === HASH) { at = rows.note(bytes, rowStart, to); continue; }
    for (;;) {
      cellStart = at;
      let negative = false;
      if (byte === MINUS) { negative = true; byte = bytes[++at]; } else if (byte === PLUS) byte = bytes[++at];
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
      let value: number;
      if ((byte === delimiter || byte === LF || byte === CR) && digits > 0 && digits <= SMALL_DIGITS) {
        value = decimals === 0 ? mantissa : mantissa / POWERS_OF_TEN[decimals];
        if (negative) value = -value;
      } else if (at === cellStart && (byte === delimiter || byte === LF || byte === CR)) {
        value = NaN;
      } else {
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
};
