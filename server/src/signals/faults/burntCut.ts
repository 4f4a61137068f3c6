// A flag that says fuel is cut while the exhaust shows a mixture: turned round, or another signal. Believed, it would hide every lean pull.

import type { Channel } from '../../formats/session/session.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';
import { quantileOf, sampleOf } from '../columns/statistics.js';

/** Behind the beginning of a cut the last of the mixture has passed the sensor by now. */
const PASSED_S = 3;
/** λ: leaner than this it may be air that comes; what burns lies below. */
const BURNS_BELOW = 1.08,
  AIR_FROM = 1.25;
const RUNNING_RPM = 420;
/** So long, for such a share of what is flagged, and by a sensor that lives. Common practice, no source. */
const LEAST_S = 5,
  LEAST_SHARE = 0.5,
  LEAST_CHANGES = 20;

/**
 * A foot is off below so much more than it hardly ever is, where it presses so much farther at other times, %; faster than this an engine
 * is dragged along, rpm. Common practice, no source.
 */
const OFF_WITHIN = 4,
  PRESSED_BY = 10;
export const DRAGGED_RPM = 1300;
/** For such a share of what burns under the flag the foot is off: then it is the overrun, and the sensor that sees nothing of it. */
const DRAGGED_SHARE = 0.8;

/** What is looked at, one value a sample; `other` is the second bank's, `foot` the throttle or pedal, off at `offPercent` and less. */
interface Exhaust {
  readonly timeS: Float64Array;
  readonly rpm: Float64Array | undefined;
  readonly flag: Float64Array;
  readonly lambda: Float64Array;
  readonly other: Float64Array;
  readonly foot: Float64Array | undefined;
  readonly offPercent: number;
}

/** The whole flag as one fault; `isTurned` where it is air that goes by when it says that fuel flows. */
export const burntCutOf = (readings: Readings, channel: Channel): Fault | undefined => {
  if (channel.quantity !== 'fuel-cut') return undefined;
  const { timeS } = readings,
    flag = readings.held('fuel-cut'),
    first = readings.held('lambda'),
    second = readings.held('lambda-2'),
    lambda = first ?? second;
  if (!flag || !lambda) return undefined;
  const foot = readings.held('pedal') ?? readings.held('throttle');
  const exhaust: Exhaust = {
    timeS,
    rpm: readings.held('engine-speed'),
    flag,
    lambda,
    other: second ?? lambda,
    foot,
    offPercent: offPercentOf(foot),
  };
  const { cutS, burntS, draggedS, changes, low, high } = cutsIn(exhaust);
  if (burntS < LEAST_S || burntS < LEAST_SHARE * cutS || changes < LEAST_CHANGES || draggedS > DRAGGED_SHARE * burntS) return undefined;
  return {
    kind: 'implausible',
    channel,
    shape: 'burnt-cut',
    value: 1,
    from: 0,
    to: timeS.length,
    data: { burntS, low, high, isTurned: isTurned(exhaust) ? 1 : 0 },
  };
};

/** NaN where the foot tells nothing. */
export const offPercentOf = (foot: Float64Array | undefined): number => {
  const sample = foot ? sampleOf(foot) : new Float64Array(0),
    off = quantileOf(sample, 0.03) + OFF_WITHIN;
  return quantileOf(sample, 0.9) > off + PRESSED_BY ? off : NaN;
};

/** The richer bank's lambda; NaN where neither reads. */
const richest = (one: number, other: number): number => (one <= other || other !== other ? one : other);

/**
 * How long the flag speaks of a cut whose mixture has passed the sensor, how long something burnt meanwhile, how much of that with the foot
 * off under way, and what was read of that.
 */
const cutsIn = ({ timeS, rpm, flag, lambda, other, foot, offPercent }: Exhaust) => {
  let cutS = 0,
    burntS = 0,
    draggedS = 0,
    changes = 0,
    low = Infinity,
    high = -Infinity,
    since = NaN,
    was = NaN;
  for (let i = 0; i < flag.length - 1; i++) {
    const stepS = timeS[i + 1] - timeS[i];
    if (!(flag[i] > 0.5 && stepS >= 0 && stepS < PASSED_S) || (rpm && !(rpm[i] > RUNNING_RPM))) {
      since = NaN;
      continue;
    }
    if (since !== since) since = timeS[i];
    const value = richest(lambda[i], other[i]);
    if (value !== value || !(timeS[i] - since > PASSED_S)) continue;
    cutS += stepS;
    if (!(value < BURNS_BELOW)) continue;
    burntS += stepS;
    if (foot && rpm && foot[i] <= offPercent && rpm[i] > DRAGGED_RPM) draggedS += stepS;
    if (value !== was) changes++;
    was = value;
    if (value < low) low = value;
    if (value > high) high = value;
  }
  return { cutS, burntS, draggedS, changes, low, high };
};

/** Whether nearly all air goes by while fuel is said to flow. */
const isTurned = ({ timeS, rpm, flag, lambda, other }: Exhaust): boolean => {
  let airS = 0,
    fuelAirS = 0;
  for (let i = 0; i < flag.length - 1; i++) {
    const stepS = timeS[i + 1] - timeS[i];
    if (!(richest(lambda[i], other[i]) > AIR_FROM && stepS >= 0 && stepS < PASSED_S) || (rpm && !(rpm[i] > RUNNING_RPM))) continue;
    airS += stepS;
    if (!(flag[i] > 0.5)) fuelAirS += stepS;
  }
  return airS > 1 && fuelAirS > 0.8 * airS;
};
