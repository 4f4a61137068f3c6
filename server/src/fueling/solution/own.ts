// What a cell is proven by itself: its uncertainty where smooth bends are not assumed, and neighbours may differ as they are seen to in
// this very table.

import type { Grid } from './grid.js';

/**
 * How far a cell may stand from the table it was logged with (standard deviation of ln). A spot midway between two cells then leaves both
 * open by more than 3 %.
 */
export const OWN_DEVIATION = 0.15;
/** How much neighbours may differ before any are known. */
export const OWN_SLOPE_DEVIATION = 0.06;
/**
 * With so many well-known pairs of neighbours, their own differences speak: with this much to spare, and never less than that. No source.
 */
const ENOUGH_PAIRS = 12;
const STEP_DOUBT = 1.5;
const LEAST_SLOPE_DEVIATION = 0.025;
/** Cells known to this are compared to see how neighbours differ. */
const WELL_KNOWN = 0.02;

/**
 * Standard deviation of every cell's `x` (ln of its departure from the table) by itself. `deviationsBy` solves for it, given how surely two
 * neighbours are alike (precision of their difference). Where a table is seen to climb along one axis more than it does elsewhere, it may
 * along the other too.
 */
export const ownDeviationOf = (
  grid: Grid,
  x: Float64Array,
  deviationsBy: (slopePrecision: (a: number, b: number) => number) => Float64Array,
): Float64Array => {
  const steep = steepness(grid, x);
  const by = (slope: number): Float64Array => deviationsBy((a, b) => 1 / Math.max(slope ** 2, (steep[a] + steep[b]) / 2));
  const cautious = by(OWN_SLOPE_DEVIATION);
  const { step, pairs } = usualStep(grid, x, cautious);
  return pairs >= ENOUGH_PAIRS ? by(Math.max(LEAST_SLOPE_DEVIATION, STEP_DOUBT * step)) : step > OWN_SLOPE_DEVIATION ? by(step) : cautious;
};

/** The neighbours of a cell that stand before it. */
const before = (k: number, width: number): number[] => [...(k % width > 0 ? [k - 1] : []), ...(k >= width ? [k - width] : [])];

/** Mean square of the steps from each cell to its neighbours, with the same to spare. */
const steepness = (grid: Grid, x: Float64Array): Float64Array => {
  const sum = new Float64Array(x.length),
    count = new Float64Array(x.length);
  for (let k = 0; k < x.length; k++) {
    for (const other of before(k, grid.columns.length)) {
      for (const end of [k, other]) {
        sum[end] += (x[k] - x[other]) ** 2;
        count[end]++;
      }
    }
  }
  return sum.map((each, k) => (STEP_DOUBT ** 2 * each) / Math.max(1, count[k]));
};

/** How much the departure from the table differs between neighbours (root mean square of ln), where both are known; 0 without such. */
const usualStep = (grid: Grid, x: Float64Array, deviation: Float64Array): { step: number; pairs: number } => {
  let [square, pairs] = [0, 0];
  for (let k = 0; k < x.length; k++) {
    for (const other of before(k, grid.columns.length)) {
      if (!(deviation[k] < WELL_KNOWN && deviation[other] < WELL_KNOWN)) continue;
      square += (x[k] - x[other]) ** 2;
      pairs++;
    }
  }
  return { step: pairs > 0 ? Math.sqrt(square / pairs) : 0, pairs };
};
