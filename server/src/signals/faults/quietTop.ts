// A sensor at its stop whose converter still flickers by a tick or two: its readings are not alike, but its unrest is gone.

import type { Track } from '../columns/hold.js';
import { nextBeyond } from '../columns/stretches.js';
import type { Span } from '../signals.js';

/** How far below its greatest reading a sensor at its stop flickers: a few ticks of ten bits. */
const FLICKER_SHARE = 0.002;
/**
 * How much less it moves there than where it measures, and where it does: in its upper half while it passes no more than so much. Common
 * practice, no source.
 */
const QUIETER_TIMES = 3,
  PASSES_SHARE = 0.01;
const LEAST_RUN = 10,
  LEAST_READ = 30;

/**
 * Runs of readings at the top of a channel that are still there and not in the upper half below it. Only what turns back counts: a rise
 * bends, and is no unrest.
 */
export const quietTop = ({ rows, values, count }: Track, top: number, taken: Uint8Array): Span[] => {
  const from = top * (1 - FLICKER_SHARE),
    found: Span[] = [];
  // Most channels are never there for so long, and need not be measured.
  if (!staysAbove(from, values, count)) return found;
  const quiet = { sum: 0, read: 0 },
    measured = { sum: 0, read: 0 };
  let tick = Infinity;
  const read = (k: number, into: typeof quiet): void => {
    const up = values[k] - values[k - 1],
      on = values[k + 1] - values[k];
    if (!(Math.abs(up + on) <= PASSES_SHARE * top)) return;
    into.read++;
    if (up * on < 0) {
      into.sum += Math.abs(on - up);
      tick = Math.min(tick, Math.abs(up));
    }
  };
  for (let k = 1; k + 1 < count; k++) {
    if (!(values[k] >= from)) {
      if (values[k] > 0.5 * top) read(k, measured);
      continue;
    }
    const first = k;
    while (k < count && values[k] >= from) k++;
    if (k - first < LEAST_RUN || taken[rows[first]] !== 0) continue;
    for (let at = first + 1; at < k - 1; at++) read(at, quiet);
    found.push({ from: rows[first], to: k < count ? rows[k] : rows[k - 1] + 1 });
  }
  // In steps as coarse as that any steady pressure is still.
  const isFine = 2 * tick <= top - from;
  return isFine &&
    quiet.read >= LEAST_READ &&
    measured.read >= LEAST_READ &&
    (QUIETER_TIMES * quiet.sum) / quiet.read < measured.sum / measured.read
    ? found
    : [];
};

/** Whether any run of readings is long enough. */
const staysAbove = (low: number, values: Float64Array, count: number): boolean => {
  for (let k = 1; (k = nextBeyond(values, k, count, -Infinity, low)) < count;) {
    const first = k;
    while (k < count && values[k] >= low) k++;
    if (k - first >= LEAST_RUN) return true;
  }
  return false;
};
