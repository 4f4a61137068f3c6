// Stretches in which the engine speed runs one way: every pull, and the falling sweeps between them, so that runs can be laid over
// each other against engine speed and up-sweeps be told from down-sweeps.

import type { Signals, Span } from '../signals.js';
import { extremes, median } from '../columns/statistics.js';

export interface Sweep extends Span {
  readonly direction: 'up' | 'down';
  /** Index among the signals' pulls; undefined for a sweep that is none. */
  readonly pull: number | undefined;
  readonly fromRpm: number;
  readonly toRpm: number;
}

/**
 * The speed must turn by so much for a sweep to end: more than idle and road shake, less than a gear change (common practice, no source).
 */
const TURN_RPM = 250;
/** A falling sweep shorter than this tells nothing. */
const LEAST_FALL_RPM = 1000;
const LEAST_FALL_S = 0.5;
/** A long drive falls a thousand times; the widest of them are kept. */
const MOST_FALLS = 60;

/** By start. Empty without engine speed. */
export function sweepsOf(signals: Signals): Sweep[] {
  const rpm = signals.held('engine-speed');
  if (!rpm) return [];
  const pulls = signals.pulls.map((span, pull): Sweep => {
    const [low, high] = extremes(rpm, span.from, span.to);
    const direction = directionOf(rpm, span);
    return {
      from: span.from,
      to: span.to,
      pull,
      direction,
      fromRpm: direction === 'up' ? low : high,
      toRpm: direction === 'up' ? high : low,
    };
  });
  const falls = turningPoints(rpm)
    .filter(({ from, to }) => rpm[from] - rpm[to - 1] >= LEAST_FALL_RPM && signals.timeS[to - 1] - signals.timeS[from] >= LEAST_FALL_S)
    .filter((span) => pulls.every((pull) => overlap(pull, span) < 0.3 * (span.to - span.from)))
    .map(({ from, to }): Sweep => ({ from, to, pull: undefined, direction: 'down', fromRpm: rpm[from], toRpm: rpm[to - 1] }))
    .sort((a, b) => b.fromRpm - b.toRpm - (a.fromRpm - a.toRpm))
    .slice(0, MOST_FALLS);
  return [...pulls, ...falls].sort((a, b) => a.from - b.from);
}

const overlap = (a: Span, b: Span): number => Math.max(0, Math.min(a.to, b.to) - Math.max(a.from, b.from));

/** A pull held back by a brake may run downwards at full load. */
function directionOf(rpm: Float64Array, { from, to }: Span): 'up' | 'down' {
  const part = Math.max(1, Math.floor((to - from) / 5));
  return median(rpm.subarray(to - part, to)) >= median(rpm.subarray(from, from + part)) ? 'up' : 'down';
}

/** The rising and falling stretches between the turns of a curve, NaN passed over. */
function turningPoints(values: Float64Array): Span[] {
  const spans: Span[] = [];
  let start = -1,
    top = 0,
    bottom = 0;
  let direction: 'up' | 'down' | undefined;
  const turn = (at: number, then: 'up' | 'down', now: number): void => {
    if (at > start) spans.push({ from: start, to: at + 1 });
    start = at;
    top = bottom = now;
    direction = then;
  };
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    if (value !== value) continue;
    if (start < 0) {
      start = top = bottom = i;
      continue;
    }
    if (value > values[top]) top = i;
    if (value < values[bottom]) bottom = i;
    if (direction !== 'down' && values[top] - value >= TURN_RPM) turn(top, 'down', i);
    else if (direction !== 'up' && value - values[bottom] >= TURN_RPM) turn(bottom, 'up', i);
  }
  const end = direction === 'up' ? top : bottom;
  if (start >= 0 && end > start) spans.push({ from: start, to: end + 1 });
  return spans;
}
