// Spells in which a series stands at or above a limit, with its peak: what knock, duty, pressure and heat have in common.

import type { Signals, Span } from '../signals.js';
import { lastsS, spansOf } from './spans.js';
import { greatestOf } from './statistics.js';

export interface OverLimit extends Span {
  readonly peak: number;
  readonly peakAt: number;
}

/** `leastS` and two readings (one below 8 a second) make a spell; breaks up to `bridgeS` are bridged. NaN is not over. */
export const overLimit = (
  signals: Signals,
  values: Float64Array,
  limit: number,
  options: { leastS?: number; bridgeS?: number } = {},
): OverLimit[] => {
  const { timeS } = signals;
  if (!(greatestOf(values) >= limit)) return [];
  const mask = new Uint8Array(values.length);
  for (let i = 0; i < values.length; i++) if (values[i] >= limit) mask[i] = 1;
  const { leastS = 0, bridgeS = 1 } = options;
  return spansOf(mask, timeS, { bridgeS, recordings: signals.recordings }).flatMap((span) => {
    let peakAt = span.from;
    for (let i = span.from; i < span.to; i++) if (values[i] > values[peakAt] || values[peakAt] !== values[peakAt]) peakAt = i;
    return lastsS(span, timeS) >= leastS - 1e-9 ? [{ ...span, peak: values[peakAt], peakAt }] : [];
  });
};
