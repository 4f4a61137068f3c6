// How long ago the mixture that the sensor shows was injected, found from the log: shifted and lagged, it must move as lambda does.

import { compared, type Comparison, type Required } from './delayEvents.js';
import { ASSUMED_AHEAD_CYCLES, ASSUMED_VAPOUR, ASSUMED_DELAY, ASSUMED_FILM, PRIOR_DEVIATION, describe, injectedAt, sensitivityOf, typical, type Delay, type PhysicalDelay } from './delayModel.js';
import { following, lagOver, lagged, sampleAt, type Lag } from './filters.js';
import { selected } from '../formats/median.js';
import type { Track } from './track.js';

export type { Required };

/** How the parameters are stepped to see what each does. */
const STEPS = [0.02, 0.03, 0.05, 0.01, 0.05, 0.03, 0.03, 0.03] as const;

const physical = (parameters: readonly number[]): PhysicalDelay => ({
  kind: 'physical', cycles: parameters[0], gasG: Math.exp(parameters[1]), stirred: parameters[5], lagS: Math.exp(parameters[2]),
});

/**
 * Finds delay and lag from the log: what was injected, shifted and lagged, must move as lambda does. `required`: what the table should have
 * had at each row, as far as known; `start`: an earlier answer. Undefined where too little moved to tell.
 */
export const estimateDelay = (track: Track, required: Required, start?: Delay): Delay | undefined => {
  const comparison = compared(track, required);
  if (!comparison) return undefined;
  const prior = [ASSUMED_DELAY.cycles, Math.log(ASSUMED_DELAY.gasG), Math.log(ASSUMED_DELAY.lagS), ASSUMED_FILM.share, Math.log(ASSUMED_FILM.staysS), ASSUMED_DELAY.stirred, ASSUMED_AHEAD_CYCLES, ASSUMED_VAPOUR];
  const { residuals, unsteady } = residualsOf(comparison);
  const groups = groupsOf(comparison);
  if (start?.from === 'log' && start.model.kind === 'physical') {
    const { cycles, gasG, lagS, stirred } = start.model;
    return refine(track, [cycles, Math.log(gasG), Math.log(lagS), start.filmShare, prior[4], stirred, prior[6], prior[7]], prior, residuals, unsteady, groups);
  }
  let best = prior;
  let leastCost = Infinity;
  for (const gasFactor of [0.2, 0.4, 0.7, 1, 1.5, 2.2, 3.5]) {
    for (const lagFactor of [0.4, 1, 2.5]) {
      const guess = [prior[0], prior[1] + Math.log(gasFactor), prior[2] + Math.log(lagFactor), prior[3], prior[4], prior[5], prior[6], prior[7]];
      const cost = meanAbsolute(residuals(guess), groups.edge);
      if (cost < leastCost) [best, leastCost] = [guess, cost];
    }
  }
  return refine(track, best, prior, residuals, unsteady, groups);
};

/** Who a reading's errors are alike with: its window; and which kind of window that is. */
interface Groups { readonly window: Int32Array; readonly edge: Uint8Array; readonly edgeDeviationS: number }

const groupsOf = ({ rows, starts, edge, timeS }: Comparison): Groups => {
  const groups = { window: new Int32Array(rows.length), edge: new Uint8Array(rows.length), edgeDeviationS: edgeDeviationS({ rows, starts, edge, timeS }) };
  for (let window = 0; window + 1 < starts.length; window++) {
    groups.window.fill(window, starts[window], starts[window + 1]);
    groups.edge.fill(edge[window] ? 1 : 0, starts[window], starts[window + 1]);
  }
  return groups;
};

/** A cut may begin anywhere between two rows, and the fall may lie anywhere between two readings: each is known to its step over √12. */
const edgeDeviationS = ({ rows, starts, edge, timeS }: Pick<Comparison, 'rows' | 'starts' | 'edge' | 'timeS'>): number => {
  let [rowSteps, readingSteps, edges] = [0, 0, 0];
  for (let window = 0; window + 1 < starts.length; window++) {
    if (!edge[window]) continue;
    const [first, last] = [rows[starts[window]], rows[starts[window + 1] - 1]];
    rowSteps += (timeS[last] - timeS[first]) / (last - first);
    readingSteps += (timeS[last] - timeS[first]) / (starts[window + 1] - 1 - starts[window]);
    edges++;
  }
  return edges ? Math.hypot(Math.hypot(rowSteps, readingSteps) / edges / Math.sqrt(12), 0.01) : 0.01;
};

/** Noise and independence of the readings at edges and of the others, each by itself: one is timed by a large step, the other by the table's small ones. */
const noiseOf = (rest: Float64Array, { edge, edgeDeviationS }: Groups): { scale: number; share: number }[] => [0, 1].map((kind) => ({
  scale: kind ? edgeDeviationS : Math.max(1.4826 * medianAbsolute(rest, edge, kind), LEAST_NOISE), share: independence(rest, edge, kind),
}));

/** One digit of a sensor that counts lambda in hundredths, over √12. */
const LEAST_NOISE = 0.003;

/** What a wall's film and the controller's way with it come to is known to about this share (standard deviation). No source. */
const UNSTEADY_SHARE = 0.25;
const widened = (scale: number, doubt: number): number => Math.hypot(scale, doubt === doubt ? doubt : 0);

const refine = (
  track: Track, start: readonly number[], prior: readonly number[], residuals: (parameters: readonly number[]) => Float64Array, unsteady: (parameters: readonly number[]) => Float64Array, groups: Groups,
): Delay | undefined => {
  const count = prior.length;
  let at = [...start];
  let rest = residuals(at);
  let normal: number[][] = [];
  let scores: Float64Array[] = [];
  let damping = 0.01;
  let noise = noiseOf(rest, groups);
  let doubt = unsteady(at);
  const costOf = (values: Float64Array, parameters: readonly number[]): number => {
    let sum = 0;
    const [{ scale, share }, { scale: edgeScale, share: edgeShare }] = noise;
    for (let sample = 0; sample < values.length; sample++) {
      const value = values[sample];
      if (value === value) sum += groups.edge[sample] ? edgeShare * pseudoHuber(value / edgeScale) : share * pseudoHuber(value / widened(scale, doubt[sample]));
    }
    return sum + parameters.reduce((total, parameter, index) => total + ((parameter - prior[index]) / PRIOR_DEVIATION[index]) ** 2, 0);
  };
  for (let round = 0; round < 8; round++) {
    noise = noiseOf(rest, groups);
    doubt = unsteady(at);
    const slopes = STEPS.map((step, index) => {
      const there = residuals(at.map((value, other) => (other === index ? value + step : value)));
      for (let sample = 0; sample < there.length; sample++) there[sample] = (there[sample] - rest[sample]) / step;
      return there;
    });
    const gradient = at.map((value, i) => (value - prior[i]) * PRIOR_DEVIATION[i] ** -2);
    scores = Array.from({ length: (groups.window[groups.window.length - 1] ?? -1) + 1 }, () => new Float64Array(count));
    const products = productsOf(rest, slopes, groups, noise, doubt, gradient, scores);
    normal = Array.from({ length: count }, (_, i) => Array.from({ length: count }, (__, j) => products[i >= j ? i * count + j : j * count + i] + (i === j ? PRIOR_DEVIATION[i] ** -2 : 0)));
    const cost = costOf(rest, at);
    let moved = 0;
    for (let attempt = 0; attempt < 6; attempt++) {
      const change = solveSmall(normal.map((row, i) => row.map((value, j) => (i === j ? value * (1 + damping) : value))), gradient);
      const next = at.map((value, i) => value - Math.max(-0.5, Math.min(0.5, change[i])));
      next[0] = Math.max(0.3, Math.min(2.5, next[0]));
      next[5] = Math.max(0, Math.min(0.8, next[5]));
      next[7] = Math.max(0, Math.min(0.7, next[7]));
      next[6] = Math.max(0, Math.min(1, next[6]));
      next[2] = Math.max(Math.log(0.003), Math.min(Math.log(0.5), next[2]));
      const there = residuals(next);
      if (costOf(there, next) <= cost) {
        moved = Math.max(...next.map((value, i) => Math.abs(value - at[i]) / PRIOR_DEVIATION[i]));
        [at, rest, damping] = [next, there, damping / 3];
        break;
      }
      damping *= 5;
    }
    if (moved < 0.03) break;
  }
  const model = physical(at);
  const { flow, rpm } = typical(track);
  const sensitivity = sensitivityOf(model, flow, rpm);
  // Errors within a window are alike (a wrong cell, what the controller added unseen): each window is one witness (sandwich variance; Huber 1967,
  // White 1980). Where the windows agree better than their noise says, the noise is believed.
  const influence = sensitivity.map((_, k) => solveSmall(normal, prior.map((__, i) => (i === k ? 1 : 0))));
  const bySpread = (i: number, j: number): number => scores.reduce((sum, score) => sum + along(score, influence[i]) * along(score, influence[j]), 0)
    + influence[i].reduce((sum, value, k) => sum + value * influence[j][k] / PRIOR_DEVIATION[k] ** 2, 0);
  const byNoise = (i: number, j: number): number => influence[i][j];
  const matrix = (of: (i: number, j: number) => number): number[] => Array.from({ length: 9 }, (_, at) => of(Math.floor(at / 3), at % 3));
  const varianceBy = (of: readonly number[]): number => of.reduce((sum, value, at) => sum + value * sensitivity[Math.floor(at / 3)] * sensitivity[at % 3], 0);
  const [spread, noisy] = [matrix(bySpread), matrix(byNoise)];
  const covariance = varianceBy(spread) > varianceBy(noisy) ? spread : noisy;
  const deviationS = Math.sqrt(varianceBy(covariance));
  const before = Math.hypot(...sensitivity.map((value, i) => value * PRIOR_DEVIATION[i]));
  if (!(deviationS < TOLD_SHARE * before) || !(deviationS < 0.05)) return undefined;
  return describe(track, model, 'log', covariance, at[3]);
};

/** Weighted products of the slopes with each other (lower half, row by row); adds those with what is left to `gradient` and to each window's score. */
const productsOf = (
  rest: Float64Array, slopes: readonly Float64Array[], { window, edge }: Groups, noise: readonly { scale: number; share: number }[], doubt: Float64Array, gradient: number[], scores: readonly Float64Array[],
): Float64Array => {
  const count = slopes.length;
  const products = new Float64Array(count * count);
  const own = new Float64Array(count);
  for (let sample = 0; sample < rest.length; sample++) {
    const value = rest[sample];
    if (value !== value) continue;
    const { scale: still, share } = noise[edge[sample]];
    const scale = edge[sample] ? still : widened(still, doubt[sample]);
    const weight = share / scale ** 2 / Math.sqrt(1 + (value / (HUBER * scale)) ** 2);
    const score = scores[window[sample]];
    for (let i = 0; i < count; i++) {
      // What cannot be told of a parameter says nothing of it.
      const slope = slopes[i][sample];
      own[i] = slope === slope ? slope : 0;
      const weighted = weight * own[i];
      gradient[i] += weighted * value;
      score[i] += weighted * value;
      for (let j = 0; j <= i; j++) products[i * count + j] += weighted * own[j];
    }
  }
  return products;
};

/** The log is said to tell the delay where it takes away at least so much of the doubt. */
const TOLD_SHARE = 0.5;
const along = (a: ArrayLike<number>, b: readonly number[]): number => b.reduce((sum, value, i) => sum + value * a[i], 0);

const HUBER = 1.5;
const pseudoHuber = (z: number): number => 2 * HUBER ** 2 * (Math.sqrt(1 + (z / HUBER) ** 2) - 1);

/** Mean of the sizes of what is left at edges and elsewhere, each in terms of what is usual. */
const meanAbsolute = (values: Float64Array, edge: Uint8Array): number => {
  const sums = [0, 0], counts = [0, 0];
  values.forEach((value, at) => { if (value === value) { sums[edge[at]] += Math.abs(value); counts[edge[at]]++; } });
  return counts[0] + counts[1] > 0 ? sums[0] / Math.max(1, counts[0]) / 0.01 + sums[1] / Math.max(1, counts[1]) / 0.03 : Infinity;
};

const medianAbsolute = (values: Float64Array, edge: Uint8Array, kind: number): number => {
  const numbers = new Float64Array(values.length);
  let count = 0;
  for (let at = 0; at < values.length; at++) if (edge[at] === kind && values[at] === values[at]) numbers[count++] = Math.abs(values[at]);
  return count ? selected(numbers.subarray(0, count), count >> 1) : Infinity;
};

/** Share of the samples of a kind that counts as independent, from how alike neighbours' residuals are. */
const independence = (values: Float64Array, edge: Uint8Array, kind: number): number => {
  let [product, square] = [0, 0];
  for (let at = 1; at < values.length; at++) {
    const [before, value] = [values[at - 1], values[at]];
    if (edge[at] !== kind || edge[at - 1] !== kind || value !== value || before !== before) continue;
    product += value * before;
    square += value * value;
  }
  const r = square > 0 ? Math.max(0, Math.min(0.95, product / square)) : 0;
  return (1 - r) / (1 + r);
};

/** Keeps the last few answers: the fit steps one parameter at a time, most of which leave either the mixture or its timing as it was. */
const remembering = <T>(make: (...of: number[]) => T): ((...of: number[]) => T) => {
  const kept: { of: number[]; answer: T }[] = [];
  return (...of) => {
    const known = kept.findIndex((each) => each.of.every((value, at) => value === of[at]));
    const [found] = known >= 0 ? kept.splice(known, 1) : [{ of, answer: make(...of) }];
    kept.unshift(found);
    if (kept.length > 4) kept.pop();
    return found.answer;
  };
};

/** What is left of each reading compared under a set of parameters (cycles, ln gas, ln lag, film share, ln film time, share stirred). */
const residualsOf = (comparison: Comparison): { residuals: (parameters: readonly number[]) => Float64Array; unsteady: (parameters: readonly number[]) => Float64Array } => {
  const { timeS, rows, measured, starts, edge, passed, from, leanest } = comparison;
  const flow = flowOf(comparison);
  const growing = remembering((aheadCycles) => growthAhead(comparison, aheadCycles));
  const settling = remembering((lnStays) => lagged(flow, timeS, Math.exp(lnStays)));
  const burning = remembering((share, lnStays, aheadCycles, vapour) => burnt(comparison, flow, settling(lnStays), growing(aheadCycles), share, Math.exp(lnStays), vapour));
  const stirring = remembering((stirredG): Lag | undefined => lagOver(passed, stirredG, Infinity));
  const sensing = remembering((lagS): Lag | undefined => lagOver(timeS, lagS));
  const mixed = remembering((share, lnStays, aheadCycles, vapour, stirredG) => following(burning(share, lnStays, aheadCycles, vapour), stirring(stirredG)));
  const seen = remembering((share, lnStays, stirredG, lagS, aheadCycles, vapour) => following(mixed(share, lnStays, aheadCycles, vapour, stirredG), sensing(lagS)));
  const placed = remembering((cycles, pushedG) => injectedAt(comparison, rows, { kind: 'physical', cycles, gasG: pushedG, stirred: 0, lagS: 0 }, passed, from));
  const unsteady = (parameters: readonly number[]): Float64Array => {
    const model = physical(parameters);
    const burning = burnt(comparison, flow, settling(parameters[4]), growing(parameters[6]), parameters[3], Math.exp(parameters[4]), parameters[7]);
    for (let row = 0; row < burning.length; row++) burning[row] = Math.hypot(UNSTEADY_SHARE * (burning[row] - comparison.calm[row]), comparison.doubt[row]);
    const shown = following(following(burning, stirring(model.gasG * model.stirred)), sensing(model.lagS));
    const at = placed(model.cycles, model.gasG * (1 - model.stirred));
    return Float64Array.from(at, (each, index) => (edge[window(index)] ? 0 : sampleAt(shown, each)));
  };
  const windowOf = groupsOf(comparison).window;
  const window = (index: number): number => windowOf[index];
  return { unsteady, residuals: (parameters) => {
    const model = physical(parameters);
    const mixture = seen(parameters[3], parameters[4], model.gasG * model.stirred, model.lagS, parameters[6], parameters[7]);
    const at = placed(model.cycles, model.gasG * (1 - model.stirred));
    const residuals = new Float64Array(rows.length);
    for (let window = 0; window + 1 < starts.length; window++) {
      let [sum, count] = [0, 0];
      for (let index = starts[window]; index < starts[window + 1]; index++) {
        const shown = sampleAt(mixture, at[index]);
        const rest = measured[index] - (shown < leanest ? leanest : shown);
        residuals[index] = rest;
        if (rest === rest) { sum += rest; count++; }
      }
      if (edge[window]) residuals[starts[window]] = shift(comparison, residuals, window);
      if (edge[window]) residuals.fill(NaN, starts[window] + 1, starts[window + 1]);
      else for (let index = starts[window]; index < starts[window + 1]; index++) residuals[index] -= sum / count;
    }
    return residuals;
  } };
};

/** By how many seconds an edge falls later than it should: the area between the readings and what they should be, over the height of the fall. */
const shift = ({ timeS, rows, starts, injected, leanest }: Comparison, residuals: Float64Array, window: number): number => {
  let area = 0;
  for (let index = starts[window] + 1; index < starts[window + 1]; index++) area += (timeS[rows[index]] - timeS[rows[index - 1]]) * (residuals[index] + residuals[index - 1]) / 2;
  return area / (injected[rows[starts[window]]] - leanest);
};

/** By how much the charge grows until the fuel of each row meets it (a factor). */
const growthAhead = ({ timeS, rpm, lnCharge }: Comparison, aheadCycles: number): Float64Array => {
  const growth = new Float64Array(timeS.length).fill(1);
  if (!lnCharge) return growth;
  let ahead = 0;
  for (let row = 0; row < growth.length; row++) {
    const metS = timeS[row] + aheadCycles * 120 / (rpm && rpm[row] > 400 ? rpm[row] : 2500);
    if (ahead < row) ahead = row;
    while (ahead > row && timeS[ahead] > metS) ahead--;
    while (ahead < growth.length - 2 && timeS[ahead + 1] <= metS && timeS[ahead + 1] >= timeS[ahead]) ahead++;
    const stepS = timeS[ahead + 1] - timeS[ahead];
    const met = lnCharge[ahead] + (stepS > 0 ? Math.min(1, (metS - timeS[ahead]) / stepS) * (lnCharge[ahead + 1] - lnCharge[ahead]) : 0);
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

/** Gaussian elimination with pivots, for a handful of unknowns. */
const solveSmall = (matrix: readonly (readonly number[])[], right: readonly number[]): number[] => {
  const rows = matrix.map((row, i) => [...row, right[i]]);
  const size = rows.length;
  for (let i = 0; i < size; i++) {
    const pivot = rows.slice(i).reduce((most, row, at) => (Math.abs(row[i]) > Math.abs(rows[most][i]) ? at + i : most), i);
    [rows[i], rows[pivot]] = [rows[pivot], rows[i]];
    for (let j = i + 1; j < size; j++) {
      const factor = rows[j][i] / rows[i][i];
      for (let k = i; k <= size; k++) rows[j][k] -= factor * rows[i][k];
    }
  }
  const x = new Array<number>(size).fill(0);
  for (let i = size - 1; i >= 0; i--) {
    let sum = rows[i][size];
    for (let k = i + 1; k < size; k++) sum -= rows[i][k] * x[k];
    x[i] = sum / rows[i][i];
  }
  return x;
};
