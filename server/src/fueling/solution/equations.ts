// The loops of a solution over all its observations, each of which stands on four cells: functions that outlive a solution.

import { banded, type Banded } from './banded.js';
import type { Grid } from './grid.js';
import { bandOf } from './prior.js';
import type { Observations } from './solve.js';

type Placed = Pick<Observations, 'count' | 'cell'>;

/**
 * How far behind the first cell of a reading the next one to the right and the one above stand: where a table has one column or row only,
 * nowhere, and nothing weighs there.
 */
export interface Corners {
  readonly right: number;
  readonly up: number;
}

export const cornersOf = ({ columns, rows }: Grid): Corners => ({
  right: columns.length > 1 ? 1 : 0,
  up: rows.length > 1 ? columns.length : 0,
});

/**
 * Takes the bilinear sum of values as a sum of logarithms round the present x: the share of each cell goes to `rows`, what is required
 * beyond it, bends and film aside, to `straight`.
 */
export const linearise = (
  { count, cell, weights, lnRequired }: Observations,
  { right, up }: Corners,
  values: Float64Array,
  x: Float64Array,
  keptBack: Float64Array,
  rows: Float64Array,
  straight: Float64Array,
): void => {
  for (let at = 0, of = 0; at < count; at++, of += 4) {
    const k = cell[at],
      a = weights[of] * values[k],
      b = weights[of + 1] * values[k + right],
      c = weights[of + 2] * values[k + up],
      d = weights[of + 3] * values[k + up + right],
      total = a + b + c + d;
    rows[of] = a / total;
    rows[of + 1] = b / total;
    rows[of + 2] = c / total;
    rows[of + 3] = d / total;
    straight[at] =
      lnRequired[at] - Math.log(total) + (a * x[k] + b * x[k + right] + c * x[k + up] + d * x[k + up + right]) / total - keptBack[at];
  }
};

/** Of weighted least squares AᵀWA, and AᵀW of two columns, with the sums of their products and of the second one's squares. */
export interface Equations {
  readonly matrix: Banded;
  readonly one: Float64Array;
  readonly other: Float64Array;
  readonly product: number;
  readonly square: number;
}

/** Each row of A stands on the four cells from `cell`; the matrix takes the place of what `matrix` held. */
export const equationsOf = (
  grid: Grid,
  { count, cell }: Placed,
  rows: Float64Array,
  weight: Float64Array,
  one: Float64Array,
  other: Float64Array,
  matrix = banded(grid.columns.length * grid.rows.length, bandOf(grid)),
): Equations => {
  const { right, up } = cornersOf(grid),
    { data, width } = matrix,
    ofOne = new Float64Array(matrix.size),
    ofOther = new Float64Array(matrix.size);
  let product = 0,
    square = 0;
  data.fill(0);
  for (let at = 0, of = 0; at < count; at++, of += 4) {
    const w = weight[at];
    if (w === 0) continue;
    // The corners are in order: what stands before is left of the diagonal.
    const k = cell[at],
      ofK = k * width + width + k,
      ofL = ofK + right * width,
      ofM = ofK + up * width,
      ofN = ofL + up * width;
    const p = rows[of],
      q = rows[of + 1],
      r = rows[of + 2],
      s = rows[of + 3],
      wp = w * p,
      wq = w * q,
      wr = w * r,
      ws = w * s,
      first = one[at],
      second = other[at];
    data[ofK] += wp * p;
    data[ofL] += wq * p;
    data[ofL + right] += wq * q;
    data[ofM] += wr * p;
    data[ofM + right] += wr * q;
    data[ofM + up] += wr * r;
    data[ofN] += ws * p;
    data[ofN + right] += ws * q;
    data[ofN + up] += ws * r;
    data[ofN + up + right] += ws * s;
    ofOne[k] += wp * first;
    ofOne[k + right] += wq * first;
    ofOne[k + up] += wr * first;
    ofOne[k + up + right] += ws * first;
    ofOther[k] += wp * second;
    ofOther[k + right] += wq * second;
    ofOther[k + up] += wr * second;
    ofOther[k + up + right] += ws * second;
    product += w * first * second;
    square += w * second * second;
  }
  return { matrix, one: ofOne, other: ofOther, product, square };
};

/** What is left of `straight` less a share of `bend` by the solution x. */
export const takeResiduals = (
  { count, cell }: Placed,
  { right, up }: Corners,
  rows: Float64Array,
  x: Float64Array,
  straight: Float64Array,
  share: number,
  bend: Float64Array,
  residual: Float64Array,
): void => {
  for (let at = 0, of = 0; at < count; at++, of += 4) {
    const k = cell[at];
    residual[at] =
      straight[at] -
      share * bend[at] -
      (rows[of] * x[k] + rows[of + 1] * x[k + right] + rows[of + 2] * x[k + up] + rows[of + 3] * x[k + up + right]);
  }
};

/** Variance of what a solution says at each observation, into `variance`; the inverse of its matrix, near the diagonal. */
export const fittedVariance = (
  { count, cell }: Placed,
  { right, up }: Corners,
  rows: Float64Array,
  { width, data }: Banded,
  variance: Float64Array,
): Float64Array => {
  for (let at = 0, of = 0; at < count; at++, of += 4) {
    const k = cell[at],
      ofK = k * width + width + k,
      ofL = ofK + right * width,
      ofM = ofK + up * width,
      ofN = ofL + up * width,
      p = rows[of],
      q = rows[of + 1],
      r = rows[of + 2],
      s = rows[of + 3];
    variance[at] =
      p * p * data[ofK] +
      q * q * data[ofL + right] +
      r * r * data[ofM + up] +
      s * s * data[ofN + up + right] +
      2 *
        (q * p * data[ofL] +
          r * (p * data[ofM] + q * data[ofM + right]) +
          s * (p * data[ofN] + q * data[ofN + right] + r * data[ofN + up]));
  }
  return variance;
};

/**
 * How many blocks pull at each cell, those that pull alike counted whole: (Σ pull)² / Σ pull² (the effective number of unequal weights;
 * Kish 1965, from memory).
 */
export const blocksThatPull = (
  { count, cell }: Placed,
  { right, up }: Corners,
  rows: Float64Array,
  weight: Float64Array,
  residual: Float64Array,
  size: number,
): Float64Array => {
  const sum = new Float64Array(size),
    squares = new Float64Array(size);
  for (let at = 0, of = 0; at < count; at++, of += 4) {
    const k = cell[at],
      pull = weight[at] * residual[at],
      p = pull * rows[of],
      q = pull * rows[of + 1],
      r = pull * rows[of + 2],
      s = pull * rows[of + 3];
    sum[k] += p;
    squares[k] += p * p;
    sum[k + right] += q;
    squares[k + right] += q * q;
    sum[k + up] += r;
    squares[k + up] += r * r;
    sum[k + up + right] += s;
    squares[k + up + right] += s * s;
  }
  return sum.map((each, k) => (squares[k] > 0 ? each ** 2 / squares[k] : 0));
};
