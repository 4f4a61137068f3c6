// Masks of samples by what a column shows there: made by one loop and narrowed by another, whatever is asked, so that both are met, and
// compiled, early in a session.

import { stays } from '../../formats/stays.js';
import { endOfStretch, STRETCH_ROWS, stretchesOf, type Stretches } from './stretches.js';

/** From `low` to `high`, both in it; of a limit that is no number nothing is. */
interface Between {
  readonly low: number;
  readonly high: number;
}

/** Its members are made for fractions from the first on: what is compiled for whole numbers would be thrown away with the first other. */
const range = (low: number, high: number): Between => ({ low, high });
stays(range(0.5, 0.5));

export const atLeast = (low: number): Between => range(low, Infinity);
export const above = (low: number): Between => range(nextUp(low), Infinity);
export const below = (high: number): Between => range(-Infinity, -nextUp(-high));
export const upTo = (high: number): Between => range(-Infinity, high);
export const fromTo = (low: number, high: number): Between => range(low, -nextUp(-high));

const bits = new BigInt64Array(1),
  number = new Float64Array(bits.buffer);

/** The least number above one (IEEE 754: as whole numbers the bits of numbers above nought rise with them, and those below fall); NaN of none. */
const nextUp = (than: number): number => {
  number[0] = than === 0 ? 0 : than;
  bits[0] += number[0] < 0 ? -1n : 1n;
  return than < Infinity ? number[0] : NaN;
};

/** 1, in `into`, where the column is between. */
export const mark = (values: Float64Array, between: Between, into: Uint8Array = new Uint8Array(values.length)): Uint8Array => {
  const stretches = stretchesOf(values);
  for (let from = 0; from < into.length; from += STRETCH_ROWS) {
    const to = endOfStretch(from, into.length),
      is = isAll(stretches, from, to, between);
    if (is === undefined) markIn(into, values, from, to, between);
    else if (is) into.fill(1, from, to);
  }
  return into;
};

const markIn = (into: Uint8Array, values: Float64Array, from: number, to: number, { low, high }: Between): void => {
  for (let i = from; i < to; i++) if (values[i] >= low && values[i] <= high) into[i] = 1;
};

/** Whether the column lies between throughout a stretch, or nowhere in it; undefined where its rows must be asked. */
const isAll = ({ least, greatest, numbers }: Stretches, from: number, to: number, { low, high }: Between): boolean | undefined => {
  const at = from / STRETCH_ROWS;
  if (!(greatest[at] >= low && least[at] <= high)) return false;
  return numbers[at] === to - from && least[at] >= low && greatest[at] <= high ? true : undefined;
};

/** Takes the marks out of the mask where the column is not between (`isKept`), or where it is. Gives the mask. */
const narrow = (mask: Uint8Array, values: Float64Array, between: Between, isKept: boolean): Uint8Array => {
  const stretches = stretchesOf(values);
  for (let from = 0; from < mask.length; from += STRETCH_ROWS) {
    const to = endOfStretch(from, mask.length),
      is = isAll(stretches, from, to, between);
    if (is === undefined) narrowIn(mask, values, from, to, between, isKept);
    else if (is !== isKept) mask.fill(0, from, to);
  }
  return mask;
};

const narrowIn = (mask: Uint8Array, values: Float64Array, from: number, to: number, { low, high }: Between, isKept: boolean): void => {
  for (let i = from; i < to; i++) if ((values[i] >= low && values[i] <= high) !== isKept) mask[i] = 0;
};

export const keep = (mask: Uint8Array, values: Float64Array, between: Between): Uint8Array => narrow(mask, values, between, true);
export const drop = (mask: Uint8Array, values: Float64Array, between: Between): Uint8Array => narrow(mask, values, between, false);
