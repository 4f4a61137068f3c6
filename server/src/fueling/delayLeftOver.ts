// What is left of a comparison's readings once what gas and sensor show is taken off them, and how that goes with each parameter.

import { EDGE_SHOWN_S, type Comparison } from './delayEvents.js';
import { TIMING_PARTS } from './delayModel.js';
import { AT, PARTS } from './delayParameters.js';

/** What is carried through gas and sensor beside each other: the mixture, its slopes by what shapes it, and its doubt. */
export const COLUMN = { mixture: 0, filmShare: 1, filmStays: 2, vapour: 3, ahead: 4, manifold: 5, stirred: 6, lag: 7, doubt: 8 } as const;
export const COLUMNS = 9;

/** For each reading: how the moment it was injected goes with the delay's parts (`injectedAt`), what to fill with slopes and doubt, and where. */
export interface Sloped { readonly timing: Float64Array; readonly gasG: number; readonly stirred: number; readonly slopes: Float64Array; readonly doubt: Float64Array }

/** What is shown at fractional rows of the columns; NaN where there is none. */
export const shownAt = (columns: Float64Array, places: Float64Array, timeS: Float64Array, sloped?: Sloped): Float64Array => {
  const count = sloped ? COLUMNS : 1, shown = new Float64Array(places.length);
  for (let index = 0; index < shown.length; index++) {
    const place = places[index], row = Math.floor(place), part = place - row, before = count * row, behind = part > 0 ? before + count : before;
    shown[index] = place === place ? columns[before] + part * (columns[behind] - columns[before]) : NaN;
    if (sloped && place === place) slopesAt(sloped, index, columns, before, behind, part, timeS[row + 1] - timeS[row]);
  }
  return shown;
};

const slopesAt = ({ timing, gasG, stirred, slopes, doubt }: Sloped, index: number, columns: Float64Array, before: number, behind: number, part: number, stepS: number): void => {
  const of = PARTS * index, at = TIMING_PARTS * index;
  const value = (column: number): number => columns[before + column] + part * (columns[behind + column] - columns[before + column]);
  const perS = behind > before ? (columns[behind] - columns[before]) / stepS : 0, byGas = perS * timing[at + 1], byStirred = value(COLUMN.stirred);
  slopes[of + AT.cycles] = perS * timing[at];
  slopes[of + AT.lnGasG] = byGas * gasG * (1 - stirred) + byStirred;
  slopes[of + AT.stirred] = byStirred / stirred - byGas * gasG;
  slopes[of + AT.latencyS] = perS * timing[at + 2];
  slopes[of + AT.lnLagS] = value(COLUMN.lag);
  slopes[of + AT.filmShare] = value(COLUMN.filmShare);
  slopes[of + AT.lnFilmStaysS] = value(COLUMN.filmStays);
  slopes[of + AT.vapour] = value(COLUMN.vapour);
  slopes[of + AT.aheadCycles] = value(COLUMN.ahead);
  slopes[of + AT.lnManifoldCycles] = value(COLUMN.manifold);
  const doubted = value(COLUMN.doubt);
  if (doubted === doubted) doubt[index] = doubted;
};

/**
 * Puts what is left of each reading in place of what is shown, and of its slopes (empty: none are asked for). Of an edge, at its first reading: by how many
 * seconds it falls later than it should; NaN where there is nothing to compare.
 */
export const leftOver = (comparison: Comparison, shown: Float64Array, slopes: Float64Array): void => {
  const { measured, starts, edge, leanest } = comparison, parts = slopes.length / shown.length;
  for (let window = 0; window + 1 < starts.length; window++) {
    const first = starts[window], end = starts[window + 1];
    if (edge[window]) levelled(comparison, shown, slopes, parts, window);
    for (let index = first; index < end; index++) {
      const limited = shown[index] < leanest;
      shown[index] = measured[index] - (limited ? leanest : shown[index]);
      for (let at = parts * index; at < parts * (index + 1); at++) slopes[at] = limited ? 0 : -slopes[at];
    }
    if (edge[window]) laterBy(comparison, shown, slopes, parts, window);
    else lessMean(shown, slopes, parts, first, end);
  }
};

/** Puts an edge at how rich the engine ran before it, by what is shown while the cut is still on its way over what it is taken to have run at. NaN where nothing tells. */
const levelled = ({ rows, measured, starts, cutAgeS }: Comparison, shown: Float64Array, slopes: Float64Array, parts: number, window: number): void => {
  const [first, end] = [starts[window], starts[window + 1]], bySlope = new Float64Array(parts);
  let [seen, expected] = [0, 0];
  for (let index = first; index < end && cutAgeS[rows[index]] <= EDGE_SHOWN_S; index++) {
    if (shown[index] !== shown[index]) continue;
    seen += measured[index];
    expected += shown[index];
    for (let each = 0; each < parts; each++) bySlope[each] += slopes[parts * index + each];
  }
  const level = expected > 0 ? seen / expected : NaN;
  for (let index = first; index < end; index++) {
    for (let each = 0; each < parts; each++) slopes[parts * index + each] = level * (slopes[parts * index + each] - shown[index] * bySlope[each] / expected);
    shown[index] *= level;
  }
};

/** Takes the mean of its numbers off a window. */
const lessMean = (rest: Float64Array, slopes: Float64Array, parts: number, first: number, end: number): void => {
  const bySlope = new Float64Array(parts);
  let sum = 0, count = 0;
  for (let index = first; index < end; index++) {
    if (rest[index] !== rest[index]) continue;
    sum += rest[index];
    count++;
    for (let each = 0; each < parts; each++) bySlope[each] += slopes[parts * index + each];
  }
  for (let index = first; index < end; index++) {
    rest[index] -= sum / count;
    for (let each = 0; each < parts; each++) slopes[parts * index + each] -= bySlope[each] / count;
  }
};

/** By how many seconds an edge falls later than it should, at its first reading: the area between the readings and what they should be, over the height of the fall. */
const laterBy = ({ timeS, rows, starts, injected, leanest }: Comparison, rest: Float64Array, slopes: Float64Array, parts: number, window: number): void => {
  const [first, end] = [starts[window], starts[window + 1]], height = injected[rows[first]] - leanest, bySlope = new Float64Array(parts);
  let area = 0;
  for (let index = first; index < end; index++) {
    // Half the way to either neighbour.
    const widthS = (timeS[rows[Math.min(index + 1, end - 1)]] - timeS[rows[Math.max(index - 1, first)]]) / 2;
    area += widthS * rest[index];
    for (let each = 0; each < parts; each++) bySlope[each] += widthS * slopes[parts * index + each];
  }
  rest.fill(NaN, first + 1, end);
  rest[first] = area / height;
  for (let each = 0; each < parts; each++) slopes[parts * first + each] = bySlope[each] / height;
};
