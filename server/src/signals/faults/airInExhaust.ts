// Where the exhaust may hold plain air at the sensor: a reading at its lean end is then no fault, and no mixture.

import { delaySeries } from '../mixture/delay.js';
import { limiterRpm } from '../drive/limiter.js';
import { above, mark } from '../columns/marks.js';
import type { Readings } from '../readings.js';
import type { EventKind } from '../signals.js';
import { anyOf, widened } from '../columns/spans.js';
import { extremes, median } from '../columns/statistics.js';

/** From this step on a log is too slow to follow a fuel cut's edges. */
const SLOW_STEP_S = 0.13;
/** A limiter that no file states lets the engine speed swing by this share below the greatest that the log shows. */
const AT_LIMITER_SHARE = 0.015;
/** Where lambda is asked for now and then, its last answer stands for so long at most. */
const MOST_AGE_S = 1.5;

/**
 * 1 where the exhaust may hold plain air at the sensor: fuel cut, a shift's lift, the engine off or just started, the rev limiter, each
 * with its delay and recovery.
 */
export const airInExhaust = (
  readings: AirReadings & Partial<Pick<Readings, 'clean'>>,
  during: (kind: EventKind) => Uint8Array,
): Uint8Array => {
  const rpm = readings.clean ? readings.clean('engine-speed') : readings.held('engine-speed'),
    isMended = readings.clean !== undefined && rpm !== readings.held('engine-speed');
  const last = lastAir.get(readings.held);
  if (last?.isMended === isMended) return last.air;
  const air = findAir(readings, rpm, during);
  if (rpm) lastAir.set(readings.held, { isMended, air });
  return air;
};

type AirReadings = Pick<Readings, 'session' | 'timeS' | 'vehicle' | 'held' | 'ageS' | 'barometer'>;

/** By what it was found from: an analysis and the faults found on its way share it, unless the engine speed had to be mended. */
const lastAir = new WeakMap<Readings['held'], { readonly isMended: boolean; readonly air: Uint8Array }>();

const findAir = (readings: AirReadings, rpm: Float64Array | undefined, during: (kind: EventKind) => Uint8Array): Uint8Array => {
  const { timeS } = readings;
  const delayS = delaySeries(readings);
  const limitRpm = limiterRpm(readings);
  const [, greatestRpm] = rpm ? extremes(rpm) : [NaN, NaN];
  const overrun = during('overrun'),
    shift = during('gear-shift'),
    off = during('engine-off'),
    cranking = during('cranking');
  const marks = anyOf(overrun, shift, off, cranking);
  if (rpm && limitRpm) mark(rpm, above(limitRpm - 120), marks);
  else if (rpm && greatestRpm > 5500) mark(rpm, above((1 - AT_LIMITER_SHARE) * greatestRpm), marks);
  const usualDelayS = median(delayS);
  // A slow log knows the cut's end and the reading's moment to a step each.
  const meanStepS = timeS.length > 1 ? (timeS[timeS.length - 1] - timeS[0]) / (timeS.length - 1) : 0;
  const unsureS =
    (meanStepS > SLOW_STEP_S ? 2 * Math.min(meanStepS, 0.5) : 0) +
    Math.min(MOST_AGE_S, Math.max(readings.ageS('lambda'), readings.ageS('lambda-2')));
  const aired = widened(marks, timeS, 0.2, Math.min(1.2, 2 * usualDelayS) + 0.5 + unsureS);
  // At idle's flow the last of the air takes longer than the drive's usual delay.
  lengthen(aired, marks, timeS, delayS, unsureS);
  return aired;
};

/** Sets `aired` behind each mark for as long as the last of the air takes there. */
const lengthen = (aired: Uint8Array, marks: Uint8Array, timeS: Float64Array, delayS: Float64Array, unsureS: number): void => {
  let untilS = -Infinity;
  for (let i = 0; i < marks.length; i++) {
    if (marks[i] !== 0) untilS = Math.max(untilS, timeS[i] + Math.min(1.2, 2 * delayS[i]) + 0.5 + unsureS);
    else if (timeS[i] <= untilS) aired[i] = 1;
  }
};
