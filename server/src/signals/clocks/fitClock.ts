// A clock line made exact by least squares on the readings themselves, and how well it fits.

import { mad, median } from '../columns/statistics.js';
import type { ClockLine } from './candidates.js';
import { readerOf, type Series } from './series.js';

export interface ClockFit extends ClockLine {
  /** Correlation of the readings over the overlap. */
  readonly correlation: number;
  /** Time in which both have readings, seconds. */
  readonly overlapS: number;
  /** How far windows of the log stand off the line on their own, root mean square, seconds; NaN where none can be timed. */
  readonly residualS: number;
  /** Standard deviations of the line. */
  readonly offsetDeviationS: number;
  readonly driftDeviation: number;
  /** Value in the first log over value in the second, from the slope between them. */
  readonly gain: number;
}

/** Before the readings speak a clock runs true to this: what a log is too short to tell stays near none. */
const DRIFT_PRIOR = 0.001;
const ROUNDS = 12;
/** Width over which both are averaged in the first rounds, seconds: the way in is wider. */
const WIDE_S = 0.6;
const MOST_STEP_S = 0.4;
const WINDOWS = 16;
const SHORTEST_WINDOW_S = 15;
/** A window is timed by its readings alone if they do it this well, seconds. */
const TIMED_S = 0.1;

/** Undefined where the logs do not meet on this line. The log with fewer readings is looked up in the other. */
export function fitClock(first: Series, second: Series, start: ClockLine): ClockFit | undefined {
  if (second.stepS >= first.stepS) return fit(first, second, start);
  // The line the other way: time in the second = (time in the first − offset) / (1 + drift).
  const back = fit(second, first, inverse(start));
  return (
    back && {
      ...back,
      ...inverse(back),
      gain: 1 / back.gain,
    }
  );
}

const inverse = ({ offsetS, drift }: ClockLine): ClockLine => ({ offsetS: -offsetS / (1 + drift), drift: 1 / (1 + drift) - 1 });

function fit(fine: Series, coarse: Series, start: ClockLine): ClockFit | undefined {
  const middleS = (coarse.timeS[0] + coarse.timeS[coarse.timeS.length - 1]) / 2;
  // About the middle the two numbers hardly hang together.
  let shiftS = start.offsetS + start.drift * middleS;
  let drift = start.drift;
  let last: Solved | undefined;
  for (let round = 0; round < ROUNDS; round++) {
    const widthS = round < ROUNDS / 3 ? WIDE_S : round < ROUNDS / 2 ? WIDE_S / 2 : 0;
    const pairs = pairsOn(fine, coarse, middleS, shiftS, drift, widthS);
    last = pairs && solved(pairs, drift);
    if (!last) return undefined;
    shiftS += Math.max(-MOST_STEP_S, Math.min(MOST_STEP_S, last.shiftS));
    drift += Math.max(-MOST_STEP_S / 60, Math.min(MOST_STEP_S / 60, last.drift));
  }
  const pairs = pairsOn(fine, coarse, middleS, shiftS, drift, 0);
  if (!pairs || !last) return undefined;
  const residualS = residualOf(pairs, last);
  return {
    offsetS: shiftS - drift * middleS,
    drift,
    correlation: correlationOf(pairs.a, pairs.b),
    overlapS: pairs.overlapS,
    residualS,
    offsetDeviationS: last.shiftDeviationS,
    driftDeviation: last.driftDeviation,
    gain: last.gain,
  };
}

/** Readings of both at the same moments on a line. */
interface Pairs {
  /** Time from the middle of the coarse log, seconds; values of the coarse and the fine log; slope of the fine one, per second. */
  readonly t: Float64Array;
  readonly b: Float64Array;
  readonly a: Float64Array;
  readonly slope: Float64Array;
  readonly overlapS: number;
}

const LEAST_PAIRS = 12;

function pairsOn(fine: Series, coarse: Series, middleS: number, shiftS: number, drift: number, widthS: number): Pairs | undefined {
  const nearS = Math.max(0.05, Math.min(0.25, fine.stepS / 2), widthS / 2);
  const [before, at, behind] = [readerOf(fine), readerOf(fine), readerOf(fine)];
  const own = [readerOf(coarse), readerOf(coarse)];
  const [t, a, b, slope] = [[], [], [], []] as number[][];
  let overlapS = 0;
  const longestS = Math.max(1.5, 3 * coarse.stepS);
  for (let index = 0; index < coarse.timeS.length; index++) {
    const timeS = coarse.timeS[index];
    const fineS = timeS + shiftS + drift * (timeS - middleS);
    const [low, mid, high] = [before(fineS - nearS), at(fineS), behind(fineS + nearS)];
    if (!Number.isFinite(low + mid + high)) continue;
    const averaged = widthS > 0 ? (coarse.values[index] + own[0](timeS - nearS) + own[1](timeS + nearS)) / 3 : coarse.values[index];
    if (Number.isNaN(averaged)) continue;
    t.push(timeS - middleS);
    a.push(widthS > 0 ? (low + mid + high) / 3 : mid);
    b.push(averaged);
    slope.push((high - low) / (2 * nearS));
    if (index > 0) overlapS += Math.min(longestS, timeS - coarse.timeS[index - 1]);
  }
  return t.length < LEAST_PAIRS
    ? undefined
    : { t: Float64Array.from(t), a: Float64Array.from(a), b: Float64Array.from(b), slope: Float64Array.from(slope), overlapS };
}

interface Solved {
  readonly shiftS: number;
  readonly drift: number;
  readonly gain: number;
  readonly shiftDeviationS: number;
  readonly driftDeviation: number;
  /** Residuals and their robust weights. */
  readonly rest: Float64Array;
  readonly weight: Float64Array;
  readonly noise: number;
}

/** One step of robust (Huber) least squares: fine = level + gain × coarse − slope × (shift + drift × t). */
function solved({ t, a, b, slope }: Pairs, drift: number): Solved | undefined {
  const count = t.length;
  const mean = (values: Float64Array): number => values.reduce((sum, value) => sum + value, 0) / count;
  const meanB = mean(b);
  const { slope: gain, level } = lineThrough(b, a);
  if (!(gain > 0)) return undefined;
  const rest = a.map((value, at) => value - level - gain * (b[at] - meanB));
  const noise = Math.max(1.4826 * mad(rest), 1e-9);
  const weight = rest.map((value) => Math.min(1, (2 * noise) / Math.max(1e-12, Math.abs(value))));
  // Normal equations of shift and drift; level and gain are taken out of the slopes first, so that neither passes for time.
  const flat = withoutLine(slope, b, weight);
  const flatT = withoutLine(
    slope.map((value, at) => value * t[at]),
    b,
    weight,
  );
  const prior = (noise / DRIFT_PRIOR) ** 2;
  let [ss, st, tt, sr, tr] = [1e-12, 0, prior, 0, -prior * drift];
  for (let at = 0; at < count; at++) {
    const w = weight[at];
    ss += w * flat[at] * flat[at];
    st += w * flat[at] * flatT[at];
    tt += w * flatT[at] * flatT[at];
    sr -= w * flat[at] * rest[at];
    tr -= w * flatT[at] * rest[at];
  }
  const determinant = ss * tt - st * st;
  if (!(determinant > 0)) return undefined;
  return {
    shiftS: (tt * sr - st * tr) / determinant,
    drift: (ss * tr - st * sr) / determinant,
    gain,
    rest,
    weight,
    noise,
    shiftDeviationS: noise * Math.sqrt(tt / determinant),
    driftDeviation: noise * Math.sqrt(ss / determinant),
  };
}

/** `level`: of y at the mean of x. */
function lineThrough(x: Float64Array, y: Float64Array): { slope: number; level: number } {
  const mean = (values: Float64Array): number => values.reduce((sum, value) => sum + value, 0) / values.length;
  const [meanX, meanY] = [mean(x), mean(y)];
  let [xx, xy] = [0, 0];
  for (let at = 0; at < x.length; at++) {
    xx += (x[at] - meanX) ** 2;
    xy += (x[at] - meanX) * (y[at] - meanY);
  }
  return { slope: xy / xx, level: meanY };
}

function withoutLine(values: Float64Array, x: Float64Array, weight: Float64Array): Float64Array {
  let [n, sx, sy, sxx, sxy] = [0, 0, 0, 0, 0];
  for (let at = 0; at < x.length; at++) {
    const w = weight[at];
    n += w;
    sx += w * x[at];
    sy += w * values[at];
    sxx += w * x[at] * x[at];
    sxy += w * x[at] * values[at];
  }
  const slope = (n * sxy - sx * sy) / (n * sxx - sx * sx) || 0;
  const level = (sy - slope * sx) / n;
  return values.map((value, at) => value - level - slope * x[at]);
}

/** Windows of the log, each timed by itself. */
function residualOf({ t, slope, overlapS }: Pairs, { rest, weight, noise }: Solved): number {
  const windows = Math.max(1, Math.min(WINDOWS, Math.floor(overlapS / SHORTEST_WINDOW_S)));
  const [from, span] = [t[0], t[t.length - 1] - t[0]];
  const sums = Array.from({ length: windows }, () => ({ ss: 0, sr: 0 }));
  for (let at = 0; at < t.length; at++) {
    const window = sums[Math.min(windows - 1, Math.floor(((t[at] - from) / span) * windows))];
    window.ss += weight[at] * slope[at] ** 2;
    window.sr -= weight[at] * slope[at] * rest[at];
  }
  const timed = sums.filter(({ ss }) => noise / Math.sqrt(ss) < TIMED_S).map(({ ss, sr }) => (sr / ss) ** 2);
  return timed.length === 0 ? NaN : Math.sqrt(timed.reduce((sum, each) => sum + each, 0) / timed.length);
}

function correlationOf(a: Float64Array, b: Float64Array): number {
  const [middleA, middleB] = [median(a), median(b)];
  let [n, sa, sb, saa, sbb, sab] = [0, 0, 0, 0, 0, 0];
  for (let at = 0; at < a.length; at++) {
    const [x, y] = [a[at] - middleA, b[at] - middleB];
    n++;
    sa += x;
    sb += y;
    saa += x * x;
    sbb += y * y;
    sab += x * y;
  }
  return (n * sab - sa * sb) / Math.sqrt((n * saa - sa * sa) * (n * sbb - sb * sb));
}
