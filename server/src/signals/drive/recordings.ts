// Cuts a session into recordings: where the clock stepped back, and where the logger was off for long.

import type { Session } from '../../formats/session/session.js';
import type { Span } from '../signals.js';

/** A hole this long, and this many steps, is a new recording: no event runs over it (common practice, no source). */
const LONG_HOLE_S = 10;
const LONG_HOLE_STEPS = 20;

export const recordingsOf = (session: Session, stepS: number): Span[] => {
  if (session.samples === 0) return [];
  const starts = new Set(session.recordingStarts.filter((start) => start > 0 && start < session.samples));
  const holeS = Math.max(LONG_HOLE_S, LONG_HOLE_STEPS * stepS);
  takeHoles(starts, session.timeS, holeS);
  const borders = [0, ...[...starts].sort((a, b) => a - b), session.samples];
  return borders.slice(1).map((to, index) => ({ from: borders[index], to }));
};

/** Takes the samples behind the holes. */
const takeHoles = (starts: Set<number>, timeS: Float64Array, holeS: number): void => {
  for (let i = 1; i < timeS.length; i++) if (timeS[i] - timeS[i - 1] > holeS) starts.add(i);
};
