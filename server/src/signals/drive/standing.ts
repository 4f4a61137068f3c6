// Where the engine stands: a speed of nothing that lasts, or that it slowed down to or sped up from, not a wire that opened for a moment.

import { nextOf } from '../columns/stretches.js';

/** An engine that turns faster cannot stand at the next reading (a stall takes some tenths of a second; common practice, no source). */
const TURNS_RPM = 500;
/** So long no wire opens and closes again. */
const LASTS_S = 10;

/** 1 where the engine surely stands. */
export const standingMask = (rpm: Float64Array, timeS: Float64Array): Uint8Array => {
  const mask = new Uint8Array(rpm.length);
  for (let from = nextOf(0, rpm, 0), to: number; from < rpm.length; from = nextOf(0, rpm, to)) {
    let last = from - 1;
    while (last >= 0 && rpm[last] !== rpm[last]) last--;
    to = from;
    while (to < rpm.length && !(rpm[to] > 0)) to++;
    const before = last >= 0 ? rpm[last] : 0,
      after = to < rpm.length ? rpm[to] : 0;
    if (!(before > TURNS_RPM && after > TURNS_RPM) || timeS[to - 1] - timeS[from] >= LASTS_S)
      for (let i = from; i < to; i++) if (rpm[i] === 0) mask[i] = 1;
  }
  return mask;
};
