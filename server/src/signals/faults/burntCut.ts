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

/** The whole flag as one fault; `isTurned` where it is air that goes by when it says that fuel flows. */
export const burntCutOf = (readings: Readings, channel: Channel): Fault | undefined => {
  if (channel.quantity !== 'fuel-cut') return undefined;
  const flag = readings.held('fuel-cut'), { timeS } = readings, banks = [readings.held('lambda'), readings.held('lambda-2')].filter((bank) => bank !== undefined);
  const rpm = readings.held('engine-speed');
  if (!flag || banks.length === 0) return undefined;
  let cutS = 0, burntS = 0, changes = 0, airS = 0, fuelAirS = 0, low = Infinity, high = -Infinity, since = NaN, was = NaN;
  for (let i = 0; i < flag.length - 1; i++) {
    const stepS = timeS[i + 1] - timeS[i], isCut = flag[i] > 0.5;
    if (!isCut || !(stepS >= 0 && stepS < PASSED_S) || rpm && !(rpm[i] > RUNNING_RPM)) since = NaN;
    else if (since !== since) since = timeS[i];
    if (rpm && !(rpm[i] > RUNNING_RPM) || !(stepS >= 0 && stepS < PASSED_S)) continue;
    const richest = banks.reduce((least, bank) => (bank[i] < least ? bank[i] : least), Infinity);
    if (richest === Infinity) continue;
    if (richest > AIR_FROM) { airS += stepS; if (!isCut) fuelAirS += stepS; }
    if (!(timeS[i] - since > PASSED_S)) continue;
    cutS += stepS;
    if (!(richest < BURNS_BELOW)) continue;
    burntS += stepS;
    if (richest !== was) changes++;
    was = richest;
    if (richest < low) low = richest;
    if (richest > high) high = richest;
  }
  if (burntS < LEAST_S || burntS < LEAST_SHARE * cutS || changes < LEAST_CHANGES) return undefined;
  const isTurned = airS > 1 && fuelAirS > 0.8 * airS ? 1 : 0;
  return { kind: 'implausible', channel, shape: 'burnt-cut', value: 1, from: 0, to: timeS.length, data: { burntS, low, high, isTurned } };
};
