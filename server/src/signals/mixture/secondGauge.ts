// A second gauge of a bank, where it sees a lean spot that the first one does not: which of them is right nobody knows, and a danger that
// one alone sees is told.

import { isOfCylinder } from '../../formats/session/channelNames.js';
import type { Channel } from '../../formats/session/session.js';
import type { Operating } from '../drive/operating.js';
import { isMixture } from '../faults/scaleEnds.js';
import type { Signals } from '../signals.js';
import { median } from '../columns/statistics.js';
import { narrowLambdas, standsAtEnds } from './narrowLambda.js';

/** Two gauges of one exhaust read alike within this share of what they usually differ by, over so long (common practice, no source). */
const ALIKE_SHARE = 0.04,
  OVER_S = 0.5;
/**
 * A gauge that answers late shows what the other one showed before, and under load reads as it does (to λ) once it has answered. No source.
 */
const LATE_S = 2,
  ANSWERED_S = 0.3,
  ANSWERED_WITHIN = 0.01;
/** λ, of load; a gauge that does not read rich as the other one does is no such gauge. */
const RICH_TO = 0.93,
  LEAST_READINGS = 20;

/** The others of the bank that `first` are the readings of, and of theirs what they are to be judged by; NaN elsewhere. */
export const secondGauges = (
  signals: Signals,
  own: Channel,
  first: Float64Array,
  { readsLoad, air }: Operating,
): { readonly channel: Channel; readonly lambda: Float64Array }[] =>
  signals.session.channels
    .filter(
      (channel) =>
        channel.quantity === own.quantity &&
        channel !== own &&
        !isOfCylinder(channel) &&
        channel.filled > 0 &&
        narrowLambdas(signals.session).get(own.quantity!)?.narrow !== channel &&
        !standsAtEnds(channel, own),
    )
    .flatMap((channel) => {
      const second = channel.values.slice();
      for (const { from, to } of signals.faultsOf(channel)) second.fill(NaN, from, to);
      const lambda = new Float64Array(second.length).fill(NaN);
      return putOwn(signals.timeS, first, second, readsLoad, air, lambda) ? [{ channel, lambda }] : [];
    });

/** Fills in what the second gauge tells, the first one's readings where it tells nothing else; whether it reads rich as that one does. */
const putOwn = (
  timeS: Float64Array,
  first: Float64Array,
  second: Float64Array,
  readsLoad: Uint8Array,
  air: Uint8Array,
  lambda: Float64Array,
): boolean => {
  for (let i = 0; i < lambda.length; i++) if (isMixture(first[i]) && isMixture(second[i])) lambda[i] = second[i] / first[i];
  const usual = median(lambda);
  let from = 0,
    sum = 0,
    count = 0,
    answeredS = 0,
    answeredTo = Infinity,
    rich = 0,
    alikeRich = 0;
  const own = new Float64Array(lambda.length).fill(NaN);
  for (let i = 1; i < lambda.length; i++) {
    if (readsLoad[i] === 0 || air[i] === 1) {
      from = i + 1;
      sum = count = answeredS = 0;
      answeredTo = Infinity;
    } else if (lambda[i] === lambda[i]) {
      sum += lambda[i];
      count++;
      for (; timeS[i] - timeS[from] > OVER_S; from++)
        if (lambda[from] === lambda[from]) {
          sum -= lambda[from];
          count--;
        }
      const apart = sum / count / usual - 1,
        isAlike = Math.abs(apart) < ALIKE_SHARE;
      if (isAlike) {
        answeredS += Math.max(0, timeS[i] - timeS[i - 1]);
        answeredTo = Math.min(answeredTo, first[i]);
      }
      if (first[i] < RICH_TO) {
        rich++;
        if (isAlike) alikeRich++;
      }
      const hasAnswered = answeredS >= ANSWERED_S && first[i] > answeredTo - ANSWERED_WITHIN;
      own[i] = apart >= ALIKE_SHARE && hasAnswered && isNew(timeS, first, i, second[i] / usual) ? second[i] : first[i];
    }
  }
  lambda.set(own);
  return rich >= LEAST_READINGS && 2 * alikeRich >= rich;
};

/** Whether the first gauge has shown nothing as lean for a while. */
const isNew = (timeS: Float64Array, first: Float64Array, at: number, lambda: number): boolean => {
  for (let i = at; i >= 0 && Math.abs(timeS[at] - timeS[i]) <= LATE_S; i--) if (first[i] >= lambda) return false;
  return true;
};
