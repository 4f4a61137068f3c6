// Trims whose sign is turned round: a closed loop adds fuel while its sensor reads lean, and never takes it away. Read the wrong way they
// make of each cell that is short one that holds too much.

import type { Channel } from '../../formats/session/session.js';
import { isMixture } from '../../signals/faults/scaleEnds.js';
import { onceFor } from '../../signals/once.js';
import type { Signals } from '../../signals/signals.js';
import { anyOf } from '../../signals/columns/spans.js';
import { believed, closedLoop } from '../readings.js';
import { inRoom, roomFor } from '../room.js';

/**
 * `correlation`: of the mean of λ over its target over spells of some seconds, and of what the trims come to add in them; 1 of a loop that
 * answers nothing else.
 */
export interface TrimsTurned {
  readonly channel: Channel;
  readonly correlation: number;
  readonly seconds: number;
}

/**
 * Longer than a loop that swings takes to come and go, so that what is left are its answers to the road; a sensor that comes late moves
 * them little. Common practice, no source.
 */
const SPELL_S = 2.5;
/** Surely the other way: so far, and so many deviations of what as many spells of no relation make (1 / √n). */
const LEAST = 0.25,
  DEVIATIONS = 3;
const LEAST_S = 60;

/** Of bank 1; undefined where they move with lambda, or where too little of a closed loop is logged to tell. */
export const trimsTurned = onceFor((signals: Signals): TrimsTurned | undefined => inRoom(() => turnedIn(signals)));

const turnedIn = (signals: Signals): TrimsTurned | undefined => {
  const channel = signals.channel('short-term-fuel-trim'),
    { timeS, stepS, targetLambda } = signals;
  // Most logs have no trims: nothing is made of them.
  if (!channel || !(stepS < SPELL_S / 2) || (signals.vehicle.lambdaSensor.mount ?? 'upstream') !== 'upstream') return undefined;
  const lambda = believed(signals, 'lambda'),
    short = believed(signals, 'short-term-fuel-trim');
  if (!lambda || !short) return undefined;
  const closed = closedLoop(signals)!,
    long = believed(signals, 'long-term-fuel-trim'),
    asked = targetLambda?.values,
    out = anyOf(signals.during('idle'), signals.during('overrun'), signals.during('warm-up'), signals.during('gear-shift'));
  const off = roomFor(timeS.length + 1);
  off[0] = 0;
  let [from, seconds, count, sumX, sumY, sumXX, sumYY, sumXY] = [0, 0, 0, 0, 0, 0, 0, 0],
    start = 0;
  const trimAt = (row: number): number => short[row] + (long ? long[row] : 0);
  for (let row = 0; row < timeS.length; row++) {
    const over = lambda[row] / (asked ? asked[row] : 1) - 1,
      isGood = closed[row] === 1 && out[row] === 0 && isMixture(lambda[row]) && trimAt(row) - trimAt(row) === 0;
    off[row + 1] = off[row] + (isGood && over === over ? over : 0);
    if (!isGood || over !== over || (row > 0 && !(timeS[row] - timeS[row - 1] >= 0 && timeS[row] - timeS[row - 1] < SPELL_S))) {
      start = from = isGood ? row : row + 1;
      continue;
    }
    while (from + 1 < row && timeS[row] - timeS[from + 1] >= SPELL_S) from++;
    if (from < start || timeS[row] - timeS[from] < SPELL_S) continue;
    const x = (off[row + 1] - off[from]) / (row + 1 - from),
      y = trimAt(row) - trimAt(from);
    seconds += timeS[row] - timeS[row - 1];
    count++;
    sumX += x;
    sumY += y;
    sumXX += x * x;
    sumYY += y * y;
    sumXY += x * y;
  }
  if (seconds < LEAST_S) return undefined;
  const correlation = (sumXY - (sumX * sumY) / count) / Math.sqrt((sumXX - sumX ** 2 / count) * (sumYY - sumY ** 2 / count));
  return correlation <= -Math.max(LEAST, DEVIATIONS / Math.sqrt(seconds / SPELL_S)) ? { channel, correlation, seconds } : undefined;
};
