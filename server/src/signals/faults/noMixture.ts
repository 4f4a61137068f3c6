// A lambda column that no spark-ignition engine's mixture makes: a diesel's log, or another scale.

import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { isBurntOtherwise } from '../../quantities/fuels.js';
import type { Track } from '../columns/hold.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';
import { quantileOf, sampleBy, sampleOf } from '../columns/statistics.js';
import { LEANEST_BURNT_LAMBDA } from './scaleEnds.js';

const MOST_OF_THE_TIME = 0.6;
const LEAST_READINGS = 200;
/** A sensor at its end, in free air or off its plug, keeps to one level: that is told as what it is. */
const LEAST_SPREAD = 0.12;
/** Shares of what throttle or pressure go through from which the engine is under fuel, whatever the overrun's. */
const OPEN_SHARE = 0.12;
/**
 * A throttle that never opened by so much, or a manifold that never filled so far, tells of engine braking alone: air, and no fuel to
 * judge.
 */
const LEAST_OPENED_PERCENT = 10,
  LEAST_FILLED_KPA = 60;
const RUNNING_RPM = 400;
/** ln; a column on another scale stands at one ratio to its target. */
const ONE_RATIO = 0.03;

interface UnderFuel {
  readonly lambda: Float64Array;
  readonly opening: Float64Array;
  readonly open: number;
  readonly rpm: Float64Array | undefined;
  readonly target: Float64Array | undefined;
}

const lambdaUnderFuel = ({ lambda, opening, open, rpm }: UnderFuel, i: number): number =>
  opening[i] > open && !(rpm && !(rpm[i] > RUNNING_RPM)) ? lambda[i] : NaN;
const lnOverTarget = (all: UnderFuel, i: number): number => Math.log(lambdaUnderFuel(all, i) / all.target![i]);

/** The whole channel as one fault, where it stands above what an engine burns for most of the time that the engine is under fuel. */
export const noMixtureOf = (readings: Readings, { channel, greatest }: Track): Fault | undefined => {
  const fuel = vehicleFuel(readings.vehicle);
  if (
    (channel.quantity !== 'lambda' && channel.quantity !== 'lambda-2') ||
    !(greatest > LEANEST_BURNT_LAMBDA) ||
    (fuel && isBurntOtherwise(fuel))
  )
    return undefined;
  const byFoot = readings.held('throttle') ?? readings.held('pedal'),
    lambda = readings.held(channel.quantity),
    opening = byFoot ?? readings.held('manifold-pressure');
  if (!lambda || !opening) return undefined;
  const sample = sampleOf(opening),
    closed = quantileOf(sample, 0.02),
    most = quantileOf(sample, 0.998),
    open = closed + OPEN_SHARE * (most - closed);
  if (!(byFoot ? most - closed >= LEAST_OPENED_PERCENT : most >= LEAST_FILLED_KPA)) return undefined;
  const all: UnderFuel = { lambda, opening, open, rpm: readings.held('engine-speed'), target: readings.held('target-lambda') };
  const burning = sampleBy(lambda.length, all, lambdaUnderFuel);
  if (burning.length < LEAST_READINGS || !(quantileOf(burning, 1 - MOST_OF_THE_TIME) > LEANEST_BURNT_LAMBDA)) return undefined;
  const low = quantileOf(burning, 0.05),
    high = quantileOf(burning, 0.95);
  if (high - low < LEAST_SPREAD) return undefined;
  const ratio = all.target ? sampleBy(lambda.length, all, lnOverTarget) : new Float64Array(0),
    isOneRatio = ratio.length >= LEAST_READINGS && quantileOf(ratio, 0.9) - quantileOf(ratio, 0.1) < 2 * ONE_RATIO;
  return {
    kind: 'implausible',
    channel,
    shape: 'no-mixture',
    value: quantileOf(burning, 0.5),
    from: 0,
    to: readings.timeS.length,
    data: {
      low,
      high,
      share: burning.filter((value) => value > LEANEST_BURNT_LAMBDA).length / burning.length,
      ...(isOneRatio ? { ratio: Math.exp(quantileOf(ratio, 0.5)) } : {}),
    },
  };
};
