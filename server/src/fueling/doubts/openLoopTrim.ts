// A long-term trim that takes fuel away at full load, where the loop is open: many computers show it there and do without it. Taken at its
// word it takes that share of fuel out of an engine that is on its target.

import type { Channel } from '../../formats/session/session.js';
import { leastOf } from '../../signals/columns/statistics.js';
import type { Signals } from '../../signals/signals.js';
import { TRIM_NOUGHT_PERCENT, believed, closedLoop } from '../readings.js';

/** A target below this is no loop's that holds λ 1. Common practice, no source. */
export const OPEN_LOOP_TARGET = 0.97;
/** What a trim takes away below this is within what a firm cell leaves open. */
export const LEAST_TAKEN = 0.01;
const LEAST_S = 1;

/** Of bank 1; undefined where it takes nothing away in open loop on a rich target, or where nothing tells whether the loop is closed. */
export const openLoopTrim = (signals: Signals): Channel | undefined => {
  const channel = signals.channel('long-term-fuel-trim'),
    { timeS, targetLambda } = signals;
  if (!channel || !targetLambda) return undefined;
  const long = believed(signals, 'long-term-fuel-trim'),
    short = believed(signals, 'short-term-fuel-trim');
  if (!long || !short || !(leastOf(long) < -100 * LEAST_TAKEN)) return undefined;
  const closed = closedLoop(signals);
  if (!closed) return undefined;
  let seconds = 0;
  for (let row = 1; row < timeS.length; row++)
    if (
      closed[row] === 0 &&
      Math.abs(short[row]) <= TRIM_NOUGHT_PERCENT &&
      long[row] < -100 * LEAST_TAKEN &&
      targetLambda.values[row] < OPEN_LOOP_TARGET
    )
      seconds += Math.min(LEAST_S, timeS[row] - timeS[row - 1]);
  return seconds >= LEAST_S ? channel : undefined;
};
