// The table that the evidence asks for: robust, weighted, regularised least squares on the logarithm of every cell, with its uncertainty.

import { choleskyOf, inverseNear, plus, solveWith, type Banded } from './banded.js';
import { UNKNOWN_BENDS, bendsShown, shareOfBends } from './curvature.js';
import { blocksThatPull, cornersOf, equationsOf, fittedVariance, linearise, takeResiduals, type Equations } from './equations.js';
import { FILM_DOUBT, LEAST_FILM_DOUBT, keptByFilm } from '../delay/film.js';
import type { Grid } from './grid.js';
import { OWN_DEVIATION, ownDeviationOf } from './own.js';
import type { Blocks } from '../blocks.js';
import { atOnce, type InPieces } from '../pieces.js';
import { USUAL_BEND, bandOf, bestSmoothness, diagonal, slopes, smoothnessPrior } from './prior.js';
import { roomFor } from '../room.js';
import { NO_SPOTS, addSpots, covarianceNear, spotsBeside, type Spots } from './spots.js';
import { medianOf, spreadBySizes, sumOf } from './statistics.js';
import { believe } from './trust.js';
import { visitInflation } from './visits.js';

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
  /** 1 for the cells that stand by themselves (spots.ts), in the likeliest explanation. */
  readonly lone: Uint8Array;
  /**
   * How much of the table's bends shows between its breakpoints: 1 an engine that runs a smooth curve, 0 one that runs straight from
   * breakpoint to breakpoint.
   */
  readonly bendShare: number;
  /** The weight that each observation had in the last round: one over its variance, all told. */
  readonly weight: Float64Array;
}

/**
 * What no averaging at one spot takes away (standard deviation of ln): how far a sensor repeats itself from one working point to another,
 * the rounding of table and log. Order of magnitude, no source.
 */
const SPOT_DEVIATION = 0.003;

/**
 * Solves for the table. `lnReference`: ln of the table that most of it was logged with, from which the departure is taken to be smooth as
 * far as the readings do not say otherwise. `quick` leaves the uncertainties out (NaN); an earlier solution there is where it starts from.
 * `between` is called between the rounds.
 */
export const solveTable = (
  grid: Grid,
  lnReference: Float64Array,
  observations: Observations,
  sessions: number,
  quick: boolean | Solution = false,
  between = (): void => undefined,
): Solution => atOnce(solving(grid, lnReference, observations, sessions, quick), between);

/** The same in pieces. */
export function* solving(
  grid: Grid,
  lnReference: Float64Array,
  observations: Observations,
  sessions: number,
  quick: boolean | Solution = false,
): InPieces<Solution> {
  const { count, variance } = observations;
  const size = lnReference.length;
  const corners = cornersOf(grid);
  const held = smoothnessPrior(grid);
  let spots: Spots = NO_SPOTS;
  const start = typeof quick === 'object' ? quick : undefined;
  const x = start ? sumOf(start.lnValue, lnReference, -1) : new Float64Array(size);
  const rows = roomFor(4 * count),
    weight = roomFor(count),
    residual = roomFor(count);
  const trust = roomFor(count).fill(1),
    inflation = roomFor(count).fill(1),
    keptBack = roomFor(count).fill(0);
  let smoothness = USUAL_BEND;
  let scale = 1;
  let betweenVisits = 0;
  let bends: { readonly share: number; readonly deviation: number } = UNKNOWN_BENDS;
  const spotInflation = roomFor(count).fill(1),
    spotOf = spotsOf(observations);
  const { noise, doubt } = shared(variance);
  const alone = roomFor(count),
    own = scaled(noise, scale, doubt, roomFor(count));
  const bend = roomFor(count),
    straight = roomFor(count),
    scratch = roomFor(count),
    values = new Float64Array(size);
  let factor: Banded | undefined, covariance: Banded | undefined;
  // The matrices of a round stand where those of the last one stood.
  const data = bandedRoom(grid),
    whole = bandedRoom(grid),
    trial = bandedRoom(grid);

  // Quickly: as smooth and as bent as is usual.
  const rounds = quick ? 2 : 8;
  for (let round = 0; round < rounds; round++) {
    yield;
    expOfSum(lnReference, x, values);
    bendsShown(grid, values, observations, bend);
    linearise(observations, corners, values, x, keptBack, rows, straight);
    weigh(trust, own, inflation, spotInflation, weight);
    const equations = equationsOf(grid, observations, rows, weight, straight, bend, data),
      right = (): Float64Array => lessBends(equations, bends.share);
    if (count > 0 && !quick && (round === 1 || round === 4)) smoothness = bestSmoothness(data, right(), held, spots.cells, trial);
    yield;
    const under = held.under(smoothness);
    factor = under && choleskyOf(plus(under.prior, data, 1, whole));
    if (!under || !factor) break;
    // By cells that are free of each other: smoothness would lay a rough table's steps to the curve between its breakpoints.
    const free = count === 0 || quick ? undefined : choleskyOf(plus(data, held.loose, 1, trial));
    if (free) bends = shareOfBends(free, equations);
    x.set(solveWith(factor, right()));
    if (!quick && count > 0 && round > 0) {
      spots = spotsBeside(
        { columns: grid.columns.length, prior: under.prior, factor, x },
        data,
        spots.cells,
        blocksThatPull(observations, corners, rows, weight, residual, size),
      );
      addSpots(x, spots);
    }
    takeResiduals(observations, corners, rows, x, straight, bends.share, bend, residual);
    yield;
    const freedom = Math.max(0.2, 1 - parametersUsed(grid, count) / Math.max(1, count));
    scale = count > 0 ? Math.min(100, Math.max(0.1, usualSpread(residual, variance, inflation, doubt, scratch) ** 2 / freedom)) : 1;
    scaled(noise, scale, doubt, own);
    covariance = quick ? undefined : covarianceNear(factor, spots);
    believe(
      residual,
      own,
      inflation,
      round < 3,
      trust,
      covariance && { weight, fitted: fittedVariance(observations, corners, rows, covariance, scratch) },
    );
    if (round === rounds - 1) break;
    yield;
    keptByFilm(observations, sessions, residual, weight, keptBack);
    if (!quick && (round === 3 || round === 5)) betweenVisits = visitInflation(observations, residual, trust, own, inflation);
    weigh(trust, own, inflation, undefined, alone);
    spotsCount(observations, spotOf, 4 * size, alone, bend, bends.deviation, keptBack, spotInflation);
  }

  const lnValue = sumOf(lnReference, x, 1),
    lone = new Uint8Array(size);
  for (const cell of spots.cells) lone[cell] = 1;
  const unknown = (): Float64Array => new Float64Array(size).fill(NaN);
  if (!factor || !covariance)
    return {
      lnValue,
      deviation: unknown(),
      ownDeviation: unknown(),
      residual,
      trust,
      smoothness,
      noiseScale: scale,
      betweenVisits,
      lone,
      bendShare: bends.share,
      weight,
    };
  yield;
  let byItself: Float64Array | undefined;
  return {
    lnValue,
    deviation: deviations(covariance),
    residual,
    trust,
    smoothness,
    noiseScale: scale,
    betweenVisits,
    lone,
    bendShare: bends.share,
    weight,
    // Of sessions that contradict each other nobody asks for it.
    get ownDeviation() {
      return (byItself ??= ownDeviationOf(grid, x, (slopePrecision) => {
        const own = choleskyOf(plus(plus(data, diagonal(data, OWN_DEVIATION ** -2), 1), slopes(grid, slopePrecision), 1));
        return own ? deviations(inverseNear(own)) : unknown();
      }));
    },
  };
}

// What goes over all observations stands in functions that outlive a solution.

/** The right side of the equations, a share of the bends taken off. */
const lessBends = ({ one, other }: Equations, share: number): Float64Array => {
  const right = new Float64Array(one.length);
  for (let k = 0; k < right.length; k++) right[k] = one[k] - share * other[k];
  return right;
};

const expOfSum = (values: Float64Array, others: Float64Array, into: Float64Array): void => {
  for (let k = 0; k < into.length; k++) into[k] = Math.exp(values[k] + others[k]);
};

/** A matrix of the table's, whatever stands in it. */
const bandedRoom = (grid: Grid): Banded => {
  const size = grid.columns.length * grid.rows.length,
    width = bandOf(grid);
  return { size, width, data: roomFor(size * (width + 1)) };
};

/** Each observation's own variance, into `variance`. */
const scaled = (noise: Float64Array, scale: number, doubt: Float64Array, variance: Float64Array): Float64Array => {
  for (let at = 0; at < variance.length; at++) variance[at] = scale * noise[at] + doubt[at];
  return variance;
};

/** What each observation weighs, with or without what its spot shares. */
const weigh = (
  trust: Float64Array,
  own: Float64Array,
  inflation: Float64Array,
  spotInflation: Float64Array | undefined,
  weight: Float64Array,
): void => {
  for (let at = 0; at < weight.length; at++) {
    const variance = own[at] * inflation[at];
    weight[at] = trust[at] / (spotInflation ? variance * spotInflation[at] : variance);
  }
};

/** How far those observations spread that nothing is doubted for beside the noise, each in terms of its noise. `room` is written over. */
const usualSpread = (
  residual: Float64Array,
  variance: Float64Array,
  inflation: Float64Array,
  doubt: Float64Array,
  room: Float64Array,
): number => {
  let count = 0;
  for (let at = 0; at < residual.length; at++)
    if (doubt[at] === 0) room[count++] = Math.abs(residual[at]) / Math.sqrt(variance[at] * inflation[at]);
  return spreadBySizes(room.subarray(0, count));
};

/**
 * What all readings share, and what a few are doubted for beside it (a film that grows, a delay that matters, enrichment). How well the
 * usual ones agree tells the size of the first and nothing of the second. Noise is up to three times the usual variance, where a block is
 * short. No source.
 */
const USUAL_VARIANCES = 3;
const shared = (variance: Float64Array): { noise: Float64Array; doubt: Float64Array } => {
  const usual = USUAL_VARIANCES * medianOf(variance);
  const noise = roomFor(variance.length),
    doubt = roomFor(variance.length);
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
 * Readings at one spot (a quarter of the field between four cells) share what no averaging takes away, however many visits they come from:
 * a spot never counts for more than that. It is what keeps an operating point that never moves, such as idle, from proving the two cells
 * that it stands between.
 */
const spotsCount = (
  { count, film }: Observations,
  spotOf: Int32Array,
  spots: number,
  weight: Float64Array,
  bend: Float64Array,
  bendDeviation: number,
  keptBack: Float64Array,
  spotInflation: Float64Array,
): void => {
  // The spot's precision times the variance of what stays unknown there: what its readings share, and the mean of what the film is taken to
  // keep back.
  const unknown = new Float64Array(spots),
    precision = new Float64Array(spots),
    kept = new Float64Array(spots),
    grown = new Float64Array(spots);
  for (let at = 0; at < count; at++) {
    const spot = spotOf[at];
    unknown[spot] += weight[at] * (SPOT_DEVIATION ** 2 + (bendDeviation * bend[at]) ** 2);
    precision[spot] += weight[at];
    kept[spot] += weight[at] * keptBack[at];
    grown[spot] += weight[at] * film[at];
  }
  for (let spot = 0; spot < spots; spot++)
    if (precision[spot] > 0) unknown[spot] += ((FILM_DOUBT * kept[spot]) ** 2 + (LEAST_FILM_DOUBT * grown[spot]) ** 2) / precision[spot];
  for (let at = 0; at < count; at++) spotInflation[at] = 1 + unknown[spotOf[at]];
};

/** The quarter of the field between four cells that each observation stands in. */
const spotsOf = ({ count, cell, weights }: Observations): Int32Array => {
  const spotOf = new Int32Array(count);
  for (let at = 0, of = 0; at < count; at++, of += 4)
    spotOf[at] = 4 * cell[at] + (weights[of + 1] + weights[of + 3] >= 0.5 ? 1 : 0) + (weights[of + 2] + weights[of + 3] >= 0.5 ? 2 : 0);
  return spotOf;
};
