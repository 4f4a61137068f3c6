// Masks of samples by what a column shows there: made by one loop and narrowed by another, whatever is asked, so that both are met, and
// compiled, early in a session.

import { endOfStretch, STRETCH_ROWS, stretchesOf, type Stretches } from './stretches.js';

/** Between two numbers: with `low` itself or not, and with `high`. */
interface Between {
  readonly low: number;
  readonly high: number;
  readonly isLowIn: boolean;
  readonly isHighIn: boolean;
}

export const atLeast = (low: number): Between => ({ low, high: Infinity, isLowIn: true, isHighIn: true });
export const above = (low: number): Between => ({ low, high: Infinity, isLowIn: false, isHighIn: true });
export const below = (high: number): Between => ({ low: -Infinity, high, isLowIn: true, isHighIn: false });
export const upTo = (high: number): Between => ({ low: -Infinity, high, isLowIn: true, isHighIn: true });
export const fromTo = (low: number, high: number): Between => ({ low, high, isLowIn: true, isHighIn: false });

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

const markIn = (into: Uint8Array, values: Float64Array, from: number, to: number, { low, high, isLowIn, isHighIn }: Between): void => {
  for (let i = from; i < to; i++) {
    const value = values[i];
    if ((value > low && value < high) || (isLowIn && value === low) || (isHighIn && value === high)) into[i] = 1;
  }
};

/** Whether the column lies between throughout a stretch, or nowhere in it; undefined where its rows must be asked. */
const isAll = (
  { least, greatest, numbers }: Stretches,
  from: number,
  to: number,
  { low, high, isLowIn, isHighIn }: Between,
): boolean | undefined => {
  const at = from / STRETCH_ROWS;
  if (
    greatest[at] < low ||
    least[at] > high ||
    (greatest[at] === low && !isLowIn) ||
    (least[at] === high && !isHighIn) ||
    numbers[at] === 0
  )
    return false;
  return numbers[at] === to - from &&
    (least[at] > low || (isLowIn && least[at] === low)) &&
    (greatest[at] < high || (isHighIn && greatest[at] === high))
    ? true
    : undefined;
};

/** Takes the marks out of the mask where the column is not between (`stays`), or where it is. Gives the mask. */
const narrow = (mask: Uint8Array, values: Float64Array, between: Between, stays: boolean): Uint8Array => {
  const stretches = stretchesOf(values);
  for (let from = 0; from < mask.length; from += STRETCH_ROWS) {
    const to = endOfStretch(from, mask.length),
      is = isAll(stretches, from, to, between);
    if (is === undefined) narrowIn(mask, values, from, to, between, stays);
    else if (is !== stays) mask.fill(0, from, to);
  }
  return mask;
};

const narrowIn = (
  mask: Uint8Array,
  values: Float64Array,
  from: number,
  to: number,
  { low, high, isLowIn, isHighIn }: Between,
  stays: boolean,
): void => {
  for (let i = from; i < to; i++) {
    const value = values[i];
    if (((value > low && value < high) || (isLowIn && value === low) || (isHighIn && value === high)) !== stays) mask[i] = 0;
  }
};

export const keep = (mask: Uint8Array, values: Float64Array, between: Between): Uint8Array => narrow(mask, values, between, true);
export const drop = (mask: Uint8Array, values: Float64Array, between: Between): Uint8Array => narrow(mask, values, between, false);
