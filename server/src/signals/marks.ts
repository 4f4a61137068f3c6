// Masks of samples by what a column shows there: made by one loop and narrowed by another, whatever is asked, so that both are met, and compiled, early in a session.

import { nextMark } from './spans.js';
import { BLOCK_ROWS } from './statistics.js';

/** Between two numbers: with `low` itself or not, and with `high`. */
interface Between { readonly low: number; readonly high: number; readonly isLowIn: boolean; readonly isHighIn: boolean }

export const atLeast = (low: number): Between => ({ low, high: Infinity, isLowIn: true, isHighIn: true });
export const above = (low: number): Between => ({ low, high: Infinity, isLowIn: false, isHighIn: true });
export const below = (high: number): Between => ({ low: -Infinity, high, isLowIn: true, isHighIn: false });
export const upTo = (high: number): Between => ({ low: -Infinity, high, isLowIn: true, isHighIn: true });
export const fromTo = (low: number, high: number): Between => ({ low, high, isLowIn: true, isHighIn: false });

/** 1, in `into`, where the column is between. */
export const mark = (values: Float64Array, between: Between, into: Uint8Array = new Uint8Array(values.length)): Uint8Array => {
  for (let from = 0; from < into.length; from += BLOCK_ROWS) markIn(into, values, from, Math.min(into.length, from + BLOCK_ROWS), between);
  return into;
};

const markIn = (into: Uint8Array, values: Float64Array, from: number, to: number, { low, high, isLowIn, isHighIn }: Between): void => {
  for (let i = from; i < to; i++) {
    const value = values[i];
    if ((value > low && value < high) || (isLowIn && value === low) || (isHighIn && value === high)) into[i] = 1;
  }
};

/** Takes the marks out of the mask where the column is not between (`stays`), or where it is. Gives the mask. */
const narrow = (mask: Uint8Array, values: Float64Array, between: Between, stays: boolean): Uint8Array => {
  for (let from = nextMark(mask, 0); from < mask.length;) {
    const to = Math.min(mask.length, from + BLOCK_ROWS);
    narrowIn(mask, values, from, to, between, stays);
    from = nextMark(mask, to);
  }
  return mask;
};

const narrowIn = (mask: Uint8Array, values: Float64Array, from: number, to: number, { low, high, isLowIn, isHighIn }: Between, stays: boolean): void => {
  for (let i = from; i < to; i++) {
    const value = values[i];
    if (((value > low && value < high) || (isLowIn && value === low) || (isHighIn && value === high)) !== stays) mask[i] = 0;
  }
};

export const keep = (mask: Uint8Array, values: Float64Array, between: Between): Uint8Array => narrow(mask, values, between, true);
export const drop = (mask: Uint8Array, values: Float64Array, between: Between): Uint8Array => narrow(mask, values, between, false);
