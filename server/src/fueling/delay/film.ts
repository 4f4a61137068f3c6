// What the fuel film on the intake wall keeps back of what is injected while it grows, and gives while it shrinks: how much, each session's
// readings tell.

import type { Observations } from '../solution/solve.js';

/**
 * A warm port's film keeps back up to about this share of its growth (standard deviation), by either measure of it. Order of magnitude, no
 * source.
 */
export const SHARE_DEVIATION = 0.1;
/**
 * From one working point to another, what a film keeps back differs by about this share of it: wall and vapour go with speed and load.
 * Order of magnitude, no source.
 */
export const FILM_DOUBT = 0.5;
/**
 * And by no less than this share of the film's growth, where the controller makes up for all of it on the whole: what it adds is a map's,
 * due here and too much there.
 * A spot that is always driven through one way has it from every passage alike. Order of magnitude, no source.
 */
export const LEAST_FILM_DOUBT = 0.03;

/** Weighted sums that a session's two shares follow from. */
const SUMS = 5;

/**
 * Updates what each session's film keeps back of every observation (ln), from what the cells leave over: a share of its growth by the
 * fuel's flow, and one of its growth by the fuel of a cycle, behind an air meter by what the manifold draws over what is metered. Measured
 * films stay the shorter the faster the engine turns (Hendricks and others 1993, from memory), so that a rising speed asks less of them
 * than a rising charge does; and a charge that rises while its fuel is on the way is short of fuel in the same measure.
 */
export const keptByFilm = (
  { count, film, chargeFilm, session }: Observations,
  sessions: number,
  residual: Float64Array,
  weight: Float64Array,
  keptBack: Float64Array,
): void => {
  const sums = new Float64Array(SUMS * sessions);
  for (let at = 0; at < count; at++) {
    const to = SUMS * session[at],
      byFlow = film[at],
      byCharge = chargeFilm[at],
      left = residual[at] + keptBack[at];
    sums[to] += weight[at] * byFlow ** 2;
    sums[to + 1] += weight[at] * byFlow * byCharge;
    sums[to + 2] += weight[at] * byCharge ** 2;
    sums[to + 3] += weight[at] * byFlow * left;
    sums[to + 4] += weight[at] * byCharge * left;
  }
  const shares = new Float64Array(2 * sessions);
  for (let each = 0; each < sessions; each++) {
    const [flow, both, charge, flowLeft, chargeLeft] = sums.subarray(SUMS * each, SUMS * (each + 1));
    const [a, b] = [flow + SHARE_DEVIATION ** -2, charge + SHARE_DEVIATION ** -2];
    shares[2 * each] = (b * flowLeft - both * chargeLeft) / (a * b - both ** 2);
    shares[2 * each + 1] = (a * chargeLeft - both * flowLeft) / (a * b - both ** 2);
  }
  for (let at = 0; at < count; at++) keptBack[at] = shares[2 * session[at]] * film[at] + shares[2 * session[at] + 1] * chargeFilm[at];
};
