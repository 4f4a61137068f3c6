// A flag that says fuel is cut while the exhaust shows a mixture: turned round, or another signal. Believed, it would hide every lean pull.

import type { Channel } from '../../formats/session.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';

/** Behind the beginning of a cut the last of the mixture has passed the sensor by now. */
const PASSED_S = 3;
/** λ: leaner than this it may be air that comes; what burns lies below. */
const BURNS_BELOW = 1.08, AIR_FROM = 1.25;
const RUNNING_RPM = 420;
/** So long, for such a share of what is flagged, and by a sensor that lives. Common practice, no source. */
const LEAST_S = 5, LEAST_SHARE = 0.5, LEAST_CHANGES = 20;

/** What is looked at, one value a sample; `other` is the second bank's. */
interface Exhaust { readonly timeS: Float64Array; readonly rpm: Float64Array | undefined; readonly flag: Float64Array; readonly lambda: Float64Array; readonly other: Float64Array }

/** The whole flag as one fault; `isTurned` where it is air that goes by when it says that fuel flows. */
export const burntCutOf = (readings: Readings, channel: Channel): Fault | undefined => {
  if (channel.quantity !== 'fuel-cut') return undefined;
  const { timeS } = readings, flag = readings.held('fuel-cut'), first = readings.held('lambda'), second = readings.held('lambda-2'), lambda = first ?? second;
  if (!flag || !lambda) return undefined;
  const exhaust: Exhaust = { timeS, rpm: readings.held('engine-speed'), flag, lambda, other: second ?? lambda };
  const { cutS, burntS, changes, low, high } = cutsIn(exhaust);
  if (burntS < LEAST_S || burntS < LEAST_SHARE * cutS || changes < LEAST_CHANGES) return undefined;
  return { kind: 'implausible', channel, shape: 'burnt-cut', value: 1, from: 0, to: timeS.length, data: { burntS, low, high, isTurned: isTurned(exhaust) ? 1 : 0 } };
};

/** The richer bank's lambda; NaN where neither reads. */
const richest = (one: number, other: number): number => (one <= other || other !== other ? one : other);

/** How long the flag speaks of a cut whose mixture has passed the sensor, how long something burnt meanwhile, and what was read of that. */
const cutsIn = ({ timeS, rpm, flag, lambda, other }: Exhaust) => {
  let cutS = 0, burntS = 0, changes = 0, low = Infinity, high = -Infinity, since = NaN, was = NaN;
  for (let i = 0; i < flag.length - 1; i++) {
    const stepS = timeS[i + 1] - timeS[i];
    if (!(flag[i] > 0.5 && stepS >= 0 && stepS < PASSED_S) || rpm && !(rpm[i] > RUNNING_RPM)) { since = NaN; continue; }
    if (since !== since) since = timeS[i];
    const value = richest(lambda[i], other[i]);
    if (value !== value || !(timeS[i] - since > PASSED_S)) continue;
    cutS += stepS;
    if (!(value < BURNS_BELOW)) continue;
    burntS += stepS;
    if (value !== was) changes++;
    was = value;
    if (value < low) low = value;
    if (value > high) high = value;
  }
  return { cutS, burntS, changes, low, high };
};

/** Whether nearly all air goes by while fuel is said to flow. */
const isTurned = ({ timeS, rpm, flag, lambda, other }: Exhaust): boolean => {
  let airS = 0, fuelAirS = 0;
  for (let i = 0; i < flag.length - 1; i++) {
    const stepS = timeS[i + 1] - timeS[i];
    if (!(richest(lambda[i], other[i]) > AIR_FROM && stepS >= 0 && stepS < PASSED_S) || rpm && !(rpm[i] > RUNNING_RPM)) continue;
    airS += stepS;
    if (!(flag[i] > 0.5)) fuelAirS += stepS;
  }
  return airS > 1 && fuelAirS > 0.8 * airS;
};
