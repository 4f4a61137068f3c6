// An engine runs a smooth curve, a table straight lines between breakpoints: how far the one stands off the other, so that readings between
// two breakpoints speak rightly of the values at them. Of a meter's transfer curve, which climbs with a power of its signal, this is
// several per cent.

import { solveWith, type Banded } from './banded.js';
import { cornersOf, type Equations } from './equations.js';
import type { Grid } from './grid.js';
import { dot } from './statistics.js';

/** Bends beyond this (ln, at the middle of a step) are a rough table's, not an engine's. */
const MOST_BEND = 0.05;
/** What a second-order formula leaves of the bend: about the third derivative's part over a step. Order of magnitude, no source. */
const LEFT_OVER = 0.2;
/**
 * Before the readings speak, half of a bend is taken to show, give or take a half: an engine is smooth, the table's bends may be its
 * author's errors.
 */
const SHARE_PRIOR = 0.5;
const SHARE_DEVIATION = 0.5;
export const UNKNOWN_BENDS = { share: SHARE_PRIOR, deviation: Math.hypot(SHARE_DEVIATION, LEFT_OVER) } as const;

/**
 * Second derivative of the values that stand `apart` from each other from `first` on, along an axis, at each breakpoint, by divided
 * differences; the ends go on as it ran, without changing sign.
 */
const secondDerivative = (axis: Float64Array, values: Float64Array, first: number, apart: number, result: Float64Array): void => {
  const last = axis.length - 1,
    end = first + last * apart;
  for (let at = 1; at < last; at++) {
    const before = axis[at] - axis[at - 1],
      after = axis[at + 1] - axis[at],
      here = first + at * apart,
      value = values[here];
    result[here] = (2 * ((values[here + apart] - value) / after - (value - values[here - apart]) / before)) / (before + after);
  }
  if (last === 2) result[first] = result[end] = result[first + apart];
  if (last > 2) {
    result[first] = goOn(result[first + apart], result[first + 2 * apart]);
    result[end] = goOn(result[end - apart], result[end - 2 * apart]);
  }
};

/** What the step from each breakpoint on comes to, squared; the last one's is the one before. */
const squares = (axis: Float64Array): Float64Array => {
  const all = new Float64Array(axis.length);
  for (let at = 0, last = axis.length - 2; last >= 0 && at < all.length; at++)
    all[at] = (axis[Math.min(at, last) + 1] - axis[Math.min(at, last)]) ** 2;
  return all;
};

const goOn = (near: number, far: number): number => near * Math.max(0, Math.min(2, 2 - far / (near || 1)));

/**
 * Fills `bend`: ln of the smooth curve over the straight lines at each observation, to second order: −½ u (1 − u) h² f″ / f on either axis
 * (remainder of linear interpolation; any textbook of numerical analysis). `values`: the table, every cell.
 */
export const bendsShown = (
  grid: Grid,
  values: Float64Array,
  { count, cell, weights }: { count: number; cell: Int32Array; weights: Float64Array },
  bend: Float64Array,
): void => {
  const width = grid.columns.length,
    height = grid.rows.length;
  const along = new Float64Array(values.length);
  const across = new Float64Array(values.length);
  if (width > 2) for (let row = 0; row < height; row++) secondDerivative(grid.columns, values, row * width, 1, along);
  if (height > 2) for (let column = 0; column < width; column++) secondDerivative(grid.rows, values, column, width, across);
  const h = squares(grid.columns),
    g = squares(grid.rows),
    { right, up } = cornersOf(grid);
  for (let at = 0, of = 0; at < count; at++, of += 4) {
    const k = cell[at],
      l = k + right,
      m = k + up,
      n = m + right,
      p = weights[of],
      q = weights[of + 1],
      r = weights[of + 2],
      s = weights[of + 3];
    const total = p * values[k] + q * values[l] + r * values[m] + s * values[n],
      u = q + s,
      v = r + s;
    const alongHere = p * along[k] + q * along[l] + r * along[m] + s * along[n],
      acrossHere = p * across[k] + q * across[l] + r * across[m] + s * across[n];
    const shown = (-0.5 * (u * (1 - u) * h[k % width] * alongHere + v * (1 - v) * g[Math.floor(k / width)] * acrossHere)) / total;
    bend[at] = Math.max(-MOST_BEND, Math.min(MOST_BEND, shown));
  }
};

/**
 * How much of the bends shows, 0 … 1, with its deviation: least squares of what cannot be laid to the cells (`factor` of their normal
 * equations, prior included) on what of the bends cannot: of the equations' columns the first without any bend taken off, and the bends.
 */
export const shareOfBends = (factor: Banded, { one, other, product, square }: Equations): { share: number; deviation: number } => {
  const laid = solveWith(factor, other),
    top = SHARE_PRIOR * SHARE_DEVIATION ** -2 + product - dot(laid, one),
    bottom = SHARE_DEVIATION ** -2 + square - dot(laid, other);
  return {
    share: Math.max(0, Math.min(1, top / bottom)),
    deviation: Math.hypot(1 / Math.sqrt(Math.max(bottom, SHARE_DEVIATION ** -2)), LEFT_OVER),
  };
};
