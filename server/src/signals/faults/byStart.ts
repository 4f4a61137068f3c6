// Faults in the order of their first sample: a log of a broken sensor has a hundred thousand, and comparing them two by two is slow.

import type { Fault } from '../signals.js';

/** Fewer are compared two by two. */
const MANY = 1000;

/** The faults by their first sample, those that begin together in the order given. Sorts in place where they are few; samples are below 2³². */
export const byStart = (faults: Fault[]): Fault[] => {
  const { length } = faults;
  if (length < MANY || length >= 2 ** 21) return faults.sort((a, b) => a.from - b.from);
  // Start and place in one number (exact below 2⁵³), which sort without a comparison.
  const keys = new Float64Array(length);
  for (let k = 0; k < length; k++) keys[k] = faults[k].from * 2 ** 21 + k;
  keys.sort();
  return Array.from(keys, (key) => faults[key % 2 ** 21]);
};
