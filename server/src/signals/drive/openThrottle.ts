// From which reading on a throttle is open: its limit, or, where that is never met and no pressure tells, the stop that it was pressed to
// again and again.
// SAE J1979 (PID 11): an absolute throttle position "at wide open throttle will usually indicate less than 100 %".

import { limitOf } from '../../formats/limits.js';
import type { Vehicle } from '../../formats/vehicle/vehicle.js';
import { quantileOf, sampleOf } from '../columns/statistics.js';

/**
 * A foot does not find the same place so often: visits of so long, so near the greatest reading, each after a lift. Common practice, no
 * source.
 */
const LEAST_VISITS = 3,
  VISIT_S = 0.5,
  NEAR_PERCENT = 1.5,
  LIFT_PERCENT = 15,
  LEAST_STOP_PERCENT = 55;
/**
 * A stop holds a foot, so that more is read there than so far below it; of many places where a foot ends by itself the furthest are met
 * more seldom. No source.
 */
const BELOW_PERCENT = 7.5;

/** From where on a throttle stands at the furthest that the log shows; beyond any where that may be no stop. */
export const topPercentOf = (throttle: Float64Array | undefined): number => {
  const top = throttle ? quantileOf(sampleOf(throttle), 0.998) : NaN;
  return top >= LEAST_STOP_PERCENT ? top - NEAR_PERCENT : Infinity;
};

export const openFromPercent = (
  limits: Vehicle['limits'],
  throttle: Float64Array | undefined,
  pressure: Float64Array | undefined,
  timeS: Float64Array,
): number => {
  const fromPercent = limitOf('loadThrottlePercent', limits).value;
  if (!throttle || pressure || limits.loadThrottlePercent !== undefined) return fromPercent;
  const near = topPercentOf(throttle),
    top = near + NEAR_PERCENT;
  if (!(top < fromPercent)) return fromPercent;
  let visits = 0,
    sinceS = NaN,
    isLifted = true;
  for (let i = 0; i < throttle.length && visits < LEAST_VISITS; i++) {
    if (throttle[i] < top - LIFT_PERCENT) isLifted = true;
    if (throttle[i] < near) sinceS = NaN;
    else if (throttle[i] >= near) {
      if (sinceS !== sinceS) sinceS = timeS[i];
      if (isLifted && timeS[i] - sinceS >= VISIT_S) {
        visits++;
        isLifted = false;
      }
    }
  }
  let [there, below] = [0, 0];
  for (let i = 0; i < throttle.length; i++) {
    if (throttle[i] >= near) there++;
    else if (throttle[i] >= near - BELOW_PERCENT) below++;
  }
  return visits < LEAST_VISITS || there < below ? fromPercent : near;
};
