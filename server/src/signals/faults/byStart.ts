// Faults in the order of their first sample: a log of a broken sensor has a hundred thousand, and comparing them two by two is slow.

import type { Fault } from '../signals.js';

/** Fewer are compared two by two. */
const MANY = 1000;
/** Places that a number has room for behind the start. */
const PLACES = 2 ** 21;

/**
 * The faults by their first sample, those that begin together in the order given: the list given itself, where that is so already or they
 * are few, in place. Samples are below 2³².
 */
export const byStart = (faults: Fault[]): Fault[] => {
  const { length } = faults;
  if (isByStart(faults)) return faults;
  if (length < MANY || length >= PLACES) return faults.sort((a, b) => a.from - b.from);
  // Start and place in one number (exact below 2⁵³), which sort without a comparison.
  const keys = new Float64Array(length);
  for (let k = 0; k < length; k++) keys[k] = faults[k].from * PLACES + k;
  keys.sort();
  const sorted = new Array<Fault>(length);
  for (let k = 0; k < length; k++) sorted[k] = faults[keys[k] - Math.floor(keys[k] / PLACES) * PLACES];
  return sorted;
};

const isByStart = (faults: readonly Fault[]): boolean => {
  for (let k = 1; k < faults.length; k++) if (faults[k].from < faults[k - 1].from) return false;
  return true;
};
