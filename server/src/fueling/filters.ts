// Filters over unevenly timed columns: the first-order lag and what it leaves out. Missing stays NaN, and starts the filter afresh.

/** A hole in time longer than this (or a step back) starts a filter afresh, seconds. */
const FRESH_START_S = 1;

/**
 * First-order lag with time constant `lagS`, exact for an input that runs straight between its samples:
 * y₁ = E y₀ + u₁ − E u₀ − (u₁ − u₀)(1 − E) τ/dt, E = e^(−dt/τ).
 */
export const lagged = (input: Float64Array, timeS: Float64Array, lagS: number, freshStartS = FRESH_START_S): Float64Array => {
  if (!(lagS > 0)) return input;
  const output = new Float64Array(input.length);
  let y = NaN;
  let lastStepS = NaN;
  let decay = 0;
  for (let at = 0; at < input.length; at++) {
    const u = input[at];
    const stepS = at > 0 ? timeS[at] - timeS[at - 1] : NaN;
    if (y !== y || !(stepS >= 0 && stepS < freshStartS)) y = u;
    else if (stepS > 0) {
      if (stepS !== lastStepS) { lastStepS = stepS; decay = Math.exp(-stepS / lagS); }
      const before = input[at - 1];
      y = decay * (y - before) + u - (u - before) * (1 - decay) * lagS / stepS;
    }
    output[at] = y;
  }
  return output;
};

/** What a lag has not yet followed: input − lagged. A steady ramp of r per second settles at r × `lagS`, a step starts at its height. */
export const notYetFollowed = (input: Float64Array, timeS: Float64Array, lagS: number): Float64Array => {
  const rest = lagged(input, timeS, lagS);
  return rest === input ? new Float64Array(input.length) : rest.map((value, at) => input[at] - value);
};

/** Value at a fractional index, straight between samples; NaN outside or beside a missing one. */
export const sampleAt = (values: Float64Array, index: number): number => {
  const whole = Math.floor(index);
  const part = index - whole;
  return part === 0 ? values[whole] ?? NaN : values[whole] + part * (values[whole + 1] - values[whole]);
};
