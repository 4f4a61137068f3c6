// Fuel trims that a log does not tell of: columns that nobody named and that move as trims do, and a mixture that stands where engine
// computers hold it, with no trim logged.

import { isUnreadShare } from '../../formats/session/describe.js';
import type { Channel, Session } from '../../formats/session/session.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { believed } from '../drive/operating.js';
import type { Signals } from '../signals.js';
import { median, sampleBy } from '../columns/statistics.js';

/**
 * A trim stays within this of nought, its mean nearer; from reading to reading it moves in small steps, but where the loop opens. Common
 * practice, no source.
 */
const MOST_PERCENT = 40;
const MEAN_PERCENT = 15;
const STEP_PERCENT = 3;
const SMALL_STEPS_SHARE = 0.9;
const LEAST_READINGS = 20;

/** Words of what is in per cent too and small, and corrects no fuel. */
const OTHER =
  /grade|slope|incline|slip|humid|duty|purge|evap|egr|position|opening|valve|wastegate|boost|load|pedal|throttle|torque|power|brake|steer|charge|fan|level|angle|knock|spark|ign|timing|idle|clutch|tank|pump|cam|vvt|soot|regen/i;

/** Columns that nobody named and that look like a fuel trim: in per cent, near nought, in small steps. */
export const likeTrims = ({ channels }: Session): readonly Channel[] =>
  channels.filter((channel) => isUnreadShare(channel) && !OTHER.test(channel.name) && movesAsTrim(channel.values));

const movesAsTrim = (values: Float64Array): boolean => {
  let [count, sum, small, before, isMoved] = [0, 0, 0, NaN, false];
  for (let row = 0; row < values.length; row++) {
    const value = values[row];
    if (value !== value) continue;
    if (Math.abs(value) > MOST_PERCENT) return false;
    if (!(Math.abs(value - before) > STEP_PERCENT)) small++;
    if (value !== 0) isMoved = true;
    before = value;
    sum += value;
    count++;
  }
  return count >= LEAST_READINGS && isMoved && Math.abs(sum / count) <= MEAN_PERCENT && small >= SMALL_STEPS_SHARE * count;
};

/**
 * Targets this near to 1 are where engine computers usually hold the mixture themselves; a mixture this near to its target may be held
 * there. Common practice, no source.
 */
const NEAR_ONE = 0.02;
const HELD_WITHIN = 0.02;
/** Further off is overrun, or a reading of nothing. */
const FARTHEST = 0.15;
const LEAST_HELD = 50;

/**
 * What has to be taken of trims that are not logged (or not recognised), in words; undefined where all are, or where the mixture does not
 * stand where it may be held.
 */
export const trimsTaken = (signals: Signals): string | undefined => {
  const logs = (...ids: readonly QuantityId[]): boolean => ids.some((id) => signals.channel(id) !== undefined);
  if (logs('long-term-fuel-trim', 'long-term-fuel-trim-2') || !standsAtOne(signals)) return undefined;
  return logs('short-term-fuel-trim', 'short-term-fuel-trim-2')
    ? 'no long-term fuel trim is logged or recognised: the engine computer is taken to have learnt none'
    : 'no fuel trims are logged or recognised: the engine computer is taken not to correct the mixture by itself, though it stands near λ 1 where most do (log the trims to be sure)';
};

const standsAtOne = (signals: Signals): boolean => {
  const lambda = believed(signals, 'lambda') ?? believed(signals, 'lambda-2'),
    target = signals.targetLambda?.values;
  if (!lambda || !target) return false;
  const off = sampleBy(lambda.length, { lambda, target }, awayFromOne);
  return off.length >= LEAST_HELD && Math.abs(median(off)) <= HELD_WITHIN;
};

/** Lambda over its target less one where that lies near 1; NaN elsewhere. */
const awayFromOne = ({ lambda, target }: { readonly lambda: Float64Array; readonly target: Float64Array }, row: number): number => {
  const off = lambda[row] / target[row] - 1;
  return Math.abs(target[row] - 1) <= NEAR_ONE && Math.abs(off) <= FARTHEST ? off : NaN;
};
