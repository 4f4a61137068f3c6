// How far the driver has the engine open, from whichever channel tells it: throttle, else pedal, else manifold pressure, else load.

import type { QuantityId } from '../../quantities/quantity.js';
import { limitOf } from '../../formats/limits.js';
import { above, atLeast, keep, mark } from '../columns/marks.js';
import { onceBy } from '../once.js';
import type { Readings } from '../readings.js';
import { openFromPercent } from './openThrottle.js';
import { quantileOf, sampleOf } from '../columns/statistics.js';

export interface Opening {
  readonly from: QuantityId | 'none';
  /** 0 closed … 100 as far open as this log ever shows (or the gauge's own full scale); NaN where unknown. */
  readonly percent: Float64Array;
}

/** Least movement for a channel to count as telling the opening. */
const ALIVE_PERCENT = 8;
const ALIVE_KPA = 15;

const CANDIDATES: readonly QuantityId[] = ['throttle', 'pedal', 'manifold-pressure', 'engine-load'];

/**
 * The first of throttle, pedal, pressure, load that moves; a throttle that never moves is passed over. Made once and shared: never written
 * to.
 */
export const openingOf = onceBy(
  ({ clean }) => clean,
  (readings: Readings): Opening => opening(readings),
);

const opening = (readings: Readings): Opening => {
  const rpm = readings.clean('engine-speed'),
    turning = rpm && mark(rpm, above(400));
  for (const from of CANDIDATES) {
    const values = readings.clean(from);
    if (!values) continue;
    const sample = sampleOf(values, 0, values.length, turning);
    if (sample.length < 3) continue;
    // A throttle rests closed for a good part of any drive, and reads anything from 0 to 20 % there.
    const closed = quantileOf(sample, 0.02),
      top = quantileOf(sample, 0.998);
    if (top - closed < (from === 'manifold-pressure' ? ALIVE_KPA : ALIVE_PERCENT)) continue;
    const open = from === 'manifold-pressure' ? Math.max(top, readings.barometer.kPa) : Math.max(top, 75);
    const scale = 100 / (open - closed);
    return openingBy(readings, from, percentBy(readings, from, closed, scale));
  }
  return openingBy(readings, 'none', () => new Float64Array(readings.timeS.length).fill(NaN));
};

const openingBy = ({ session: { shelf } }: Readings, from: Opening['from'], make: () => Float64Array): Opening => ({
  from,
  get percent() {
    return shelf.get(make, make);
  },
});

/** A function of its own, so that what makes the column holds on to no other. */
const percentBy =
  ({ clean }: Readings, from: QuantityId, closed: number, scale: number) =>
  (): Float64Array =>
    percentOf(clean(from)!, closed, scale);

const percentOf = (values: Float64Array, closed: number, scale: number): Float64Array => {
  const percent = new Float64Array(values.length);
  for (let i = 0; i < values.length; i++) percent[i] = (values[i] - closed) * scale;
  return percent;
};

/** At idle speed an open manifold is an engine that starts, stalls or is let in, not one under load. */
const LOAD_FROM_RPM = 1000;

/**
 * Where neither pressure nor throttle is logged: share of what the engine can draw (calculated load of SAE J1979, or air flow by
 * displacement) that is load.
 */
const FILLED_SHARE = 0.8;
/** Air of 25 °C and 100 kPa, g/L (ideal gas). */
const AIR_G_PER_L = 1.168;
/** A warm engine is asked for a mixture as rich as this under load alone (common practice, no source). */
const ENRICHED_LAMBDA = 0.92,
  WARM_C = 60;

/**
 * 1 where the engine is under load: manifold pressure or throttle at their limits. A manifold at 95 % of the barometer is open, however
 * high the place.
 * Where neither is there, the calculated load, the air that each two turns draw of a known displacement, or a target that is rich for a
 * warm engine.
 */
export const loadMask = (
  readings: Pick<Readings, 'vehicle' | 'barometer' | 'timeS'>,
  of: (quantity: QuantityId) => Float64Array | undefined,
): Uint8Array => {
  const pressure = of('manifold-pressure'),
    throttle = of('throttle'),
    rpm = of('engine-speed');
  const set = readings.vehicle.limits;
  const fromKPa = set.loadManifoldPressureKPa ?? Math.min(limitOf('loadManifoldPressureKPa', set).value, 0.95 * readings.barometer.kPa);
  const mask = new Uint8Array(readings.timeS.length);
  if (pressure) mark(pressure, atLeast(fromKPa), mask);
  if (throttle) mark(throttle, atLeast(openFromPercent(set, throttle, pressure, readings.timeS)), mask);
  if (!pressure && !throttle) {
    const draws = drawsMuch(readings, of);
    for (let i = 0; i < mask.length; i++) if (draws(i)) mask[i] = 1;
  }
  return rpm ? keep(mask, rpm, above(LOAD_FROM_RPM)) : mask;
};

const drawsMuch = (
  { vehicle }: Pick<Readings, 'vehicle'>,
  of: (quantity: QuantityId) => Float64Array | undefined,
): ((i: number) => boolean) => {
  const load = of('engine-load'),
    flow = of('mass-air-flow'),
    rpm = of('engine-speed'),
    target = of('target-lambda'),
    coolant = of('coolant-temperature');
  const { displacementL } = vehicle.engine;
  // A four-stroke fills its displacement once in two turns: g/s → g in two turns.
  const fullG = displacementL === undefined ? Infinity : AIR_G_PER_L * displacementL;
  return (i) =>
    (load !== undefined && load[i] >= 100 * FILLED_SHARE) ||
    (flow !== undefined && rpm !== undefined && (flow[i] * 120) / rpm[i] >= FILLED_SHARE * fullG) ||
    (target !== undefined && target[i] > 0.5 && target[i] <= ENRICHED_LAMBDA && coolant !== undefined && coolant[i] >= WARM_C);
};
