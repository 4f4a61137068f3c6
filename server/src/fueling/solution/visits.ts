// What the readings of one visit share, so that a visit never counts for more than itself.

import type { Observations } from './solve.js';

/**
 * Readings of one visit err alike (air temperature, fuel pressure, a curve between breakpoints): finds the variance between visits by
 * moments and lets each block count so that a visit never counts for more than that. Returns the deviation between visits.
 */
export const visitInflation = (
  observations: Observations,
  residual: Float64Array,
  trust: Float64Array,
  own: Float64Array,
  inflation: Float64Array,
): number => {
  const visits = visitsOf(observations, residual, trust, own),
    between = varianceBetween(visits);
  for (let at = 0; at < visits.starts.length; at++) inflation.fill(1 + between / visits.variance[at], visits.starts[at], visits.ends[at]);
  return Math.sqrt(between);
};

/** Of each visit its first observation and the one after its last, the mean, and that one's variance. */
interface Visits {
  readonly starts: Int32Array;
  readonly ends: Int32Array;
  readonly mean: Float64Array;
  readonly variance: Float64Array;
}

const visitsOf = ({ count, visit }: Observations, residual: Float64Array, trust: Float64Array, own: Float64Array): Visits => {
  const starts = new Int32Array(count),
    ends = new Int32Array(count),
    mean = new Float64Array(count),
    variance = new Float64Array(count);
  let visits = 0;
  for (let from = 0, to = 0; from < count; from = to) {
    let sum = 0,
      precision = 0;
    for (; to < count && visit[to] === visit[from]; to++) {
      const w = trust[to] / own[to];
      sum += w * residual[to];
      precision += w;
    }
    if (!(precision > 0)) continue;
    starts[visits] = from;
    ends[visits] = to;
    mean[visits] = sum / precision;
    variance[visits++] = 1 / precision;
  }
  return { starts: starts.subarray(0, visits), ends, mean, variance };
};

/** Nearer to what it was (share of it) a round tells nothing more. */
const SETTLED = 1e-6;

const varianceBetween = ({ starts, mean, variance }: Visits): number => {
  let between = 0;
  for (let round = 0; round < 20; round++) {
    let sum = 0,
      total = 0;
    for (let at = 0; at < starts.length; at++) {
      const all = variance[at] + between,
        w = 1 / (all * all);
      sum += w * (Math.min(mean[at] * mean[at], 9 * all) - variance[at]);
      total += w;
    }
    const before = between;
    between = total > 0 ? Math.max(0, sum / total) : 0;
    if (Math.abs(between - before) <= SETTLED * between) break;
  }
  return between;
};
