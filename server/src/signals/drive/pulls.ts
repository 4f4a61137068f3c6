// The numbers a tuner asks of each full-load run.

import { limitOf } from '../../formats/limits.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { dutyOf } from '../distress.js';
import { heldDroops } from '../droop.js';
import type { Signals, Pull, Span } from '../signals.js';
import { onceFor } from '../once.js';
import { believed, operatingOf } from './operating.js';
import { extremes, median } from '../columns/statistics.js';
import { worstOf } from '../columns/worstOf.js';

/**
 * Numbers of every pull; readings that are not trusted are left out, and lambda is compared with the target of the moment it was fuelled.
 */
export const pullsOf = (signals: Signals): Pull[] => {
  const spans = signals.events.filter((event) => event.kind === 'pull');
  // One question of all pulls after the other: each looks at few columns, and of a long session few are at hand.
  const each = <T>(of: (span: Span) => T): T[] => spans.map(of);
  const peaksIn = (values: Float64Array | undefined): (number | undefined)[] =>
    each(({ from, to }) => values && finite(extremes(values, from, to)[1]));
  const peaks = (quantity: QuantityId): (number | undefined)[] => peaksIn(believed(signals, quantity));
  const speeds = each((span) => extremes(within(signals, 'engine-speed', span) ?? []));
  const pressures = peaks('manifold-pressure'),
    lambdas = each((span) => worstLambda(signals, span)),
    retards = peaksIn(worstOf(signals, 'knock-retard')?.values);
  const advances = each((span) => finite(mean(within(signals, 'ignition-advance', span) ?? NOTHING)));
  const duties = peaksIn(dutyOf(signals)?.values),
    drops = heldDroops(signals, spans);
  const rises = each((span) => riseOf(within(signals, 'intake-air-temperature', span) ?? NOTHING));
  const logged = signals.held('gear') !== undefined;
  const gears = each((span) => (logged ? finite(median(within(signals, 'gear', span)!)) : gearFromRatio(signals, span)));
  return spans.map(({ from, to }, k): Pull => ({
    from,
    to,
    recording: signals.recordings.findIndex((recording) => from >= recording.from && from < recording.to),
    fromRpm: speeds[k][0],
    toRpm: speeds[k][1],
    peakManifoldPressureKPa: pressures[k],
    ...lambdas[k],
    peakKnockRetardDeg: retards[k],
    meanIgnitionAdvanceDeg: advances[k],
    peakDutyPercent: duties[k],
    fuelPressureDropPercent: drops[k],
    intakeAirRiseC: rises[k],
    gear: gears[k],
  }));
};

const NOTHING = new Float64Array(0);

/** From the first number to the last. */
const riseOf = (values: Float64Array): number | undefined => {
  let first = 0,
    last = values.length - 1;
  while (first < last && values[first] !== values[first]) first++;
  while (last > first && values[last] !== values[last]) last--;
  return first < last ? values[last] - values[first] : undefined;
};

const finite = (value: number | undefined): number | undefined => (value !== undefined && Number.isFinite(value) ? value : undefined);

const mean = (values: Float64Array): number => {
  let sum = 0,
    count = 0;
  for (const value of values)
    if (value === value) {
      sum += value;
      count++;
    }
  return count > 0 ? sum / count : NaN;
};

/** The values in the span, NaN where they are not to be believed: never to be written to. */
const within = (signals: Signals, quantity: QuantityId, { from, to }: Span): Float64Array | undefined =>
  believed(signals, quantity)?.subarray(from, to);

/**
 * The reading farthest above its target, of those that were surely fuelled under load within the pull: whole delay band in it, no air in
 * the exhaust.
 */
const worstLambda = (signals: Signals, span: Span): Pick<Pull, 'worstLambda' | 'worstTargetLambda' | 'worstAt' | 'leanS'> => {
  const { timeS, targetLambda } = signals,
    targets = targetLambda?.values;
  const { readsLoad, air, bandFrom, bandTo } = operatingOf(signals);
  const limit = limitOf('leanUnderLoadWarning', signals.vehicle.limits).value;
  let worst = -Infinity,
    worstAt = -1,
    leanS = 0,
    worstTarget: number | undefined;
  for (const bank of ['lambda', 'lambda-2'] as const) {
    const lambda = believed(signals, bank);
    if (!lambda) continue;
    let bankLeanS = 0;
    // Behind the pull's end the lift's own air may arrive earlier than the delay's model says.
    for (let i = span.from; i < span.to; i++) {
      if (readsLoad[i] === 0 || air[i] === 1 || bandFrom[i] < span.from || lambda[i] !== lambda[i]) continue;
      const target = targets ? leanestIn(targets, bandFrom[i], bandTo[i]) : NaN;
      if (targetLambda && target !== target) continue;
      const above = targetLambda ? lambda[i] - target : lambda[i];
      if (targetLambda && above > limit) bankLeanS += i > 0 ? Math.min(timeS[i] - timeS[i - 1], 1) : 0;
      if (above > worst) {
        worst = above;
        worstAt = i;
        worstTarget = targetLambda ? target : undefined;
      }
    }
    leanS = Math.max(leanS, bankLeanS);
  }
  if (worstAt < 0) return {};
  return {
    worstLambda: worstTarget === undefined ? worst : worst + worstTarget,
    worstTargetLambda: worstTarget,
    worstAt,
    leanS: targetLambda ? leanS : undefined,
  };
};

/** Whether a believed reading of the span counts for its worst lambda. */
export const showsMixture = (signals: Signals, span: Span): boolean => {
  const { readsLoad, air, bandFrom } = operatingOf(signals);
  return (['lambda', 'lambda-2'] as const).some((bank) => {
    const lambda = believed(signals, bank);
    for (let i = span.from; lambda && i < span.to; i++)
      if (readsLoad[i] === 1 && air[i] === 0 && bandFrom[i] >= span.from && lambda[i] === lambda[i]) return true;
    return false;
  });
};

/** Greatest number of `values[from … to]`; NaN of none. */
const leanestIn = (values: Float64Array, from: number, to: number): number => {
  let leanest = NaN;
  for (let k = from; k <= to; k++) if (values[k] === values[k] && !(values[k] <= leanest)) leanest = values[k];
  return leanest;
};

/** Gear by the ratio of engine to road speed, counted over the session's own clusters; undefined where they do not stand apart. */
const gearFromRatio = (signals: Signals, span: Span): number | undefined => {
  const clusters = gearRatios(signals);
  const rpm = signals.held('engine-speed'),
    speed = signals.held('vehicle-speed');
  if (clusters.length < 2 || !rpm || !speed) return undefined;
  const ratio = median(rpm.subarray(span.from, span.to).map((value, i) => value / speed[span.from + i]));
  const at = clusters.findIndex((cluster) => Math.abs(Math.log(ratio / cluster)) < 0.06);
  return at < 0 ? undefined : at + 1;
};

/**
 * rpm per km/h of each gear used, first gear first: peaks of the ratio's histogram (3 % bins) that hold 2 % of the driven samples. Lower
 * gears never used are not counted.
 */
export const gearRatios = onceFor((signals: Signals): readonly number[] => {
  const rpm = signals.held('engine-speed'),
    speed = signals.held('vehicle-speed');
  const found: number[] = [];
  if (rpm && speed) {
    const bins = new Float64Array(140);
    let total = 0;
    for (let i = 0; i < rpm.length; i++) {
      if (!(speed[i] > 12) || !(rpm[i] > 900)) continue;
      const bin = Math.floor(Math.log(rpm[i] / speed[i] / 8) / 0.03);
      if (bin >= 0 && bin < bins.length) {
        bins[bin]++;
        total++;
      }
    }
    for (let k = 1; k + 1 < bins.length; k++) {
      const peak = bins[k - 1] + bins[k] + bins[k + 1];
      if (peak > 0.05 * total && bins[k] >= bins[k - 1] && bins[k] > bins[k + 1]) found.push(8 * Math.exp((k + 0.5) * 0.03));
    }
    found.reverse();
  }
  return found;
});
