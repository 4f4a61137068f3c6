// Masks of samples by what a column shows there. One loop serves them all, so that it is met, and compiled, early in a session.

/** 1, in `into`, where a number lies between two others, at one of them only where that counts. */
const markBetween = (values: Float64Array, low: number, high: number, isLowIn: boolean, isHighIn: boolean, into: Uint8Array = new Uint8Array(values.length)): Uint8Array => {
  for (let i = 0; i < into.length; i++) {
    const value = values[i];
    if ((value > low && value < high) || (isLowIn && value === low) || (isHighIn && value === high)) into[i] = 1;
  }
  return into;
};

/** 1 from `low` on, below `below`. */
export const markFrom = (values: Float64Array, low: number, below = Infinity, into?: Uint8Array): Uint8Array => markBetween(values, low, below, true, false, into);
/** 1 below a number. */
export const markBelow = (values: Float64Array, below: number): Uint8Array => markBetween(values, -Infinity, below, true, false);
/** 1 up to a number. */
export const markUpTo = (values: Float64Array, most: number, into?: Uint8Array): Uint8Array => markBetween(values, -Infinity, most, true, true, into);
/** 1 above a number. */
export const markAbove = (values: Float64Array, limit: number, into?: Uint8Array): Uint8Array => markBetween(values, limit, Infinity, false, true, into);
/** 1 where the number is smaller than `size`, whatever its sign. */
export const markSmaller = (values: Float64Array, size: number): Uint8Array => markBetween(values, -size, size, false, false);

/** Takes the marks out of `mask` that are not in the other too. */
export const keepMarks = (mask: Uint8Array, other: Uint8Array): Uint8Array => {
  for (let i = 0; i < mask.length; i++) mask[i] &= other[i];
  return mask;
};

/** Takes the marks out of `mask` that are in the other too. */
export const dropMarks = (mask: Uint8Array, other: Uint8Array): Uint8Array => {
  for (let i = 0; i < mask.length; i++) mask[i] &= ~other[i];
  return mask;
};
