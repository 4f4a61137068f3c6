// A long-term trim that takes fuel away at full load, where the loop is open: many computers show it there and do without it. Taken at its
// word it takes that share of fuel out of an engine that is on its target.

import type { Channel } from '../../formats/session/session.js';
import { leastOf } from '../../signals/columns/statistics.js';
import type { Signals } from '../../signals/signals.js';
import { believed, closedLoop } from '../readings.js';

/** A target below this is no loop's that holds λ 1. Common practice, no source. */
export const OPEN_LOOP_TARGET = 0.97;
/** What a trim takes away below this is within what a firm cell leaves open. */
export const LEAST_TAKEN = 0.01;
/** A loop that swings changes its trim sooner. Common practice, no source. */
const LEAST_S = 1;

/**
 * The first long-term trim that takes fuel away in open loop on a rich target: while the short-term trim rests, wherever it does, or where
 * none is logged, so that nothing says it is closed. Undefined where there is none.
 */
export const openLoopTrim = (signals: Signals): Channel | undefined => {
  const target = signals.targetLambda?.values;
  if (!target) return undefined;
  for (const [longTrim, shortTrim] of BANKS) {
    const channel = signals.channel(longTrim),
      long = channel && believed(signals, longTrim);
    if (
      long &&
      leastOf(long) < -100 * LEAST_TAKEN &&
      takesAway(signals.timeS, long, target, believed(signals, shortTrim), closedLoop(signals))
    )
      return channel;
  }
  return undefined;
};

const BANKS = [
  ['long-term-fuel-trim', 'short-term-fuel-trim'],
  ['long-term-fuel-trim-2', 'short-term-fuel-trim-2'],
] as const;

const takesAway = (
  timeS: Float64Array,
  long: Float64Array,
  target: Float64Array,
  short: Float64Array | undefined,
  closed: Uint8Array | undefined,
): boolean => {
  let sinceS = NaN;
  for (let row = 0; row < timeS.length; row++) {
    const isOpen =
      long[row] < -100 * LEAST_TAKEN &&
      target[row] < OPEN_LOOP_TARGET &&
      !(closed && closed[row] === 1) &&
      !(short && row > 0 && short[row] !== short[row - 1]);
    if (!isOpen) sinceS = NaN;
    else if (sinceS !== sinceS) sinceS = timeS[row];
    else if (timeS[row] - sinceS >= LEAST_S) return true;
  }
  return false;
};
