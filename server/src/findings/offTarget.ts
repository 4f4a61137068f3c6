// How far a lambda reading lies off its target: which one it may be held to, and where any lies so far off that a spell may come of it.

import type { Operating } from '../signals/operating.js';
import type { Signals } from '../signals/signals.js';
import { spansOf } from '../signals/spans.js';
import { greatestOf, leastOf } from '../signals/statistics.js';

/** Breaks in a spell that are bridged, seconds. */
export const MERGE_S = 1;
/** What a running sum rounds off, lambda. */
export const ROUNDED_OFF = 1e-9;
/** Without a target: what an engine under load is held against (reference: best power is richer still; common practice, no source). */
export const ASSUMED_TARGET_LOAD = 1.0;
export const ASSUMED_TARGET_BOOST = 0.9;

/** Target that a reading may be held to: the leanest (for lean) or richest (for rich) of its delay band, so that a target in motion accuses nobody. */
export const targetAt = (signals: Signals, operating: Operating, i: number, lean: boolean): number => {
  const target = signals.targetLambda;
  if (!target) return operating.readsBoost[i] === 1 ? ASSUMED_TARGET_BOOST : ASSUMED_TARGET_LOAD;
  let from = operating.bandFrom[i], to = operating.bandTo[i];
  // A target that is asked for now and then may have been the one before, or be the next already.
  const ageS = target.from === 'channel' ? signals.ageS('target-lambda') : 0, { timeS } = signals;
  while (from > 0 && timeS[operating.bandFrom[i]] - timeS[from - 1] <= ageS) from--;
  while (to + 1 < timeS.length && timeS[to + 1] - timeS[operating.bandTo[i]] <= ageS) to++;
  return (lean ? greatestOf : leastOf)(target.values, from, to + 1);
};

/**
 * Calls `judge` for each sample that the mask marks, but for those of runs in which no reading is further than `limit` from its target (leaner by `sign` 1, richer by −1) nor one that `orIn` knows,
 * and which lie too far from any such for a spell to be bridged over them: what stands there decides nothing. Without a target each is judged.
 */
export const judgeRuns = (signals: Signals, operating: Operating, first: number, mask: Uint8Array, lambda: Float64Array, sign: 1 | -1, limit: number, orIn: (from: number, to: number) => boolean, judge: (i: number) => void): void => {
  const timeS = signals.timeS.subarray(first), hasTarget = signals.targetLambda !== undefined;
  const runs = spansOf(mask, timeS), isFar = runs.map(({ from, to }) => !hasTarget || nextFar(signals, operating, lambda, sign, limit, first, from, to) < to || orIn(from, to));
  const isNear = (at: number, step: 1 | -1): boolean => {
    for (let other = at + step; other >= 0 && other < runs.length; other += step) {
      const apartS = step > 0 ? timeS[runs[other].from] - timeS[runs[at].to - 1] : timeS[runs[at].from] - timeS[runs[other].to - 1];
      // Over a clock that steps back nothing is bridged.
      if (!(apartS >= 0 && apartS <= MERGE_S)) return false;
      if (isFar[other]) return true;
    }
    return false;
  };
  runs.forEach(({ from, to }, at) => { if (isFar[at] || isNear(at, -1) || isNear(at, 1)) for (let i = from; i < to; i++) if (mask[i] === 1) judge(i); });
};

/** The first reading of `[from, to)`, counted from the session's sample `first` on, that is further than `limit` from its target; `to` where there is none. */
export const nextFar = (signals: Signals, operating: Operating, lambda: Float64Array, sign: 1 | -1, limit: number, first: number, from: number, to: number): number => {
  const targets = signals.targetLambda!.values, { bandFrom } = operating, atLeast = limit - ROUNDED_OFF;
  for (let i = from; (i = nextFarFrom(lambda, targets, bandFrom, sign, atLeast, first, i, to)) < to; i++) if (sign * (lambda[i] - targetAt(signals, operating, first + i, sign > 0)) > atLeast) return i;
  return to;
};

/** The same of one of the targets that a reading may have: it is none further from the one that it is held to. */
const nextFarFrom = (lambda: Float64Array, targets: Float64Array, bandFrom: Int32Array, sign: 1 | -1, limit: number, first: number, from: number, to: number): number => {
  for (let i = from; i < to; i++) if (!(sign * (lambda[i] - targets[bandFrom[first + i]]) <= limit) && lambda[i] === lambda[i]) return i;
  return to;
};
