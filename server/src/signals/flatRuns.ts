// How unlikely a run of equal readings is, for this channel, while the engine moves as much as it does then.
// A channel teaches its own run lengths in calm and in busy moments; the tail of those lengths, read off below the longest few
// so that faults do not teach, says how often a run as long as the one at hand would come by chance.

import { ACTIVITY_CLASSES } from './activity.js';
import type { Track } from './hold.js';

export interface FlatRun {
  /** First and one past last of the equal readings, as indices of the track. */
  readonly from: number;
  readonly to: number;
  readonly value: number;
  /** −ln of the chance of a run as long, and a leap at its end as large, in such a moment. */
  readonly nats: number;
  /** Equal readings in the channel's own updates. */
  readonly updates: number;
}

export interface FlatStatistics {
  /** Runs of at least three updates, with their unlikeliness. */
  readonly runs: readonly FlatRun[];
  /** All runs of the channel: a chance below one in this many is no surprise. */
  readonly runCount: number;
  /** Readings that each value is held for by the logger itself. */
  readonly heldFor: number;
  /** Share of updates that repeat the one before. */
  readonly repeats: number;
}

/** Tails heavier than the fitted exponential are allowed for by stretching it (statistics of the channel, margin by practice). */
const TAIL_STRETCH = 1.5;
const LEAST_RUNS = 40;
/** The most that the leap at a run's end may add. */
const MOST_LEAP_NATS = 7;

/** Marks of `skip`: runs that begin or end in the one are left out, runs that lie mostly in the other. */
export const EXCUSED = 1, LEAVE_OUT = 64;

/** Longer runs are counted as this long: nothing changes by then. */
const LONGEST_COUNTED = 2000;

/**
 * Judges every run of equal readings. `classes` is the activity by sample; readings where `skip` is set (`LEAVE_OUT`, or `EXCUSED` for most of a run) neither teach nor are judged,
 * and runs at one of the `ends` (a stop, a closed throttle) are judged but do not teach.
 */
export const flatRuns = (track: Track, classes: Uint8Array, skip: Uint8Array, ends: readonly number[] = []): FlatStatistics => {
  const { rows, values, count } = track;
  const breakRows = 4 * track.longSpacingRows;
  const starts = new Int32Array(count), lengths = new Int32Array(count), inClasses = new Uint8Array(count);
  const runCount = findRuns(rows, values, count, breakRows, classes, skip, starts, lengths, inClasses);
  if (runCount < LEAST_RUNS) return { runs: [], runCount, heldFor: 1, repeats: 0 };
  // Run lengths counted, in all and by activity class, up to the longest that there is.
  const sizes = Math.min(LONGEST_COUNTED, longestOf(lengths, runCount)) + 1;
  const everyLength = new Int32Array(sizes), byClass = new Int32Array(ACTIVITY_CLASSES * sizes);
  countLengths(values, starts, lengths, inClasses, runCount, ends[0] ?? NaN, ends[1] ?? NaN, everyLength, byClass);
  const heldFor = Math.max(1, lengthAt(everyLength, runCount, 0.03));
  const perClass = Array.from({ length: ACTIVITY_CLASSES }, (_, index) => inUpdates(byClass.subarray(index * sizes, (index + 1) * sizes), heldFor));
  // The longest few runs may be faults: they do not say how coarse the channel is.
  const usualLength = updatesOf(lengthAt(everyLength, runCount, Math.min(0.985, 1 - 4 / runCount)), heldFor);
  const updates = updatesUpTo(usualLength, everyLength, heldFor);
  const runs = unlikelyRuns(track, classes, { starts, lengths, inClasses, runCount }, heldFor, tailsOf(perClass), leapsByClass(track, classes, skip));
  return { runs, runCount, heldFor, repeats: 1 - runCount / Math.max(updates, 1) };
};

interface Runs { readonly starts: Int32Array; readonly lengths: Int32Array; readonly inClasses: Uint8Array; readonly runCount: number }

/** The runs of three updates or more, with their unlikeliness. */
const unlikelyRuns = (
  track: Track, classes: Uint8Array, { starts, lengths, inClasses, runCount }: Runs, heldFor: number, tails: readonly (Tail | undefined)[], leaps: readonly Float64Array[],
): FlatRun[] => {
  const { values, count } = track;
  const runs: FlatRun[] = [];
  const inRun = { tails, heldFor, busyIn: new Int32Array(ACTIVITY_CLASSES) };
  for (let at = nextLong(lengths, 0, runCount); at < runCount; at = nextLong(lengths, at + 1, runCount)) {
    const from = starts[at], to = from + lengths[at], inClass = inClasses[at];
    const updates = updatesOf(to - from, heldFor), tail = tails[inClass];
    if (updates < 3 || !tail) continue;
    let nats = natsOf(track, classes, from, to, inClass, updates, tail, inRun);
    if (to < count && updates > tail.baseLength) nats += Math.min(MOST_LEAP_NATS, leapNats(leaps[inClass], Math.abs(values[to] - values[to - 1])));
    if (nats > 0) runs.push({ from, to, value: values[from], nats, updates });
  }
  return runs;
};

/** Every run that is not left out: where it starts, its length, and its activity class. How many there are. */
const findRuns = (
  rows: Int32Array, values: Float64Array, count: number, breakRows: number, classes: Uint8Array, skip: Uint8Array,
  starts: Int32Array, lengths: Int32Array, inClasses: Uint8Array,
): number => {
  let found = 0;
  for (let from = 0; from < count;) {
    const value = values[from];
    let to = from + 1, busy = classes[rows[from]], excused = skip[rows[from]];
    while (to < count && values[to] === value && rows[to] - rows[to - 1] <= breakRows) { excused += skip[rows[to]]; busy += classes[rows[to++]]; }
    if (skip[rows[from]] < LEAVE_OUT && skip[rows[to - 1]] < LEAVE_OUT && excused * 2 <= to - from) {
      starts[found] = from;
      lengths[found] = to - from;
      inClasses[found++] = Math.min(ACTIVITY_CLASSES - 1, Math.floor(busy / (to - from) + 0.25));
    }
    from = to;
  }
  return found;
};

const longestOf = (lengths: Int32Array, count: number): number => {
  let longest = 0;
  for (let k = 0; k < count; k++) if (lengths[k] > longest) longest = lengths[k];
  return longest;
};

/** A run's length in the channel's own updates. */
const updatesOf = (length: number, heldFor: number): number => Math.max(1, Math.round(length / heldFor));

/** Counts the runs by length, in all and (where they are not at an end) by activity class. */
const countLengths = (
  values: Float64Array, starts: Int32Array, lengths: Int32Array, inClasses: Uint8Array, runCount: number, lowEnd: number, highEnd: number,
  everyLength: Int32Array, byClass: Int32Array,
): void => {
  const sizes = everyLength.length;
  for (let k = 0; k < runCount; k++) {
    const value = values[starts[k]], counted = Math.min(lengths[k], sizes - 1);
    everyLength[counted]++;
    if (value !== lowEnd && value !== highEnd) byClass[inClasses[k] * sizes + counted]++;
  }
};

/** The runs counted by their length in updates. */
const inUpdates = (byLength: Int32Array, heldFor: number): Int32Array => {
  if (heldFor === 1) return byLength;
  const counted = new Int32Array(byLength.length);
  for (let length = 1; length < byLength.length; length++) counted[updatesOf(length, heldFor)] += byLength[length];
  return counted;
};

/** The updates of all runs, a longer one counted as `most`. */
const updatesUpTo = (most: number, byLength: Int32Array, heldFor: number): number => {
  let updates = 0;
  for (let length = 1; length < byLength.length; length++) updates += byLength[length] * Math.min(updatesOf(length, heldFor), most);
  return updates;
};

/** The tail of each activity class. A class with too few runs to teach borrows from all calmer ones, in which runs are longer. */
const tailsOf = (perClass: readonly Int32Array[]): (Tail | undefined)[] => perClass.map((own, index) => {
  const pool = own.slice();
  let size = total(pool);
  for (let calmer = index - 1; calmer >= 0 && size < LEAST_RUNS; calmer--) {
    for (let length = 0; length < pool.length; length++) pool[length] += perClass[calmer][length];
    size = total(pool);
  }
  return size < LEAST_RUNS ? undefined : tailOf(pool, size);
});

/** First run from `from` on, below `to`, of three readings or more; `to` where there is none. */
const nextLong = (lengths: Int32Array, from: number, to: number): number => {
  let k = from;
  while (k < to && lengths[k] < 3) k++;
  return k;
};

/** How unlikely the run [from, to) is by its length alone. */
const natsOf = (
  { rows }: Track, classes: Uint8Array, from: number, to: number, inClass: number, updates: number, tail: Tail,
  { tails, heldFor, busyIn }: { readonly tails: readonly (Tail | undefined)[]; readonly heldFor: number; readonly busyIn: Int32Array },
): number => {
  let nats = tail.baseNats + (updates - tail.baseLength) / tail.perNat;
  // A long run sees calm and busy moments; it is as unlikely as its busy ones alone.
  if (updates <= 20) return nats;
  busyIn.fill(0);
  countClasses(rows, classes, from, to, busyIn);
  let busy = 0;
  for (let each = ACTIVITY_CLASSES - 1; each > inClass; each--) {
    busy += busyIn[each] / heldFor;
    const own = tails[each];
    if (own) nats = Math.max(nats, own.baseNats + (busy - own.baseLength) / own.perNat);
  }
  return nats;
};

/** How many readings of a run fall in each activity class, added to `into`. */
const countClasses = (rows: Int32Array, classes: Uint8Array, from: number, to: number, into: Int32Array): void => {
  for (let k = from; k < to; k++) into[classes[rows[k]]]++;
};

interface Tail { readonly baseLength: number; readonly baseNats: number; readonly perNat: number }

const total = (histogram: Int32Array): number => {
  let sum = 0;
  for (const each of histogram) sum += each;
  return sum;
};

/** Length below which `share` of the histogram's runs lie. */
const lengthAt = (histogram: Int32Array, size: number, share: number): number => {
  let seen = 0;
  for (let length = 0; length < histogram.length; length++) { seen += histogram[length]; if (seen > share * size) return length; }
  return histogram.length - 1;
};

/** An exponential through the lengths' 90 % point and the point below the longest half percent (three at least). */
const tailOf = (pool: Int32Array, size: number): Tail => {
  const left = Math.max(3, Math.ceil(0.005 * size));
  const baseLength = lengthAt(pool, size, (size - left - 1) / size), baseNats = Math.log(size / (left + 1));
  let all = 0, kept = size - left;
  for (let length = 0; length < pool.length && kept > 0; length++) { const take = Math.min(kept, pool[length]); all += take * length; kept -= take; }
  const again = Math.min(0.999, Math.max(1 - (size - left) / all, 1 / size));
  const geometric = -1 / Math.log(again);
  const inTail = 0.1 * size;
  const fitted = inTail > left + 1 ? (baseLength - lengthAt(pool, size, 0.9 - 1 / size)) / Math.log(inTail / (left + 1)) : geometric;
  return { baseLength, baseNats, perNat: TAIL_STRETCH * Math.max(geometric, fitted, 0.2) };
};

const leapsByClass = (track: Track, classes: Uint8Array, skip: Uint8Array): Float64Array[] => {
  const { rows, values, count } = track;
  const stride = Math.max(1, Math.floor(count / 5000));
  const found = Array.from({ length: ACTIVITY_CLASSES }, () => new Float64Array(Math.ceil(count / stride))), sizes = new Int32Array(ACTIVITY_CLASSES);
  for (let k = 1; k < count; k += stride) {
    if (skip[rows[k]] !== 0 || values[k] === values[k - 1]) continue;
    const inClass = classes[rows[k]];
    found[inClass][sizes[inClass]++] = Math.abs(values[k] - values[k - 1]);
  }
  return found.map((each, inClass) => each.slice(0, sizes[inClass]).sort());
};

/** −ln of the share of changes that are as large, less one for the choice. */
const leapNats = (sorted: Float64Array, leap: number): number => {
  if (sorted.length < 20) return 0;
  let low = 0, high = sorted.length;
  while (low < high) { const middle = (low + high) >> 1; if (sorted[middle] < leap) low = middle + 1; else high = middle; }
  return Math.max(0, Math.log(sorted.length / (sorted.length - low + 1)) - 1);
};
