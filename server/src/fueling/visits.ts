// What the readings of one visit share, so that a visit never counts for more than itself.

import type { Observations } from './solve.js';

/**
 * Readings of one visit err alike (air temperature, fuel pressure, a curve between breakpoints): finds the variance between visits by
 * moments and lets each block count so that a visit never counts for more than that. Returns the deviation between visits.
 */
export const visitInflation = (observations: Observations, residual: Float64Array, trust: Float64Array, own: Float64Array, inflation: Float64Array): number => {
  const visits = visitsOf(observations, residual, trust, own), between = varianceBetween(visits);
  for (const { from, to, variance } of visits) inflation.fill(1 + between / variance, from, to);
  return Math.sqrt(between);
};

/** Observations `from` … `to` − 1, with the variance of their mean. */
interface Visit { readonly from: number; readonly to: number; readonly mean: number; readonly variance: number }

const visitsOf = ({ count, visit }: Observations, residual: Float64Array, trust: Float64Array, own: Float64Array): Visit[] => {
  const visits: Visit[] = [];
  for (let from = 0; from < count;) {
    let to = from;
    let [sum, precision] = [0, 0];
    for (; to < count && visit[to] === visit[from]; to++) {
      const w = trust[to] / own[to];
      sum += w * residual[to];
      precision += w;
    }
    if (precision > 0) visits.push({ from, to, mean: sum / precision, variance: 1 / precision });
    from = to;
  }
  return visits;
};

const varianceBetween = (visits: readonly Visit[]): number => {
  let between = 0;
  for (let round = 0; round < 20; round++) {
    let [sum, total] = [0, 0];
    for (const { mean, variance } of visits) {
      const w = 1 / (variance + between) ** 2;
      const square = Math.min(mean ** 2, 9 * (variance + between));
      sum += w * (square - variance);
      total += w;
    }
    between = total > 0 ? Math.max(0, sum / total) : 0;
  }
  return between;
};
