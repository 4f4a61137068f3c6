// Spells of samples: made from a mask, mended over short breaks, thrown away when too short, painted back.

import type { Span } from './signals.js';

/** Runs of ones; breaks up to `bridgeS` are bridged, then spells shorter than `leastS` are dropped. Never runs over a border of `recordings`. */
export const spansOf = (
  mask: Uint8Array, timeS: Float64Array, options: { bridgeS?: number; leastS?: number; recordings?: readonly Span[] } = {},
): Span[] => {
  const { bridgeS = 0, leastS = 0, recordings = [{ from: 0, to: mask.length }] } = options;
  const spans: { from: number; to: number }[] = [];
  for (const recording of recordings) {
    let open: { from: number; to: number } | undefined;
    for (let i = nextMark(mask, recording.from, recording.to); i < recording.to;) {
      const to = endOfMarks(mask, i, recording.to);
      if (open && timeS[i] - timeS[open.to - 1] <= bridgeS) open.to = to;
      else spans.push(open = { from: i, to });
      i = nextMark(mask, to, recording.to);
    }
  }
  return leastS <= 0 ? spans : spans.filter((span) => lastsS(span, timeS) >= leastS - 1e-9);
};

const nextMark = (mask: Uint8Array, from: number, to: number): number => {
  let i = from;
  while (i < to && mask[i] === 0) i++;
  return i;
};

const endOfMarks = (mask: Uint8Array, from: number, to: number): number => {
  let i = from;
  while (i < to && mask[i] !== 0) i++;
  return i;
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

/** 1 where any of two to four masks is set. */
export const anyOf = (a: Uint8Array, b: Uint8Array, c = b, d = b): Uint8Array => {
  const any = new Uint8Array(a.length);
  for (let i = 0; i < any.length; i++) if (a[i] | b[i] | c[i] | d[i]) any[i] = 1;
  return any;
};

/** First sample at or behind a time. */
export const sampleAtTime = (timeS: Float64Array, whenS: number): number => {
  let low = 0, high = timeS.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timeS[middle] < whenS) low = middle + 1; else high = middle;
  }
  return low;
};

/** The mask widened by so many seconds before and behind each mark. */
export const widened = (mask: Uint8Array, timeS: Float64Array, beforeS: number, afterS: number): Uint8Array => {
  const wide = new Uint8Array(mask.length);
  widenBehind(mask, timeS, afterS, wide);
  widenBefore(mask, timeS, beforeS, wide);
  return wide;
};

const widenBehind = (mask: Uint8Array, timeS: Float64Array, afterS: number, wide: Uint8Array): void => {
  let untilS = -Infinity;
  for (let i = 0; i < mask.length; i++) {
    if (mask[i] !== 0) untilS = timeS[i] + afterS;
    if (timeS[i] <= untilS) wide[i] = 1;
  }
};

const widenBefore = (mask: Uint8Array, timeS: Float64Array, beforeS: number, wide: Uint8Array): void => {
  let fromS = Infinity;
  for (let i = mask.length - 1; i >= 0; i--) {
    if (mask[i] !== 0) fromS = timeS[i] - beforeS;
    if (timeS[i] >= fromS) wide[i] = 1;
  }
};

/** Change per second over about `windowS` around each sample; NaN where an end is missing. Never over a hole longer than four windows. */
export const ratePerS = (values: Float64Array, timeS: Float64Array, windowS: number): Float64Array => {
  const rates = new Float64Array(values.length).fill(NaN);
  const half = windowS / 2;
  let left = 0, right = 0;
  const last = values.length - 1;
  for (let i = 0; i <= last; i++) {
    while (timeS[left] < timeS[i] - half) left++;
    while (right < last && timeS[right + 1] <= timeS[i] + half) right++;
    const a = left === i && i > 0 ? i - 1 : left, b = right === i && i < last ? i + 1 : right;
    const spanS = timeS[b] - timeS[a];
    if (spanS > 0 && spanS < Math.max(4 * windowS, 2)) rates[i] = (values[b] - values[a]) / spanS;
  }
  return rates;
};
