// Decimal numbers from bytes, rounded as `Number()` rounds them.

/** 10⁰ … 10²²: the powers that a double holds exactly. */
export const POWERS_OF_TEN = Float64Array.from({ length: 23 }, (_, exponent) => Number(`1e${exponent}`));

const EXACT_DIGITS = 15; // any whole number of 15 digits is below 2⁵³

/**
 * The number written in `bytes[start..end)`: sign, digits, one `.` or `comma`, exponent. Undefined where the text is anything else;
 * infinite where it is out of range. Up to 15 digits, a whole number divided by an exact power of ten is rounded once, so correctly (IEEE
 * 754); more go through `Number()`.
 */
export const readNumber = (bytes: Uint8Array, start: number, end: number, comma: number): number | undefined => {
  let at = start;
  const sign = bytes[at];
  if (sign === 45 || sign === 43) at++;
  let mantissa = 0;
  let digits = 0;
  let decimals = 0;
  let seenPoint = false;
  for (; at < end; at++) {
    const byte = bytes[at];
    if (byte >= 48 && byte <= 57) {
      digits++;
      if (seenPoint) decimals++;
      mantissa = mantissa * 10 + (byte - 48);
    } else if ((byte === 46 || byte === comma) && !seenPoint) seenPoint = true;
    else break;
  }
  if (digits === 0) return undefined;
  if (at < end) {
    if ((bytes[at] | 32) !== 101) return undefined;
    let exponentAt = at + 1;
    if (bytes[exponentAt] === 45 || bytes[exponentAt] === 43) exponentAt++;
    if (exponentAt >= end) return undefined;
    for (; exponentAt < end; exponentAt++) if (bytes[exponentAt] < 48 || bytes[exponentAt] > 57) return undefined;
  } else if (digits <= EXACT_DIGITS) {
    const value = decimals === 0 ? mantissa : mantissa / POWERS_OF_TEN[decimals];
    return sign === 45 ? -value : value;
  }
  let text = '';
  for (at = start; at < end; at++) text += bytes[at] === comma ? '.' : String.fromCharCode(bytes[at]);
  return Number(text);
};
