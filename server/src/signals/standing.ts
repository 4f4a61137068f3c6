// Where the engine stands: a speed of nothing that lasts, or that it slowed down to or sped up from, not a wire that opened for a moment.

/** An engine that turns faster cannot stand at the next reading (a stall takes some tenths of a second; common practice, no source). */
const TURNS_RPM = 500;
/** So long no wire opens and closes again. */
const LASTS_S = 10;

/** 1 where the engine surely stands. */
export const standingMask = (rpm: Float64Array, timeS: Float64Array): Uint8Array => {
  const mask = new Uint8Array(rpm.length);
  let before = 0;
  for (let from = 0; from < rpm.length;) {
    if (rpm[from] !== 0) { if (rpm[from] === rpm[from]) before = rpm[from]; from++; continue; }
    let to = from;
    while (to < rpm.length && !(rpm[to] > 0)) to++;
    const after = to < rpm.length ? rpm[to] : 0;
    if (!(before > TURNS_RPM && after > TURNS_RPM) || timeS[to - 1] - timeS[from] >= LASTS_S) for (let i = from; i < to; i++) if (rpm[i] === 0) mask[i] = 1;
    from = to;
  }
  return mask;
};
