// The table that the evidence asks for: robust, weighted, regularised least squares on the logarithm of every cell, with its uncertainty.

import { addTo, banded, cholesky, choleskyOf, inverseNear, logDeterminant, plus, solveWith, type Banded } from './banded.js';
import { UNKNOWN_BENDS, bendsShown, shareOfBends } from './curvature.js';
import { FILM_DOUBT, LEAST_FILM_DOUBT, keptByFilm } from './film.js';
import type { Grid } from './grid.js';
import { OWN_DEVIATION, ownDeviationOf } from './own.js';
import type { Blocks } from './blocks.js';
import { atOnce, type InPieces } from './pieces.js';
import { medianOf, spreadOf, sumOf } from './statistics.js';
import { believe, fittedVariance } from './trust.js';

/** Blocks of all sessions in one list. */
export interface Observations extends Pick<Blocks, 'count' | 'cell' | 'weights' | 'lnRequired' | 'variance' | 'film' | 'chargeFilm'> {
  /** Index of the session, 0 … sessions − 1. */
  readonly session: Int32Array;
  /** Unique over the sessions, in runs. */
  readonly visit: Int32Array;
}

export interface Solution {
  /** ln of the value each cell should have. Without evidence near it, what smoothness says: not to be acted on. */
  readonly lnValue: Float64Array;
  /** Standard deviation of `lnValue`. */
  readonly deviation: Float64Array;
  /** The same if neighbours said nothing about each other beyond the readings between them: wide where only sums of cells are known. */
  readonly ownDeviation: Float64Array;
  /** What is left of each observation. */
  readonly residual: Float64Array;
  /** How much an observation counted after the robust weighting, 0 … 1. */
  readonly trust: Float64Array;
  readonly smoothness: number;
  /** Noise found over noise stated. */
  readonly noiseScale: number;
  /** Standard deviation between visits to the same place. */
  readonly betweenVisits: number;
  /** How much of the table's bends shows between its breakpoints: 1 an engine that runs a smooth curve, 0 one that runs straight from breakpoint to breakpoint. */
  readonly bendShare: number;
  /** The weight that each observation had in the last round: one over its variance, all told. */
  readonly weight: Float64Array;
}

/** How far a cell may stand from the table it was logged with before the readings speak (standard deviation of ln). */
const TABLE_DEVIATION = 0.3;
/** How much the departure from the table may differ from one cell to the next before the readings speak (ln): keeps a bend from running on into cells nobody drove. */
const SLOPE_DEVIATION = 0.04;
/** A cell's bend is no less than what a sensor repeats itself to at three working points (`SPOT_DEVIATION` × √1.5): below, a cell would only borrow its neighbours' certainty. */
const SMOOTHNESS_STEPS = [0.0055, 0.009, 0.015, 0.025, 0.04, 0.065];
/** Before the readings speak, errors of a table bend by about this from cell to cell (ln), give or take a factor e. */
const USUAL_BEND = 0.01;
/** For those who check the solution by other means. */
export const PRIOR = { tableDeviation: TABLE_DEVIATION, slopeDeviation: SLOPE_DEVIATION, usualBend: USUAL_BEND } as const;
/**
 * What no averaging at one spot takes away (standard deviation of ln): how far a sensor repeats itself from one working point to another, the
 * rounding of table and log. Order of magnitude, no source.
 */
const SPOT_DEVIATION = 0.003;

/** The four cells of a reading stand so far behind its first. */
const cornersOf = (width: number): readonly number[] => [0, 1, width, width + 1];

/** AᵀWA of weighted least squares where each row of A stands on the four cells from `cell`. */
export const normalMatrix = (grid: Grid, { count, cell }: Pick<Observations, 'count' | 'cell'>, rows: Float64Array, weight: Float64Array): Banded => {
  const offsets = cornersOf(grid.columns.length);
  const matrix = banded(grid.columns.length * grid.rows.length, bandOf(grid)), { data, width } = matrix;
  for (let at = 0; at < count; at++) {
    const w = weight[at];
    if (w === 0) continue;
    for (let i = 0; i < 4; i++) {
      const pi = rows[4 * at + i];
      if (pi === 0) continue;
      // The corners are in order: what stands before is left of the diagonal.
      const diagonal = (cell[at] + offsets[i]) * (width + 1) + width;
      for (let j = 0; j <= i; j++) {
        const pj = rows[4 * at + j];
        if (pj !== 0) data[diagonal + offsets[j] - offsets[i]] += w * pi * pj;
      }
    }
  }
  return matrix;
};

/** AᵀWz of the same. */
export const rightSide = (grid: Grid, { count, cell }: Pick<Observations, 'count' | 'cell'>, rows: Float64Array, weight: Float64Array, z: Float64Array): Float64Array => {
  const offsets = cornersOf(grid.columns.length);
  const right = new Float64Array(grid.columns.length * grid.rows.length);
  for (let at = 0; at < count; at++) {
    for (let i = 0; i < 4; i++) {
      const pi = rows[4 * at + i];
      if (weight[at] !== 0 && pi !== 0) right[cell[at] + offsets[i]] += weight[at] * pi * z[at];
    }
  }
  return right;
};

/** How far from the diagonal two cells that touch stand: two rows for second differences. */
const bandOf = (grid: Grid): number => {
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
    for (let i = 0; i < 3; i++) for (let j = 0; j <= i; j++) addTo(matrix, cells[i], cells[j], factors[i] * factors[j] / scale ** 2);
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
const slopes = (grid: Grid, precision: (a: number, b: number) => number = () => 1): Banded => {
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

const diagonal = (like: Banded, value: number): Banded => {
  const matrix = banded(like.size, like.width);
  for (let i = 0; i < like.size; i++) addTo(matrix, i, i, value);
  return matrix;
};

/** What is held of a table of this shape before any reading speaks. */
interface SmoothnessPrior {
  readonly grid: Grid;
  readonly bendMatrix: Banded;
  readonly ridge: Banded;
  /** Each cell by itself. */
  readonly loose: Banded;
  /** The prior under each of `SMOOTHNESS_STEPS`, with the logarithm of its determinant; without those that cannot be. */
  readonly steps: readonly { readonly bend: number; readonly prior: Banded; readonly lnDeterminant: number }[];
}

/** Kept as long as the table's own axis is: every session of a car asks for the same. */
const priors = new WeakMap<Float64Array, SmoothnessPrior>();

const smoothnessPrior = (grid: Grid): SmoothnessPrior => {
  const known = priors.get(grid.columns);
  if (known?.grid.rows === grid.rows) return known;
  const bendMatrix = bendPrecision(grid);
  const loose = diagonal(bendMatrix, TABLE_DEVIATION ** -2);
  const ridge = plus(loose, slopes(grid), SLOPE_DEVIATION ** -2);
  const steps = SMOOTHNESS_STEPS.flatMap((bend) => {
    const prior = plus(ridge, bendMatrix, bend ** -2);
    const factor = cholesky(prior);
    return factor ? [{ bend, prior, lnDeterminant: logDeterminant(factor) }] : [];
  });
  const made = { grid, bendMatrix, ridge, loose, steps };
  priors.set(grid.columns, made);
  return made;
};

/**
 * Solves for the table. `lnReference`: ln of the table that most of it was logged with, from which the departure is taken to be smooth as far
 * as the readings do not say otherwise. `quick` leaves the uncertainties out (NaN); an earlier solution there is where it starts from. `between` is called between the rounds.
 */
export const solveTable = (grid: Grid, lnReference: Float64Array, observations: Observations, sessions: number, quick: boolean | Solution = false, between = (): void => undefined): Solution =>
  atOnce(solving(grid, lnReference, observations, sessions, quick), between);

/** The same in pieces. */
export function* solving(grid: Grid, lnReference: Float64Array, observations: Observations, sessions: number, quick: boolean | Solution = false): InPieces<Solution> {
  const { count, variance } = observations;
  const size = lnReference.length;
  const width = grid.columns.length;
  const offsets = cornersOf(width);
  const { bendMatrix, ridge, loose } = smoothnessPrior(grid);
  const start = typeof quick === 'object' ? quick : undefined;
  const x = start ? sumOf(start.lnValue, lnReference, -1) : new Float64Array(size);
  const rows = new Float64Array(4 * count);
  const z = new Float64Array(count);
  const weight = new Float64Array(count);
  const residual = new Float64Array(count);
  const trust = new Float64Array(count).fill(1);
  const inflation = new Float64Array(count).fill(1);
  const keptBack = new Float64Array(count);
  let smoothness = start?.smoothness ?? USUAL_BEND;
  let scale = 1;
  let betweenVisits = 0;
  let bends: { readonly share: number; readonly deviation: number } = UNKNOWN_BENDS;
  const spotInflation = new Float64Array(count).fill(1);
  const { noise, doubt } = shared(variance);
  const alone = new Float64Array(count);
  const own = new Float64Array(count);
  const bend = new Float64Array(count);
  const straight = new Float64Array(count);
  const values = new Float64Array(size);
  let factor: Banded | undefined;
  let data: Banded = banded(size, bandOf(grid));

  // Quickly: the smoothness and the bends once, from a first answer on.
  const rounds = start ? 2 : quick ? 3 : 8, first = start ? 0 : 1;
  for (let round = 0; round < rounds; round++) {
    yield;
    for (let k = 0; k < size; k++) values[k] = Math.exp(lnReference[k] + x[k]);
    bendsShown(grid, values, observations, bend);
    linearise(observations, offsets, values, x, keptBack, rows, straight);
    lessBends(straight, bends.share, bend, z);
    weigh(trust, noise, doubt, scale, inflation, spotInflation, weight);
    data = normalMatrix(grid, observations, rows, weight);
    if (count > 0 && !start && (round === 1 || round === 4)) smoothness = bestSmoothness(data, rightSide(grid, observations, rows, weight, z), smoothnessPrior(grid));
    yield;
    factor = choleskyOf(plus(data, bendMatrix, smoothness ** -2, ridge));
    if (!factor) break;
    if (count > 0) {
      // By cells that are free of each other: smoothness would lay a rough table's steps to the curve between its breakpoints.
      const free = quick && round !== first ? undefined : choleskyOf(plus(data, loose, 1));
      if (free) bends = shareOfBends(free, observations.cell, offsets, rows, weight, straight, bend);
      lessBends(straight, bends.share, bend, z);
    }
    x.set(solveWith(factor, rightSide(grid, observations, rows, weight, z)));
    takeResiduals(observations, offsets, rows, x, z, residual);
    yield;
    const freedom = Math.max(0.2, 1 - parametersUsed(grid, count) / Math.max(1, count));
    scale = count > 0 ? Math.min(100, Math.max(0.1, (spreadOf(usualOnes(residual, variance, inflation, doubt)) ** 2) / freedom)) : 1;
    for (let at = 0; at < count; at++) own[at] = (scale * noise[at] + doubt[at]) * inflation[at];
    believe(residual, own, round < 3, trust, quick ? undefined : { weight, fitted: fittedVariance(observations, offsets, rows, factor) });
    yield;
    keptByFilm(observations, sessions, residual, weight, keptBack);
    if (!quick && (round === 3 || round === 5)) betweenVisits = visitInflation(observations, residual, trust, (at) => scale * noise[at] + doubt[at], inflation);
    weigh(trust, noise, doubt, scale, inflation, undefined, alone);
    spotsCount(observations, alone, bend, bends.deviation, keptBack, spotInflation);
  }

  const lnValue = sumOf(lnReference, x, 1);
  const unknown = (): Float64Array => new Float64Array(size).fill(NaN);
  if (quick || !factor) return { lnValue, deviation: unknown(), ownDeviation: unknown(), residual, trust, smoothness, noiseScale: scale, betweenVisits, bendShare: bends.share, weight };
  yield;
  const deviation = deviations(factor);
  const ownDeviation = ownDeviationOf(grid, x, (slopePrecision) => {
    const byItself = choleskyOf(plus(plus(data, diagonal(data, OWN_DEVIATION ** -2), 1), slopes(grid, slopePrecision), 1));
    return byItself ? deviations(byItself) : unknown();
  });
  return {
    lnValue, deviation, ownDeviation,
    residual, trust, smoothness, noiseScale: scale, betweenVisits, bendShare: bends.share, weight,
  };
}

// What goes over all observations stands in functions that outlive a solution.

const lessBends = (straight: Float64Array, share: number, bend: Float64Array, z: Float64Array): void => {
  for (let at = 0; at < z.length; at++) z[at] = straight[at] - share * bend[at];
};

/** What each observation weighs, with or without what its spot shares. */
const weigh = (trust: Float64Array, noise: Float64Array, doubt: Float64Array, scale: number, inflation: Float64Array, spotInflation: Float64Array | undefined, weight: Float64Array): void => {
  for (let at = 0; at < weight.length; at++) {
    const variance = (scale * noise[at] + doubt[at]) * inflation[at];
    weight[at] = trust[at] / (spotInflation ? variance * spotInflation[at] : variance);
  }
};

/** What is left of the observations that nothing is doubted for beside the noise, each in terms of its noise. */
const usualOnes = (residual: Float64Array, variance: Float64Array, inflation: Float64Array, doubt: Float64Array): Float64Array => {
  const usual = new Float64Array(residual.length);
  let count = 0;
  for (let at = 0; at < residual.length; at++) if (doubt[at] === 0) usual[count++] = residual[at] / Math.sqrt(variance[at] * inflation[at]);
  return usual.subarray(0, count);
};

/** Takes the bilinear sum of values as a sum of logarithms round the present x: the share of each cell goes to `rows`, what is required beyond it, bends and film aside, to `straight`. */
const linearise = (
  { count, cell, weights, lnRequired }: Observations, offsets: readonly number[], values: Float64Array, x: Float64Array, keptBack: Float64Array,
  rows: Float64Array, straight: Float64Array,
): void => {
  for (let at = 0; at < count; at++) {
    let total = 0;
    for (let i = 0; i < 4; i++) {
      const w = weights[4 * at + i];
      if (w === 0) { rows[4 * at + i] = 0; continue; }
      total += rows[4 * at + i] = w * values[cell[at] + offsets[i]];
    }
    let known = 0;
    for (let i = 0; i < 4; i++) {
      const share = rows[4 * at + i] / total;
      rows[4 * at + i] = share;
      if (share > 0) known += share * x[cell[at] + offsets[i]];
    }
    straight[at] = lnRequired[at] - Math.log(total) + known - keptBack[at];
  }
};

const takeResiduals = ({ count, cell }: Observations, offsets: readonly number[], rows: Float64Array, x: Float64Array, z: Float64Array, residual: Float64Array): void => {
  for (let at = 0; at < count; at++) {
    let fit = 0;
    for (let i = 0; i < 4; i++) if (rows[4 * at + i] > 0) fit += rows[4 * at + i] * x[cell[at] + offsets[i]];
    residual[at] = z[at] - fit;
  }
};

/**
 * What all readings share, and what a few are doubted for beside it (a film that grows, a delay that matters, enrichment). How well the usual ones agree
 * tells the size of the first and nothing of the second. Noise is up to three times the usual variance, where a block is short. No source.
 */
const USUAL_VARIANCES = 3;
const shared = (variance: Float64Array): { noise: Float64Array; doubt: Float64Array } => {
  const usual = USUAL_VARIANCES * medianOf(variance);
  const noise = new Float64Array(variance.length), doubt = new Float64Array(variance.length);
  for (let at = 0; at < variance.length; at++) {
    noise[at] = Math.min(variance[at], usual);
    doubt[at] = Math.max(0, variance[at] - usual);
  }
  return { noise, doubt };
};

const deviations = (factor: Banded): Float64Array => {
  const { size, width, data } = inverseNear(factor);
  return Float64Array.from({ length: size }, (_, i) => Math.sqrt(data[i * (width + 1) + width]));
};

/** A rough count of the cells that the observations settle: no more than a third of them. */
const parametersUsed = (grid: Grid, count: number): number => Math.min(grid.columns.length * grid.rows.length, count / 3);

/**
 * The bend from cell to cell under which the readings are most likely (marginal likelihood), a weak opinion of the usual included: of the steps, climbed
 * from the middle one to the nearest that both neighbours fall short of.
 */
const bestSmoothness = (data: Banded, right: Float64Array, { steps }: SmoothnessPrior): number => {
  if (steps.length === 0) return USUAL_BEND;
  const found = new Map<number, number>();
  const likelihood = (at: number): number => {
    let known = found.get(at);
    if (known === undefined) found.set(at, known = at >= 0 && at < steps.length ? likelihoodOf(data, right, steps[at]) : -Infinity);
    return known;
  };
  let best = steps.length >> 1;
  for (const way of [1, -1]) while (likelihood(best + way) > likelihood(best)) best += way;
  return steps[best].bend;
};

const likelihoodOf = (data: Banded, right: Float64Array, { bend, prior, lnDeterminant }: SmoothnessPrior['steps'][number]): number => {
  const factor = choleskyOf(plus(prior, data, 1));
  if (!factor) return -Infinity;
  const solution = solveWith(factor, right);
  let explained = 0;
  for (let k = 0; k < right.length; k++) explained += right[k] * solution[k];
  return 0.5 * (lnDeterminant - logDeterminant(factor) + explained) - 0.5 * Math.log(bend / USUAL_BEND) ** 2;
};

/**
 * Readings of one visit err alike (air temperature, fuel pressure, a curve between breakpoints): finds the variance between visits by
 * moments and lets each block count so that a visit never counts for more than that. Returns the deviation between visits.
 */
const visitInflation = (observations: Observations, residual: Float64Array, trust: Float64Array, varianceAt: (at: number) => number, inflation: Float64Array): number => {
  const { count, visit } = observations;
  const visits: { from: number; to: number; mean: number; variance: number }[] = [];
  for (let from = 0; from < count;) {
    let to = from;
    let [sum, precision] = [0, 0];
    for (; to < count && visit[to] === visit[from]; to++) {
      const w = trust[to] / varianceAt(to);
      sum += w * residual[to];
      precision += w;
    }
    if (precision > 0) visits.push({ from, to, mean: sum / precision, variance: 1 / precision });
    from = to;
  }
  let between = 0;
  for (let round = 0; round < 20; round++) {
    let [sum, total] = [0, 0];
    for (const { mean, variance: own } of visits) {
      const w = 1 / (own + between) ** 2;
      const square = Math.min(mean ** 2, 9 * (own + between));
      sum += w * (square - own);
      total += w;
    }
    between = total > 0 ? Math.max(0, sum / total) : 0;
  }
  for (const { from, to, variance: own } of visits) for (let at = from; at < to; at++) inflation[at] = 1 + between / own;
  return Math.sqrt(between);
};

/**
 * Readings at one spot (a quarter of the field between four cells) share what no averaging takes away, however many visits they come from: a spot
 * never counts for more than that. It is what keeps an operating point that never moves, such as idle, from proving the two cells that it stands between.
 */
const spotsCount = ({ count, cell, weights, film }: Observations, weight: Float64Array, bend: Float64Array, bendDeviation: number, keptBack: Float64Array, spotInflation: Float64Array): void => {
  const spotOf = new Int32Array(count);
  let most = 0;
  for (let at = 0; at < count; at++) {
    const [right, top] = [weights[4 * at + 1] + weights[4 * at + 3] >= 0.5, weights[4 * at + 2] + weights[4 * at + 3] >= 0.5];
    spotOf[at] = 4 * cell[at] + (right ? 1 : 0) + (top ? 2 : 0);
    most = Math.max(most, spotOf[at]);
  }
  // The spot's precision times the variance of what stays unknown there: what its readings share, and the mean of what the film is taken to keep back.
  const unknown = new Float64Array(most + 1), precision = new Float64Array(most + 1), kept = new Float64Array(most + 1), grown = new Float64Array(most + 1);
  for (let at = 0; at < count; at++) {
    const spot = spotOf[at];
    unknown[spot] += weight[at] * (SPOT_DEVIATION ** 2 + (bendDeviation * bend[at]) ** 2);
    precision[spot] += weight[at];
    kept[spot] += weight[at] * keptBack[at];
    grown[spot] += weight[at] * film[at];
  }
  for (let spot = 0; spot <= most; spot++) if (precision[spot] > 0) unknown[spot] += ((FILM_DOUBT * kept[spot]) ** 2 + (LEAST_FILM_DOUBT * grown[spot]) ** 2) / precision[spot];
  for (let at = 0; at < count; at++) spotInflation[at] = 1 + unknown[spotOf[at]];
};
