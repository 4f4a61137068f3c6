// A lambda column that goes up with fuel: an equivalence ratio of fuel to air, or a narrow-band sensor's volts. Believed, it would call lean
// what is rich, and the other way round.

import type { Track } from '../columns/hold.js';
import { median, quantileOf, sampleOf } from '../columns/statistics.js';
import { loadMask } from '../drive/opening.js';
import { above, keep, mark, upTo } from '../columns/marks.js';
import { spansOf } from '../columns/spans.js';
import type { Readings } from '../readings.js';
import type { Fault, Span } from '../signals.js';
import { DRAGGED_RPM, offPercentOf } from './burntCut.js';
import { whileRunning } from './whileRunning.js';

/** λ: no gauge of lambda goes so far down, and air goes to its other end. Order of magnitude, no source. */
const NO_LAMBDA = 0.55,
  AIR_FROM = 1.15;
/** Overruns, and the share of them, that read so. Common practice, no source. */
const LEAST_SPELLS = 3,
  LEAST_SHARE = 0.5;
/** Behind the foot's lift the last of the mixture has passed the sensor by now. */
const PASSED_S = 1.5,
  LEAST_S = 1;
/** An equivalence ratio that a gauge ends at in air (1 / λ 1.36), and what is read under load beside it. */
const RATIO_ENDS = 0.75,
  LOADED_FROM = 1.03;
/** What swings between two ends is between them, too; what a loose wire shows is not. */
const SWINGS_FROM = 0.08,
  SWINGS_SHARE = 0.15;
const LEAST_READINGS = 200;
/** A switching sensor's volts hardly come up to here; an equivalence ratio is there for most of any drive. */
const VOLTS_TO = 0.97;

/** The whole channel as one fault. */
export const risesWithFuelOf = (readings: Readings, { channel }: Track): Fault | undefined => {
  const { quantity, unit } = channel;
  if ((quantity !== 'lambda' && quantity !== 'lambda-2') || unit?.id === 'afr' || unit?.id === 'phi') return undefined;
  const lambda = readings.held(quantity)!,
    all = whileRunning(readings, quantity)!;
  if (all.length < LEAST_READINGS) return undefined;
  const spells = draggedSpans(readings).map(({ from, to }) => quantileOf(sampleOf(lambda, from, to), 0.5)),
    below = (limit: number): boolean => spells.filter((each) => each < limit).length >= Math.max(LEAST_SPELLS, LEAST_SHARE * spells.length);
  const neverAir = !spells.some((each) => each > AIR_FROM),
    swings = all.filter((each) => each > SWINGS_FROM && each < NO_LAMBDA).length;
  const isTurned = neverAir && (below(NO_LAMBDA) || (below(RATIO_ENDS) && underLoad(readings, lambda) > LOADED_FROM)),
    isVolts = quantileOf(all, 0.9) < VOLTS_TO && quantileOf(all, 0.998) < AIR_FROM;
  return isTurned || (isVolts && swings > SWINGS_SHARE * all.length)
    ? {
        kind: 'implausible',
        channel,
        shape: 'rises-with-fuel',
        value: quantileOf(all, 0.02),
        from: 0,
        to: lambda.length,
        data: { low: quantileOf(all, 0.02), high: quantileOf(all, 0.98), isVolts: isVolts ? 1 : 0 },
      }
    : undefined;
};

const underLoad = (readings: Readings, lambda: Float64Array): number => median(lambda, loadMask(readings, readings.held));

/** Where the engine is dragged along with the foot off, once the last mixture has passed the sensor. */
const draggedSpans = ({ held, timeS, recordings }: Readings): Span[] => {
  const foot = held('throttle') ?? held('pedal') ?? held('manifold-pressure'),
    rpm = held('engine-speed');
  if (!foot || !rpm) return [];
  return spansOf(keep(mark(foot, upTo(offPercentOf(foot))), rpm, above(DRAGGED_RPM)), timeS, {
    recordings,
    leastS: PASSED_S + LEAST_S,
  }).map(({ from, to }) => {
    const liftS = timeS[from];
    while (timeS[from] < liftS + PASSED_S) from++;
    return { from, to };
  });
};
