// A throttle or pedal that reads the wrong way round, 100 where it is closed: believed, all of the overrun is full load and lean, and full
// load is none.

import type { Channel } from '../../formats/session/session.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';
import { quantileOf, sampleBy } from '../columns/statistics.js';

/**
 * A closed throttle leaves a running engine less than this share of the air around, an open one more: the manifold is what it throttles.
 * Common practice, no source.
 */
const STARVED_SHARE = 0.5,
  FULL_SHARE = 0.85;
/** No engine idles with its throttle open: that it is not the manifold's pressure which is turned. Common practice, no source. */
const RUNNING_RPM = 600,
  IDLE_RPM = 1100;
/** %; nearly all readings of a closed throttle stand so much above nearly all of an open one. */
const LEAST_APART = 25,
  NEARLY_ALL = 0.8;
/**
 * Of each: an electronic throttle that the computer shuts under the foot, or opens on the overrun, is over sooner. Common practice, no
 * source.
 */
const LEAST_READINGS = 40;

interface Throttled {
  readonly opening: Float64Array;
  readonly pressure: Float64Array;
  readonly rpm: Float64Array;
  readonly airKPa: number;
}

const whileStarved = ({ opening, pressure, rpm, airKPa }: Throttled, i: number): number =>
  rpm[i] > RUNNING_RPM && pressure[i] < STARVED_SHARE * airKPa ? opening[i] : NaN;
const whileFull = ({ opening, pressure, rpm, airKPa }: Throttled, i: number): number =>
  rpm[i] > IDLE_RPM && pressure[i] > FULL_SHARE * airKPa ? opening[i] : NaN;
const whileIdle = ({ opening, rpm }: Throttled, i: number): number => (rpm[i] > RUNNING_RPM && rpm[i] < IDLE_RPM ? opening[i] : NaN);

/** The whole channel as one fault, where the manifold and the idle say that it is closed when it reads open, and the other way round. */
export const turnedThrottleOf = (readings: Readings, channel: Channel): Fault | undefined => {
  if (channel.quantity !== 'throttle' && channel.quantity !== 'pedal') return undefined;
  const { timeS } = readings,
    opening = readings.held(channel.quantity),
    pressure = readings.held('manifold-pressure'),
    rpm = readings.held('engine-speed');
  if (!opening || !pressure || !rpm) return undefined;
  const all: Throttled = { opening, pressure, rpm, airKPa: readings.barometer.kPa };
  const [starved, full, idle] = [whileStarved, whileFull, whileIdle].map((of) => sampleBy(timeS.length, all, of));
  if (Math.min(starved.length, full.length, idle.length) < LEAST_READINGS) return undefined;
  const open = quantileOf(full, NEARLY_ALL) + LEAST_APART;
  if (!(quantileOf(starved, 1 - NEARLY_ALL) > open && quantileOf(idle, 1 - NEARLY_ALL) > open)) return undefined;
  const closedPercent = quantileOf(starved, 0.5),
    openPercent = quantileOf(full, 0.5);
  return {
    kind: 'implausible',
    channel,
    shape: 'turned',
    value: closedPercent,
    from: 0,
    to: timeS.length,
    data: { closedPercent, openPercent },
  };
};
