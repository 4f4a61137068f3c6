// What the cylinders draw where the air is metered before the manifold, which fills first.

import { GAP_S } from './gasPassed.js';
import { SHARE_DEVIATION } from './film.js';
import { lagged } from './filters.js';
import { roomFor } from '../room.js';

/** Engine cycles that the manifold's filling lags by: it holds one to two displacements, of which a cycle takes four fifths. */
export const MANIFOLD_CYCLES = 1.9;
/**
 * From one manifold to another by about a third of it, and a controller may foresee some of the filling, or all (share of it, standard
 * deviation). Order of magnitude, no source.
 */
export const FILLING_DEVIATION = 0.5;
const SEAM_CYCLES = 1000;

/** Engine cycles turned by each row; a seam counts as so many that nothing of what was before is left. */
export const cyclesTurned = (timeS: Float64Array, rpm: Float64Array): Float64Array => {
  const sum = roomFor(timeS.length).fill(0);
  for (let row = 1; row < sum.length; row++) {
    const stepS = timeS[row] - timeS[row - 1];
    const turned = stepS >= 0 && stepS < GAP_S ? (stepS * (rpm[row - 1] + rpm[row])) / 240 : SEAM_CYCLES;
    sum[row] = sum[row - 1] + (turned >= 0 ? turned : 0);
  }
  return sum;
};

/**
 * What is drawn in a cycle where what is metered in one is given: the manifold gains what comes in less what is drawn, and what is drawn
 * goes with what it holds, a lag of the charge itself that goes with the engine's cycles.
 */
export const drawnThrough = (metered: Float64Array, turned: Float64Array, manifoldCycles: number): Float64Array =>
  lagged(metered, turned, manifoldCycles, Infinity);

/**
 * Flow that leaves the cylinders, where `gPerS` is what a meter before the manifold sees of it: behind a lift the manifold empties first.
 */
export const drawnFlow = (gPerS: Float64Array, timeS: Float64Array, rpm: Float64Array): Float64Array => {
  const drawn = drawnThrough(
    gPerS.map((flow, row) => (rpm[row] > 0 ? flow / rpm[row] : NaN)),
    cyclesTurned(timeS, rpm),
    MANIFOLD_CYCLES,
  );
  for (let row = 0; row < drawn.length; row++) {
    const flow = drawn[row] * rpm[row];
    drawn[row] = flow > 0 ? flow : gPerS[row];
  }
  return drawn;
};

/**
 * ln of what is drawn over what is metered, per row: behind a falling pedal the cylinders draw what the manifold held, and the meter does
 * not see it. 0 where neither is known.
 */
export const lnFilling = (drawn: Float64Array, metered: Float64Array): Float64Array => {
  const filling = roomFor(drawn.length).fill(0);
  for (let row = 0; row < filling.length; row++) if (drawn[row] > 0 && metered[row] > 0) filling[row] = Math.log(drawn[row] / metered[row]);
  return filling;
};

/** How much more or less the manifold fills than is usual, in the measure in which readings tell a film's share. */
export const asFilm = (filling: Float64Array): Float64Array => filling.map((each) => (-FILLING_DEVIATION / SHARE_DEVIATION) * each);
