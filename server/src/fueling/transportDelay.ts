// How long ago the mixture that the sensor shows was injected, found from the log: shifted and lagged, it must move as lambda does.

import { compared, type Comparison, type Required } from './delayEvents.js';
import { DELAY_PARTS, describe, sensitivityOf, typical, type Delay } from './delayModel.js';
import { ASSUMED, AT, PARAMETERS, physical, startingFrom } from './delayParameters.js';
import { Prediction } from './delayPrediction.js';
import { selected } from '../formats/median.js';
import type { Track } from './track.js';

export type { Required };

/**
 * Finds delay and lag from the log: what was injected, shifted and lagged, must move as lambda does. `required`: what the table should have
 * had at each row, as far as known; `start`: an earlier answer. Undefined where too little moved to tell.
 */
export const estimateDelay = (track: Track, required: Required, start?: Delay, between = (): void => undefined): Delay | undefined => {
  const comparison = compared(track, required);
  if (!comparison) return undefined;
  const whole = new Compared(comparison.all);
  if (start?.from === 'log' && start.model.kind === 'physical') return told(track, climbed(whole, startingFrom(start.model, start.filmShare), AT_LAST, between));
  const few = new Compared(comparison.few());
  let best = ASSUMED;
  let leastCost = Infinity;
  for (const gasFactor of [0.2, 0.4, 0.7, 1, 1.5, 2.2, 3.5]) {
    between();
    for (const lagFactor of [0.4, 1, 2.5]) {
      const guess = [...ASSUMED];
      guess[AT.lnGasG] += Math.log(gasFactor);
      guess[AT.lnLagS] += Math.log(lagFactor);
      const cost = meanSize(few.prediction.residuals(guess), few.groups.edge);
      if (cost < leastCost) [best, leastCost] = [guess, cost];
    }
  }
  return told(track, climbed(whole, climbed(few, best, ON_THE_WAY, between).at, AT_LAST, between));
};

/** What is compared, as a fit asks for it. */
class Compared {
  readonly prediction: Prediction;
  readonly groups: Groups;
  constructor(comparison: Comparison) {
    this.prediction = new Prediction(comparison);
    this.groups = groupsOf(comparison);
  }
}

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

/** By reading: the noise that it is measured in, doubt included, and what share of a reading that is independent it counts for. */
interface Noise { readonly scale: Float64Array; readonly share: Float64Array }

/** Noise and independence of the readings at edges and of the others, each by itself: one is timed by a large step, the other by the table's small ones. */
const noiseOf = (rest: Float64Array, { edge, edgeDeviationS }: Groups, doubt: Float64Array): Noise => {
  const [usual, edges] = [LEAST_NOISE, edgeDeviationS].map((least, kind) => Math.max(1.4826 * medianAbsolute(rest, edge, kind), least)), shares = [independence(rest, edge, 0), independence(rest, edge, 1)];
  const noise = { scale: new Float64Array(rest.length), share: new Float64Array(rest.length) };
  for (let sample = 0; sample < rest.length; sample++) {
    noise.scale[sample] = edge[sample] ? edges : Math.sqrt(usual ** 2 + doubt[sample] ** 2);
    noise.share[sample] = shares[edge[sample]];
  }
  return noise;
};

/** One digit of a sensor that counts lambda in hundredths, over √12. */
const LEAST_NOISE = 0.003;

/** Where a fit ended, with the normal equations there and what each window adds to their right side. */
interface Climbed { readonly at: readonly number[]; readonly normal: readonly (readonly number[])[]; readonly scores: readonly Float64Array[] }

/** Slopes learn from the steps, and are taken anew once a parameter has gone this far (in terms of its deviation). */
const FAR = 1;
/** A fit ends where a step gains less than `leastGain` of minus twice the logarithm of the likelihood, by slopes that were taken no further off than `near`. */
interface Care { readonly near: number; readonly leastGain: number }
const ON_THE_WAY: Care = { near: 1, leastGain: 0.5 };
const AT_LAST: Care = { near: 0.2, leastGain: 0.1 };
const MOST_ROUNDS = 12;

/** Levenberg's and Marquardt's least squares, the slopes kept up by Broyden's rule. */
const climbed = ({ prediction, groups }: Compared, start: readonly number[], { near, leastGain }: Care, between: () => void): Climbed => {
  const count = PARAMETERS.length;
  const precision = PARAMETERS.map(({ deviation }) => deviation ** -2);
  let at = start, fresh = start;
  let rest = prediction.residuals(at);
  let slopes = slopesAt(prediction, at, rest);
  let normal: number[][] = [];
  let scores: Float64Array[] = [];
  let damping = 0.01;
  for (let round = 0; round < MOST_ROUNDS; round++) {
    between();
    const noise = noiseOf(rest, groups, prediction.doubt(at));
    // Two answers are held against each other by the readings that both can tell of: to lose sight of one is no merit.
    const costOf = (values: Float64Array, parameters: readonly number[], other: Float64Array): number =>
      sizeOf(values, other, noise) + parameters.reduce((total, parameter, index) => total + (parameter - ASSUMED[index]) ** 2 * precision[index], 0);
    const gradient = at.map((value, i) => (value - ASSUMED[i]) * precision[i]);
    scores = Array.from({ length: (groups.window[groups.window.length - 1] ?? -1) + 1 }, () => new Float64Array(count));
    const products = productsOf(rest, slopes, groups.window, noise, gradient, scores);
    normal = Array.from({ length: count }, (_, i) => Array.from({ length: count }, (__, j) => products[i >= j ? i * count + j : j * count + i] + (i === j ? precision[i] : 0)));
    let gained = 0, misled = false;
    for (let attempt = 0; attempt < 6; attempt++) {
      const change = solveSmall(normal.map((row, i) => row.map((value, j) => (i === j ? value * (1 + damping) : value))), gradient);
      const next = at.map((value, i) => Math.max(PARAMETERS[i].least, Math.min(PARAMETERS[i].most, value - Math.max(-0.5, Math.min(0.5, change[i])))));
      const there = prediction.residuals(next);
      const gain = costOf(rest, at, there) - costOf(there, next, rest);
      if (gain >= 0) {
        learn(slopes, next.map((value, i) => value - at[i]), rest, there);
        [at, rest, damping, gained] = [next, there, damping / 3, gain];
        break;
      }
      // Slopes that have learnt may mislead.
      if (fresh !== at) { misled = true; break; }
      damping *= 5;
    }
    const settled = gained < leastGain && !misled;
    if (settled && at.every((value, i) => Math.abs(value - fresh[i]) <= near * PARAMETERS[i].deviation)) break;
    if (settled || misled || at.some((value, i) => Math.abs(value - fresh[i]) > FAR * PARAMETERS[i].deviation)) [slopes, fresh] = [slopesAt(prediction, at, rest), at];
  }
  return { at, normal, scores };
};

/** What a fit tells, where it takes away enough of the doubt. */
const told = (track: Track, { at, normal, scores }: Climbed): Delay | undefined => {
  const precision = PARAMETERS.map(({ deviation }) => deviation ** -2);
  const model = physical(at);
  const { flow, rpm } = typical(track);
  const sensitivity = sensitivityOf(model, flow, rpm);
  // Errors within a window are alike (a wrong cell, what the controller added unseen): each window is one witness (sandwich variance; Huber 1967,
  // White 1980). Where the windows agree better than their noise says, the noise is believed.
  const influence = sensitivity.map((_, k) => solveSmall(normal, ASSUMED.map((__, i) => (i === k ? 1 : 0))));
  const pulls = influence.map((each) => scores.map((score) => along(score, each)));
  const bySpread = (i: number, j: number): number => pulls[i].reduce((sum, pull, window) => sum + pull * pulls[j][window], 0)
    + influence[i].reduce((sum, value, k) => sum + value * influence[j][k] * precision[k], 0);
  const byNoise = (i: number, j: number): number => influence[i][j];
  const matrix = (of: (i: number, j: number) => number): number[] => Array.from({ length: DELAY_PARTS ** 2 }, (_, at) => of(Math.floor(at / DELAY_PARTS), at % DELAY_PARTS));
  const varianceBy = (of: readonly number[]): number => of.reduce((sum, value, at) => sum + value * sensitivity[Math.floor(at / DELAY_PARTS)] * sensitivity[at % DELAY_PARTS], 0);
  const [spread, noisy] = [matrix(bySpread), matrix(byNoise)];
  const covariance = varianceBy(spread) > varianceBy(noisy) ? spread : noisy;
  const deviationS = Math.sqrt(varianceBy(covariance));
  const before = Math.hypot(...sensitivity.map((value, i) => value * PARAMETERS[i].deviation));
  if (!(deviationS < TOLD_SHARE * before) || !(deviationS < 0.05)) return undefined;
  return describe(track, model, 'log', covariance, at[AT.filmShare]);
};

const slopesAt = (prediction: Prediction, at: readonly number[], rest: Float64Array): Float64Array[] =>
  PARAMETERS.map(({ step }, index) => slopesOf(prediction.residuals(at.map((value, other) => (other === index ? value + step : value))), rest, step));

/** What a step did beyond what the slopes foretold is laid to its direction (Broyden 1965), each parameter in terms of its deviation. */
const learn = (slopes: readonly Float64Array[], change: readonly number[], rest: Float64Array, there: Float64Array): void => {
  const parts = change.map((value, i) => value / PARAMETERS[i].deviation ** 2);
  const square = along(change, parts);
  if (!(square > 0)) return;
  for (let sample = 0; sample < rest.length; sample++) {
    let beyond = there[sample] - rest[sample];
    for (let i = 0; i < parts.length; i++) beyond -= slopes[i][sample] * change[i];
    if (beyond !== beyond) continue;
    for (let i = 0; i < parts.length; i++) slopes[i][sample] += beyond / square * parts[i];
  }
};

/** Slopes in place of what is left a step further. */
const slopesOf = (there: Float64Array, here: Float64Array, step: number): Float64Array => {
  for (let sample = 0; sample < there.length; sample++) there[sample] = (there[sample] - here[sample]) / step;
  return there;
};

/** Robust size of what is left, each reading in terms of its noise, where the `other` answer leaves something too. */
const sizeOf = (rest: Float64Array, other: Float64Array, { scale, share }: Noise): number => {
  let sum = 0;
  for (let sample = 0; sample < rest.length; sample++) {
    const value = rest[sample];
    if (value === value && other[sample] === other[sample]) sum += share[sample] * pseudoHuber(value / scale[sample]);
  }
  return sum;
};

/** Weighted products of the slopes with each other (lower half, row by row); adds those with what is left to `gradient` and to each window's score. */
const productsOf = (
  rest: Float64Array, slopes: readonly Float64Array[], window: Int32Array, { scale, share }: Noise, gradient: number[], scores: readonly Float64Array[],
): Float64Array => {
  const count = slopes.length;
  const products = new Float64Array(count * count);
  const own = new Float64Array(count);
  for (let sample = 0; sample < rest.length; sample++) {
    const value = rest[sample];
    if (value !== value) continue;
    const weight = share[sample] / scale[sample] ** 2 / Math.sqrt(1 + (value / (HUBER * scale[sample])) ** 2);
    const score = scores[window[sample]];
    for (let i = 0; i < count; i++) {
      // What cannot be told of a parameter says nothing of it.
      const slope = slopes[i][sample];
      own[i] = slope === slope ? slope : 0;
      const weighted = weight * own[i], pull = weighted * value;
      gradient[i] += pull;
      score[i] += pull;
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
const meanSize = (values: Float64Array, edge: Uint8Array): number => {
  const sums = [0, 0], counts = [0, 0];
  for (let at = 0; at < values.length; at++) if (values[at] === values[at]) { sums[edge[at]] += Math.abs(values[at]); counts[edge[at]]++; }
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
