// A lambda gauge that stands off λ 1 while the computer's loop is closed and asks for that: by its own sensor the computer has it. One of
// the two is wrong, and at full load, where no loop helps, so is what the gauge says.

import { limitOf } from '../../formats/limits.js';
import type { Channel } from '../../formats/session/session.js';
import { isMixture } from '../../signals/faults/scaleEnds.js';
import { onceFor } from '../../signals/once.js';
import type { Signals } from '../../signals/signals.js';
import { anyOf } from '../../signals/columns/spans.js';
import { quantileOf, sampleOf } from '../../signals/columns/statistics.js';
import { believed, closedLoop } from '../readings.js';
import { inRoom, roomFor } from '../room.js';

export interface LoopApart {
  readonly channel: Channel;
  /** The gauge over λ 1, less one: middle, and the half of the readings in the middle. */
  readonly apart: number;
  readonly low: number;
  readonly high: number;
  readonly seconds: number;
}

/** So near to λ 1 what is asked for is what a loop of any sensor holds. */
const ASKED_WITHIN = 0.02;
/** A loop at the end of what it may add or take away holds nothing; most computers may 20 to 25 %. Common practice, no source. */
const TRIM_AT_END_PERCENT = 18;
/** Away from idle, where a leak reads lean and no gauge is to blame. */
const LEAST_S = 40,
  LEAST_READINGS = 200;

/** Of bank 1; undefined where they agree, or too little of a closed loop is logged. */
export const loopApart = onceFor((signals: Signals): LoopApart | undefined => inRoom(() => apartIn(signals)));

const apartIn = (signals: Signals): LoopApart | undefined => {
  const channel = signals.channel('lambda');
  if (!channel || !signals.channel('short-term-fuel-trim') || signals.vehicle.lambdaSensor.mount === 'downstream') return undefined;
  const lambda = believed(signals, 'lambda'),
    short = believed(signals, 'short-term-fuel-trim');
  if (!lambda || !short) return undefined;
  const closed = closedLoop(signals),
    long = believed(signals, 'long-term-fuel-trim'),
    { timeS, stepS, targetLambda } = signals;
  const out = anyOf(
      signals.during('idle'),
      signals.during('overrun'),
      signals.during('warm-up'),
      signals.during('tip-in'),
      signals.during('gear-shift'),
    ),
    asked = targetLambda?.values;
  const read = roomFor(timeS.length);
  let readings = 0,
    seconds = 0;
  for (let row = 1; row < read.length; row++) {
    if (
      closed![row] === 0 ||
      out[row] === 1 ||
      !isMixture(lambda[row]) ||
      (asked && Math.abs(asked[row] - 1) > ASKED_WITHIN) ||
      Math.abs(short[row] + (long ? long[row] : 0)) > TRIM_AT_END_PERCENT
    )
      continue;
    read[readings++] = lambda[row] - 1;
    seconds += Math.max(0, Math.min(timeS[row] - timeS[row - 1], 2 * stepS));
  }
  if (readings < LEAST_READINGS || seconds < LEAST_S) return undefined;
  const told = sampleOf(read.subarray(0, readings)),
    apart = quantileOf(told, 0.5),
    low = quantileOf(told, 0.25),
    high = quantileOf(told, 0.75);
  const limit = limitOf('gaugesApartPercent', signals.vehicle.limits).value / 100;
  return Math.abs(apart) < limit || high - low > Math.abs(apart) ? undefined : { channel, apart, low, high, seconds };
};
