// What is held of a table before any reading speaks: that it departs from the one it was logged with smoothly, in limited steps, and not by
// much; how smoothly, the readings tell.

import { addTo, banded, cholesky, choleskyOf, logDeterminant, plus, solveWith, times, type Banded } from './banded.js';
import type { Grid } from './grid.js';
import { gainOf } from './spots.js';
import { dot } from './statistics.js';

/** How far a cell may stand from the table it was logged with before the readings speak (standard deviation of ln). */
const TABLE_DEVIATION = 0.3;
/**
 * How much the departure from the table may differ from one cell to the next before the readings speak (ln): keeps a bend from running on
 * into cells nobody drove.
 */
const SLOPE_DEVIATION = 0.04;
/**
 * A cell's bend is no less than what a sensor repeats itself to at three working points (`SPOT_DEVIATION` of solve.ts × √1.5): below, a
 * cell would only borrow its neighbours' certainty.
 */
const SMOOTHNESS_STEPS = [0.0055, 0.009, 0.015, 0.025, 0.04, 0.065];
/** Before the readings speak, errors of a table bend by about this from cell to cell (ln), give or take a factor e. */
export const USUAL_BEND = 0.01;
/** For those who check the solution by other means. */
export const PRIOR = { tableDeviation: TABLE_DEVIATION, slopeDeviation: SLOPE_DEVIATION, usualBend: USUAL_BEND } as const;
/** How far from the diagonal two cells that touch stand: two rows for second differences. */
export const bandOf = (grid: Grid): number => {
  const [width, height] = [grid.columns.length, grid.rows.length];
  const size = width * height;
  return Math.max(0, Math.min(size - 1, width === 1 || height === 1 ? 2 : Math.max(2 * width, width + 1)));
};

/** Precision of unit bends: each cell against the straight line between its neighbours, along rows and columns. */
const bendPrecision = (grid: Grid): Banded => {
  const [width, height] = [grid.columns.length, grid.rows.length];
  const matrix = banded(width * height, bandOf(grid));
  const along = (axis: Float64Array, middle: number, cells: readonly [number, number, number]): void => {
    const [before, after] = [Math.abs(axis[middle] - axis[middle - 1]), Math.abs(axis[middle + 1] - axis[middle])];
    const usual = Math.abs(axis[axis.length - 1] - axis[0]) / (axis.length - 1);
    const scale = Math.max(0.4, Math.min(2.5, Math.sqrt(before * after) / usual));
    const factors = [-after / (before + after), 1, -before / (before + after)];
    for (let i = 0; i < 3; i++) for (let j = 0; j <= i; j++) addTo(matrix, cells[i], cells[j], (factors[i] * factors[j]) / scale ** 2);
  };
  for (let row = 0; row < height; row++) {
    for (let column = 0; column < width; column++) {
      const cell = row * width + column;
      if (column > 0 && column < width - 1) along(grid.columns, column, [cell - 1, cell, cell + 1]);
      if (row > 0 && row < height - 1) along(grid.rows, row, [cell - width, cell, cell + width]);
    }
  }
  return matrix;
};

/** Precision of steps between neighbours, of unit ones where none is given. */
export const slopes = (grid: Grid, precision: (a: number, b: number) => number = () => 1): Banded => {
  const [width, height] = [grid.columns.length, grid.rows.length];
  const matrix = banded(width * height, bandOf(grid));
  const between = (a: number, b: number): void => {
    const each = precision(a, b);
    addTo(matrix, a, a, each);
    addTo(matrix, b, b, each);
    addTo(matrix, a, b, -each);
  };
  for (let cell = 0; cell < width * height; cell++) {
    if (cell % width > 0) between(cell - 1, cell);
    if (cell >= width) between(cell - width, cell);
  }
  return matrix;
};

export const diagonal = (like: Banded, value: number): Banded => {
  const matrix = banded(like.size, like.width);
  for (let i = 0; i < like.size; i++) addTo(matrix, i, i, value);
  return matrix;
};

/** What is held of a table of this shape before any reading speaks. */
interface SmoothnessPrior {
  readonly grid: Grid;
  /** Each cell by itself. */
  readonly loose: Banded;
  /** How much ln of a table bends from cell to cell, all cells together. */
  roughness(lnValues: Float64Array): number;
  /** The prior under a bend from cell to cell, with the logarithm of its determinant; undefined where it cannot be. */
  under(bend: number): { readonly bend: number; readonly prior: Banded; readonly lnDeterminant: number } | undefined;
}

/** Kept as long as the table's own axis is: every session of a car asks for the same. */
const priors = new WeakMap<Float64Array, SmoothnessPrior>();

export const smoothnessPrior = (grid: Grid): SmoothnessPrior => {
  const known = priors.get(grid.columns);
  if (known?.grid.rows === grid.rows) return known;
  const made = makePrior(grid);
  priors.set(grid.columns, made);
  return made;
};

const makePrior = (grid: Grid): SmoothnessPrior => {
  const bendMatrix = bendPrecision(grid),
    loose = diagonal(bendMatrix, TABLE_DEVIATION ** -2),
    ridge = plus(loose, slopes(grid), SLOPE_DEVIATION ** -2);
  const known = new Map<number, ReturnType<SmoothnessPrior['under']>>();
  return {
    grid,
    loose,
    roughness: (lnValues) => dot(lnValues, times(bendMatrix, lnValues)),
    under: (bend) => {
      if (!known.has(bend)) {
        const prior = plus(ridge, bendMatrix, bend ** -2),
          factor = cholesky(prior);
        known.set(bend, factor && { bend, prior, lnDeterminant: logDeterminant(factor) });
      }
      return known.get(bend);
    },
  };
};

/**
 * The bend from cell to cell under which the readings are most likely (marginal likelihood), a weak opinion of the usual included: of the
 * steps, climbed from the middle one to the nearest that both neighbours fall short of. `room`: a matrix of the table's, to reckon in.
 */
export const bestSmoothness = (
  data: Banded,
  right: Float64Array,
  prior: SmoothnessPrior,
  lone: readonly number[],
  room: Banded,
): number => {
  const found = new Map<number, number>();
  const likelihood = (at: number): number => {
    let known = found.get(at);
    if (known === undefined)
      found.set(
        at,
        (known =
          at >= 0 && at < SMOOTHNESS_STEPS.length
            ? likelihoodOf(data, right, prior.grid.columns.length, prior.under(SMOOTHNESS_STEPS[at]), lone, room)
            : -Infinity),
      );
    return known;
  };
  let best = SMOOTHNESS_STEPS.length >> 1;
  for (const way of [1, -1]) while (likelihood(best + way) > likelihood(best)) best += way;
  return SMOOTHNESS_STEPS[best];
};

const likelihoodOf = (
  data: Banded,
  right: Float64Array,
  columns: number,
  under: ReturnType<SmoothnessPrior['under']>,
  lone: readonly number[],
  room: Banded,
): number => {
  const factor = under && choleskyOf(plus(under.prior, data, 1, room));
  if (!factor) return -Infinity;
  const { bend, prior, lnDeterminant } = under;
  const solution = solveWith(factor, right);
  return (
    gainOf({ columns, prior, factor, x: solution }, lone) +
    0.5 * (lnDeterminant - logDeterminant(factor) + dot(right, solution)) -
    0.5 * Math.log(bend / USUAL_BEND) ** 2
  );
};
