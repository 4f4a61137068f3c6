// The clock of a session: its forms as text, then steps back, repeats and holes on the way to seconds from the session's start.

import { medianByPlace } from '../median.js';

export type TimeForm = 'number' | 'clock' | 'iso';

const DAY_S = 86400;

/** Days from 1970-01-01 of a date in the proleptic Gregorian calendar (ISO 8601). */
const daysOf = (year: number, month: number, day: number): number => Math.round(Date.UTC(year, month - 1, day) / (DAY_S * 1000));

/** Digits of `bytes` from `at` on, at most `most`; −1 where there are none. Leaves its end in `digitsEnd`. */
let digitsEnd = 0;
const digits = (bytes: Uint8Array, at: number, end: number, most: number): number => {
  let value = 0;
  const from = at;
  while (at < end && at - from < most && bytes[at] >= 48 && bytes[at] <= 57) value = value * 10 + bytes[at++] - 48;
  digitsEnd = at;
  return at === from ? -1 : value;
};

/** `.5` or `,5` behind a second, as seconds; 0 where there is none. */
const fraction = (bytes: Uint8Array, at: number, end: number): number => {
  if (at >= end || (bytes[at] !== 46 && bytes[at] !== 44)) {
    digitsEnd = at;
    return 0;
  }
  const value = digits(bytes, at + 1, end, 12);
  return value <= 0 ? 0 : value / 10 ** (digitsEnd - at - 1);
};

/**
 * Seconds of `h:mm:ss.sss`, `mm:ss.s` (or `h:mm:ss:ms`), also behind a date that no standard orders and with AM or PM. NaN for other texts.
 * Minutes and seconds from 60 on are no clock.
 */
export const readClock = (bytes: Uint8Array, start: number, end: number): number => {
  const parts: number[] = [];
  let at = start;
  const negative = bytes[at] === 45;
  if (negative) at++;
  for (let index = at; index < end; index++) if (bytes[index] === 32 && bytes[index + 1] >= 48 && bytes[index + 1] <= 57) at = index + 1;
  for (;;) {
    const value = digits(bytes, at, end, 6);
    if (value < 0) return NaN;
    parts.push(value);
    at = digitsEnd;
    if (bytes[at] !== 58 || at >= end || parts.length === 4) break;
    at++;
  }
  if (parts.length < 2) return NaN;
  const milliseconds = parts.length === 4 ? (parts.pop() ?? 0) / 1000 : 0;
  const seconds = parts[parts.length - 1] + milliseconds + fraction(bytes, at, end);
  const minutes = parts[parts.length - 2];
  let hours = parts.length === 3 ? parts[0] : 0;
  if (seconds >= 60.999 || (parts.length === 3 && minutes >= 60)) return NaN;
  at = digitsEnd > at ? digitsEnd : at;
  while (at < end && bytes[at] === 32) at++;
  if (at < end) {
    const half = bytes[at] | 32;
    if ((half !== 97 && half !== 112) || (bytes[at + 1] | 32) !== 109) return NaN;
    hours = (hours % 12) + (half === 112 ? 12 : 0);
  }
  const total = (hours * 60 + minutes) * 60 + seconds;
  return negative ? -total : total;
};

/** Seconds from 1970-01-01T00:00 of an ISO 8601 date and time (`T` or a blank between; zone `Z`, `±hh:mm` or none). NaN for other texts. */
export const readIso = (bytes: Uint8Array, start: number, end: number): number => {
  let at = start;
  const take = (most: number): number => {
    const value = digits(bytes, at, end, most);
    at = digitsEnd;
    return value;
  };
  const year = take(4);
  const separator = bytes[at];
  if (year < 1000 || at - start !== 4) return NaN;
  const dashed = separator === 45 || separator === 47;
  if (dashed) at++;
  const month = take(2);
  if (dashed && bytes[at++] !== separator) return NaN;
  const day = take(2);
  if (month < 1 || month > 12 || day < 1 || day > 31 || at >= end || (bytes[at] !== 84 && bytes[at] !== 116 && bytes[at] !== 32))
    return NaN;
  at++;
  const hours = take(2);
  const colon = bytes[at] === 58;
  if (colon) at++;
  const minutes = take(2);
  if (hours < 0 || hours > 24 || minutes < 0 || minutes > 59) return NaN;
  let seconds = 0;
  if (at < end && (colon ? bytes[at] === 58 : bytes[at] >= 48 && bytes[at] <= 57)) {
    if (colon) at++;
    seconds = take(2);
    if (seconds < 0 || seconds > 60) return NaN;
    seconds += fraction(bytes, at, end);
    at = digitsEnd;
  }
  let zoneS = 0;
  while (at < end && bytes[at] === 32) at++;
  if (at < end && (bytes[at] === 90 || bytes[at] === 122)) at++;
  else if (at < end && (bytes[at] === 43 || bytes[at] === 45)) {
    const sign = bytes[at++] === 45 ? -1 : 1;
    const zoneHours = take(2);
    if (bytes[at] === 58 && at < end) at++;
    const zoneMinutes = at < end ? take(2) : 0;
    zoneS = sign * (zoneHours * 60 + zoneMinutes) * 60;
  }
  if (at < end) return NaN;
  return daysOf(year, month, day) * DAY_S + (hours * 60 + minutes) * 60 + seconds - zoneS;
};

/** Seconds as ISO 8601 in universal time. */
export const isoOf = (epochS: number): string => {
  const milliseconds = Math.round(epochS * 1000);
  return Math.abs(milliseconds) > 8.64e15 ? '' : new Date(milliseconds).toISOString();
};

/** Where the clock did something that is told. Samples are those behind the step. */
export interface TimeEvent {
  readonly sample: number;
  readonly fromS: number;
  readonly toS: number;
}

export interface LaidTime {
  readonly timeS: Float64Array;
  readonly recordingStarts: readonly number[];
  readonly medianStepS: number;
  readonly spread: boolean;
  /**
   * Rows that share the clock of the row before: all of them where they were spread, else those of a fine clock that repeats. `some`: a few
   * of them, over the whole session.
   */
  readonly repeats: {
    readonly count: number;
    readonly first: number;
    readonly runs: readonly { readonly from: number; readonly to: number }[];
    readonly some: readonly number[];
  };
  /** Steps back: written clock before and after. */
  readonly reversals: readonly TimeEvent[];
  readonly gaps: readonly TimeEvent[];
  readonly reversalCount: number;
  readonly gapCount: number;
}

const KEPT_EVENTS = 5;
/** A step that is told as a hole is also this many times the usual step. */
const GAP_STEPS = 10;
/** From this share of repeated times on the clock is too coarse for the rows, not stuttering. */
const COARSE_SHARE = 0.3;
const SAMPLED_STEPS = 20001;
const MOST_REPEATS_KEPT = 60;

const median = (values: readonly number[]): number => medianByPlace(Float64Array.from(values));

/** Median of the steps forward between neighbours (of a regular sample of them in a long session); NaN where there is none. */
const medianStep = (times: Float64Array): number => {
  const every = Math.max(1, Math.floor(times.length / SAMPLED_STEPS));
  const steps: number[] = [];
  for (let sample = 1; sample < times.length; sample += every) {
    const step = times[sample] - times[sample - 1];
    if (step > 0) steps.push(step);
  }
  return median(steps);
};

/** Missing clock readings: on the line between their neighbours, on a usual step before the first and behind the last. */
const fillIn = (times: Float64Array): void => {
  const { length } = times;
  let last = -1;
  let usual: number | undefined;
  for (let sample = 0; sample <= length; sample++) {
    if (sample < length && times[sample] !== times[sample]) continue;
    const missing = sample - last - 1;
    if (missing > 0) {
      const between = last >= 0 && sample < length && times[sample] >= times[last];
      const step = between
        ? (times[sample] - times[last]) / (missing + 1)
        : (usual ??= medianStep(times.filter((time) => time === time)) || 0);
      const from = last >= 0 ? times[last] : sample < length ? times[sample] - (missing + 1) * step : -step;
      for (let k = 1; k <= missing; k++) times[last + k] = from + k * step;
    }
    last = sample;
  }
};

/**
 * Rows with one coarse stamp, spread evenly until the next different one; a hole behind them keeps them to the usual span of a stamp. False
 * where no stamp has a next one.
 */
const spreadEvenly = (times: Float64Array, starts: readonly number[]): boolean => {
  const { length } = times;
  const stamps: number[] = [];
  const counts: number[] = [];
  for (let from = 0; from < length;) {
    let to = from + 1;
    while (to < length && times[to] === times[from]) to++;
    if (to < length && times[to] > times[from]) {
      stamps.push(times[to] - times[from]);
      counts.push(to - from);
    }
    from = to;
  }
  if (stamps.length === 0) return false;
  const usualSpan = median(stamps);
  const usualStep = usualSpan / median(counts);
  const isStart = new Set(starts);
  for (let from = 0; from < length;) {
    const stamp = times[from];
    let to = from + 1;
    while (to < length && times[to] === stamp && !isStart.has(to)) to++;
    const rows = to - from;
    const next = to < length && !isStart.has(to) ? times[to] - stamp : Infinity;
    const span = next === Infinity ? Math.min(usualSpan, rows * usualStep) : next > 2 * usualSpan ? usualSpan : next;
    for (let row = 1; row < rows; row++) times[from + row] = stamp + (span * row) / rows;
    from = to;
  }
  return true;
};

const NOTHING_TOLD = {
  spread: false,
  repeats: { count: 0, first: -1, runs: [], some: [] },
  reversals: [],
  gaps: [],
  reversalCount: 0,
  gapCount: 0,
};

/** Whether every reading is there and a step of less than `gapS` behind the one before, as in most logs: there is nothing to tell then. */
const goesOn = (times: Float64Array, gapS: number): boolean => {
  const { length } = times;
  let before = length > 0 ? times[0] : NaN;
  for (let sample = 1; sample < length; sample++) {
    const time = times[sample],
      step = time - before;
    if (!(step > 0 && step < gapS)) return false;
    before = time;
  }
  return before === before;
};

/**
 * Lays written clock readings (seconds, NaN where missing) on one running time from 0. A step back starts a recording, which goes on one
 * median step behind the last row; a time of day that passes midnight (`wraps`) does not. `gapS` is the hole that is told. The running time
 * takes the place of the readings.
 */
export const layTime = (times: Float64Array, wraps: boolean, gapS: number): LaidTime => {
  const { length } = times;
  if (goesOn(times, gapS)) {
    const medianStepS = medianStep(times) || 0,
      origin = times[0];
    if (origin !== 0) for (let sample = 0; sample < length; sample++) times[sample] -= origin;
    return { ...NOTHING_TOLD, timeS: times, recordingStarts: [0], medianStepS };
  }
  fillIn(times);
  const recordingStarts = [0];
  const reversals: TimeEvent[] = [];
  let repeatCount = 0;
  let firstRepeat = -1;
  const runs: { from: number; to: number }[] = [];
  let some: number[] = [],
    everyRepeat = 1;
  let shift = 0;
  for (let sample = 1; sample < length; sample++) {
    let time = times[sample] + shift;
    const before = times[sample - 1];
    if (time < before) {
      if (wraps && before - time > DAY_S / 2 && time + DAY_S >= before) {
        shift += DAY_S;
        time += DAY_S;
      } else {
        recordingStarts.push(sample);
        if (reversals.length < KEPT_EVENTS) reversals.push({ sample, fromS: before - shift, toS: time - shift });
      }
    } else if (time === before) {
      if (repeatCount % everyRepeat === 0) some.push(sample);
      if (some.length > MOST_REPEATS_KEPT) {
        some = some.filter((_, at) => at % 2 === 0);
        everyRepeat *= 2;
      }
      if (repeatCount++ === 0) firstRepeat = sample;
      const run = runs[runs.length - 1];
      if (run && run.to === sample - 1) run.to = sample;
      else if (runs.length < KEPT_EVENTS) runs.push({ from: sample, to: sample });
    }
    times[sample] = time;
  }
  const spread =
    length > 2 && repeatCount / (length - 1) >= COARSE_SHARE && repeatCount < length - 1 && spreadEvenly(times, recordingStarts);
  const step = medianStep(times);
  const medianStepS = step > 0 ? step : 0;
  const gaps: TimeEvent[] = [];
  let gapCount = 0;
  const origin = length > 0 ? times[0] : 0;
  let offset = -origin;
  let recording = 1,
    nextStart = recordingStarts[1] ?? length;
  for (let sample = 0; sample < length; sample++) {
    const time = times[sample];
    if (sample === nextStart) {
      nextStart = recordingStarts[++recording] ?? length;
      offset = times[sample - 1] + medianStepS - time;
    } else if (sample > 0) {
      const gap = time + offset - times[sample - 1];
      if (gap > gapS && gap > GAP_STEPS * medianStepS) {
        gapCount++;
        gaps.push({ sample, fromS: times[sample - 1], toS: time + offset });
        if (gaps.length > KEPT_EVENTS * 20) {
          gaps.sort(bySize);
          gaps.length = KEPT_EVENTS;
        }
      }
    }
    times[sample] = time + offset;
  }
  gaps.sort(bySize);
  gaps.length = Math.min(gaps.length, KEPT_EVENTS);
  return {
    timeS: times,
    recordingStarts,
    medianStepS,
    spread,
    repeats: { count: repeatCount, first: firstRepeat, runs, some },
    reversals,
    gaps,
    reversalCount: recordingStarts.length - 1,
    gapCount,
  };
};

const bySize = (a: TimeEvent, b: TimeEvent): number => b.toS - b.fromS - (a.toS - a.fromS);

/** The time of rows without a clock: one every `stepS`. */
export const countedTime = (samples: number, stepS: number): LaidTime => ({
  timeS: Float64Array.from({ length: samples }, (_, sample) => sample * stepS),
  recordingStarts: [0],
  medianStepS: stepS,
  ...NOTHING_TOLD,
});

/** Rate of rows per second stated as `20 Hz`, `20/s`, `20` or `50 ms`; undefined where the text says none. */
export const readRate = (text: string): number | undefined => {
  const match = /^\s*(\d+(?:[.,]\d+)?)\s*(hz|\/s|per second|rows\/s|ms|s)?\s*$/i.exec(text);
  if (!match) return undefined;
  const value = Number(match[1].replace(',', '.'));
  const unit = (match[2] ?? 'hz').toLowerCase();
  const rate = unit === 'ms' ? 1000 / value : unit === 's' ? 1 / value : value;
  return Number.isFinite(rate) && rate > 0 ? rate : undefined;
};
