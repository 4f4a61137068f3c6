// What the readings of a comparison should have been under a set of parameters, and how well that is known: what the wall, the charge, the gas on its
// way and the sensor make of the mixture injected.

import type { Comparison } from './delayEvents.js';
import { injectedAt } from './delayModel.js';
import { AT, physical } from './delayParameters.js';
import { following, followingBoth, lagOver, lagged, type Lag } from './filters.js';

/** What a wall's film, the manifold and the controller's way with them come to is known to about this share (standard deviation). No source. */
const UNSTEADY_SHARE = 0.25;

export interface Prediction {
  /** What is left of each reading; of an edge, at its first reading, by how many seconds it falls later than it should. NaN where there is nothing to compare. */
  residuals(parameters: readonly number[]): Float64Array;
  /** Standard deviation of what each reading should have been: the unsteady part of the mixture and the table where it is not known. */
  doubt(parameters: readonly number[]): Float64Array;
}

/** Keeps the last few answers: the fit steps one parameter at a time, most of which leave either the mixture or its timing as it was. */
const remembering = <T>(make: (...of: number[]) => T): ((...of: number[]) => T) => {
  const kept: { readonly of: readonly number[]; readonly answer: T }[] = [];
  return (...of) => {
    let known = kept.length;
    while (--known >= 0 && !alike(kept[known].of, of));
    const found = known >= 0 ? kept.splice(known, 1)[0] : { of, answer: make(...of) };
    kept.push(found);
    if (kept.length > 4) kept.shift();
    return found.answer;
  };
};

const alike = (a: readonly number[], b: readonly number[]): boolean => {
  for (let at = 0; at < a.length; at++) if (a[at] !== b[at]) return false;
  return true;
};

export const predictionOf = (comparison: Comparison): Prediction => {
  const { timeS, rows, passed, from } = comparison;
  const flow = flowOf(comparison);
  const taking = remembering((lnManifoldCycles) => takenIn(comparison, Math.exp(lnManifoldCycles)));
  const growing = remembering((aheadCycles, lnManifoldCycles) => growthAhead(comparison, taking(lnManifoldCycles), aheadCycles));
  const settling = remembering((lnStays) => lagged(flow, timeS, Math.exp(lnStays)));
  const burning = remembering((share, lnStays, vapour, aheadCycles, lnManifoldCycles) =>
    burnt(comparison, flow, settling(lnStays), growing(aheadCycles, lnManifoldCycles), share, Math.exp(lnStays), vapour));
  const stirring = remembering((stirredG): Lag | undefined => lagOver(passed, stirredG, Infinity));
  const sensing = remembering((lagS): Lag | undefined => lagOver(timeS, lagS));
  const seen = remembering((lagS, stirredG, ...mixture) => followingBoth(burning(...mixture), stirring(stirredG), sensing(lagS)));
  const placed = remembering((cycles, pushedG, latencyS) => placesOf(injectedAt(comparison, rows, { kind: 'physical', cycles, gasG: pushedG, stirred: 0, lagS: 0, latencyS }, passed, from)));
  // What has no say in this log is not stepped: one answer does for all its values.
  const [edged, ahead, filling] = [comparison.edge.includes(true), comparison.lnCharge !== undefined, comparison.lnCharge !== undefined && comparison.throughManifold];
  const mixtureOf = (parameters: readonly number[]): [number, number, number, number, number] =>
    [parameters[AT.filmShare], parameters[AT.lnFilmStaysS], edged ? parameters[AT.vapour] : 0, ahead ? parameters[AT.aheadCycles] : 0, filling ? parameters[AT.lnManifoldCycles] : 0];
  const placedBy = (parameters: readonly number[]): Places => {
    const { cycles, gasG, stirred, latencyS } = physical(parameters);
    return placed(cycles, gasG * (1 - stirred), latencyS);
  };
  return {
    residuals: (parameters) => {
      const { gasG, stirred, lagS } = physical(parameters);
      return leftOver(comparison, seen(lagS, gasG * stirred, ...mixtureOf(parameters)), placedBy(parameters));
    },
    doubt: (parameters) => {
      const { gasG, stirred, lagS } = physical(parameters);
      return valuesAt(placedBy(parameters), followingBoth(unsteady(comparison, burning(...mixtureOf(parameters))), stirring(gasG * stirred), sensing(lagS)));
    },
  };
};

/** Fractional rows, ready to read columns at: the rows on either side and the part of the way between; NaN where there is none. */
interface Places { readonly before: Int32Array; readonly behind: Int32Array; readonly part: Float64Array }

const placesOf = (at: Float64Array): Places => {
  const before = new Int32Array(at.length), behind = new Int32Array(at.length);
  for (let index = 0; index < at.length; index++) {
    const place = at[index];
    if (place !== place) continue;
    const whole = Math.floor(place);
    before[index] = whole;
    behind[index] = place > whole ? whole + 1 : whole;
    at[index] = place - whole;
  }
  return { before, behind, part: at };
};

/** What is left of the readings where the `mixture` by row is shown, each at its place. */
const leftOver = (comparison: Comparison, mixture: Float64Array, { before, behind, part }: Places): Float64Array => {
  const { rows, measured, starts, edge, leanest } = comparison;
  const residuals = new Float64Array(rows.length);
  for (let index = 0; index < residuals.length; index++) {
    const from = mixture[before[index]], shown = from + part[index] * (mixture[behind[index]] - from);
    residuals[index] = measured[index] - (shown < leanest ? leanest : shown);
  }
  for (let window = 0; window + 1 < starts.length; window++) {
    const first = starts[window], end = starts[window + 1];
    if (edge[window]) {
      residuals[first] = laterBy(comparison, residuals, window);
      residuals.fill(NaN, first + 1, end);
    } else lessMean(residuals, first, end);
  }
  return residuals;
};

/** Takes the mean of its numbers off a window. */
const lessMean = (values: Float64Array, first: number, end: number): void => {
  let sum = 0, count = 0;
  for (let index = first; index < end; index++) { const value = values[index]; if (value === value) { sum += value; count++; } }
  const mean = sum / count;
  for (let index = first; index < end; index++) values[index] -= mean;
};

/** Doubt of what burns, by row. */
const unsteady = ({ calm, doubt }: Comparison, burning: Float64Array): Float64Array => {
  const deviation = new Float64Array(burning.length);
  for (let row = 0; row < deviation.length; row++) deviation[row] = Math.hypot(UNSTEADY_SHARE * (burning[row] - calm[row]), doubt[row]);
  return deviation;
};

/** The values at fractional places; 0 where there is none. */
const valuesAt = ({ before, behind, part }: Places, values: Float64Array): Float64Array => {
  const found = new Float64Array(part.length);
  for (let index = 0; index < found.length; index++) {
    const from = values[before[index]], value = from + part[index] * (values[behind[index]] - from);
    if (value === value) found[index] = value;
  }
  return found;
};

/** By how many seconds an edge falls later than it should: the area between the readings and what they should be, over the height of the fall. */
const laterBy = ({ timeS, rows, starts, injected, leanest }: Comparison, residuals: Float64Array, window: number): number => {
  let area = 0;
  for (let index = starts[window] + 1; index < starts[window + 1]; index++) area += (timeS[rows[index]] - timeS[rows[index - 1]]) * (residuals[index] + residuals[index - 1]) / 2;
  return area / (injected[rows[starts[window]]] - leanest);
};

/** What the cylinders take in where the charge is metered: behind an air meter the manifold fills first, a lag that goes with the engine's cycles. */
const takenIn = ({ lnCharge, turned, throughManifold }: Comparison, manifoldCycles: number): Float64Array | undefined =>
  lnCharge && throughManifold ? following(lnCharge, lagOver(turned, manifoldCycles, Infinity)) : lnCharge;

/** By how much the charge is more than it was metered as, when the fuel of each row meets it (a factor). */
const growthAhead = ({ timeS, rpm, lnCharge }: Comparison, taken: Float64Array | undefined, aheadCycles: number): Float64Array => {
  const growth = new Float64Array(timeS.length).fill(1);
  if (!lnCharge || !taken) return growth;
  let ahead = 0;
  for (let row = 0; row < growth.length; row++) {
    const metS = timeS[row] + aheadCycles * 120 / (rpm && rpm[row] > 400 ? rpm[row] : 2500);
    if (ahead < row) ahead = row;
    while (ahead > row && timeS[ahead] > metS) ahead--;
    while (ahead < growth.length - 2 && timeS[ahead + 1] <= metS && timeS[ahead + 1] >= timeS[ahead]) ahead++;
    const stepS = timeS[ahead + 1] - timeS[ahead];
    const met = taken[ahead] + (stepS > 0 ? Math.min(1, (metS - timeS[ahead]) / stepS) * (taken[ahead + 1] - taken[ahead]) : 0);
    growth[row] = Math.exp(met - lnCharge[row]);
  }
  return growth;
};

/** The fuel's flow, in terms of the exhaust's. */
const flowOf = ({ injected, exhaustGPerS }: Comparison): Float64Array => {
  const flow = new Float64Array(injected.length);
  for (let row = 0; row < flow.length; row++) flow[row] = injected[row] * exhaustGPerS[row];
  return flow;
};

/** What burns of what is injected: the wall keeps a share of any growth of the fuel's flow until its film has grown too (`settled`). */
const burnt = ({ injected, exhaustGPerS, cutAgeS }: Comparison, flow: Float64Array, settled: Float64Array, growth: Float64Array, share: number, staysS: number, vapour: number): Float64Array => {
  const result = new Float64Array(flow.length);
  for (let row = 0; row < result.length; row++) result[row] = cutAgeS[row] < 0 ? injected[row] : cutAgeS[row] >= 0 ? injected[row] * vapour * Math.exp(-cutAgeS[row] / staysS) : (injected[row] - share * (flow[row] - settled[row]) / Math.max(exhaustGPerS[row], 0.1)) / growth[row];
  return result;
};
