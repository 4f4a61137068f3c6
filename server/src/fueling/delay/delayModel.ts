// The delay itself: an engine-cycle part, a gas part that goes with one over flow, and the sensor's own lag (structure: Guzzella and Onder,
// Introduction to Modeling and Control of Internal Combustion Engine Systems), and when by it a reading was injected.

import type { Vehicle } from '../../formats/vehicle/vehicle.js';
import { delayAlongS, EXHAUST_OVER_AIR } from '../../signals/mixture/delay.js';
import type { DelayFit } from '../evidence.js';
import { ASSUMED_DISPLACEMENT_L } from './exhaustFlow.js';
import { followingBoth, lagOver } from './filters.js';
import { GAP_S, thinnedBy } from './gasPassed.js';
import { roomFor } from '../room.js';
import { medianOf } from '../solution/statistics.js';
import type { Track } from '../track.js';

export type DelayModel = PhysicalDelay | StatedDelay;

export interface PhysicalDelay {
  readonly kind: 'physical';
  /** Engine cycles from injection to the open exhaust valve; a cycle lasts 120/rpm seconds. */
  readonly cycles: number;
  /**
   * Mass of gas between valve and sensor, g, where the exhaust flows as usual (`thinnedBy`): it has left once as much exhaust has followed.
   */
  readonly gasG: number;
  /** Share of that gas which is stirred (collector, the sensor's shield) rather than pushed along: a lag that goes with one over flow. */
  readonly stirred: number;
  /** Time constant of the sensor's first-order lag. */
  readonly lagS: number;
  /** What the sensor's controller and the logger add before a reading stands in the log, seconds. */
  readonly latencyS: number;
}

/** From the vehicle file: the whole delay, by air flow (ascending); one point holds everywhere. */
export interface StatedDelay {
  readonly kind: 'stated';
  readonly byFlow: readonly (readonly [flowGPerS: number, seconds: number])[];
  readonly lagS: 0;
}

/** By what readings are placed. */
export interface Placing {
  readonly model: DelayModel;
  readonly from: 'log' | 'vehicle.json' | 'assumed';
  /** Covariance of cycles, ln gas, ln lag and latency, by which `deviationAt` tells the deviation elsewhere; row by row. */
  readonly covariance: readonly number[];
}

/** The same as a session is told of it. */
export interface Delay extends Placing {
  /** Standard deviation of the whole delay at the session's median flow, seconds. */
  readonly deviationS: number;
  /** Whole delay (cycle, gas and lag) at the session's median flow. */
  readonly medianS: number;
  /** Whole delay over the range of air flow that was driven: what a log shows and a vehicle file states. */
  readonly byFlow: readonly (readonly [flowGPerS: number, seconds: number])[];
  readonly fit: Omit<DelayFit, 'sensor' | 'assumedGasG'> | undefined;
}

/**
 * Said where the log does not tell: one cycle, 1.5 L of exhaust at 500 °C up to the sensor (101 kPa), the middle of a wideband's lags in
 * gas flow (0.02 to 0.10 s). Reference figures, of an engine of two litres; the share stirred and the latency are orders of magnitude, no
 * source.
 */
export const ASSUMED_DELAY: PhysicalDelay = { kind: 'physical', cycles: 1, gasG: 0.68, stirred: 0.25, lagS: 0.06, latencyS: 0.01 };
/**
 * Litres up to the sensor by litre of displacement: pipes are as wide as what flows through them asks for, so that gas is about as fast in
 * all.
 */
export const PIPE_OVER_DISPLACEMENT = 0.75;

/** The same for a car. */
const assumedFor = ({ engine }: Vehicle): PhysicalDelay => ({
  ...ASSUMED_DELAY,
  gasG: (ASSUMED_DELAY.gasG * (engine.displacementL ?? ASSUMED_DISPLACEMENT_L)) / ASSUMED_DISPLACEMENT_L,
});

/**
 * How far its parts may be off (standard deviation): cycles, ln gas, ln lag (two of them take in what the reference gives, and an aged or
 * shielded sensor), latency in seconds. Orders of magnitude, no source.
 */
export const ASSUMED_DEVIATION = [0.15, 0.7, 0.45, 0.01] as const;
/**
 * A closed loop's trims answer by a quarter to a half of its swing, which takes one to three seconds; how late within that, trims alone do
 * not tell: under any of these lags they agree alike. Common practice, no source; standard deviation of its logarithm.
 */
export const TRIM_LAG_S = 0.7;
const TRIM_LAG_DEVIATION = 0.6;
export const DELAY_PARTS = ASSUMED_DEVIATION.length;
export const LONGEST_S = 2.5;

/** How long gas (g as dense as at the usual flow) takes to be pushed out by a steady flow. */
const gasS = (gasG: number, flowGPerS: number): number => gasG / (flowGPerS * thinnedBy(flowGPerS));

/** The whole delay at one steady exhaust flow and speed, seconds. */
export const wholeDelayS = (model: DelayModel, flowGPerS: number, rpm: number): number =>
  model.kind === 'stated'
    ? delayAlongS(model.byFlow, flowGPerS / EXHAUST_OVER_AIR)
    : Math.min((model.cycles * 120) / rpm + gasS(model.gasG, flowGPerS) + model.lagS + model.latencyS, LONGEST_S);

/**
 * What the model's own shape leaves open, whatever the fit says: mixing on the way, the sensor's electronics, the wall's film. Order of
 * magnitude, found by simulation.
 */
export const MODEL_DEVIATION_S = 0.02;

/** How the whole delay goes with its parts (cycles, ln gas, ln lag, latency) at one flow and speed, seconds. */
export const sensitivityOf = (model: PhysicalDelay, flowGPerS: number, rpm: number): readonly [number, number, number, number] => [
  120 / rpm,
  gasS(model.gasG, flowGPerS),
  model.lagS,
  1,
];

/** Standard deviation of the whole delay at a flow and speed, seconds: gas that creeps at idle is known worse than at load. */
export const deviationBy = ({ model, covariance }: Pick<Delay, 'model' | 'covariance'>): ((flowGPerS: number, rpm: number) => number) => {
  if (model.kind === 'stated') return () => 0;
  const { gasG, lagS: lag } = model;
  const [cycles, cycleGas, cycleLag, cycleLatency, , gases, gasLag, gasLatency, , , lags, lagLatency, , , , latency] = covariance;
  const fixed = lag * lag * lags + latency + 2 * lag * lagLatency + MODEL_DEVIATION_S ** 2,
    byCycle = 2 * (lag * cycleLag + cycleLatency),
    byGas = 2 * (lag * gasLag + gasLatency);
  return (flowGPerS, rpm) => {
    const cycle = 120 / Math.max(rpm, 400),
      gas = gasS(gasG, Math.max(flowGPerS, 0.5));
    return Math.sqrt(fixed + cycle * (cycle * cycles + 2 * gas * cycleGas + byCycle) + gas * (gas * gases + byGas));
  };
};

const deviationAt = (delay: Pick<Delay, 'model' | 'covariance'>, flowGPerS: number, rpm: number): number =>
  deviationBy(delay)(flowGPerS, rpm);

/**
 * From the intake valve shut to the exhaust valve open: about 300 of 720 degrees. What is logged as flow is taken in, and leaves so much
 * later.
 */
const SHUT_CYCLES = 0.42;

/** What of a model moves the moment of injection: cycles, the gas that is pushed along (g), latency (s). */
export const TIMING_PARTS = 3;

/**
 * When the mixture read at each of the rows (ascending) was injected, as a fractional row; NaN before the log's start or across a hole.
 * Stirring and the sensor's lag are not in it: they are laid on what is compared (`mixedAndSeen`). `from`: earliest row that belongs to
 * each reading's stretch; `slopes` takes how the moment goes with each of the `TIMING_PARTS`, in seconds, for each reading.
 */
export const injectedAt = (
  track: Pick<Track, 'timeS' | 'rpm' | 'exhaustGPerS'>,
  rows: Int32Array,
  model: DelayModel,
  passed: Float64Array,
  from?: Int32Array,
  slopes?: Float64Array,
): Float64Array => {
  const moments = roomFor(rows.length);
  if (model.kind === 'stated') momentsStated(track, rows, model, moments);
  else momentsByGas(track, rows, model.cycles, model.gasG * (1 - model.stirred), model.latencyS, passed, from, slopes, moments);
  return asRows(moments, track.timeS, rows, from);
};

// Each loop by itself and small: of a large one some calls are not compiled in, and every number that they take or give costs memory.

const momentsStated = (
  { timeS, exhaustGPerS }: Pick<Track, 'timeS' | 'exhaustGPerS'>,
  rows: Int32Array,
  { byFlow }: StatedDelay,
  moments: Float64Array,
): void => {
  for (let index = 0; index < rows.length; index++)
    moments[index] = timeS[rows[index]] - delayAlongS(byFlow, exhaustGPerS[rows[index]] / EXHAUST_OVER_AIR);
};

/** By the gas that is pushed along; NaN where its stretch does not go back so far. */
const momentsByGas = (
  { timeS, rpm }: Pick<Track, 'timeS' | 'rpm'>,
  rows: Int32Array,
  cycles: number,
  pushedG: number,
  latencyS: number,
  passed: Float64Array,
  from: Int32Array | undefined,
  slopes: Float64Array | undefined,
  moments: Float64Array,
): void => {
  // Each search goes on from where the last one ended.
  let leftRow = 0,
    gasRow = 0;
  for (let index = 0; index < rows.length; index++) {
    const row = rows[index],
      first = from ? from[index] : 0;
    // What left the cylinders by the moment that is read, by when it was taken in.
    const takenS = timeS[row] - latencyS - SHUT_CYCLES * cycleOf(rpm, row);
    leftRow = rowAt(timeS, leftRow, first, row, takenS);
    const gas = passed[leftRow] + partOf(timeS, leftRow, takenS) * (passed[Math.min(row, leftRow + 1)] - passed[leftRow]) - pushedG;
    if (!(takenS >= timeS[first]) || gas < passed[first]) {
      moments[index] = NaN;
      continue;
    }
    gasRow = rowAt(passed, gasRow, first, row, gas);
    moments[index] =
      timeS[gasRow] +
      partOf(passed, gasRow, gas) * (timeS[Math.min(row, gasRow + 1)] - timeS[gasRow]) -
      (cycles - SHUT_CYCLES) * cycleOf(rpm, gasRow);
    if (slopes) slopesAt(slopes, index, timeS, rpm, passed, leftRow, gasRow);
  }
};

/** How a moment goes with the parts of the delay, by the rows at which its gas left the cylinders and reached the sensor's place. */
const slopesAt = (
  slopes: Float64Array,
  index: number,
  timeS: Float64Array,
  rpm: Float64Array | undefined,
  passed: Float64Array,
  leftRow: number,
  gasRow: number,
): void => {
  const gasGPerS = flowAt(timeS, passed, gasRow),
    at = TIMING_PARTS * index;
  slopes[at] = -cycleOf(rpm, gasRow);
  slopes[at + 1] = -1 / gasGPerS;
  slopes[at + 2] = -flowAt(timeS, passed, leftRow) / gasGPerS;
};

/** Puts the fractional row of each moment in its place; NaN where it lies too far back, or in a hole. */
const asRows = (moments: Float64Array, timeS: Float64Array, rows: Int32Array, from: Int32Array | undefined): Float64Array => {
  for (let index = 0, fuelRow = 0; index < moments.length; index++) {
    const injectedS = moments[index],
      row = rows[index],
      first = from ? from[index] : 0;
    moments[index] = NaN;
    if (!(injectedS >= timeS[first]) || timeS[row] - injectedS > LONGEST_S) continue;
    fuelRow = rowAt(timeS, fuelRow, first, row, injectedS);
    if (fuelRow >= row) {
      moments[index] = row;
      continue;
    }
    const stepS = timeS[fuelRow + 1] - timeS[fuelRow];
    if (!(stepS > GAP_S)) moments[index] = fuelRow + (injectedS - timeS[fuelRow]) / stepS;
  }
  return moments;
};

/** The last row of `first` … `last` at which a rising column is no more than a value, sought from `row` on. */
const rowAt = (column: Float64Array, row: number, first: number, last: number, value: number): number => {
  let at = Math.max(row, first);
  while (at > first && column[at] > value) at--;
  while (at < last && column[at + 1] <= value) at++;
  return at;
};

/** How long an engine cycle lasts at a row, seconds: of no speed that is slower than any runs at, 2500 rpm where none is logged. */
const cycleOf = (rpm: Float64Array | undefined, row: number): number => 120 / (!rpm ? 2500 : rpm[row] > 400 ? rpm[row] : 400);

/** g/s between a row and the next, no less than what creeps. */
const flowAt = (timeS: Float64Array, passed: Float64Array, row: number): number => {
  const next = Math.min(row + 1, timeS.length - 1);
  return Math.max(0.1, (passed[next] - passed[row]) / (timeS[next] - timeS[row]));
};

/** How far a value lies on the way from a row's to the next. */
const partOf = (column: Float64Array, row: number, value: number): number => {
  const step = column[Math.min(row + 1, column.length - 1)] - column[row];
  return step > 0 ? (value - column[row]) / step : 0;
};

/**
 * What stirring on the way and the sensor's lag make of columns along time: either is a first-order lag, over the mass passed and over
 * time.
 */
export const mixedAndSeen = (
  timeS: Float64Array,
  passed: Float64Array,
  model: DelayModel,
  columns: readonly Float64Array[],
): Float64Array[] =>
  followingBoth(
    columns,
    model.kind === 'stated' ? undefined : lagOver(passed, model.gasG * model.stirred, Infinity),
    lagOver(timeS, model.lagS),
  );

/** The vehicle file's own word on the delay, or the stated model where it says to estimate but the log does not tell. */
export const givenDelay = (vehicle: Vehicle): Placing => {
  const stated = vehicle.lambdaSensor.transportDelay;
  if (typeof stated === 'number' || (Array.isArray(stated) && stated.length > 0)) {
    const byFlow = typeof stated === 'number' ? [[0, stated] as const] : [...(stated as StatedDelay['byFlow'])].sort((a, b) => a[0] - b[0]);
    return { model: { kind: 'stated', byFlow, lagS: 0 }, from: 'vehicle.json', covariance: new Array<number>(DELAY_PARTS ** 2).fill(0) };
  }
  return { model: assumedFor(vehicle), from: 'assumed', covariance: apart(ASSUMED_DEVIATION) };
};

/** The delay of trims: the gas on its way, and the loop's answer in place of the sensor's lag. */
export const delayOfTrims = (vehicle: Vehicle): Placing => {
  const [cycles, gas, , latency] = ASSUMED_DEVIATION;
  return {
    model: { ...assumedFor(vehicle), lagS: TRIM_LAG_S },
    from: 'assumed',
    covariance: apart([cycles, gas, TRIM_LAG_DEVIATION, latency]),
  };
};

/** Covariance of parts that are uncertain each by itself. */
const apart = (deviations: readonly number[]): number[] =>
  deviations.flatMap((each, at) => deviations.map((_, other) => (at === other ? each ** 2 : 0)));

/** Flow (g/s) and speed at the middle of what was driven, or at a row. */
export interface Usual {
  readonly flow: number;
  readonly rpm: number;
}

/** Some of the rows at which the engine was driven. */
interface Driven {
  readonly flow: Float64Array;
  readonly rpm: Float64Array;
}

const driven = ({ timeS, exhaustGPerS, rpm }: Track): Driven => {
  const stride = Math.max(1, timeS.length >> 11),
    most = Math.ceil(timeS.length / stride),
    flows = roomFor(most),
    speeds = roomFor(most);
  let count = 0;
  for (let row = 0; row < timeS.length; row += stride) {
    if (!(exhaustGPerS[row] > 0.3) || (rpm && rpm[row] < 400)) continue;
    flows[count] = exhaustGPerS[row];
    speeds[count++] = rpm ? rpm[row] : 2500;
  }
  return { flow: flows.subarray(0, count), rpm: speeds.subarray(0, count) };
};

const middleOf = ({ flow, rpm }: Driven): Usual => ({ flow: medianOf(flow), rpm: medianOf(rpm) });

export const typical = (track: Track): Usual => middleOf(driven(track));

/** Median of the whole delay, seconds. */
const medianDelayS = (model: DelayModel, { flow, rpm }: Driven): number => {
  const delays = roomFor(rpm.length);
  for (let at = 0; at < delays.length; at++) delays[at] = wholeDelayS(model, flow[at], rpm[at]);
  return medianOf(delays);
};

/** The speeds at the places `[from, to)` in the order of the flow (`sorted`); of equal flows the earlier row comes first. */
const speedsAt = ({ flow, rpm }: Driven, sorted: Float64Array, from: number, to: number): Float64Array => {
  const speeds = roomFor(to - from).fill(0),
    low = sorted[from],
    high = sorted[to - 1];
  let [lowAt, highAt] = [from, to - 1];
  while (lowAt > 0 && sorted[lowAt - 1] === low) lowAt--;
  while (highAt > 0 && sorted[highAt - 1] === high) highAt--;
  let count = 0;
  for (let at = 0; at < flow.length; at++) {
    const here = flow[at];
    if (
      here < low ||
      here > high ||
      (here === low && lowAt++ < from) ||
      (here === high && low !== high && highAt++ >= to) ||
      (low === high && count === speeds.length)
    )
      continue;
    speeds[count++] = rpm[at];
  }
  return speeds;
};

/** Where the whole delay moved by less than this, or is told to this (standard deviation), no better table tells more of it. */
const SETTLED_S = 0.01;
const WELL_TOLD_S = 0.022;

/** Whether the whole delay of two answers lies further apart than what the model's own shape leaves open. */
export const hasMoved = ({ flow, rpm }: Usual, before: Placing, now: Placing): boolean =>
  Math.abs(wholeDelayS(now.model, flow, rpm) - wholeDelayS(before.model, flow, rpm)) > MODEL_DEVIATION_S;

/** Whether a later answer on the delay is the last that is worth asking for. */
export const isSettled = ({ flow, rpm }: Usual, before: Placing, now: Placing): boolean =>
  Math.abs(wholeDelayS(now.model, flow, rpm) - wholeDelayS(before.model, flow, rpm)) < SETTLED_S ||
  deviationAt(now, flow, rpm) < WELL_TOLD_S;

/**
 * Points of `byFlow` stand so close (ln of the flow) that a straight line between two keeps within a few per cent of a part that goes with
 * one over flow.
 */
const POINT_STEP = 0.4;
const MOST_STEPS = 12;

/**
 * When within its row a channel was asked, a log does not tell: all its readings are shifted alike, by anything up to a row, however well
 * they agree.
 */
const usualStepS = (timeS: Float64Array): number => {
  const stride = Math.max(1, timeS.length >> 11),
    steps = roomFor(Math.ceil((timeS.length - 1) / stride));
  for (let at = 0, row = 1; at < steps.length; at++, row += stride) steps[at] = timeS[row] - timeS[row - 1];
  return steps.length ? medianOf(steps) : 0;
};

export const describe = (track: Track, placing: Placing): Delay => {
  const { model } = placing,
    rows = driven(track),
    { flow, rpm } = middleOf(rows),
    sorted = rows.flow.slice().sort(),
    count = sorted.length;
  const byFlow: [number, number][] = [],
    rpmAt: number[] = [];
  if (count >= 40) {
    const flowOf = (share: number): number => sorted[Math.floor(share * (count - 1))];
    const least = flowOf(0.05),
      range = Math.log(flowOf(0.95) / least),
      half = count >> 5;
    const steps = Math.min(MOST_STEPS, Math.ceil(range / POINT_STEP));
    for (let step = 0, at = 0; step <= steps; step++) {
      const here = least * Math.exp((step / Math.max(1, steps)) * range);
      while (at < count - 1 && sorted[at] < here) at++;
      // At one flow the delay only falls with the speed.
      const speed = medianOf(speedsAt(rows, sorted, Math.max(0, at - half), Math.min(count, at + half + 1)));
      byFlow.push([here / EXHAUST_OVER_AIR, wholeDelayS(model, here, speed)]);
      rpmAt.push(speed);
    }
  }
  const rowS = placing.from === 'log' ? Math.hypot(usualStepS(track.timeS) / Math.sqrt(12), track.unseenS) : 0,
    deviationS = Math.hypot(deviationAt(placing, flow, rpm), rowS);
  const medianS = count ? medianDelayS(model, rows) : model.kind === 'stated' ? delayAlongS(model.byFlow, flow || 0) : NaN;
  const fit =
    placing.from === 'log' && model.kind === 'physical'
      ? {
          cycles: model.cycles,
          gasG: model.gasG,
          lagS: model.lagS,
          latencyS: model.latencyS,
          covariance: placing.covariance,
          rowS,
          flowGPerS: flow,
          rpm,
          rpmAt,
        }
      : undefined;
  return { ...placing, deviationS: Number.isFinite(deviationS) ? deviationS : 0.1, medianS, byFlow, fit };
};
