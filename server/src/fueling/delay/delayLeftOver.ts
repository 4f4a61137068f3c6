// What is left of a comparison's readings once what gas and sensor show is taken off them, and how that goes with each parameter.

import { EDGE_SHOWN_S, type Comparison } from './delayEvents.js';
import { TIMING_PARTS } from './delayModel.js';
import { AT } from './delayParameters.js';
import { roomFor } from '../room.js';

/** What is carried through gas and sensor beside each other: the mixture, its slopes by what shapes it, and its doubt. */
export const COLUMN = {
  mixture: 0,
  filmShare: 1,
  filmStays: 2,
  vapour: 3,
  ahead: 4,
  manifold: 5,
  stirred: 6,
  lag: 7,
  doubt: 8,
  openedShare: 9,
  openedStays: 10,
} as const;
export const COLUMNS = 11;

/** A column that tells how the mixture goes with a part of the parameters. */
interface Carried {
  readonly column: number;
  readonly part: number;
}

const CARRIED: readonly Carried[] = [
  { column: COLUMN.lag, part: AT.lnLagS },
  { column: COLUMN.filmShare, part: AT.filmShare },
  { column: COLUMN.filmStays, part: AT.lnFilmStaysS },
  { column: COLUMN.ahead, part: AT.aheadCycles },
];
const BESIDE_CUTS: readonly Carried[] = [{ column: COLUMN.vapour, part: AT.vapour }];
const BY_MANIFOLD: readonly Carried[] = [{ column: COLUMN.manifold, part: AT.manifoldCycles }];
const BY_THROTTLE: readonly Carried[] = [
  { column: COLUMN.openedShare, part: AT.openedShare },
  { column: COLUMN.openedStays, part: AT.lnOpenedStaysS },
];

/** Those that a comparison has: what nothing goes with need not be carried. */
export const carriedOf = ({ edge, throughManifold, throttle }: Comparison): readonly Carried[] => [
  ...CARRIED,
  ...(edge.includes(1) ? BESIDE_CUTS : []),
  ...(throughManifold ? BY_MANIFOLD : []),
  ...(throttle ? BY_THROTTLE : []),
];

/**
 * For each reading: how the moment it was injected goes with the delay's parts (`injectedAt`), what to fill with slopes (a column of each
 * parameter) and doubt, and where.
 */
export interface Sloped {
  readonly timing: Float64Array;
  readonly gasG: number;
  readonly stirred: number;
  readonly slopes: readonly Float64Array[];
  readonly carried: readonly Carried[];
  readonly doubt: Float64Array;
}

/** What is shown at fractional rows of the columns; NaN where there is none. */
export const shownAt = (columns: readonly Float64Array[], places: Float64Array, timeS: Float64Array, sloped?: Sloped): Float64Array => {
  const shown = placed(columns[COLUMN.mixture], places);
  if (!sloped) return shown;
  const { timing, gasG, stirred, slopes, carried, doubt } = sloped,
    mixture = columns[COLUMN.mixture],
    byStirred = placed(columns[COLUMN.stirred], places);
  for (let index = 0; index < shown.length; index++) {
    const place = places[index];
    if (place !== place) continue;
    const row = Math.floor(place),
      at = TIMING_PARTS * index;
    const perS = place > row ? (mixture[row + 1] - mixture[row]) / (timeS[row + 1] - timeS[row]) : 0,
      byGas = perS * timing[at + 1];
    slopes[AT.cycles][index] = perS * timing[at];
    slopes[AT.lnGasG][index] = byGas * gasG * (1 - stirred) + byStirred[index];
    slopes[AT.stirred][index] = byStirred[index] / stirred - byGas * gasG;
    slopes[AT.latencyS][index] = perS * timing[at + 2];
  }
  for (const { column, part } of carried) placed(columns[column], places, slopes[part]);
  placed(columns[COLUMN.doubt], places, doubt);
  for (let index = 0; index < doubt.length; index++) if (doubt[index] !== doubt[index]) doubt[index] = 0;
  return shown;
};

/** A column at fractional rows; NaN where there is none. */
const placed = (column: Float64Array, places: Float64Array, into: Float64Array = roomFor(places.length)): Float64Array => {
  for (let index = 0; index < into.length; index++) {
    const place = places[index];
    if (place !== place) {
      into[index] = NaN;
      continue;
    }
    const row = Math.floor(place),
      part = place - row,
      value = column[row];
    into[index] = part > 0 ? value + part * (column[row + 1] - value) : value;
  }
  return into;
};

/**
 * Puts what is left of each reading in place of what is shown, and of its slopes (none where they are not asked for, nor is any reading's
 * doubt). Of an edge, at its first reading: by how many seconds it falls later than it should; NaN where there is nothing to compare.
 */
export const leftOver = (comparison: Comparison, shown: Float64Array, slopes: readonly Float64Array[], doubt: Float64Array): void => {
  const { measured, starts, edge, leanest } = comparison;
  for (let window = 0; window + 1 < starts.length; window++) if (edge[window]) levelled(comparison, shown, slopes, window);
  for (const slope of slopes) for (let index = 0; index < shown.length; index++) slope[index] = shown[index] < leanest ? 0 : -slope[index];
  for (let index = 0; index < shown.length; index++) shown[index] = measured[index] - (shown[index] < leanest ? leanest : shown[index]);
  const trust = roomFor(shown.length).fill(1);
  for (let index = 0; index < doubt.length; index++) trust[index] = 1 / (WELL_KNOWN ** 2 + doubt[index] ** 2);
  for (let window = 0; window + 1 < starts.length; window++) {
    if (edge[window]) laterBy(comparison, shown, slopes, window);
    else lessMean(shown, slopes, trust, starts[window], starts[window + 1]);
  }
};

/**
 * Puts an edge at how rich the engine ran before it, by what is shown while the cut is still on its way over what it is taken to have run
 * at. NaN where nothing tells.
 */
const levelled = (
  { rows, measured, starts, cutAgeS }: Comparison,
  shown: Float64Array,
  slopes: readonly Float64Array[],
  window: number,
): void => {
  const first = starts[window],
    end = starts[window + 1];
  let seen = 0,
    expected = 0,
    until = first;
  for (; until < end && cutAgeS[rows[until]] <= EDGE_SHOWN_S; until++) {
    if (shown[until] !== shown[until]) continue;
    seen += measured[until];
    expected += shown[until];
  }
  const level = expected > 0 ? seen / expected : NaN;
  for (const slope of slopes) {
    let bySlope = 0;
    for (let index = first; index < until; index++) if (shown[index] === shown[index]) bySlope += slope[index];
    for (let index = first; index < end; index++) slope[index] = level * (slope[index] - (shown[index] * bySlope) / expected);
  }
  for (let index = first; index < end; index++) shown[index] *= level;
};

/**
 * A reading that is in no doubt is known to about this: a sensor's noise, and what a table of cells leaves open. Order of magnitude, no
 * source.
 */
const WELL_KNOWN = 0.01;

/** Takes the mean of its numbers off a window, each as far as it is believed: what is in doubt is not to move what is not. */
const lessMean = (rest: Float64Array, slopes: readonly Float64Array[], trust: Float64Array, first: number, end: number): void => {
  let sum = 0,
    weights = 0;
  for (let index = first; index < end; index++) {
    if (rest[index] !== rest[index]) continue;
    const weight = trust[index];
    sum += weight * rest[index];
    weights += weight;
  }
  for (const slope of slopes) {
    let bySlope = 0;
    for (let index = first; index < end; index++) if (rest[index] === rest[index]) bySlope += trust[index] * slope[index];
    for (let index = first; index < end; index++) slope[index] -= bySlope / weights;
  }
  for (let index = first; index < end; index++) rest[index] -= sum / weights;
};

/**
 * By how many seconds an edge falls later than it should, at its first reading: the area between the readings and what they should be, over
 * the height of the fall.
 */
const laterBy = (comparison: Comparison, rest: Float64Array, slopes: readonly Float64Array[], window: number): void => {
  const { rows, starts, injected, leanest } = comparison,
    first = starts[window],
    end = starts[window + 1],
    height = injected[rows[first]] - leanest;
  for (const slope of slopes) slope[first] = areaOf(slope, comparison, first, end) / height;
  rest[first] = areaOf(rest, comparison, first, end) / height;
  rest.fill(NaN, first + 1, end);
};

/** Each reading stands for half the way to either neighbour. */
const areaOf = (column: Float64Array, { timeS, rows }: Comparison, first: number, end: number): number => {
  let area = 0;
  for (let index = first; index < end; index++)
    area += ((timeS[rows[Math.min(index + 1, end - 1)]] - timeS[rows[Math.max(index - 1, first)]]) / 2) * column[index];
  return area;
};
