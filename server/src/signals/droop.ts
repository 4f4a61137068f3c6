// The pressure over the injectors against what the regulator should hold: learnt from the log's own light load, then watched under load.

import { limitOf } from '../formats/limits.js';
import { medianByPlace } from '../formats/median.js';
import { above, keep, mark, upTo } from './columns/marks.js';
import { onceFor } from './once.js';
import { openFromPercent } from './drive/openThrottle.js';
import { atLeast, believed } from './drive/operating.js';
import type { Channel } from '../formats/session/session.js';
import type { Signals, Span } from './signals.js';
import { believedOf, othersOf } from './columns/worstOf.js';
import { widened } from './columns/spans.js';
import { greatestOf, leastOf, median, quantileOf, sampleBy, sampleOf } from './columns/statistics.js';

/** Pressures far above any port injection's rise and fall by design. */
const DIRECT_INJECTION_KPA = 1500;
/** A rail that rises by at least this much of the manifold's rise is referenced to it. */
const FOLLOWS_FROM = 0.5;
/** Below this manifold pressure no pump is at its end. */
const LIGHT_KPA = 60;
/** So many readings are enough for medians of bands that tell a rail that follows from one that does not. */
const MOST_READINGS = 5000;
/** Bands of manifold pressure that teach whether the rail follows, the readings each needs, and how far apart the outermost must lie. */
const BAND_KPA = 4,
  LEAST_IN_BAND = 5,
  LEAST_STRETCH_KPA = 6;
const STEADY_KPA = 4;
const MEAN_OVER_S = 0.3;
const STOPS_S = 2;
/**
 * A regulator and the rail behind it follow the manifold this late, and a logger may show the manifold as late: the lowest pressure of that
 * time before and behind is what the rail must answer.
 */
const FOLLOWS_WITHIN_S = 0.35;

/**
 * `percent` by sample is found when it is asked for: whoever weighs needs to know whether the rail follows, and whether it may fall so far
 * anywhere (`reaches`).
 */
export interface Droop {
  readonly percent: Float64Array;
  readonly baseKPa: number;
  readonly referenced: boolean;
  reaches(percent: number): boolean;
}

/** Fall of the pressure that the regulator should hold, percent of what it holds at light load. Undefined where the log cannot tell. */
export const droopOf = onceFor((signals: Signals): Droop | undefined => learnDroop(signals, () => believed(signals, 'fuel-pressure')));

export interface DroopOf {
  readonly channel: Channel;
  readonly droop: Droop;
}
/** The same of each rail or pump that is logged, the first one first. */
export const droopsOf = onceFor((signals: Signals): readonly DroopOf[] => {
  const first = signals.channel('fuel-pressure');
  return !first
    ? []
    : [first, ...othersOf(signals, 'fuel-pressure')].flatMap((channel) => {
        const droop = channel === first ? droopOf(signals) : learnDroop(signals, () => believedOf(signals, channel));
        return droop ? [{ channel, droop }] : [];
      });
});

/** Asked for again rather than kept: of a long session a column is large. */
type Rail = () => Float64Array | undefined;

/**
 * Greatest fall that is held in each span for as long as its finding asks, of the rail that falls furthest, percent, 0 of none; undefined
 * where the log cannot tell. One low reading is a regulator that answers late.
 */
export const heldDroops = (signals: Signals, spans: readonly Span[]): (number | undefined)[] => {
  const leastS = limitOf('fuelPressureDropS', signals.vehicle.limits).value,
    most = spans.map(() => -Infinity);
  for (const { droop } of droopsOf(signals)) {
    const { percent } = droop;
    for (const [k, span] of spans.entries()) most[k] = Math.max(most[k], mostHeldIn(percent, signals.timeS, span, leastS));
  }
  return most.map((fall) => (fall === -Infinity ? undefined : Math.max(0, fall)));
};

/** Greatest value that none of the `leastS` behind it comes under; -Infinity of none. */
const mostHeldIn = (values: Float64Array, timeS: Float64Array, { from, to }: Span, leastS: number): number => {
  let most = -Infinity;
  for (let i = from; i < to; i++) {
    let least = Infinity,
      end = i;
    for (; end < to && timeS[end] - timeS[i] <= leastS; end++) if (values[end] < least) least = values[end];
    if (end < to && least !== Infinity && least > most) most = least;
  }
  return most;
};

const learnDroop = (signals: Signals, railOf: Rail): Droop | undefined => {
  const rail = railOf(),
    manifold = atLeast(signals, 'manifold-pressure'),
    rpm = believed(signals, 'engine-speed');
  if (!rail) return undefined;
  if (!manifold) return withoutManifold(signals, rail);
  const { timeS, barometer } = signals;
  const withinS = Math.max(FOLLOWS_WITHIN_S, signals.ageS('fuel-pressure') + signals.ageS('manifold-pressure') + 2 * signals.stepS);
  const topKPa = Math.min(barometer.kPa - 12, Math.max(LIGHT_KPA, quantileOf(sampleOf(manifold), 0.7)));
  const light = keep(mark(manifold, upTo(topKPa)), rail, above(20));
  if (rpm) keep(light, rpm, above(500));
  // A manifold in motion is ahead of its rail, and tells of no line; where it never rests the log has nothing better.
  const slope = slopeOf(manifold, rail, light, { timeS, withinS }) ?? slopeOf(manifold, rail, light);
  if (slope === undefined) return undefined;
  const referenced = slope >= FOLLOWS_FROM;
  // Referenced: the difference to the manifold is held. Fixed: the gauge pressure is held, and the difference falls with boost by design.
  const { kPa } = barometer;
  const baseKPa = referenced ? medianByPlace(sampleBy(rail.length, { rail, manifold, kPa, light }, overManifoldAt)) : median(rail, light);
  if (!(baseKPa > 50) || baseKPa > DIRECT_INJECTION_KPA) return undefined;
  return droopBy(signals, railOf, referenced, baseKPa, withinS);
};

/**
 * A function of its own: of a long session the columns are large, asked for again and worked on in place, and what makes them holds on to
 * none.
 */
const droopBy = (signals: Signals, railOf: Rail, referenced: boolean, baseKPa: number, withinS: number): Droop => {
  const fall = (): Float64Array => {
    const { timeS } = signals,
      lowest = referenced && lowestWithin(atLeast(signals, 'manifold-pressure')!, timeS, withinS),
      rail = railOf()!;
    const held = lowest ? overManifold(rail, lowest, signals.barometer.kPa) : rail.slice();
    // A pump that is switched off before the engine has run out is no weak one.
    fallShort(held, baseKPa, believed(signals, 'engine-speed'), widened(signals.during('engine-off'), timeS, STOPS_S, 0));
    return centredMean(held, timeS, MEAN_OVER_S);
  };
  return {
    get percent() {
      return signals.session.shelf.get(fall, fall);
    },
    baseKPa,
    referenced,
    // A mean falls so far only where one of its readings does.
    reaches: (percent) =>
      reachesDown(
        railOf()!,
        referenced ? atLeast(signals, 'manifold-pressure') : undefined,
        believed(signals, 'engine-speed'),
        signals,
        withinS,
        baseKPa * (1 - percent / 100) * (1 + 1e-9),
      ),
  };
};

/**
 * Whether the rail's gauge, or what it holds over the lowest manifold of `withinS` around, comes down to so little while the engine runs.
 */
const reachesDown = (
  rail: Float64Array,
  manifold: Float64Array | undefined,
  rpm: Float64Array | undefined,
  { timeS, barometer: { kPa } }: Signals,
  withinS: number,
  leastKPa: number,
): boolean => {
  for (let i = 0; i < rail.length; i++) {
    if (rpm && !(rpm[i] > 500)) continue;
    if (
      !manifold
        ? rail[i] <= leastKPa
        : !(rail[i] + kPa - manifold[i] > leastKPa) && rail[i] + kPa - lowestAround(manifold, timeS, withinS, i) <= leastKPa
    )
      return true;
  }
  return false;
};

/** Lowest number of the `withinS` before and behind one sample; NaN of none. */
const lowestAround = (values: Float64Array, timeS: Float64Array, withinS: number, at: number): number => {
  let from = at,
    to = at + 1;
  while (from > 0 && Math.abs(timeS[from - 1] - timeS[at]) <= withinS) from--;
  while (to < values.length && Math.abs(timeS[to] - timeS[at]) <= withinS) to++;
  return leastOf(values, from, to);
};

/** What is held becomes by how many percent it stands below what should be held, while the engine runs. */
const fallShort = (held: Float64Array, baseKPa: number, rpm: Float64Array | undefined, stops: Uint8Array): void => {
  for (let i = 0; i < held.length; i++) held[i] = !(rpm && !(rpm[i] > 500)) && stops[i] === 0 ? (1 - held[i] / baseKPa) * 100 : NaN;
};

/** The pressure over the injectors at one sample, NaN where it is not at light load. */
const overManifoldAt = (
  {
    rail,
    manifold,
    kPa,
    light,
  }: { readonly rail: Float64Array; readonly manifold: Float64Array; readonly kPa: number; readonly light: Uint8Array },
  i: number,
): number => (light[i] === 1 ? rail[i] + kPa - manifold[i] : NaN);

/** The manifold's pressure becomes that over the injectors, by a gauge on the rail, kPa. */
const overManifold = (rail: Float64Array, manifold: Float64Array, barometerKPa: number): Float64Array => {
  for (let i = 0; i < manifold.length; i++) manifold[i] = rail[i] + barometerKPa - manifold[i];
  return manifold;
};

/**
 * Without manifold pressure: a rail that falls while the throttle stays wide open, held against the most that it held since the throttle
 * was opened. A boost that fades takes a referenced rail with it by a few per cent: only what is beyond the limit of an error is told.
 */
const withoutManifold = (signals: Signals, rail: Float64Array): Droop | undefined => {
  const { timeS, vehicle } = signals;
  const throttle = believed(signals, 'throttle'),
    rpm = believed(signals, 'engine-speed');
  if (!throttle || !rpm) return undefined;
  const openPercent = openFromPercent(vehicle.limits, throttle, undefined, timeS),
    leastPercent = limitOf('fuelPressureDropErrorPercent', vehicle.limits).value;
  const mean = centredMean(rail, timeS, MEAN_OVER_S),
    percent = new Float64Array(rail.length).fill(NaN);
  const held: number[] = [];
  let most = 0,
    sinceS = NaN;
  for (let i = 0; i < rail.length; i++) {
    if (!(throttle[i] >= openPercent && rpm[i] > 1000)) {
      if (most > 0) held.push(most);
      most = 0;
      sinceS = NaN;
      continue;
    }
    if (sinceS !== sinceS) sinceS = timeS[i];
    if (mean[i] > most) most = mean[i];
    const fall = (1 - mean[i] / most) * 100;
    if (timeS[i] - sinceS > FOLLOWS_WITHIN_S && fall >= leastPercent) percent[i] = fall;
  }
  const baseKPa = median(Float64Array.from(held));
  return baseKPa > 50 && baseKPa <= DIRECT_INJECTION_KPA
    ? { percent, baseKPa, referenced: false, reaches: (least) => greatestOf(percent) >= least }
    : undefined;
};

/** Over how long a manifold must rest. */
interface Steady {
  readonly timeS: Float64Array;
  readonly withinS: number;
}

/** Whether the manifold stayed within `STEADY_KPA` for as long as a rail takes to follow. */
const isSteady = (manifold: Float64Array, { timeS, withinS }: Steady, i: number): boolean => {
  let low = Infinity,
    high = -Infinity,
    to = i;
  while (to + 1 < timeS.length && timeS[to + 1] <= timeS[i]) to++;
  for (let k = to; k >= 0 && timeS[k] >= timeS[i] - withinS; k--) {
    if (manifold[k] < low) low = manifold[k];
    if (manifold[k] > high) high = manifold[k];
    if (high - low > STEADY_KPA) return false;
  }
  return low <= high;
};

/**
 * Rise of the rail for each kPa of the manifold at light load: the median of the slopes between the medians of bands of manifold pressure
 * (Theil and Sen), so that minutes of idling weigh no more than the cruise and a few bands in which the pump already fails do not bend it.
 * Undefined where the log holds too little, or too narrow a stretch, to tell.
 */
const slopeOf = (manifold: Float64Array, rail: Float64Array, light: Uint8Array, steady?: Steady): number | undefined => {
  const { xs, ys, count } = middlesOf(manifold, rail, light, steady),
    slopes = new Float64Array((count * (count - 1)) / 2);
  if (count < 2 || greatestOf(xs, 0, count) - leastOf(xs, 0, count) < LEAST_STRETCH_KPA) return undefined;
  let found = 0;
  for (let at = 0; at < count; at++)
    for (let other = at + 1; other < count; other++)
      if (xs[other] !== xs[at]) slopes[found++] = (ys[other] - ys[at]) / (xs[other] - xs[at]);
  return median(slopes.subarray(0, found));
};

/**
 * Medians of an even sample of the readings that count, by bands of manifold pressure with enough of them: of the manifold and of the rail.
 */
const middlesOf = (
  manifold: Float64Array,
  rail: Float64Array,
  light: Uint8Array,
  steady: Steady | undefined,
): { readonly xs: Float64Array; readonly ys: Float64Array; readonly count: number } => {
  const sample = sampled(manifold, light, steady);
  let most = 0;
  for (let at = 0; at < sample.length; at++) if (manifold[sample[at]] > most) most = manifold[sample[at]];
  // Band by band: how many lie in those before, and then each reading in its place.
  const starts = new Int32Array(bandOf(most) + 2);
  for (let at = 0; at < sample.length; at++) starts[bandOf(manifold[sample[at]]) + 1]++;
  for (let band = 1; band < starts.length; band++) starts[band] += starts[band - 1];
  const x = new Float64Array(sample.length),
    y = new Float64Array(sample.length),
    next = starts.slice();
  for (let at = 0; at < sample.length; at++) {
    const i = sample[at],
      to = next[bandOf(manifold[i])]++;
    x[to] = manifold[i];
    y[to] = rail[i];
  }
  const xs = new Float64Array(starts.length),
    ys = new Float64Array(starts.length);
  let count = 0;
  for (let band = 0; band + 1 < starts.length; band++) {
    if (starts[band + 1] - starts[band] < LEAST_IN_BAND) continue;
    xs[count] = median(x.subarray(starts[band], starts[band + 1]));
    ys[count++] = median(y.subarray(starts[band], starts[band + 1]));
  }
  return { xs, ys, count };
};

const sampled = (manifold: Float64Array, light: Uint8Array, steady: Steady | undefined): Int32Array => {
  const stride = Math.max(1, Math.floor(manifold.length / MOST_READINGS)),
    sample = new Int32Array(Math.ceil(manifold.length / stride));
  let count = 0;
  for (let i = 0; i < manifold.length; i += stride) if (light[i] !== 0 && !(steady && !isSteady(manifold, steady, i))) sample[count++] = i;
  return sample.subarray(0, count);
};

const bandOf = (kPa: number): number => Math.max(0, Math.floor(kPa / BAND_KPA));

/** Lowest number of the `withinS` before and behind each sample. */
const lowestWithin = (values: Float64Array, timeS: Float64Array, withinS: number): Float64Array => {
  const lowest = new Float64Array(values.length).fill(NaN);
  // Samples that may still be the lowest, their values rising: those in reach stand in `queue[head … tail − 1]`.
  let queue = new Int32Array(1024),
    head = 0,
    tail = 0,
    next = 0;
  for (let i = 0; i < values.length; i++) {
    for (; next < values.length && (next <= i || timeS[next] <= timeS[i] + withinS); next++) {
      if (values[next] !== values[next]) continue;
      while (tail > head && values[queue[tail - 1]] >= values[next]) tail--;
      if (tail === queue.length) [queue, head, tail] = [movedUp(queue, head), 0, tail - head];
      queue[tail++] = next;
    }
    while (head < tail && timeS[queue[head]] < timeS[i] - withinS) head++;
    if (head < tail) lowest[i] = values[queue[head]];
  }
  return lowest;
};

/** What is behind `head`, at the front and with room behind it. */
const movedUp = (queue: Int32Array, head: number): Int32Array<ArrayBuffer> => {
  const roomy = new Int32Array(head > queue.length / 2 ? queue.length : 2 * queue.length);
  roomy.set(queue.subarray(head));
  return roomy;
};

/** Mean of the numbers within half a window on both sides: a rail and a manifold sensor never answer in the same instant. */
const centredMean = (values: Float64Array, timeS: Float64Array, windowS: number): Float64Array => {
  const means = new Float64Array(values.length).fill(NaN);
  let from = 0,
    to = 0,
    sum = 0,
    numbers = 0;
  for (let i = 0; i < values.length; i++) {
    while (to < values.length && timeS[to] <= timeS[i] + windowS / 2) {
      if (values[to] === values[to]) {
        sum += values[to];
        numbers++;
      }
      to++;
    }
    while (timeS[from] < timeS[i] - windowS / 2) {
      if (values[from] === values[from]) {
        sum -= values[from];
        numbers--;
      }
      from++;
    }
    if (numbers > 0) means[i] = sum / numbers;
  }
  return means;
};
