// How long ago the mixture that the sensor shows was injected, found from the log: shifted and lagged, it must move as lambda does.

import type { Comparison } from './delayEvents.js';
import { DELAY_PARTS, sensitivityOf, type Placing, type Usual } from './delayModel.js';
import { AT, NAMES, PARAMETERS, PARTS, physical } from './delayParameters.js';
import { Prediction, type Predicted } from './delayPrediction.js';
import { copyOf, roomFor } from '../room.js';
import { solveSmall } from './solveSmall.js';
import { dot } from '../solution/statistics.js';
import { selected } from '../../formats/median.js';

/** Where a fit ended; `told`: what it tells of the delay, where it takes away enough of the doubt. */
export interface Found {
  readonly at: Float64Array;
  readonly told: Placing | undefined;
}

/**
 * Finds the way to delay and lag by the few stretches that tell most: by what they leave, each a witness (of errors that fall off as
 * exp −|x| does), and by how far it is from what is assumed. By the first alone four times the gas was taken up for next to nothing.
 */
export const roughDelay = (usual: Usual, few: Comparison, assumed: Float64Array, between = (): void => undefined): Found => {
  const prediction = new Prediction(few),
    groups = groupsOf(few),
    witnesses = few.edge.reduce((sum, edge) => sum + shareOf(edge), 0);
  let best = assumed;
  let leastCost = Infinity;
  const look = (lnGasG: number, lnLagS: number): void => {
    const guess = assumed.slice();
    [guess[AT.lnGasG], guess[AT.lnLagS]] = [lnGasG, lnLagS];
    between();
    const cost = 2 * witnesses * Math.log(meanSize(prediction.at(guess, false).rest, groups.edge)) + departureOf(guess, assumed);
    if (cost < leastCost) [best, leastCost] = [guess, cost];
  };
  // The gas first: it makes most of the delay.
  for (const factor of [0.25, 0.5, 1, 2, 4]) look(assumed[AT.lnGasG] + Math.log(factor), assumed[AT.lnLagS]);
  const lnGasG = best[AT.lnGasG];
  for (const gasFactor of [0.7, 1.4])
    for (const factor of [0.4, 2.5]) look(lnGasG + Math.log(gasFactor), assumed[AT.lnLagS] + Math.log(factor));
  return climbed(usual, prediction, groups, assumed, best, between);
};

/** Finds delay and lag from the log, from a first answer on: what was injected, shifted and lagged, must move as lambda does. */
export const estimateDelay = (
  usual: Usual,
  all: Comparison,
  assumed: Float64Array,
  start: Float64Array,
  between = (): void => undefined,
): Found => climbed(usual, new Prediction(all), groupsOf(all), assumed, start, between);

/** Who a reading's errors are alike with: its window; and which kind of window that is. */
interface Groups {
  readonly window: Int32Array;
  readonly edge: Uint8Array;
  readonly edgeDeviationS: number;
  readonly weighted: Weighted;
}

/**
 * By reading with something left: the root of its weight, what share of the one before is taken off it, what it comes to and its slopes,
 * and where it stands.
 */
interface Weighted {
  readonly roots: Float64Array;
  readonly shares: Float64Array;
  readonly lefts: Float64Array;
  readonly slopes: readonly Float64Array[];
  readonly samples: Int32Array;
}

const weightedOf = (count: number): Weighted => ({
  roots: roomFor(count),
  shares: roomFor(count),
  lefts: roomFor(count),
  slopes: NAMES.map(() => roomFor(count)),
  samples: new Int32Array(count),
});

const groupsOf = ({ rows, starts, edge, timeS }: Comparison): Groups => {
  const groups = {
    window: new Int32Array(rows.length),
    edge: new Uint8Array(rows.length),
    edgeDeviationS: edgeDeviationS({ rows, starts, edge, timeS }),
    weighted: weightedOf(rows.length),
  };
  for (let window = 0; window + 1 < starts.length; window++) {
    groups.window.fill(window, starts[window], starts[window + 1]);
    groups.edge.fill(edge[window], starts[window], starts[window + 1]);
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

/** By reading: the noise that it is measured in, doubt included. */
type Noise = Float64Array;

/** Noise of the readings at edges and of the others, each by itself: one is timed by a large step, the other by the table's small ones. */
const noiseOf = (rest: Float64Array, { edge, edgeDeviationS }: Groups, doubt: Float64Array): Noise => {
  const usual = Math.max(1.4826 * medianAbsolute(rest, edge, 0), LEAST_NOISE),
    edges = Math.max(1.4826 * medianAbsolute(rest, edge, 1), edgeDeviationS),
    noise = roomFor(rest.length);
  for (let sample = 0; sample < noise.length; sample++) noise[sample] = edge[sample] ? edges : Math.sqrt(usual ** 2 + doubt[sample] ** 2);
  return noise;
};

/**
 * Windows err alike too, by the same wrong cells, the same film and the same driver's ways: by so much less their readings count. An edge
 * stands for itself. Order of magnitude, no source.
 */
const WINDOWS_SHARE = 1 / 3;

/** One digit of a sensor that counts lambda in hundredths, over √12. */
const LEAST_NOISE = 0.003;

/** A fit ends where a step is to gain less of minus twice the logarithm of the likelihood. */
const LEAST_GAIN = 0.5;
const MOST_ROUNDS = 12;
const PRECISION = PARAMETERS.map(({ deviation }) => deviation ** -2);

/** Levenberg's and Marquardt's least squares. The last step, which gains next to nothing, is taken without a look at where it leads. */
const climbed = (
  usual: Usual,
  prediction: Prediction,
  groups: Groups,
  assumed: Float64Array,
  start: Float64Array,
  between: () => void,
): Found => {
  let here = prediction.at(start);
  for (let round = 0, damping = 0.01, gained = Infinity; ; round++) {
    between();
    const alike = likeness(here.rest, groups.edge),
      rest = whitened(here.rest, here.rest, groups, alike),
      noise = noiseOf(rest, groups, here.doubt),
      equations = equationsOf(here, assumed, rest, groups, alike, noise),
      { normal, gradient } = equations;
    const last = solveSmall(normal, gradient),
      isNear = dot(gradient, last) < LEAST_GAIN,
      ends = isNear || round === MOST_ROUNDS || gained < LEAST_GAIN,
      before = here;
    for (let attempt = 0; !ends && here === before && attempt < 6; attempt++) {
      between();
      const there = prediction.at(stepped(here.at, solveSmall(normal, gradient, 1 + damping)), true, here);
      const otherRest = whitened(there.rest, there.rest, groups, alike);
      gained =
        departureOf(here.at, assumed) +
        sizeOf(rest, otherRest, groups, noise) -
        departureOf(there.at, assumed) -
        sizeOf(otherRest, rest, groups, noise);
      if (gained >= 0) here = there;
      damping = gained >= 0 ? damping / 3 : damping * 5;
    }
    if (here !== before) continue;
    // Where more is promised than the steps before it kept, it is not to be believed unseen.
    const at = isNear ? stepped(here.at, last) : here.at;
    return { at, told: told(usual, at, equations) };
  }
};

/** By no more than half of a unit of each parameter, and within its bounds. */
const stepped = (at: Float64Array, change: Float64Array): Float64Array =>
  at.map((value, i) => Math.max(PARAMETERS[i].least, Math.min(PARAMETERS[i].most, value - Math.max(-0.5, Math.min(0.5, change[i])))));

const departureOf = (at: Float64Array, assumed: Float64Array): number => {
  let departure = 0;
  for (let i = 0; i < PARTS; i++) departure += (at[i] - assumed[i]) ** 2 * PRECISION[i];
  return departure;
};

/**
 * A column less what follows in each value from the one before, by how `alike` what is left (`rest`) of neighbours is, within windows.
 * Wrong cells and what the controller adds unseen err slowly, a sensor's noise does not: told by readings one by one, a slow error would
 * pass for a long lag.
 * What is new in each reading is compared (generalised least squares for errors of first order; Cochrane and Orcutt 1949).
 */
const whitened = (column: Float64Array, rest: Float64Array, groups: Groups, alike: number): Float64Array => {
  const fresh = copyOf(column),
    size = sizeOfNew(alike);
  for (let at = 1; at < fresh.length; at++) if (follows(rest, groups, at)) fresh[at] = size * (column[at] - alike * column[at - 1]);
  return fresh;
};

const sizeOfNew = (alike: number): number => 1 / Math.sqrt(1 - alike ** 2);

/** Whether something of a reading is told by the one before. */
const follows = (rest: Float64Array, { window, edge }: Groups, at: number): boolean =>
  at > 0 && !edge[at] && window[at] === window[at - 1] && rest[at] === rest[at] && rest[at - 1] === rest[at - 1];

/** What a fit tells, where it takes away enough of the doubt. */
const told = ({ flow, rpm }: Usual, at: Float64Array, { normal, scores }: Equations): Placing | undefined => {
  const model = physical(at);
  const sensitivity = sensitivityOf(model, flow, rpm);
  // Errors within a window are alike (a wrong cell, what the controller added unseen): each window is one witness (sandwich variance; Huber
  // 1967,
  // White 1980). Where the windows agree better than their noise says, the noise is believed.
  const influence = UNITS.map((each) => solveSmall(normal, each)),
    pulls = influence.map((each) => pullsOf(scores, each));
  const noisy: number[] = [],
    spread: number[] = [];
  for (let i = 0; i < DELAY_PARTS; i++)
    for (let j = 0; j < DELAY_PARTS; j++) {
      noisy.push(influence[i][j]);
      spread.push(dot(pulls[i], pulls[j]) + byPrior(influence[i], influence[j]));
    }
  const covariance = varianceBy(spread, sensitivity) > varianceBy(noisy, sensitivity) ? spread : noisy;
  const deviationS = Math.sqrt(varianceBy(covariance, sensitivity));
  const before = Math.hypot(...sensitivity.map((value, i) => value * PARAMETERS[i].deviation));
  if (!(deviationS < TOLD_SHARE * before) || !(deviationS < 0.05)) return undefined;
  return { model, from: 'log', covariance };
};

const byPrior = (influence: Float64Array, other: Float64Array): number => {
  let sum = 0;
  for (let k = 0; k < PARTS; k++) sum += influence[k] * other[k] * PRECISION[k];
  return sum;
};

const varianceBy = (covariance: readonly number[], sensitivity: readonly number[]): number => {
  let sum = 0;
  for (let place = 0; place < covariance.length; place++)
    sum += covariance[place] * sensitivity[Math.floor(place / DELAY_PARTS)] * sensitivity[place % DELAY_PARTS];
  return sum;
};

/** Each of the delay's own parts by itself. */
const UNITS = Array.from({ length: DELAY_PARTS }, (_, k) => Float64Array.from(NAMES, (__, i) => (i === k ? 1 : 0)));

const pullsOf = (scores: readonly Float64Array[], influence: Float64Array): Float64Array => {
  const pulls = new Float64Array(scores.length);
  for (let window = 0; window < pulls.length; window++) pulls[window] = dot(scores[window], influence);
  return pulls;
};

/**
 * Robust size of what is left, each reading in terms of its noise, where the `other` answer leaves something too: to lose sight of a
 * reading is no merit.
 */
const sizeOf = (rest: Float64Array, other: Float64Array, { edge }: Groups, noise: Noise): number => {
  let sum = 0;
  for (let sample = 0; sample < rest.length; sample++) {
    const value = rest[sample];
    if (value === value && other[sample] === other[sample]) sum += shareOf(edge[sample]) * pseudoHuber(value / noise[sample]);
  }
  return sum;
};

const shareOf = (edge: number): number => (edge ? 1 : WINDOWS_SHARE);

/** Normal equations where the readings stand, and what each window adds to their right side. */
interface Equations {
  readonly normal: readonly Float64Array[];
  readonly gradient: Float64Array;
  readonly scores: readonly Float64Array[];
}

/** `rest`: what is left, whitened. */
const equationsOf = (
  { at, rest: left, slopes, parts }: Predicted,
  assumed: Float64Array,
  rest: Float64Array,
  groups: Groups,
  alike: number,
  noise: Noise,
): Equations => {
  const scores: Float64Array[] = [],
    { window, edge, weighted } = groups,
    { roots, lefts, samples, shares } = weighted,
    size = sizeOfNew(alike);
  for (let each = 0; each <= (window[window.length - 1] ?? -1); each++) scores.push(new Float64Array(PARTS));
  let count = 0;
  for (let sample = 0; sample < rest.length; sample++) {
    if (rest[sample] !== rest[sample]) continue;
    const root = Math.sqrt(shareOf(edge[sample]) * weightOf(rest[sample], noise[sample]));
    lefts[count] = root * rest[sample];
    // Slopes are whitened as what is left was.
    const isFollowing = follows(left, groups, sample);
    roots[count] = isFollowing ? root * size : root;
    shares[count] = isFollowing ? alike : 0;
    samples[count++] = sample;
  }
  for (const part of parts) takeSlopes(slopes[part], weighted, count, window, scores, part);
  const normal = NAMES.map(() => new Float64Array(PARTS));
  for (let row = 0; row < parts.length; row++) {
    const i = parts[row];
    for (let column = 0; column <= row; column += 2) {
      const j = parts[column],
        k = parts[Math.min(column + 1, row)];
      const [one, other] = productsOf(weighted.slopes[i], weighted.slopes[j], weighted.slopes[k], count);
      normal[i][j] = normal[j][i] = one;
      normal[i][k] = normal[k][i] = other;
    }
  }
  for (let i = 0; i < PARTS; i++) normal[i][i] += PRECISION[i];
  return { normal, gradient: gradientOf(at, assumed, scores), scores };
};

const gradientOf = (at: Float64Array, assumed: Float64Array, scores: readonly Float64Array[]): Float64Array => {
  const gradient = roomFor(PARTS);
  for (let i = 0; i < PARTS; i++) {
    gradient[i] = (at[i] - assumed[i]) * PRECISION[i];
    for (const score of scores) gradient[i] += score[i];
  }
  return gradient;
};

/** Weighs the slopes by a parameter, and adds up what each window's readings ask of it. */
const takeSlopes = (
  slope: Float64Array,
  { roots, shares, lefts, slopes, samples }: Weighted,
  count: number,
  window: Int32Array,
  scores: readonly Float64Array[],
  parameter: number,
): void => {
  const column = slopes[parameter];
  for (let at = 0; at < count;) {
    const here = window[samples[at]];
    let score = 0;
    for (; at < count && window[samples[at]] === here; at++) {
      const sample = samples[at],
        share = shares[at],
        value = slope[sample];
      column[at] = roots[at] * (share > 0 ? value - share * slope[sample - 1] : value);
      score += lefts[at] * column[at];
    }
    scores[here][parameter] = score;
  }
};

const weightOf = (rest: number, noise: number): number => 1 / noise ** 2 / Math.sqrt(1 + (rest / (HUBER * noise)) ** 2);

/** The products of a column with two others. Two sums of each run side by side: none waits for the others. */
const productsOf = (a: Float64Array, b: Float64Array, c: Float64Array, count: number): readonly [number, number] => {
  let sumB = 0,
    otherB = 0,
    sumC = 0,
    otherC = 0,
    at = 0;
  for (; at + 1 < count; at += 2) {
    const here = a[at],
      next = a[at + 1];
    sumB += here * b[at];
    otherB += next * b[at + 1];
    sumC += here * c[at];
    otherC += next * c[at + 1];
  }
  return [sumB + otherB + (at < count ? a[at] * b[at] : 0), sumC + otherC + (at < count ? a[at] * c[at] : 0)];
};

/** The log is said to tell the delay where no more than so much of the doubt is left. */
const TOLD_SHARE = 0.8;

const HUBER = 1.5;
const pseudoHuber = (z: number): number => 2 * HUBER ** 2 * (Math.sqrt(1 + (z / HUBER) ** 2) - 1);

/** Mean of the sizes of what is left at edges and elsewhere, each in terms of what is usual. */
const meanSize = (values: Float64Array, edge: Uint8Array): number => {
  const sums = [0, 0],
    counts = [0, 0];
  for (let at = 0; at < values.length; at++)
    if (values[at] === values[at]) {
      sums[edge[at]] += Math.abs(values[at]);
      counts[edge[at]]++;
    }
  return counts[0] + counts[1] > 0 ? sums[0] / Math.max(1, counts[0]) / 0.01 + sums[1] / Math.max(1, counts[1]) / 0.03 : Infinity;
};

const medianAbsolute = (values: Float64Array, edge: Uint8Array, kind: number): number => {
  const numbers = roomFor(values.length);
  let count = 0;
  for (let at = 0; at < values.length; at++) if (edge[at] === kind && values[at] === values[at]) numbers[count++] = Math.abs(values[at]);
  return count ? selected(numbers.subarray(0, count), count >> 1) : Infinity;
};

/** How alike neighbours' residuals are away from edges (correlation). */
const likeness = (values: Float64Array, edge: Uint8Array): number => {
  let [product, square] = [0, 0];
  for (let at = 1; at < values.length; at++) {
    const before = values[at - 1],
      value = values[at];
    if (edge[at] || edge[at - 1] || value !== value || before !== before) continue;
    product += value * before;
    square += value * value;
  }
  return square > 0 ? Math.max(0, Math.min(MOST_ALIKE, product / square)) : 0;
};
/** Beyond this only differences would count. */
const MOST_ALIKE = 0.9;
