// An engine speed logged in tens or hundreds of rpm: read as rpm the engine never runs, and nothing of the session is judged.

import type { Track } from '../columns/hold.js';
import type { Readings } from '../readings.js';
import { quantileOf, sampleBy, sampleOf } from '../columns/statistics.js';

/**
 * Slower than this an engine is being cranked, and a starter draws its manifold down by no more than so much of the air around. Common
 * practice, no source.
 */
const CRANKS_BELOW_RPM = 420,
  DRAWN_SHARE = 0.75;
/**
 * What a running engine does, rpm: the slow end of where it runs (idle, or a cruise that is logged without any), and the fast end of what
 * it is driven to.
 */
const SLOWEST = [400, 3000] as const,
  DRIVEN_TO = [2000, 20000] as const;
const LEAST_READINGS = 200;

interface Turning {
  readonly rpm: Float64Array;
  readonly pressure: Float64Array;
}
const pressureThere = ({ rpm, pressure }: Turning, i: number): number => (rpm[i] > 0 && rpm[i] < CRANKS_BELOW_RPM ? pressure[i] : NaN);

/** Told by the manifold: an engine that holds a vacuum runs, whatever its speed is said to be. */
export const tensOfRpm = (
  readings: Readings,
  { channel, least, greatest }: Track,
): { readonly unit: string; readonly factor: number } | undefined => {
  const rpm = readings.held('engine-speed'),
    pressure = readings.held('manifold-pressure');
  if (channel.quantity !== 'engine-speed' || !rpm || !pressure || !(greatest < DRIVEN_TO[1] / 10) || !(least < CRANKS_BELOW_RPM))
    return undefined;
  const there = sampleBy(rpm.length, { rpm, pressure }, pressureThere);
  if (there.length < LEAST_READINGS || 2 * there.length < rpm.length || !(quantileOf(there, 0.5) < DRAWN_SHARE * readings.barometer.kPa))
    return undefined;
  const turning = sampleOf(rpm.filter((value) => value > 0)),
    slow = quantileOf(turning, 0.05),
    fast = quantileOf(turning, 0.995);
  const factor = [10, 100].find(
    (each) => slow * each >= SLOWEST[0] && slow * each <= SLOWEST[1] && fast * each >= DRIVEN_TO[0] && fast * each <= DRIVEN_TO[1],
  );
  return factor === undefined ? undefined : { unit: factor === 10 ? 'tens of rpm' : 'hundreds of rpm', factor };
};
