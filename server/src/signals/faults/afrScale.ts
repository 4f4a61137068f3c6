// A lambda column on another scale than its header says: read off a display that was set to another fuel.

import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { unnamedScale } from '../../formats/table/targetScale.js';
import { fuelOf, GASOLINE_SCALE_AFR, type Fuel } from '../../quantities/fuels.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { Track } from '../columns/hold.js';
import { loadMask } from '../drive/opening.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';
import { quantileOf, sampleBy, sampleOf } from '../columns/statistics.js';
import { rangeOfColumn } from '../columns/stretches.js';
import { whileRunning } from './whileRunning.js';

const OF_MIXTURE: ReadonlySet<QuantityId> = new Set<QuantityId>(['lambda', 'lambda-2', 'target-lambda']);
const LEAST_READINGS = 20;
/** A fuel whose ratio lies nearer to gasoline's than this cannot be told from it by a swapped scale (ln of the ratio). */
export const LEAST_SCALE_GAP = 0.12;
/** About the rich limit of ignition for gasoline and alcohols alike (Heywood ch. 9, from memory). */
const UNBURNABLE_LAMBDA = 0.65;
/** Scales that displays are set to beside gasoline's (stoichiometric air-fuel ratios: chemistry). */
const COMMON_SCALES = [
  { name: 'the scale of an ethanol-rich fuel', afr: 9.81 },
  { name: 'the scale of ethanol', afr: 9.0 },
  { name: 'the scale of methanol', afr: 6.47 },
];
/** ln of lambda, about 10 %: half of what parts these scales. */
const REST_WITHIN = 0.1;
const WARM_C = 60;
/** Leaner than this on its own scale no engine pulls: a mixture that is rich at idle and cruise by itself is none on another scale. */
const LEANEST_PULL_LAMBDA = 1.15;

/** A lambda no leaner than a mixture, which ends below `leanest`, its target, and what the engine does meanwhile. */
interface Burning {
  readonly lambda: Float64Array;
  readonly leanest: number;
  readonly target: Float64Array | undefined;
  readonly rpm: Float64Array | undefined;
}

/** Free air in fuel cuts weighs on the lean side, at whatever end the sensor has: a mixture lies below it. */
const isMixture = (lambda: number, leanest: number): boolean => lambda < 1.9 && lambda > 0.3 && lambda < leanest;
const mixturesIn = (lambda: Float64Array, leanest: number): Float64Array => {
  const found = new Float64Array(lambda.length);
  let count = 0;
  for (let k = 0; k < lambda.length; k++) if (isMixture(lambda[k], leanest)) found[count++] = lambda[k];
  return found.subarray(0, count);
};
const burnsAt = ({ lambda, leanest, rpm }: Burning, i: number): boolean => isMixture(lambda[i], leanest) && !(rpm && !(rpm[i] > 400));

/** A reading against what was asked for then, so that a day of full load is no rich scale. */
const againstTarget = (burning: Burning, i: number): number => {
  const { lambda, target } = burning;
  return burnsAt(burning, i) && target && target[i] > 0.5 && target[i] < 2 ? lambda[i] / target[i] : NaN;
};

type Loaded = Burning & { readonly load: Uint8Array; readonly coolant: Float64Array | undefined };
const atRestOver = (burning: Loaded, i: number): number => {
  const { lambda, target, load, coolant } = burning;
  return load[i] === 0 && burnsAt(burning, i) && !(coolant && coolant[i] < WARM_C)
    ? lambda[i] / (target && target[i] > 0.5 ? target[i] : 1)
    : NaN;
};
const underLoad = ({ lambda, leanest, load }: Loaded, i: number): number =>
  load[i] === 1 && isMixture(lambda[i], leanest) ? lambda[i] : NaN;

/** Middle of lambda over its target (or 1) of a warm engine away from load, and of lambda under it; NaN where that is not known. */
const levelsOf = (readings: Readings, burning: Burning | undefined): { readonly resting: number; readonly loaded: number } => {
  if (!burning) return { resting: NaN, loaded: NaN };
  const all: Loaded = { ...burning, coolant: readings.held('coolant-temperature'), load: loadMask(readings, readings.held) };
  const resting = sampleBy(all.lambda.length, all, atRestOver),
    loaded = sampleBy(all.lambda.length, all, underLoad);
  return {
    resting: resting.length >= LEAST_READINGS ? quantileOf(resting, 0.5) : NaN,
    loaded: loaded.length > 0 ? quantileOf(loaded, 0.5) : NaN,
  };
};

/** The fuel in the tank, where a logged target names none and can only be AFR of that. */
export const targetScale = ({ channel, held, vehicle }: Pick<Readings, 'channel' | 'held' | 'vehicle'>): Fuel | undefined => {
  const target = channel('target-lambda');
  if (target?.unit?.id !== 'afr') return undefined;
  const { least, greatest } = rangeOfColumn(held('target-lambda')!);
  return unnamedScale(
    { quantity: 'target-afr', unit: target.unit, values: Float64Array.of(GASOLINE_SCALE_AFR * least, GASOLINE_SCALE_AFR * greatest) },
    vehicle,
  );
};

/**
 * An AFR column on the other scale than its header says: shown on the fuel's own scale but read on gasoline's, or the other way round.
 * The mixture of any drive centres near its target (or λ 1); a whole column that centres at the ratio of the two scales is on the other
 * one.
 */
export const afrScaleOf = (readings: Readings, track: Track): Fault | undefined => {
  const { channel, count } = track,
    { quantity } = channel;
  if (quantity === undefined || !OF_MIXTURE.has(quantity)) return undefined;
  const fuel = vehicleFuel(readings.vehicle),
    meant = targetScale(readings);
  if (quantity === 'target-lambda' && meant)
    return {
      kind: 'implausible',
      channel,
      shape: 'afr-scale',
      value: track.greatest,
      from: 0,
      to: readings.timeS.length,
      data: {
        looksLike: `the scale of ${meant.name}`,
        readOnAfr: GASOLINE_SCALE_AFR,
        trueAfr: meant.stoichAfr,
        middle: track.greatest,
        factor: GASOLINE_SCALE_AFR / meant.stoichAfr,
      },
    };
  if (quantity === 'target-lambda' || channel.unit?.id !== 'afr') return undefined;
  const readAs = channel.unit.fuel === undefined ? GASOLINE_SCALE_AFR : (fuelOf(channel.unit.fuel)?.stoichAfr ?? GASOLINE_SCALE_AFR);
  const running = whileRunning(readings, quantity) ?? sampleOf(track.values.subarray(0, count));
  if (running.length < LEAST_READINGS) return undefined;
  const leanest = track.greatest - 1e-6,
    below = mixturesIn(running, leanest);
  const lambda = readings.held(quantity),
    burning = lambda && { lambda, leanest, target: meant ? undefined : readings.held('target-lambda'), rpm: readings.held('engine-speed') };
  const asked = burning?.target && sampleBy(burning.lambda.length, burning, againstTarget);
  const judged = asked && asked.length >= LEAST_READINGS ? asked : below;
  const atRest = (expected: number): boolean => {
    const { resting, loaded } = levelsOf(readings, burning);
    return Math.abs(Math.log(resting) - expected) < REST_WITHIN && !(loaded / Math.exp(expected) > LEANEST_PULL_LAMBDA);
  };
  const middle = quantileOf(judged, 0.5),
    high = quantileOf(judged, 0.75),
    highLambda = quantileOf(below, 0.75);
  const own = fuel
    ? [
        { name: `the scale of ${fuel.name}`, afr: fuel.stoichAfr },
        { name: 'the gasoline scale', afr: GASOLINE_SCALE_AFR },
      ]
    : [];
  for (const { name, afr } of [...own, ...COMMON_SCALES]) {
    const expected = Math.log(afr / readAs);
    if (Math.abs(expected) < LEAST_SCALE_GAP) continue;
    // Nearer to the other scale's stoichiometric point than to this one's, at the middle and at the leaner quarter alike.
    const near = (value: number): boolean => Math.abs(Math.log(value) - expected) < Math.min(0.13, 0.4 * Math.abs(expected));
    // Richer for three quarters of the drive than any engine burns is not a mixture but a label, full load or not.
    const unburnable =
      expected < 0 && highLambda < UNBURNABLE_LAMBDA && high / Math.exp(expected) > 0.72 && high / Math.exp(expected) < 1.15;
    // Of a fuel that is not in the tank more is asked for: that idle and cruise, where no engine is kept so rich, lie at that scale too.
    if (fuel && !own.some((each) => each.afr === afr) ? !atRest(expected) : !near(middle) && !near(high) && !unburnable) continue;
    if (Math.abs(Math.log(high)) < 0.4 * Math.abs(expected)) continue;
    return {
      kind: 'implausible',
      channel,
      shape: 'afr-scale',
      value: quantileOf(below, 0.5),
      from: 0,
      to: readings.timeS.length,
      data: { looksLike: name, readOnAfr: readAs, trueAfr: afr, middle: quantileOf(below, 0.5), factor: readAs / afr },
    };
  }
  return undefined;
};
