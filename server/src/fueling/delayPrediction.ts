// What the readings of a comparison should have been under a set of parameters, how that goes with each parameter, and how well it is known: what the
// wall, the charge, the gas on its way and the sensor make of the mixture injected.

import type { Comparison } from './delayEvents.js';
import { COLUMN, COLUMNS, leftOver, shownAt } from './delayLeftOver.js';
import { TIMING_PARTS, injectedAt } from './delayModel.js';
import { AT, PARTS, physical } from './delayParameters.js';
import { freshSteps } from './filters.js';
import { drawnThrough } from './manifold.js';

/** What a wall's film, the manifold and the controller's way with them come to is known to about this share (standard deviation). No source. */
const UNSTEADY_SHARE = 0.25;

/** Less is as good as none, and has a slope. */
const LEAST_STIRRED = 0.01;
/** How far ln of the manifold's cycles is stepped to see what it does. */
const MANIFOLD_STEP = 0.05;

/** The readings under one set of parameters. */
export interface Predicted {
  readonly at: readonly number[];
  /** What is left of each reading; of an edge, at its first reading, by how many seconds it falls later than it should. NaN where there is nothing to compare. */
  readonly rest: Float64Array;
  /** How that goes with each parameter: `PARTS` numbers a reading. Empty where they were not asked for. */
  readonly slopes: Float64Array;
  /** Standard deviation of what each reading should have been: the unsteady part of the mixture and the table where it is not known. Empty as `slopes`. */
  readonly doubt: Float64Array;
}

/** How much more the charge is than it was metered as when the fuel of each row meets it (a factor), and how that goes with ahead and manifold. */
interface Growth { readonly aheadCycles: number; readonly lnManifoldCycles: number; readonly factor: Float64Array; readonly byAhead: Float64Array; readonly byManifold: Float64Array | undefined }

/** A class, so that what is compiled of it is there for the next session. */
export class Prediction {
  private readonly flow: Float64Array;
  private readonly stepS: Float64Array;
  private readonly stepG: Float64Array;
  private readonly columns: Float64Array;
  private growth: Growth | undefined;

  constructor(private readonly comparison: Comparison) {
    this.flow = flowOf(comparison);
    this.stepS = freshSteps(comparison.timeS);
    // A stretch is stirred afresh: what is carried on from another would only fade to numbers too small to reckon with fast.
    this.stepG = freshSteps(comparison.passed, Infinity).map((step, row) => (this.stepS[row] >= 0 ? step : NaN));
    this.columns = new Float64Array(COLUMNS * this.flow.length);
  }

  /** `slopes`: whether these and the doubt are asked for. */
  at(parameters: readonly number[], slopes = true): Predicted {
    const { comparison, columns, flow, stepS, stepG } = this;
    const growth = this.growth = grownBy(comparison, parameters, this.growth);
    carry(comparison, flow, stepS, stepG, growth, parameters, slopes ? COLUMNS : 1, columns);
    const { cycles, gasG, stirred, latencyS } = physical(parameters);
    const { rows, passed, from } = comparison;
    const timing = slopes ? new Float64Array(TIMING_PARTS * rows.length) : undefined;
    const places = injectedAt(comparison, rows, { kind: 'physical', cycles, gasG: gasG * (1 - stirred), stirred: 0, lagS: 0, latencyS }, passed, from, timing);
    const doubt = new Float64Array(slopes ? rows.length : 0), of = new Float64Array(slopes ? PARTS * rows.length : 0);
    const rest = shownAt(columns, places, comparison.timeS, timing && { timing, gasG, stirred: Math.max(stirred, LEAST_STIRRED), slopes: of, doubt });
    leftOver(comparison, rest, of);
    return { at: parameters, rest, slopes: of, doubt };
  }
}

/** The fuel's flow, in terms of the metered air's; none behind a cut. */
const flowOf = ({ injected, meteredGPerS, cutAgeS }: Comparison): Float64Array => {
  const flow = new Float64Array(injected.length);
  for (let row = 0; row < flow.length; row++) flow[row] = cutAgeS[row] >= 0 ? 0 : injected[row] * meteredGPerS[row];
  return flow;
};

const grownBy = (comparison: Comparison, parameters: readonly number[], before: Growth | undefined): Growth => {
  const aheadCycles = parameters[AT.aheadCycles], lnManifoldCycles = parameters[AT.lnManifoldCycles];
  if (before?.aheadCycles === aheadCycles && (!comparison.throughManifold || before.lnManifoldCycles === lnManifoldCycles)) return before;
  const byAhead = new Float64Array(comparison.timeS.length);
  const factor = growthAhead(comparison, takenIn(comparison, lnManifoldCycles), aheadCycles, byAhead);
  let byManifold: Float64Array | undefined;
  if (comparison.throughManifold) {
    byManifold = growthAhead(comparison, takenIn(comparison, lnManifoldCycles + MANIFOLD_STEP), aheadCycles);
    for (let row = 0; row < factor.length; row++) byManifold[row] = (byManifold[row] - factor[row]) / MANIFOLD_STEP;
  }
  return { aheadCycles, lnManifoldCycles, factor, byAhead, byManifold };
};

/** ln of what the cylinders take in where the charge is metered. */
const takenIn = ({ lnCharge, turned, throughManifold }: Comparison, lnManifoldCycles: number): Float64Array =>
  throughManifold ? drawnThrough(lnCharge.map(Math.exp), turned, Math.exp(lnManifoldCycles)).map(Math.log) : lnCharge;

/** By how much the charge is more than it was metered as, when the fuel of each row meets it (a factor); `slope` takes how that goes with the cycles ahead. */
const growthAhead = ({ timeS, rpm, lnCharge }: Comparison, taken: Float64Array, aheadCycles: number, slope?: Float64Array): Float64Array => {
  const growth = new Float64Array(timeS.length).fill(1);
  let ahead = 0;
  for (let row = 0; row < growth.length; row++) {
    const cycleS = 120 / (rpm && rpm[row] > 400 ? rpm[row] : 2500), metS = timeS[row] + aheadCycles * cycleS;
    if (ahead < row) ahead = row;
    while (ahead > row && timeS[ahead] > metS) ahead--;
    while (ahead < growth.length - 2 && timeS[ahead + 1] <= metS && timeS[ahead + 1] >= timeS[ahead]) ahead++;
    const stepS = timeS[ahead + 1] - timeS[ahead], part = stepS > 0 ? (metS - timeS[ahead]) / stepS : 0, change = taken[ahead + 1] - taken[ahead];
    const met = taken[ahead] + (stepS > 0 ? Math.min(1, part) * change : 0);
    growth[row] = Math.exp(met - lnCharge[row]);
    if (slope && stepS > 0 && part < 1) slope[row] = growth[row] * change / stepS * cycleS;
  }
  return growth;
};

/** A first-order lag over one step: what of the distance is left, and what of the step is not yet followed (`lagOver`); `steps`: the step in terms of the lag. */
class Step {
  left = NaN;
  behind = NaN;
  steps = NaN;

  /** By a step, NaN where the lag starts afresh. */
  take(step: number, lag: number): void {
    const steps = step / lag;
    if (steps === this.steps) return;
    this.steps = steps;
    this.left = Math.exp(-steps);
    this.behind = steps === 0 ? 1 : (1 - this.left) / steps;
  }

  /** How a value that follows goes with ln of the lag, beyond how it went before; nothing where it starts afresh. */
  slope(value: number, before: number, now: number): number {
    const slope = this.left * (value - before) * this.steps - (now - before) * (this.behind - this.left);
    return slope === slope ? slope : 0;
  }
}

/** Lets columns follow, all by one step. */
const follow = (values: Float64Array, before: Float64Array, now: Float64Array, { left, behind }: Step, count: number): void => {
  const ofNow = 1 - behind, ofBefore = behind - left;
  for (let each = 0; each < count; each++) {
    const value = left * values[each] + ofNow * now[each] + ofBefore * before[each];
    values[each] = value === value ? value : now[each];
    before[each] = now[each];
  }
};

/**
 * What burns of what is injected, and what gas and sensor make of it, row after row: `count` columns beside each other (1: the mixture alone). The wall
 * keeps a share of any growth of the fuel's flow until its film has grown too, and gives it while a lift lets the flow fall; behind a cut the film alone
 * burns, in the air that there is. Stirring is a lag over the mass that passes, the sensor's one over time.
 */
const carry = (
  { injected, exhaustGPerS, meteredGPerS, cutAgeS, calm, doubt }: Comparison, flow: Float64Array, stepsS: Float64Array, stepsG: Float64Array, growth: Growth,
  parameters: readonly number[], count: number, columns: Float64Array,
): void => {
  const { gasG, stirred, lagS } = physical(parameters), stirredG = gasG * Math.max(stirred, LEAST_STIRRED), staysS = Math.exp(parameters[AT.lnFilmStaysS]);
  const share = parameters[AT.filmShare], vapour = parameters[AT.vapour], all = count > 1;
  const { factor, byAhead, byManifold } = growth;
  const [burnt, burntBefore, mixed, mixedBefore, seen] = Array.from({ length: 5 }, () => new Float64Array(COLUMNS));
  const film = new Step(), stirring = new Step(), sensing = new Step();
  let settled = NaN, bySettled = 0, flowBefore = NaN;
  for (let row = 0, to = 0; row < flow.length; row++, to += count) {
    const stepS = stepsS[row], grown = factor[row], now = flow[row];
    film.take(stepS, staysS);
    bySettled = film.left * bySettled + film.slope(settled, flowBefore, now);
    const next = film.left * settled + (1 - film.behind) * now + (film.behind - film.left) * flowBefore;
    if (next === next) settled = next;
    else [settled, bySettled] = [now, 0];
    flowBefore = now;
    const cut = cutAgeS[row] >= 0, air = Math.max(cut ? exhaustGPerS[row] : meteredGPerS[row], 0.1), grows = (now - settled) / air;
    const mixture = burnt[COLUMN.mixture] = cut ? vapour * settled / air : (injected[row] - share * grows) / grown;
    if (all) {
      burnt[COLUMN.filmShare] = cut ? 0 : -grows / grown;
      burnt[COLUMN.filmStays] = (cut ? vapour : share / grown) / air * bySettled;
      burnt[COLUMN.vapour] = cut ? settled / air : 0;
      burnt[COLUMN.ahead] = cut ? 0 : -mixture * byAhead[row] / grown;
      burnt[COLUMN.manifold] = cut || !byManifold ? 0 : -mixture * byManifold[row] / grown;
      burnt[COLUMN.doubt] = Math.sqrt((UNSTEADY_SHARE * (mixture - calm[row])) ** 2 + doubt[row] ** 2);
    }
    stirring.take(stepsG[row], stirredG);
    const byStirred = stirring.slope(mixed[0], burntBefore[0], mixture);
    follow(mixed, burntBefore, burnt, stirring, count);
    sensing.take(stepS, lagS);
    if (all) mixed[COLUMN.stirred] += byStirred;
    const byLag = sensing.slope(seen[0], mixedBefore[0], mixed[0]);
    follow(seen, mixedBefore, mixed, sensing, count);
    if (all) seen[COLUMN.lag] += byLag;
    for (let each = 0; each < count; each++) columns[to + each] = seen[each];
  }
};
