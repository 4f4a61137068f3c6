// Where no target is known: what a pull itself held before. A mixture that turns leaner while nothing but the speed changes is no
// calibration's wish.

import { openFromPercent, topPercentOf } from '../signals/drive/openThrottle.js';
import { believed, type Operating } from '../signals/drive/operating.js';
import type { Signals } from '../signals/signals.js';

/**
 * The mixture counts as held when its mean over so long was so rich; at a throttle that may be no stop over longer, for with the foot down
 * that far an engine may be enriched for a second and go on at λ 1. Common practice, no source.
 */
const HELD_S = 0.5,
  HELD_BY_FOOT_S = 2;
/** A calibration may lean a pull out by so much from low speed to high (common practice, no source). */
const CALIBRATIONS_LAMBDA = 0.05;
/** The load is the same while the manifold holds this share of what it held. */
const SAME_LOAD_SHARE = 0.95;

/**
 * For each sample the leanest lambda that what its pull held before allows: the richest mean of such a time since the load was set, and
 * what a calibration may lean out. NaN outside of full load: throttle wide open, or a manifold that has not fallen
 * and the throttle, where it is logged, as far open as ever.
 */
export const allowedByOwnPull = (signals: Signals, operating: Operating, lambda: Float64Array): Float64Array => {
  const { timeS, vehicle } = signals;
  const { readsLoad, air, bandFrom, bandTo } = operating;
  const throttle = believed(signals, 'throttle'),
    pressure = believed(signals, 'manifold-pressure');
  const openPercent = openFromPercent(vehicle.limits, throttle, pressure, timeS),
    topPercent = topPercentOf(throttle);
  const allowed = new Float64Array(lambda.length).fill(NaN);
  let mostKPa = 0;
  const full = (i: number): boolean => {
    for (let k = bandFrom[i]; k <= bandTo[i]; k++)
      if (
        !(throttle && throttle[k] >= openPercent) &&
        !(pressure && pressure[k] >= SAME_LOAD_SHARE * mostKPa && !(throttle && !(throttle[k] >= topPercent)))
      )
        return false;
    return true;
  };
  let from = 0,
    sum = 0,
    richest = Infinity;
  const begin = (i: number): void => {
    from = i;
    sum = 0;
    richest = Infinity;
    mostKPa = 0;
  };
  for (let i = 0; i < lambda.length; i++) {
    if (readsLoad[i] === 0 || air[i] === 1 || lambda[i] !== lambda[i] || !full(i)) {
      begin(i + 1);
      continue;
    }
    if (pressure && pressure[i] > mostKPa) mostKPa = pressure[i];
    sum += lambda[i];
    const heldS = throttle && !(throttle[i] >= openPercent) ? HELD_BY_FOOT_S : HELD_S;
    while (timeS[i] - timeS[from] > heldS) sum -= lambda[from++];
    if (richest !== Infinity) allowed[i] = richest + CALIBRATIONS_LAMBDA;
    const mean = sum / (i - from + 1);
    if (i - from >= 2 && timeS[i] - timeS[from] >= 0.8 * heldS && mean < richest) richest = mean;
  }
  return allowed;
};
