// Spells of samples: made from a mask, mended over short breaks, thrown away when too short, painted back.

import type { Span } from '../signals.js';

/**
 * Runs of ones; breaks up to `bridgeS` are bridged, then spells shorter than `leastS` are dropped. Never runs over a border of
 * `recordings`.
 */
export const spansOf = (
  mask: Uint8Array,
  timeS: Float64Array,
  options: { bridgeS?: number; leastS?: number; recordings?: readonly Span[] } = {},
): Span[] => {
  const { bridgeS = 0, leastS = 0, recordings = [{ from: 0, to: mask.length }] } = options,
    spans = runsOf(mask, timeS, bridgeS, recordings);
  return leastS <= 0 ? spans : spans.filter((span) => lastsS(span, timeS) >= leastS - 1e-9);
};

/** By itself: each set of options that has not been met before would have it compiled anew. */
const runsOf = (mask: Uint8Array, timeS: Float64Array, bridgeS: number, recordings: readonly Span[]): Span[] => {
  const spans: { from: number; to: number }[] = [];
  // The marks at hand, or the next ones: recordings follow each other.
  let first = 0,
    behind = 0;
  for (const recording of recordings) {
    let open: { from: number; to: number } | undefined;
    for (let from = recording.from; ;) {
      if (from >= behind) {
        first = nextMark(mask, from);
        behind = endOfMarks(mask, first);
      }
      if (first > from) from = first;
      if (from >= recording.to) break;
      const to = Math.min(behind, recording.to);
      if (open && timeS[from] - timeS[open.to - 1] <= bridgeS) open.to = to;
      else spans.push((open = { from, to }));
      from = to;
    }
  }
  return spans;
};

/** So many marks are faster looked at one by one than asked for. */
const NEAR = 16;

/** First sample from `from` on that is marked with 1; the mask's length where there is none. */
export const nextMark = (mask: Uint8Array, from: number): number => nextThat(mask, 1, from);

/** Sample behind the marks that begin at `from`. */
export const endOfMarks = (mask: Uint8Array, from: number): number => nextThat(mask, 0, from);

const nextThat = (mask: Uint8Array, is: 0 | 1, from: number): number => {
  const near = Math.min(from + NEAR, mask.length);
  for (let i = from; i < near; i++) if (mask[i] === is) return i;
  const at = near < mask.length ? mask.indexOf(is, near) : -1;
  return at < 0 ? mask.length : at;
};

/** How many samples of `[from, to)` are marked. */
export const marksWithin = (mask: Uint8Array, from: number, to: number): number => {
  let marks = 0;
  for (let i = from; i < to; i++) if (mask[i] !== 0) marks++;
  return marks;
};

/** Seconds that a span covers: to the sample behind its last one, where that follows within a usual step. */
export const lastsS = (span: Span, timeS: Float64Array): number => {
  const last = span.to - 1;
  const within = timeS[last] - timeS[span.from];
  const step = span.to > span.from + 1 ? within / (last - span.from) : Infinity;
  const behind = span.to < timeS.length ? timeS[span.to] - timeS[last] : last > 0 ? timeS[last] - timeS[last - 1] : 0;
  return within + Math.min(behind, Math.max(step, 0) * 1.5, 1);
};

/** A shorter span is faster filled by hand. */
const FEW = 24;

/** Sets a mask or a column in the span. */
export const paint = (values: Uint8Array | Float64Array, { from, to }: Span, value = 1): void => {
  if (to - from > FEW) values.fill(value, from, to);
  else for (let i = from; i < to; i++) values[i] = value;
};

/** 1 where any of the masks is set. */
export const anyOf = (first: Uint8Array, ...others: readonly Uint8Array[]): Uint8Array => painted(first, others, 1);

/** 1 where the first mask is set and none of the others. */
export const without = (first: Uint8Array, ...others: readonly Uint8Array[]): Uint8Array => painted(first, others, 0);

/** The first mask with `value` wherever one of the others is set. */
const painted = (first: Uint8Array, others: readonly Uint8Array[], value: 0 | 1): Uint8Array => {
  const mask = first.slice();
  for (const other of others)
    for (let from = nextMark(other, 0); from < other.length;) {
      const to = endOfMarks(other, from);
      mask.fill(value, from, to);
      from = nextMark(other, to);
    }
  return mask;
};

/** First sample at or behind a time. */
export const sampleAtTime = (timeS: Float64Array, whenS: number): number => {
  let low = 0,
    high = timeS.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timeS[middle] < whenS) low = middle + 1;
    else high = middle;
  }
  return low;
};

/** The mask widened by so many seconds before and behind each mark. */
export const widened = (mask: Uint8Array, timeS: Float64Array, beforeS: number, afterS: number): Uint8Array => {
  const wide = new Uint8Array(mask.length);
  for (let from = nextMark(mask, 0); from < mask.length;) {
    const to = endOfMarks(mask, from),
      sinceS = timeS[from] - beforeS,
      untilS = timeS[to - 1] + afterS;
    // No further than to the next marks, which widen themselves.
    const next = nextMark(mask, to);
    let first = from,
      last = to;
    while (first > 0 && mask[first - 1] === 0 && timeS[first - 1] >= sinceS) first--;
    while (last < next && timeS[last] <= untilS) last++;
    wide.fill(1, first, last);
    from = next;
  }
  return wide;
};

/**
 * Change per second over about `windowS` around each sample (that the mask marks, where one is given; else 0), NaN where an end is
 * missing: never over a hole longer than four windows.
 */
export const ratePerS = (values: Float64Array, timeS: Float64Array, windowS: number, mask?: Uint8Array): Float64Array => {
  const rates = new Float64Array(values.length),
    half = windowS / 2,
    last = values.length - 1,
    longestS = Math.max(4 * windowS, 2);
  let left = 0,
    right = 0;
  for (let i = 0; i <= last; i++) {
    if (mask?.[i] === 0) continue;
    const sinceS = timeS[i] - half,
      untilS = timeS[i] + half;
    while (timeS[left] < sinceS) left++;
    while (right < last && timeS[right + 1] <= untilS) right++;
    const a = left === i && i > 0 ? i - 1 : left,
      b = right === i && i < last ? i + 1 : right,
      spanS = timeS[b] - timeS[a];
    rates[i] = spanS > 0 && spanS < longestS ? (values[b] - values[a]) / spanS : NaN;
  }
  return rates;
};
