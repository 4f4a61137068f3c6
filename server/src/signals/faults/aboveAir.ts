// A manifold that holds more than the air around the car, in an engine that is said to have no blower: either it has one, or the sensor's
// scale is another. No loose wire reads a boost that comes with an open throttle.

import type { Readings } from '../readings.js';
import { quantileOf, sampleOf } from '../columns/statistics.js';
import { rangeOfColumn } from '../columns/stretches.js';

/** No intake without a blower holds more than the air around it; a sensor may read so much too high (common practice, no source). */
const ABOVE_AIR_SHARE = 1.06;
/** Highest reading of weather stations (1084 hPa at sea level). */
const DENSEST_KPA = 108.5;
/**
 * So long in all, rising and falling by so much, smoothly, and nearly all of it behind a throttle half open and more. Common practice, no
 * source.
 */
const LEAST_S = 3,
  LEAST_READINGS = 40,
  LEAST_SPREAD_KPA = 8,
  SMOOTH_SHARE = 0.2,
  OPEN_SHARE = 0.5,
  NEARLY_ALL = 0.9;

type Logged = Pick<Readings, 'barometer' | 'held' | 'timeS' | 'vehicle'>;

/** Boost of an engine that vehicle.json calls natural: its longest spell, and how long in all. */
export interface AboveAir {
  readonly from: number;
  readonly to: number;
  readonly peakKPa: number;
  readonly airKPa: number;
  readonly seconds: number;
}

/** The air at the lowest place of the drive: a barometer that is logged falls and rises with the road. */
const densestAirKPa = ({ barometer, held }: Logged): number => {
  const logged = barometer.from === 'channel' ? quantileOf(sampleOf(held('barometric-pressure')!), 0.998) : NaN;
  return logged <= DENSEST_KPA ? Math.max(barometer.kPa, logged) : barometer.kPa;
};

/** What a manifold without a blower holds at most, as far as a sensor is to be believed. */
export const mostNaturalKPa = (readings: Logged): number => ABOVE_AIR_SHARE * densestAirKPa(readings);

/**
 * A scale that is wrong by no more than this reads of an open manifold what it holds and some; a wire that leaps goes farther, or leaps at
 * any throttle. Common practice, no source.
 */
const READS_HIGH_SHARE = 1.25;

/**
 * Whether what a manifold without a blower reads above the air is no leap: a little more than the air, and where it is open to it. A
 * sensor's scale does that, and a tap at one runner, where the pressure pulses.
 */
export const readsHighWhereOpen = (readings: Logged): boolean => {
  const { held } = readings,
    pressure = held('manifold-pressure'),
    throttle = held('throttle');
  if (!pressure || !throttle) return false;
  const most = mostNaturalKPa(readings);
  if (!(rangeOfColumn(pressure).greatest > most)) return true;
  const highest = (most / ABOVE_AIR_SHARE) * READS_HIGH_SHARE,
    openFrom = OPEN_SHARE * quantileOf(sampleOf(throttle), 0.998),
    rpm = held('engine-speed');
  let above = 0,
    open = 0;
  for (let i = 0; i < pressure.length; i++) {
    if (!(pressure[i] > most)) continue;
    if (pressure[i] > highest) return false;
    above++;
    // The manifold of an engine that stands is open to the air too.
    if (throttle[i] >= openFrom || (rpm && rpm[i] === 0)) open++;
  }
  return open >= NEARLY_ALL * above;
};

/** Undefined where the engine is not called natural, or what lies above the air is no boost. */
export const aboveAir = (readings: Logged): AboveAir | undefined => {
  const { held, timeS, vehicle } = readings,
    pressure = held('manifold-pressure');
  if (vehicle.engine.aspiration !== 'natural' || !pressure) return undefined;
  const most = mostNaturalKPa(readings),
    { greatest } = rangeOfColumn(pressure);
  if (!(greatest > most + LEAST_SPREAD_KPA)) return undefined;
  const throttle = held('throttle'),
    openFrom = throttle ? OPEN_SHARE * quantileOf(sampleOf(throttle), 0.998) : 0;
  const above: number[] = [],
    steps: number[] = [];
  let seconds = 0,
    open = 0,
    start = -1,
    longest = { from: 0, to: 0 };
  for (let i = 1; i < pressure.length; i++) {
    const stepS = timeS[i] - timeS[i - 1];
    if (!(pressure[i] > most)) {
      start = -1;
      continue;
    }
    above.push(pressure[i]);
    if (!throttle || throttle[i] >= openFrom) open++;
    if (start < 0) start = i;
    else if (stepS >= 0 && stepS < LEAST_S) {
      seconds += stepS;
      steps.push(Math.abs(pressure[i] - pressure[i - 1]));
    }
    if (i + 1 - start > longest.to - longest.from) longest = { from: start, to: i + 1 };
  }
  const shown = sampleOf(Float64Array.from(above)),
    spread = quantileOf(shown, 0.9) - quantileOf(shown, 0.1),
    isSmooth = quantileOf(sampleOf(Float64Array.from(steps)), 0.5) <= SMOOTH_SHARE * spread;
  const isBoost =
    above.length >= LEAST_READINGS && seconds >= LEAST_S && spread >= LEAST_SPREAD_KPA && isSmooth && open >= NEARLY_ALL * above.length;
  return isBoost ? { ...longest, peakKPa: greatest, airKPa: most / ABOVE_AIR_SHARE, seconds } : undefined;
};
