// How unlikely a run of equal readings is, for this channel, while the engine moves as much as it does then.
// A channel teaches its own run lengths in calm and in busy moments; the tail of those lengths, read off below the longest few
// so that faults do not teach, says how often a run as long as the one at hand would come by chance.

import { ACTIVITY_CLASSES } from '../drive/activity.js';
import type { Track } from './hold.js';
import { widerOf } from './lasting.js';
import { placeIn } from './statistics.js';

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
export const EXCUSED = 1,
  LEAVE_OUT = 64;

/** Longer runs are counted as this long: nothing changes by then. */
const LONGEST_COUNTED = 2000;
const SIZES = LONGEST_COUNTED + 1;

/**
 * Judges every run of equal readings. `classes` is the activity by sample; readings where `skip` is set (`LEAVE_OUT`, or `EXCUSED` for most
 * of a run) neither teach nor are judged, and runs at one of the `ends` (a stop, a closed throttle) are judged but do not teach.
 */
export const flatRuns = (track: Track, classes: Uint8Array, skip: Uint8Array, ends: readonly number[] = []): FlatStatistics => {
  // Run lengths counted, in all and then by activity class.
  const counts = new Int32Array((1 + ACTIVITY_CLASSES) * SIZES),
    long = new LongRuns();
  const runCount = countRuns(
    track.rows,
    track.values,
    track.count,
    4 * track.longSpacingRows,
    classes,
    skip,
    ends[0] ?? NaN,
    ends[1] ?? NaN,
    counts,
    long,
  );
  if (runCount < LEAST_RUNS) return { runs: [], runCount, heldFor: 1, repeats: 0 };
  const everyLength = counts.subarray(0, SIZES);
  const heldFor = Math.max(1, lengthAt(everyLength, runCount, SHORTER_SHARE));
  const perClass = Array.from({ length: ACTIVITY_CLASSES }, (_, index) =>
    inUpdates(counts.subarray((1 + index) * SIZES, (2 + index) * SIZES), heldFor),
  );
  // The longest few runs may be faults: they do not say how coarse the channel is.
  const usualLength = updatesOf(lengthAt(everyLength, runCount, Math.min(0.985, 1 - 4 / runCount)), heldFor);
  const updates = updatesUpTo(usualLength, everyLength, heldFor);
  const runs = unlikelyRuns(track, classes, long, heldFor, tailsOf(perClass), leapsByClass(track, classes, skip));
  return { runs, runCount, heldFor, repeats: 1 - runCount / Math.max(updates, 1) };
};

/** Share of the runs that may be shorter than what the logger holds a value for. */
const SHORTER_SHARE = 0.03;

/**
 * Whether the logger surely holds a value for no more than `most` readings: known from the first of the runs where it asks often. The same
 * readings count as in `flatRuns`.
 */
export const isHeldForAtMost = ({ rows, values, count }: Track, skip: Uint8Array, most: number): boolean => {
  const needed = SHORTER_SHARE * count;
  let short = 0;
  for (let from = 0, to = 1, skipped = 0; to <= count && short <= needed; to++) {
    skipped |= skip[rows[to - 1]];
    if (to < count && values[to] === values[from]) continue;
    if (skipped === 0 && to - from <= most) short++;
    from = to;
    skipped = 0;
  }
  return short > needed;
};

/** Runs of three readings or more: from where to where, and their activity class. */
class LongRuns {
  private kept = new Int32Array(3 * 256);
  size = 0;

  push(from: number, to: number, inClass: number): void {
    const at = 3 * this.size++;
    if (at === this.kept.length) this.kept = widerOf(this.kept);
    this.kept[at] = from;
    this.kept[at + 1] = to;
    this.kept[at + 2] = inClass;
  }

  fromOf(index: number): number {
    return this.kept[3 * index];
  }
  toOf(index: number): number {
    return this.kept[3 * index + 1];
  }
  classOf(index: number): number {
    return this.kept[3 * index + 2];
  }
}

/** The runs of three updates or more, with their unlikeliness. */
const unlikelyRuns = (
  track: Track,
  classes: Uint8Array,
  long: LongRuns,
  heldFor: number,
  tails: readonly (Tail | undefined)[],
  leaps: readonly Float64Array[],
): FlatRun[] => {
  const { values, count } = track;
  const runs: FlatRun[] = [];
  const inRun = { tails, heldFor, busyIn: new Int32Array(ACTIVITY_CLASSES) };
  for (let at = 0; at < long.size; at++) {
    const from = long.fromOf(at),
      to = long.toOf(at),
      inClass = long.classOf(at);
    const updates = updatesOf(to - from, heldFor),
      tail = tails[inClass];
    if (updates < 3 || !tail) continue;
    let nats = natsOf(track, classes, from, to, inClass, updates, tail, inRun);
    if (to < count && updates > tail.baseLength)
      nats += Math.min(MOST_LEAP_NATS, leapNats(leaps[inClass], Math.abs(values[to] - values[to - 1])));
    if (nats > 0) runs.push({ from, to, value: values[from], nats, updates });
  }
  return runs;
};

/**
 * Counts every run that is not left out by its length, in all and (where it is not at an end) by its activity class, and keeps the long
 * ones. How many there are.
 */
const countRuns = (
  rows: Int32Array,
  values: Float64Array,
  count: number,
  breakRows: number,
  classes: Uint8Array,
  skip: Uint8Array,
  lowEnd: number,
  highEnd: number,
  counts: Int32Array,
  long: LongRuns,
): number => {
  let found = 0;
  for (let from = 0; from < count;) {
    const value = values[from];
    let to = from + 1,
      row = rows[from],
      busy = classes[row],
      excused = skip[row];
    if (excused >= LEAVE_OUT) {
      while (to < count && values[to] === value && rows[to] - rows[to - 1] <= breakRows) to++;
      from = to;
      continue;
    }
    for (; to < count && values[to] === value; to++) {
      const next = rows[to];
      if (next - row > breakRows) break;
      row = next;
      excused += skip[row];
      busy += classes[row];
    }
    const length = to - from;
    if (skip[row] < LEAVE_OUT && excused * 2 <= length) {
      const inClass = length === 1 ? busy : Math.min(ACTIVITY_CLASSES - 1, Math.floor(busy / length + 0.25)),
        counted = length < SIZES ? length : SIZES - 1;
      counts[counted]++;
      if (value !== lowEnd && value !== highEnd) counts[(1 + inClass) * SIZES + counted]++;
      if (length >= 3) long.push(from, to, inClass);
      found++;
    }
    from = to;
  }
  return found;
};

/** A run's length in the channel's own updates. */
const updatesOf = (length: number, heldFor: number): number => Math.max(1, Math.round(length / heldFor));

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
const tailsOf = (perClass: readonly Int32Array[]): (Tail | undefined)[] =>
  perClass.map((own, index) => {
    const pool = own.slice();
    let size = total(pool);
    for (let calmer = index - 1; calmer >= 0 && size < LEAST_RUNS; calmer--) {
      for (let length = 0; length < pool.length; length++) pool[length] += perClass[calmer][length];
      size = total(pool);
    }
    return size < LEAST_RUNS ? undefined : tailOf(pool, size);
  });

/** How unlikely the run [from, to) is by its length alone. */
const natsOf = (
  { rows }: Track,
  classes: Uint8Array,
  from: number,
  to: number,
  inClass: number,
  updates: number,
  tail: Tail,
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

interface Tail {
  readonly baseLength: number;
  readonly baseNats: number;
  readonly perNat: number;
}

const total = (histogram: Int32Array): number => {
  let sum = 0;
  for (const each of histogram) sum += each;
  return sum;
};

/** Length below which `share` of the histogram's runs lie. */
const lengthAt = (histogram: Int32Array, size: number, share: number): number => {
  let seen = 0;
  for (let length = 0; length < histogram.length; length++) {
    seen += histogram[length];
    if (seen > share * size) return length;
  }
  return histogram.length - 1;
};

/** An exponential through the lengths' 90 % point and the point below the longest half percent (three at least). */
const tailOf = (pool: Int32Array, size: number): Tail => {
  const left = Math.max(3, Math.ceil(0.005 * size));
  const baseLength = lengthAt(pool, size, (size - left - 1) / size),
    baseNats = Math.log(size / (left + 1));
  let all = 0,
    kept = size - left;
  for (let length = 0; length < pool.length && kept > 0; length++) {
    const take = Math.min(kept, pool[length]);
    all += take * length;
    kept -= take;
  }
  const again = Math.min(0.999, Math.max(1 - (size - left) / all, 1 / size));
  const geometric = -1 / Math.log(again);
  const inTail = 0.1 * size;
  const fitted = inTail > left + 1 ? (baseLength - lengthAt(pool, size, 0.9 - 1 / size)) / Math.log(inTail / (left + 1)) : geometric;
  return { baseLength, baseNats, perNat: TAIL_STRETCH * Math.max(geometric, fitted, 0.2) };
};

const leapsByClass = (track: Track, classes: Uint8Array, skip: Uint8Array): Float64Array[] => {
  const { rows, values, count } = track;
  const stride = Math.max(1, Math.floor(count / 5000));
  const found = Array.from({ length: ACTIVITY_CLASSES }, () => new Float64Array(Math.ceil(count / stride))),
    sizes = new Int32Array(ACTIVITY_CLASSES);
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
  return Math.max(0, Math.log(sorted.length / (sorted.length - placeIn(sorted, leap) + 1)) - 1);
};
