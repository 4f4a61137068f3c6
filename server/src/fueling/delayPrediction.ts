// What the readings of a comparison should have been under a set of parameters, and how well that is known: what the wall, the charge, the gas on its
// way and the sensor make of the mixture injected.

import { EDGE_SHOWN_S, type Comparison } from './delayEvents.js';
import { injectedAt } from './delayModel.js';
import { AT, physical } from './delayParameters.js';
import { followingBoth, lagOver, lagged, type Lag } from './filters.js';
import { drawnThrough } from './manifold.js';

/** What a wall's film, the manifold and the controller's way with them come to is known to about this share (standard deviation). No source. */
const UNSTEADY_SHARE = 0.25;

/** Keeps the last few answers: the fit steps one parameter at a time, most of which leave either the mixture or its timing as it was. */
class Kept<T> {
  private readonly known: { readonly of: readonly number[]; readonly answer: T }[] = [];

  find(of: readonly number[]): T | undefined {
    const { known } = this;
    for (let at = known.length - 1; at >= 0; at--) {
      const found = known[at];
      if (!alike(found.of, of)) continue;
      for (let behind = at; behind + 1 < known.length; behind++) known[behind] = known[behind + 1];
      known[known.length - 1] = found;
      return found.answer;
    }
    return undefined;
  }

  keep(of: readonly number[], answer: T): T {
    this.known.push({ of, answer });
    if (this.known.length > 4) this.known.shift();
    return answer;
  }
}

const alike = (a: readonly number[], b: readonly number[]): boolean => {
  for (let at = 0; at < a.length; at++) if (a[at] !== b[at]) return false;
  return true;
};

/** A class, so that what is compiled of it is there for the next session. */
export class Prediction {
  private readonly flow: Float64Array;
  // What has no say in this log is not stepped: one answer does for all its values.
  private readonly edged: boolean;
  private readonly filling: boolean;
  private readonly taken = new Kept<Float64Array>();
  private readonly growths = new Kept<Float64Array>();
  private readonly settled = new Kept<Float64Array>();
  private readonly burnings = new Kept<Float64Array>();
  private readonly stirrings = new Kept<Lag | undefined>();
  private readonly sensings = new Kept<Lag | undefined>();
  private readonly seen = new Kept<Float64Array>();
  private readonly places = new Kept<Places>();

  constructor(private readonly comparison: Comparison) {
    this.flow = flowOf(comparison);
    this.edged = comparison.edge.includes(true);
    this.filling = comparison.throughManifold;
  }

  /** What is left of each reading; of an edge, at its first reading, by how many seconds it falls later than it should. NaN where there is nothing to compare. */
  residuals(parameters: readonly number[]): Float64Array {
    const { gasG, stirred, lagS } = physical(parameters), stirredG = gasG * stirred;
    const mixture = this.mixtureOf(parameters), of = [lagS, stirredG, ...mixture];
    const seen = this.seen.find(of) ?? this.seen.keep(of, followingBoth(this.burning(mixture), this.stirring(stirredG), this.sensing(lagS)));
    return leftOver(this.comparison, seen, this.placesBy(parameters));
  }

  /** Standard deviation of what each reading should have been: the unsteady part of the mixture and the table where it is not known. */
  doubt(parameters: readonly number[]): Float64Array {
    const { gasG, stirred, lagS } = physical(parameters);
    return valuesAt(this.placesBy(parameters), followingBoth(unsteady(this.comparison, this.burning(this.mixtureOf(parameters))), this.stirring(gasG * stirred), this.sensing(lagS)));
  }

  private mixtureOf(parameters: readonly number[]): number[] {
    return [
      parameters[AT.filmShare], parameters[AT.lnFilmStaysS], this.edged ? parameters[AT.vapour] : 0,
      parameters[AT.aheadCycles], this.filling ? parameters[AT.lnManifoldCycles] : 0,
    ];
  }

  private burning(mixture: readonly number[]): Float64Array {
    const [share, lnStays, vapour, aheadCycles, lnManifoldCycles] = mixture;
    return this.burnings.find(mixture)
      ?? this.burnings.keep(mixture, burnt(this.comparison, this.flow, this.settling(lnStays), this.growing(aheadCycles, lnManifoldCycles), share, vapour));
  }

  private settling(lnStays: number): Float64Array {
    const of = [lnStays];
    return this.settled.find(of) ?? this.settled.keep(of, lagged(this.flow, this.comparison.timeS, Math.exp(lnStays)));
  }

  private growing(aheadCycles: number, lnManifoldCycles: number): Float64Array {
    const of = [aheadCycles, lnManifoldCycles];
    return this.growths.find(of) ?? this.growths.keep(of, growthAhead(this.comparison, this.taking(lnManifoldCycles), aheadCycles));
  }

  private taking(lnManifoldCycles: number): Float64Array {
    const of = [lnManifoldCycles];
    return this.taken.find(of) ?? this.taken.keep(of, takenIn(this.comparison, Math.exp(lnManifoldCycles)));
  }

  private stirring(stirredG: number): Lag | undefined {
    const of = [stirredG];
    return this.stirrings.find(of) ?? this.stirrings.keep(of, lagOver(this.comparison.passed, stirredG, Infinity));
  }

  private sensing(lagS: number): Lag | undefined {
    const of = [lagS];
    return this.sensings.find(of) ?? this.sensings.keep(of, lagOver(this.comparison.timeS, lagS));
  }

  private placesBy(parameters: readonly number[]): Places {
    const { cycles, gasG, stirred, latencyS } = physical(parameters), pushedG = gasG * (1 - stirred), of = [cycles, pushedG, latencyS];
    const { rows, passed, from } = this.comparison;
    return this.places.find(of) ?? this.places.keep(of, placesOf(injectedAt(this.comparison, rows, { kind: 'physical', cycles, gasG: pushedG, stirred: 0, lagS: 0, latencyS }, passed, from)));
  }
}

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
  const shownAt = (index: number): number => { const from = mixture[before[index]]; return from + part[index] * (mixture[behind[index]] - from); };
  for (let window = 0; window + 1 < starts.length; window++) {
    const first = starts[window], end = starts[window + 1];
    const level = edge[window] ? levelBefore(comparison, shownAt, window) : 1;
    for (let index = first; index < end; index++) {
      const shown = level * shownAt(index);
      residuals[index] = measured[index] - (shown < leanest ? leanest : shown);
    }
    if (edge[window]) {
      residuals[first] = laterBy(comparison, residuals, window);
      residuals.fill(NaN, first + 1, end);
    } else lessMean(residuals, first, end);
  }
  return residuals;
};

/** How rich the engine ran before an edge, by what is shown while the cut is still on its way, over what it is taken to have run at. NaN where nothing tells. */
const levelBefore = ({ rows, measured, starts, cutAgeS }: Comparison, shownAt: (index: number) => number, window: number): number => {
  let [seen, expected] = [0, 0];
  for (let index = starts[window]; index < starts[window + 1] && cutAgeS[rows[index]] <= EDGE_SHOWN_S; index++) {
    const shown = shownAt(index);
    if (shown === shown) { seen += measured[index]; expected += shown; }
  }
  return expected > 0 ? seen / expected : NaN;
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
  for (let row = 0; row < deviation.length; row++) deviation[row] = Math.sqrt((UNSTEADY_SHARE * (burning[row] - calm[row])) ** 2 + doubt[row] ** 2);
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

/** ln of what the cylinders take in where the charge is metered. */
const takenIn = ({ lnCharge, turned, throughManifold }: Comparison, manifoldCycles: number): Float64Array =>
  throughManifold ? drawnThrough(lnCharge.map(Math.exp), turned, manifoldCycles).map(Math.log) : lnCharge;

/** By how much the charge is more than it was metered as, when the fuel of each row meets it (a factor). */
const growthAhead = ({ timeS, rpm, lnCharge }: Comparison, taken: Float64Array, aheadCycles: number): Float64Array => {
  const growth = new Float64Array(timeS.length).fill(1);
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

/** The fuel's flow, in terms of the metered air's; none behind a cut. */
const flowOf = ({ injected, meteredGPerS, cutAgeS }: Comparison): Float64Array => {
  const flow = new Float64Array(injected.length);
  for (let row = 0; row < flow.length; row++) flow[row] = cutAgeS[row] >= 0 ? 0 : injected[row] * meteredGPerS[row];
  return flow;
};

/**
 * What burns of what is injected: the wall keeps a share of any growth of the fuel's flow until its film has grown too (`settled`), and gives it while a
 * lift lets the flow fall. Behind a cut the film alone burns, in the air that there is.
 */
const burnt = ({ injected, exhaustGPerS, meteredGPerS, cutAgeS }: Comparison, flow: Float64Array, settled: Float64Array, growth: Float64Array, share: number, vapour: number): Float64Array => {
  const result = new Float64Array(flow.length);
  for (let row = 0; row < result.length; row++) {
    result[row] = cutAgeS[row] >= 0 ? vapour * settled[row] / Math.max(exhaustGPerS[row], 0.1)
      : (injected[row] - share * (flow[row] - settled[row]) / Math.max(meteredGPerS[row], 0.1)) / growth[row];
  }
  return result;
};
