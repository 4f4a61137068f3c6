// Thousands signs that look like decimal ones: a speed of "2.746" beside "850" in a file whose decimals have commas. Read as decimals, they
// make a running engine stand.

import type { QuantityId } from '../../quantities/quantity.js';

/** What passes a thousand in a unit that is written without decimals (rpm, mbar). */
const PASSING: ReadonlySet<QuantityId | undefined> = new Set<QuantityId>(['engine-speed', 'manifold-pressure', 'barometric-pressure']);
const PARTED = /^[+-]?[1-9]\d{0,2}[.,]\d{3}$/;
const DECIMAL = /^[+-]?\d*[.,]\d+$/;
/** A column of decimals shows itself in so many. */
const TEXTS_READ = 50;

/**
 * The column with its thousands, and the sample of the first; undefined where it is what it seems. `elsewhere`: first cells of the other
 * columns, which show the decimal sign.
 */
export const withThousands = (
  quantity: QuantityId | undefined,
  columnValues: () => Float64Array,
  text: (sample: number) => string,
  elsewhere: () => readonly string[],
): { values: Float64Array; sample: number; count: number } | undefined => {
  const decimals = PASSING.has(quantity) ? elsewhere().filter((cell) => DECIMAL.test(cell)) : [];
  if (decimals.length === 0) return undefined;
  const values = columnValues(),
    odd = firstOdd(values),
    oddText = odd < values.length ? text(odd) : '';
  // Hardly all are whole thousands; and not each whole number needs to be looked up.
  if (!PARTED.test(oddText)) return undefined;
  const sign = oddText.includes(',') ? ',' : '.';
  if (decimals.some((cell) => cell.includes(sign) && !PARTED.test(cell)) || decimals.every((cell) => cell.includes(sign))) return undefined;
  const parted: number[] = [];
  // No speed stays below 100 rpm; a pressure without hundreds may be in bar.
  let hundreds = quantity === 'engine-speed';
  for (let sample = 0; sample < values.length; sample++) {
    const value = Math.abs(values[sample]);
    if (value >= 1000 || (value > 0 && value < 1)) return undefined;
    if (value >= 100 && value % 1 === 0) hundreds = true;
    else if (value > 0) {
      const isParted = (parted.length >= TEXTS_READ && value % 1 > 0) || PARTED.test(text(sample));
      if (isParted) parted.push(sample);
      else if (value % 1 > 0) return undefined;
    }
  }
  if (parted.length === 0 || !hundreds) return undefined;
  const whole = values.slice();
  for (const sample of parted) whole[sample] = Math.round(values[sample] * 1000);
  return { values: whole, sample: parted[0], count: parted.length };
};

/** The first number with decimals; behind the last where there is none. */
const firstOdd = (values: Float64Array): number => {
  let at = 0;
  while (at < values.length && !(Math.abs(values[at] - Math.trunc(values[at])) > 0)) at++;
  return at;
};
