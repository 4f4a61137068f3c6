// The slope of a noisy line of readings: straight lines fitted over a window that is as wide as the noise wants.

export interface Slopes {
  /** Readings that have a whole window around them: index, value and slope (per second) of the fitted line there. */
  readonly at: Int32Array;
  readonly value: Float64Array;
  readonly slope: Float64Array;
  /** Standard error of the slope, typical over all. */
  readonly errorPerS: number;
  readonly windowS: number;
}

const WINDOWS_S = [0.3, 0.4, 0.55, 0.75, 1, 1.4, 2] as const;
/** A window wants so many readings. */
const LEAST_READINGS = 5;
/** Noise of the slope that is small enough, as a share of it. */
const ENOUGH = 0.015;

/**
 * The narrowest window whose slopes are quiet enough, else the widest that leaves half of the readings. `stepOf` is the value's quantum:
 * the noise is never taken for less than that of rounding. Undefined where there are too few readings for any.
 */
export const slopesOf = (timeS: Float64Array, values: Float64Array, quantum: number): Slopes | undefined => {
  const spanS = timeS[timeS.length - 1] - timeS[0];
  let best: Slopes | undefined;
  for (const windowS of WINDOWS_S) {
    if (windowS > spanS / 2) break;
    const found = fitted(timeS, values, quantum, windowS);
    if (!found) continue;
    best = found;
    if (found.errorPerS < ENOUGH * Math.abs(middleOf(found.slope))) break;
  }
  return best;
};

const fitted = (timeS: Float64Array, values: Float64Array, quantum: number, windowS: number): Slopes | undefined => {
  const at: number[] = [],
    value: number[] = [],
    slope: number[] = [],
    error: number[] = [];
  const half = windowS / 2 + 1e-9;
  let from = 0,
    to = 0;
  for (let i = 0; i < timeS.length; i++) {
    while (timeS[from] < timeS[i] - half) from++;
    while (to < timeS.length && timeS[to] <= timeS[i] + half) to++;
    const count = to - from;
    if (timeS[i] - timeS[0] < windowS * 0.45 || timeS[timeS.length - 1] - timeS[i] < windowS * 0.45 || count < LEAST_READINGS) continue;
    let meanT = 0,
      meanV = 0;
    for (let k = from; k < to; k++) {
      meanT += timeS[k];
      meanV += values[k];
    }
    meanT /= count;
    meanV /= count;
    let tt = 0,
      tv = 0,
      vv = 0;
    for (let k = from; k < to; k++) {
      const t = timeS[k] - meanT,
        v = values[k] - meanV;
      tt += t * t;
      tv += t * v;
      vv += v * v;
    }
    if (!(tt > 0)) continue;
    const b = tv / tt,
      left = Math.max(vv - b * tv, 0) / (count - 2);
    at.push(i);
    value.push(meanV + b * (timeS[i] - meanT));
    slope.push(b);
    error.push(Math.sqrt(Math.max(left, (quantum * quantum) / 12) / tt));
  }
  if (at.length < 3) return undefined;
  return {
    at: Int32Array.from(at),
    value: Float64Array.from(value),
    slope: Float64Array.from(slope),
    errorPerS: middleOf(Float64Array.from(error)),
    windowS,
  };
};

const middleOf = (values: Float64Array): number => values.slice().sort()[values.length >> 1];

/** Mean over `windowS` around each place: what a single noisy reading cannot raise. */
export const smoothed = (timeS: Float64Array, values: Float64Array, windowS: number): Float64Array =>
  values.map((_, i) => {
    let sum = 0,
      count = 0;
    for (let k = i; k >= 0 && timeS[i] - timeS[k] <= windowS / 2 + 1e-9; k--) {
      sum += values[k];
      count++;
    }
    for (let k = i + 1; k < values.length && timeS[k] - timeS[i] <= windowS / 2 + 1e-9; k++) {
      sum += values[k];
      count++;
    }
    return sum / count;
  });
