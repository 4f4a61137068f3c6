// Rows that are no evidence, and why: each for the first reason that applies.

import { endOfMarks, nextMark } from '../../signals/columns/spans.js';
import type { LeftOut } from '../evidence.js';
import { beyondAxis } from '../solution/grid.js';

/** Reasons in the order in which they count: the first that applies is the one told. Index 0 is evidence. */
export const REASONS: readonly (LeftOut | undefined)[] = [
  undefined,
  'engine-off',
  'sensor-mount',
  'no-lambda',
  'no-target',
  'closed-loop-unknown',
  'columns-not-logged',
  'rows-not-logged',
  'sensor-fault',
  'cold-engine',
  'overrun',
  'after-fuel-cut',
  'launch',
  'outside-axes',
  'misfire',
  'banks-apart',
  'knock',
  'fuel-pressure',
  'injector-duty',
  'hot-air',
  'transient',
  'delay-unproven',
];
const PLACES = new Map(REASONS.map((reason, index) => [reason, index]));
export const reasonIndex = (reason: LeftOut): number => PLACES.get(reason)!;

/** Below this an engine does not run by itself. */
export const RUNNING_RPM = 300;
const AFTER_CUT_S = 0.5; // common practice, no source
/**
 * Readings up to this share of a step beyond the axes still speak of the edge cell: the engine goes on changing where the table is held, by
 * several per cent a step, so that a tenth costs about as much as what a sensor repeats itself to.
 */
const BEYOND_LIMIT = 0.1;

export const isBeyond = (axis: Float64Array, position: number, value: number): boolean =>
  (position === 0 || position === axis.length - 1) && beyondAxis(axis, value) > BEYOND_LIMIT;

/** Leaves a row out for a reason, unless one that goes first does. */
export const mark = (reason: Uint8Array, row: number, why: LeftOut): void => markAs(reason, row, reasonIndex(why));

const markAs = (reason: Uint8Array, row: number, index: number): void => {
  if (reason[row] === 0 || index < reason[row]) reason[row] = index;
};

// What goes over all rows stands in small functions: each loop of a large one would have all of it compiled anew.

export const markDuring = (reason: Uint8Array, on: Uint8Array, why: LeftOut, is = true): void => {
  const index = reasonIndex(why),
    next = is ? nextMark : endOfMarks;
  for (let row = next(on, 0); row < on.length; row = next(on, row + 1)) markAs(reason, row, index);
};

export const markUnknown = (reason: Uint8Array, values: Float64Array, why: LeftOut): void => {
  const index = reasonIndex(why);
  for (let row = 0; row < reason.length; row++) if (values[row] !== values[row]) markAs(reason, row, index);
};

export const markBelow = (reason: Uint8Array, values: Float64Array, least: number, why: LeftOut): void => {
  const index = reasonIndex(why);
  for (let row = 0; row < reason.length; row++) if (values[row] < least) markAs(reason, row, index);
};

export const markMoving = (reason: Uint8Array, change: Float64Array, most: number): void => {
  const index = reasonIndex('transient');
  for (let row = 0; row < reason.length; row++) if (Math.abs(change[row]) > most) markAs(reason, row, index);
};

/**
 * What moved between two readings of a channel that is repeated meanwhile began to move anywhere between them. `fresh`: rows at which it is
 * read, where it is not in each.
 */
export const markUnseen = (reason: Uint8Array, fresh: Int32Array | undefined, values: Float64Array, most: number): void => {
  for (let at = 1; fresh && at < fresh.length; at++)
    if (Math.abs(values[fresh[at]] - values[fresh[at - 1]]) > most)
      for (let row = fresh[at - 1] + 1; row < fresh[at]; row++) mark(reason, row, 'transient');
};

/** A change so many times the limit is one of load, and no unrest of the sensor that passes the limit now and then. No source. */
const OF_LOAD = 2;

/**
 * A rest beside a change of load that is over before the mixture can have settled is none: a change that turns back passes through nought
 * on its way.
 */
export const markShortRests = (reason: Uint8Array, change: Float64Array, most: number, timeS: Float64Array, settlesS: number): void => {
  let last = -1,
    rest = 0,
    isShort = false,
    ofLoad = false;
  for (let row = 0; row < reason.length; row++) {
    // Another recording.
    if (row > 0 && timeS[row] < timeS[row - 1]) last = -1;
    const moved = Math.abs(change[row]);
    if (!(moved > most)) continue;
    const wasOfLoad = ofLoad;
    if (row - 1 !== last) {
      rest = last + 1;
      isShort = last >= 0 && timeS[row] - timeS[last] < settlesS;
      ofLoad = false;
    }
    if (moved > OF_LOAD * most) ofLoad = true;
    if (isShort && (ofLoad || wasOfLoad)) {
      while (rest < row && Math.abs(change[rest]) <= most) mark(reason, rest++, 'transient');
      isShort = false;
    }
    last = row;
  }
};

export const markOutside = (reason: Uint8Array, axis: Float64Array, position: Float64Array, values: Float64Array): void => {
  const index = reasonIndex('outside-axes'),
    last = axis.length - 1;
  for (let row = 0; row < reason.length; row++)
    if ((position[row] === 0 || position[row] === last) && isBeyond(axis, position[row], values[row])) markAs(reason, row, index);
};

export const markCuts = (reason: Uint8Array, cut: Uint8Array | undefined, overrun: Uint8Array, timeS: Float64Array): void => {
  const overrunIndex = reasonIndex('overrun'),
    afterIndex = reasonIndex('after-fuel-cut');
  let untilS = -Infinity;
  for (let row = 0; row < reason.length; row++) {
    if (cut?.[row] || overrun[row] || reason[row] === overrunIndex) {
      markAs(reason, row, overrunIndex);
      untilS = timeS[row] + AFTER_CUT_S;
    } else if (timeS[row] < untilS) markAs(reason, row, afterIndex);
  }
};
