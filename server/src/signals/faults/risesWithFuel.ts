// A lambda column that goes up with fuel: an equivalence ratio of fuel to air, or a narrow-band sensor's volts. Believed, it would call lean
// what is rich, and the other way round.

import type { Channel } from '../../formats/session/session.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { Track } from '../columns/hold.js';
import { quantileOf, sampleBy, sampleOf } from '../columns/statistics.js';
import { loadMask } from '../drive/opening.js';
import { above, keep, mark, upTo } from '../columns/marks.js';
import { spansOf } from '../columns/spans.js';
import { rangeOfColumn } from '../columns/stretches.js';
import type { Readings } from '../readings.js';
import type { Fault, Span } from '../signals.js';
import { DRAGGED_RPM, offPercentOf } from './burntCut.js';
import { isOtherwise } from '../mixture/offTarget.js';
import { isMixture } from './scaleEnds.js';
import { whileRunning } from './whileRunning.js';

const OF_MIXTURE: ReadonlySet<QuantityId> = new Set<QuantityId>(['lambda', 'lambda-2', 'target-lambda']);
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
  LOADED_FROM = 1.03,
  LEAST_LOADED = 0.98;
/** One over the richest mixture that is asked for. A diesel's target is above that for most of a drive, and so is one on another scale. */
const ASKED_TO = 1.6;
/** What swings between two ends is between them, too; what a loose wire shows is not. */
const SWINGS_FROM = 0.08,
  SWINGS_SHARE = 0.15;
const LEAST_READINGS = 200;
/** A switching sensor's volts hardly come up to here; an equivalence ratio is there for most of any drive. */
const VOLTS_TO = 0.97;

/** ln; a reading that stands at one over its target, at more targets than one, has the other's scale. Common practice, no source. */
const MIRRORED_WITHIN = 0.03,
  MIRRORED_SHARE = 0.8,
  TARGET_OFF = 0.03,
  TARGET_SPREAD = 0.04;

/** The whole channel as one fault. */
export const risesWithFuelOf = (readings: Readings, { channel }: Track): Fault | undefined => {
  const { quantity } = channel;
  if (quantity === undefined || !OF_MIXTURE.has(quantity) || isScaled(channel)) return undefined;
  if (quantity === 'target-lambda' ? asksLeanUnderLoad(readings) : isMirrored(readings, readings.held(quantity)!)) {
    const shown = sampleOf(readings.held(quantity)!);
    return whole(channel, { low: quantileOf(shown, 0.02), high: quantileOf(shown, 0.98), isVolts: 0, isMirrored: 1 });
  }
  if (quantity === 'target-lambda') return undefined;
  const all = whileRunning(readings, quantity)!;
  if (all.length < LEAST_READINGS) return undefined;
  const isVolts = quantileOf(all, 0.9) < VOLTS_TO && quantileOf(all, 0.998) < AIR_FROM,
    swings = (): number => all.filter((each) => each > SWINGS_FROM && each < NO_LAMBDA).length;
  return (isVolts && swings() > SWINGS_SHARE * all.length) || isTurned(readings, readings.held(quantity)!, isVolts)
    ? whole(channel, { low: quantileOf(all, 0.02), high: quantileOf(all, 0.98), isVolts: isVolts ? 1 : 0 })
    : undefined;
};

/** Whether overruns read rich, and full load does not. A gauge may show nought for air, and be right under load. */
const isTurned = (readings: Readings, lambda: Float64Array, isVolts: boolean): boolean => {
  // The overruns are asked for last: to find them all rows are looked at.
  if (!(rangeOfColumn(lambda).least < RATIO_ENDS)) return false;
  const loaded = sampleOf(lambda, 0, lambda.length, loadMask(readings, readings.held)),
    isLeanLoaded = quantileOf(loaded, 0.5) > LOADED_FROM;
  if (!isVolts && !isLeanLoaded && quantileOf(loaded, 0.9) < LOADED_FROM) return false;
  const spells = draggedSpans(readings).map(({ from, to }) => quantileOf(sampleOf(lambda, from, to), 0.5)),
    below = (limit: number): boolean => spells.filter((each) => each < limit).length >= Math.max(LEAST_SPELLS, LEAST_SHARE * spells.length);
  return (
    !spells.some((each) => each > AIR_FROM) &&
    ((below(NO_LAMBDA) && (isVolts || !(quantileOf(loaded, 0.9) < LOADED_FROM))) || (below(RATIO_ENDS) && isLeanLoaded))
  );
};

/** Whether its header names another scale than lambda's. */
const isScaled = ({ unit }: Channel): boolean => unit?.id === 'afr' || unit?.id === 'phi';

const whole = (channel: Channel, data: Readonly<Record<string, number>>): Fault => ({
  kind: 'implausible',
  channel,
  shape: 'rises-with-fuel',
  value: data.low,
  from: 0,
  to: channel.values.length,
  data,
});

/** Whether it is lean by as much as the target is rich. */
const isMirrored = ({ held }: Readings, lambda: Float64Array): boolean => {
  const target = held('target-lambda');
  if (!target) return false;
  const asked = sampleBy(target.length, { lambda, target }, askedRich);
  if (asked.length < LEAST_READINGS || !(quantileOf(asked, 0.9) - quantileOf(asked, 0.1) > TARGET_SPREAD)) return false;
  const off = sampleBy(target.length, { lambda, target }, offMirror);
  return off.filter((each) => Math.abs(each) < MIRRORED_WITHIN).length > MIRRORED_SHARE * off.length;
};

interface Pair {
  readonly lambda: Float64Array;
  readonly target: Float64Array;
}

/** ln of a rich target where a mixture is read; else NaN. */
const askedRich = ({ lambda, target }: Pair, i: number): number =>
  isMixture(lambda[i]) && isMixture(target[i]) && Math.log(target[i]) < -TARGET_OFF ? Math.log(target[i]) : NaN;
const offMirror = (pair: Pair, i: number): number => askedRich(pair, i) + Math.log(pair.lambda[i]);

/** Whether a logged target asks for a lean mixture under load and for no rich one: no engine is run so, and nothing is held to it. */
export const asksLeanUnderLoad = (readings: Readings): boolean => {
  const target = readings.held('target-lambda')!;
  if (isScaled(readings.channel('target-lambda')!) || isOtherwise(readings.vehicle)) return false;
  if (!(rangeOfColumn(target).greatest > LOADED_FROM)) return false;
  const all = sampleOf(target);
  if (!(quantileOf(all, 0.998) > LOADED_FROM && quantileOf(all, 0.9) < ASKED_TO)) return false;
  const loaded = sampleOf(target, 0, target.length, loadMask(readings, readings.held));
  return loaded.length >= LEAST_READINGS && quantileOf(loaded, 0.5) > LOADED_FROM && quantileOf(loaded, 0.02) >= LEAST_LOADED;
};

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
