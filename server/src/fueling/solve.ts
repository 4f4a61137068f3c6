// The table that the evidence asks for: robust, weighted, regularised least squares on the logarithm of every cell, with its uncertainty.

import { addTo, banded, cholesky, choleskyOf, inverseNear, logDeterminant, plus, solveWith, type Banded } from './banded.js';
import { UNKNOWN_BENDS, bendsShown, shareOfBends } from './curvature.js';
import { FILM_DOUBT, LEAST_FILM_DOUBT, keptByFilm } from './film.js';
import type { Grid } from './grid.js';
import { TIE_LEFT, markLone } from './lone.js';
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
  /** 1 for the cells that smoothness lets go (lone.ts). */
  readonly lone: Uint8Array;
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

/** Precision of unit bends: each cell against the straight line between its neighbours, along rows and columns. `tie`: what is left of it for these cells. */
const bendPrecision = (grid: Grid, tie: (...cells: readonly number[]) => number): Banded => {
  const [width, height] = [grid.columns.length, grid.rows.length];
  const matrix = banded(width * height, bandOf(grid));
  const along = (axis: Float64Array, middle: number, cells: readonly [number, number, number]): void => {
    const [before, after] = [Math.abs(axis[middle] - axis[middle - 1]), Math.abs(axis[middle + 1] - axis[middle])];
    const usual = Math.abs(axis[axis.length - 1] - axis[0]) / (axis.length - 1);
    const scale = Math.max(0.4, Math.min(2.5, Math.sqrt(before * after) / usual));
    const factors = [-after / (before + after), 1, -before / (before + after)];
    for (let i = 0; i < 3; i++) for (let j = 0; j <= i; j++) addTo(matrix, cells[i], cells[j], tie(...cells) * factors[i] * factors[j] / scale ** 2);
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

/** Precision of steps between neighbours. */
const slopes = (grid: Grid, precision: (a: number, b: number) => number): Banded => {
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
  /** The prior under one of `SMOOTHNESS_STEPS`, with the logarithm of its determinant; undefined where it cannot be. */
  step(at: number): { readonly bend: number; readonly prior: Banded; readonly lnDeterminant: number } | undefined;
}

/** Kept as long as the table's own axis is: every session of a car asks for the same. */
const priors = new WeakMap<Float64Array, SmoothnessPrior>();

const smoothnessPrior = (grid: Grid): SmoothnessPrior => {
  const known = priors.get(grid.columns);
  if (known?.grid.rows === grid.rows) return known;
  const made = makePrior(grid, new Uint8Array(grid.columns.length * grid.rows.length));
  priors.set(grid.columns, made);
  return made;
};

const makePrior = (grid: Grid, lone: Uint8Array): SmoothnessPrior => {
  const tie = (...cells: readonly number[]): number => (cells.some((cell) => lone[cell]) ? TIE_LEFT : 1);
  const bendMatrix = bendPrecision(grid, tie), loose = diagonal(bendMatrix, TABLE_DEVIATION ** -2), ridge = plus(loose, slopes(grid, tie), SLOPE_DEVIATION ** -2);
  const steps = new Map<number, ReturnType<SmoothnessPrior['step']>>();
  return {
    grid, bendMatrix, ridge, loose,
    step: (at) => {
      if (!steps.has(at)) {
        const bend = SMOOTHNESS_STEPS[at], prior = plus(ridge, bendMatrix, bend ** -2), factor = cholesky(prior);
        steps.set(at, factor && { bend, prior, lnDeterminant: logDeterminant(factor) });
      }
      return steps.get(at);
    },
  };
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
  const lone = new Uint8Array(size);
  let held = smoothnessPrior(grid);
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

  // Quickly: the smoothness and the bends once, from a first answer on. Else the first rounds take every reading at its word, and straight lines between the cells:
  // a cell that stands alone is found before its readings are doubted for it, or its corner taken for an engine's bend.
  const rounds = start ? 2 : quick ? 3 : 8, first = start ? 0 : 1, doubtsFrom = quick ? 0 : 2;
  for (let round = 0; round < rounds; round++) {
    yield;
    for (let k = 0; k < size; k++) values[k] = Math.exp(lnReference[k] + x[k]);
    if (round >= doubtsFrom) bendsShown(grid, values, observations, bend);
    linearise(observations, offsets, values, x, keptBack, rows, straight);
    lessBends(straight, bends.share, bend, z);
    weigh(trust, noise, doubt, scale, inflation, spotInflation, weight);
    data = normalMatrix(grid, observations, rows, weight);
    const learns = quick ? round === 1 : round === 2 || round === 4;
    if (count > 0 && !start && learns) smoothness = bestSmoothness(data, rightSide(grid, observations, rows, weight, z), held);
    yield;
    factor = choleskyOf(plus(data, held.bendMatrix, smoothness ** -2, held.ridge));
    if (!factor) break;
    // By cells that are free of each other: smoothness would lay a rough table's steps to the curve between its breakpoints.
    const free = count === 0 || quick && round !== first ? undefined : choleskyOf(plus(data, held.loose, 1));
    if (free) bends = shareOfBends(free, observations.cell, offsets, rows, weight, straight, bend);
    lessBends(straight, bends.share, bend, z);
    const right = rightSide(grid, observations, rows, weight, z);
    x.set(solveWith(factor, right));
    const inverse = quick ? undefined : inverseNear(factor);
    if (inverse && free && learns && markLone({ x: solveWith(free, right), deviation: deviations(inverseNear(free)) }, { x, deviation: deviations(inverse) }, lone)) held = makePrior(grid, lone);
    takeResiduals(observations, offsets, rows, x, z, residual);
    yield;
    const freedom = Math.max(0.2, 1 - parametersUsed(grid, count) / Math.max(1, count));
    scale = count > 0 ? Math.min(100, Math.max(0.1, (spreadOf(usualOnes(residual, variance, inflation, doubt)) ** 2) / freedom)) : 1;
    for (let at = 0; at < count; at++) own[at] = (scale * noise[at] + doubt[at]) * inflation[at];
    if (round >= doubtsFrom) believe(residual, own, round < 3, trust, inverse && { weight, fitted: fittedVariance(observations, offsets, rows, inverse) });
    yield;
    keptByFilm(observations, sessions, residual, weight, keptBack);
    if (!quick && (round === 3 || round === 5)) betweenVisits = visitInflation(observations, residual, trust, (at) => scale * noise[at] + doubt[at], inflation);
    weigh(trust, noise, doubt, scale, inflation, undefined, alone);
    spotsCount(observations, alone, bend, bends.deviation, keptBack, spotInflation);
  }

  const lnValue = sumOf(lnReference, x, 1);
  const unknown = (): Float64Array => new Float64Array(size).fill(NaN);
  if (quick || !factor) return { lnValue, deviation: unknown(), ownDeviation: unknown(), residual, trust, smoothness, noiseScale: scale, betweenVisits, lone, bendShare: bends.share, weight };
  yield;
  const deviation = deviations(inverseNear(factor));
  const ownDeviation = ownDeviationOf(grid, x, (slopePrecision) => {
    const byItself = choleskyOf(plus(plus(data, diagonal(data, OWN_DEVIATION ** -2), 1), slopes(grid, slopePrecision), 1));
    return byItself ? deviations(inverseNear(byItself)) : unknown();
  });
  return {
    lnValue, deviation, ownDeviation,
    residual, trust, smoothness, noiseScale: scale, betweenVisits, lone, bendShare: bends.share, weight,
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

const deviations = ({ size, width, data }: Banded): Float64Array => {
  return Float64Array.from({ length: size }, (_, i) => Math.sqrt(data[i * (width + 1) + width]));
};

/** A rough count of the cells that the observations settle: no more than a third of them. */
const parametersUsed = (grid: Grid, count: number): number => Math.min(grid.columns.length * grid.rows.length, count / 3);

/**
 * The bend from cell to cell under which the readings are most likely (marginal likelihood), a weak opinion of the usual included: of the steps, climbed
 * from the middle one to the nearest that both neighbours fall short of.
 */
const bestSmoothness = (data: Banded, right: Float64Array, prior: SmoothnessPrior): number => {
  const found = new Map<number, number>();
  const likelihood = (at: number): number => {
    let known = found.get(at);
    if (known === undefined) found.set(at, known = at >= 0 && at < SMOOTHNESS_STEPS.length ? likelihoodOf(data, right, prior.step(at)) : -Infinity);
    return known;
  };
  let best = SMOOTHNESS_STEPS.length >> 1;
  for (const way of [1, -1]) while (likelihood(best + way) > likelihood(best)) best += way;
  return SMOOTHNESS_STEPS[best];
};

const likelihoodOf = (data: Banded, right: Float64Array, step: ReturnType<SmoothnessPrior['step']>): number => {
  const factor = step && choleskyOf(plus(step.prior, data, 1));
  if (!factor) return -Infinity;
  const { bend, lnDeterminant } = step;
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
