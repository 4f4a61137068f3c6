// A lambda column that is the target under another name: every pull looks right in it, whatever the engine burns.

import type { Channel } from '../../formats/session/session.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';

/** λ; no sensor repeats a number so nearly, and what rounding makes of one number on two scales is less. */
const SAME = 0.0015;
/** Of the readings in which the target has moved: a sensor sees it later, through exhaust, lag and noise. Common practice, no source. */
const LEAST_MOVES = 20,
  MOST_APART = 0.05;

/** The whole channel as one fault. */
export const copiedTargetOf = (readings: Readings, channel: Channel): Fault | undefined => {
  const { quantity } = channel,
    target = quantity === 'lambda' || quantity === 'lambda-2' ? readings.channel('target-lambda')?.values : undefined;
  if (!target) return undefined;
  const { values } = channel;
  let before = NaN,
    moves = 0,
    apart = 0;
  for (let i = 0; i < values.length; i++) {
    if (!(values[i] > 0 && target[i] > 0)) continue;
    // Counted from the last move: logged often, a target that goes slowly moves by less than that from row to row.
    if (Math.abs(target[i] - before) <= SAME) continue;
    if (before === before) {
      moves++;
      if (!(Math.abs(values[i] - target[i]) < SAME) && ++apart > LEAST_MOVES && apart > MOST_APART * moves) return undefined;
    }
    before = target[i];
  }
  return moves >= LEAST_MOVES && apart <= MOST_APART * moves
    ? { kind: 'implausible', channel, shape: 'is-target', value: NaN, from: 0, to: values.length, data: {} }
    : undefined;
};
