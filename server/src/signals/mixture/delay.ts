// How late a lambda reading is: a stated model of the way from the injector to the sensor, for judging a session before
// (or without) an estimate from the session itself.
// Structure: engine cycle + gas transport + sensor lag, Guzzella and Onder, Introduction to Modeling and Control of Internal
// Combustion Engine Systems (from memory).

import type { Readings } from '../readings.js';
import { BLOCK_ROWS } from '../columns/statistics.js';
import { rangeOfColumn } from '../columns/stretches.js';

/** One exhaust runner and collector up to the bung, litres; assumed, no vehicle says it. */
const EXHAUST_L = 1.5;
/** First-order lag of a wideband sensor in gas flow, seconds (order of magnitude, from memory). */
const SENSOR_LAG_S = 0.05;
/** Fuel adds about a fourteenth to the air's mass; enough for a flow that only times the gas. */
export const EXHAUST_OVER_AIR = 1.07;
const GAS_CONSTANT_J_PER_KG_K = 288;
const AIR_GAS_CONSTANT_J_PER_KG_K = 287.055;
/** Assumed where the vehicle file does not say: litres and volumetric efficiency for a rough air flow. */
const ASSUMED_DISPLACEMENT_L = 2;
const ASSUMED_VE = 0.8;

/**
 * Seconds from injection to reading at an engine speed (rpm, four-stroke) and an exhaust flow (g/s). Never above 1.2 s: beyond it the model
 * has no meaning.
 */
export const modelDelayS = (rpm: number, exhaustGPerS: number): number => {
  const cycleS = 120 / Math.max(rpm, 300);
  // Exhaust is about 500 °C at idle flow and 850 °C at full load (reference conditions); between, it follows the flow.
  const gasK = 773 + 350 * Math.min(1, Math.max(0, (exhaustGPerS - 3.5) / 110));
  const gasS = (EXHAUST_L * 1e-3 * 105e3) / (GAS_CONSTANT_J_PER_KG_K * gasK * Math.max(exhaustGPerS, 0.5) * 1e-3);
  return Math.min(1.2, cycleS + gasS + SENSOR_LAG_S);
};

/** Rough air flow, g/s: ideal gas in the manifold at 40 °C. */
const airFlowGPerS = (displacementL: number, rpm: number, pressureKPa: number): number =>
  ((ASSUMED_VE * pressureKPa * 1e3 * displacementL * 1e-3 * rpm) / (AIR_GAS_CONSTANT_J_PER_KG_K * 313 * 120)) * 1e3;

/** By what the delays are made from: an analysis and what it makes for itself on the way share it. */
const made = new WeakMap<Readings['held'], () => Float64Array>();

/**
 * Delay at each sample, seconds; the vehicle's own number or flow curve goes first.
 * From mass air flow, else from manifold pressure, else from throttle as a stand-in for load. NaN-free. Shared: never written to.
 */
export const delaySeries = (signals: Pick<Readings, 'session' | 'vehicle' | 'timeS' | 'held'>): Float64Array => {
  let make = made.get(signals.held);
  if (!make) made.set(signals.held, (make = () => modelled(signals)));
  return signals.session.shelf.get(make, make);
};

const modelled = (signals: Pick<Readings, 'vehicle' | 'timeS' | 'held'>): Float64Array => {
  const { vehicle } = signals;
  const stated = vehicle.lambdaSensor.transportDelay;
  const delayS = new Float64Array(signals.timeS.length);
  if (typeof stated === 'number') return delayS.fill(stated);
  const rpm = signals.held('engine-speed'),
    flow = signals.held('mass-air-flow');
  // What stands in is asked for only where something is missing: of a long session each is made anew.
  const pressure = isAbove(flow, 0) ? undefined : signals.held('manifold-pressure'),
    throttle = isAbove(flow, 0) || isAbove(pressure, 10) ? undefined : signals.held('throttle');
  const curve = typeof stated === 'object' && stated.length > 0 ? stated : undefined;
  const displacementL = vehicle.engine.displacementL ?? ASSUMED_DISPLACEMENT_L;
  for (let from = 0; from < delayS.length; from += BLOCK_ROWS)
    modelIn(delayS, from, Math.min(delayS.length, from + BLOCK_ROWS), { rpm, flow, pressure, throttle, curve, displacementL });
  return delayS;
};

/** Whether a column is above a limit at each sample. */
const isAbove = (values: Float64Array | undefined, limit: number): boolean => {
  const { count, least } = values ? rangeOfColumn(values) : { count: 0, least: NaN };
  return count === values?.length && least > limit;
};

interface ByModel {
  readonly rpm?: Float64Array;
  readonly flow?: Float64Array;
  readonly pressure?: Float64Array;
  readonly throttle?: Float64Array;
  readonly curve?: readonly (readonly [number, number])[];
  readonly displacementL: number;
}

const modelIn = (
  delayS: Float64Array,
  from: number,
  to: number,
  { rpm, flow, pressure, throttle, curve, displacementL }: ByModel,
): void => {
  for (let i = from; i < to; i++) {
    const speed = rpm && rpm[i] > 0 ? rpm[i] : 1500;
    let airGPerS = flow ? flow[i] : NaN;
    if (!(airGPerS > 0))
      airGPerS = airFlowGPerS(
        displacementL,
        speed,
        pressure && pressure[i] > 10 ? pressure[i] : throttle && throttle[i] >= 0 ? 30 + 0.7 * throttle[i] : 60,
      );
    delayS[i] = curve ? delayAlongS(curve, airGPerS) : modelDelayS(speed, airGPerS * EXHAUST_OVER_AIR);
  }
};

/** Seconds at an air flow, g/s, by points of both: linear between them, the end ones held outside. */
export const delayAlongS = (points: readonly (readonly [number, number])[], airGPerS: number): number => {
  if (!(airGPerS > points[0][0])) return points[0][1];
  for (let k = 1; k < points.length; k++) {
    const [lowGPerS, lowS] = points[k - 1],
      [highGPerS, highS] = points[k];
    if (airGPerS <= highGPerS)
      return highGPerS > lowGPerS ? lowS + ((highS - lowS) * (airGPerS - lowGPerS)) / (highGPerS - lowGPerS) : highS;
  }
  return points[points.length - 1][1];
};
