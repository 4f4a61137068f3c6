// The air around the car: needed to know what a closed, an open and a boosted manifold is.

import { above, atLeast, below, keep, mark } from './columns/marks.js';
import type { Signals } from './signals.js';
import { standingMask } from './drive/standing.js';
import { nextMark } from './columns/spans.js';
import { median, quantileOf, sampleOf } from './columns/statistics.js';

/** Sea level in the standard atmosphere (ISO 2533), where nothing in the log tells. */
const ASSUMED_KPA = 101.325;

/**
 * From a barometer channel, else from the manifold while the engine stands, or behind a wide open throttle of an engine that is not
 * `boosted`, else assumed.
 */
export const barometerOf = (signals: Pick<Signals, 'channel' | 'held' | 'timeS'>, boosted: boolean): Signals['barometer'] => {
  const barometer = signals.channel('barometric-pressure');
  if (barometer) {
    const kPa = median(signals.held('barometric-pressure')!);
    if (kPa >= 55 && kPa <= 108.5) return { kPa, from: 'channel' };
  }
  const rpm = signals.held('engine-speed'),
    pressure = signals.held('manifold-pressure');
  if (rpm && pressure) {
    const standing: number[] = [],
      stands = standingMask(rpm, signals.timeS);
    for (let i = nextMark(stands, 0); i < rpm.length && standing.length < 5000; i = nextMark(stands, i + 1))
      if (pressure[i] === pressure[i]) standing.push(pressure[i]);
    const kPa = quantileOf(Float64Array.from(standing), FILLED_SHARE);
    if (standing.length >= 3 && kPa >= 55 && kPa <= 108.5) return { kPa, from: 'engine-off' };
  }
  const open = rpm && pressure && !boosted ? wideOpenKPa(rpm, pressure, signals.held('throttle')) : undefined;
  return open === undefined ? { kPa: ASSUMED_KPA, from: 'assumed' } : { kPa: open, from: 'wide-open' };
};

/** Behind a closed throttle a manifold fills for seconds after the engine stopped: what it stands at in the end. */
const FILLED_SHARE = 0.9;
/**
 * A throttle so far open, at a speed so low that the intake takes no more than a kilopascal or two, leaves the manifold at the barometer
 * (common practice, no source).
 */
const OPEN_PERCENT = 90,
  SLOW_RPM = 4500,
  LEAST_OPEN = 20;
/** Only what is well below the assumed air, as up a mountain, is told by it; above, a turbine may have had its part. */
const HIGH_PLACE_KPA = 97;

/** The manifold's greatest pressure behind a wide open throttle, where that tells of a high place; undefined else. */
const wideOpenKPa = (rpm: Float64Array, pressure: Float64Array, throttle: Float64Array | undefined): number | undefined => {
  if (!throttle) return undefined;
  const open = sampleOf(
    pressure,
    0,
    pressure.length,
    keep(keep(mark(throttle, atLeast(OPEN_PERCENT)), rpm, above(1000)), rpm, below(SLOW_RPM)),
  );
  const kPa = quantileOf(open, 0.98);
  return open.length >= LEAST_OPEN && kPa >= 55 && kPa <= HIGH_PLACE_KPA && kPa - quantileOf(open, 0.3) < 0.08 * kPa ? kPa : undefined;
};
