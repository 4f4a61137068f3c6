// Filters over unevenly timed columns: the first-order lag and what it leaves out. Missing stays NaN, and starts the filter afresh.

import { roomFor } from '../room.js';

/** A hole in time longer than this (or a step back) starts a filter afresh, seconds. */
const FRESH_START_S = 1;

/** Steps that differ by no more than this share are one step: times counted in decimals differ so in their last bits. */
const SAME_STEP = 1e-10;

/** Steps from row to row, NaN where a filter starts afresh; those that differ in their last bits are one. */
export const freshSteps = (timeS: Float64Array, freshStartS = FRESH_START_S): Float64Array => {
  const steps = roomFor(timeS.length).fill(NaN);
  let last = NaN;
  for (let row = 1; row < steps.length; row++) {
    const step = timeS[row] - timeS[row - 1];
    if (!(step >= 0 && step < freshStartS)) continue;
    if (!(Math.abs(step - last) <= SAME_STEP * step)) last = step;
    steps[row] = last;
  }
  return steps;
};

/**
 * A lag over one time base, ready to be laid on several columns: what of the distance is left at each row (NaN starts afresh, 1 stands
 * still), and what of the step.
 */
interface Lag {
  readonly decay: Float64Array;
  readonly behind: Float64Array;
}

/**
 * First-order lag with time constant `lagS` over rows at `timeS`, exact for an input that runs straight between its samples:
 * y₁ = E y₀ + u₁ − E u₀ − (u₁ − u₀)(1 − E) τ/dt, E = e^(−dt/τ). Undefined where nothing lags.
 */
export const lagOver = (timeS: Float64Array, lagS: number, freshStartS = FRESH_START_S): Lag | undefined => {
  if (!(lagS > 0)) return undefined;
  const decay = roomFor(timeS.length),
    behind = roomFor(timeS.length);
  let lastStepS = NaN,
    lastDecay = 1,
    lastBehind = 1,
    beforeS = NaN;
  for (let at = 0; at < timeS.length; at++) {
    const nowS = timeS[at],
      stepS = nowS - beforeS;
    beforeS = nowS;
    if (!(stepS >= 0 && stepS < freshStartS)) {
      decay[at] = NaN;
      continue;
    }
    if (stepS === 0) {
      decay[at] = behind[at] = 1;
      continue;
    }
    if (!(Math.abs(stepS - lastStepS) <= SAME_STEP * stepS)) {
      lastStepS = stepS;
      lastDecay = Math.exp(-stepS / lagS);
      lastBehind = ((1 - lastDecay) * lagS) / stepS;
    }
    decay[at] = lastDecay;
    behind[at] = lastBehind;
  }
  return { decay, behind };
};

/** A column as it follows under a lag; the column itself where nothing lags. */
const following = (input: Float64Array, lag: Lag | undefined): Float64Array => {
  if (!lag) return input;
  const { decay, behind } = lag;
  const output = roomFor(input.length);
  let y = NaN,
    before = NaN;
  for (let at = 0; at < output.length; at++) {
    const u = input[at],
      left = decay[at];
    if (y !== y || left !== left) y = u;
    else if (left !== 1) y = left * (y - before) + u - (u - before) * behind[at];
    output[at] = y;
    before = u;
  }
  return output;
};

/**
 * Columns as they follow under one lag and what comes of it under another: two columns and both lags in one pass, in which none waits for
 * the others.
 */
export const followingBoth = (inputs: readonly Float64Array[], first: Lag | undefined, second: Lag | undefined): Float64Array[] => {
  const outputs = inputs.map((input) => (first && second ? roomFor(input.length) : following(input, first ?? second)));
  if (first && second)
    for (let each = 0; each < inputs.length; each += 2) {
      const other = Math.min(each + 1, inputs.length - 1);
      followPair(inputs[each], inputs[other], first, second, outputs[each], outputs[other]);
    }
  return outputs;
};

const followPair = (
  input: Float64Array,
  otherInput: Float64Array,
  { decay, behind }: Lag,
  { decay: nextDecay, behind: nextBehind }: Lag,
  output: Float64Array,
  otherOutput: Float64Array,
): void => {
  let y = NaN,
    before = NaN,
    z = NaN,
    otherY = NaN,
    otherBefore = NaN,
    otherZ = NaN;
  for (let at = 0; at < output.length; at++) {
    const u = input[at],
      otherU = otherInput[at],
      left = decay[at],
      late = behind[at],
      nextLeft = nextDecay[at],
      nextLate = nextBehind[at];
    let v = y,
      otherV = otherY;
    if (y !== y || left !== left) v = u;
    else if (left !== 1) v = left * (y - before) + u - (u - before) * late;
    if (otherY !== otherY || left !== left) otherV = otherU;
    else if (left !== 1) otherV = left * (otherY - otherBefore) + otherU - (otherU - otherBefore) * late;
    if (z !== z || nextLeft !== nextLeft) z = v;
    else if (nextLeft !== 1) z = nextLeft * (z - y) + v - (v - y) * nextLate;
    if (otherZ !== otherZ || nextLeft !== nextLeft) otherZ = otherV;
    else if (nextLeft !== 1) otherZ = nextLeft * (otherZ - otherY) + otherV - (otherV - otherY) * nextLate;
    output[at] = z;
    otherOutput[at] = otherZ;
    before = u;
    otherBefore = otherU;
    y = v;
    otherY = otherV;
  }
};

/**
 * A column as it follows under a lag, by itself; `backwards`: time runs from its end, so that each value lags behind what comes after it.
 */
export const lagged = (
  input: Float64Array,
  timeS: Float64Array,
  lagS: number,
  freshStartS = FRESH_START_S,
  backwards = false,
): Float64Array => {
  if (!(lagS > 0)) return input;
  const output = roomFor(input.length),
    way = backwards ? -1 : 1;
  let y = NaN,
    before = NaN,
    beforeS = NaN,
    lastStepS = NaN,
    left = 1,
    behind = 1;
  for (let at = backwards ? output.length - 1 : 0; at >= 0 && at < output.length; at += way) {
    const u = input[at],
      nowS = timeS[at],
      stepS = way * (nowS - beforeS);
    beforeS = nowS;
    if (y !== y || !(stepS >= 0 && stepS < freshStartS)) y = u;
    else if (stepS > 0) {
      if (!(Math.abs(stepS - lastStepS) <= SAME_STEP * stepS)) {
        lastStepS = stepS;
        left = Math.exp(-stepS / lagS);
        behind = ((1 - left) * lagS) / stepS;
      }
      y = left * (y - before) + u - (u - before) * behind;
    }
    output[at] = y;
    before = u;
  }
  return output;
};

/** What a lag has not yet followed: input − lagged. A steady ramp of r per second settles at r × `lagS`, a step starts at its height. */
export const notYetFollowed = (input: Float64Array, timeS: Float64Array, lagS: number, backwards = false): Float64Array => {
  const rest = lagged(input, timeS, lagS, FRESH_START_S, backwards);
  if (rest === input) return new Float64Array(input.length);
  for (let at = 0; at < rest.length; at++) rest[at] = input[at] - rest[at];
  return rest;
};
