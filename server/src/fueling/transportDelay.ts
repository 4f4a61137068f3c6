// How long ago the mixture that the sensor shows was injected: an engine-cycle part, a gas part that goes with one over flow, and the
// sensor's own lag (structure: Guzzella and Onder, Introduction to Modeling and Control of Internal Combustion Engine Systems).

import type { Vehicle } from '../formats/vehicle.js';
import { lagged, sampleAt } from './filters.js';
import { medianOf } from './statistics.js';
import { reasonIndex, type Track } from './track.js';

export type DelayModel = PhysicalDelay | StatedDelay;

export interface PhysicalDelay {
  readonly kind: 'physical';
  /** Engine cycles from injection to the open exhaust valve; a cycle lasts 120/rpm seconds. */
  readonly cycles: number;
  /** Mass of gas between valve and sensor, g: it has left once as much exhaust has followed. */
  readonly gasG: number;
  /** Time constant of the sensor's first-order lag. */
  readonly lagS: number;
}

/** From the vehicle file: the whole delay, by exhaust flow (ascending); one point holds everywhere. */
export interface StatedDelay {
  readonly kind: 'stated';
  readonly byFlow: readonly (readonly [flowGPerS: number, seconds: number])[];
  readonly lagS: 0;
}

export interface Delay {
  readonly model: DelayModel;
  readonly from: 'log' | 'vehicle.json' | 'assumed';
  /** Standard deviation of the whole delay at the session's median flow, seconds. */
  readonly deviationS: number;
  /** Whole delay (cycle, gas and lag) at the session's median flow. */
  readonly medianS: number;
  /** Whole delay over the range of exhaust flow that was driven. */
  readonly byFlow: readonly (readonly [flowGPerS: number, seconds: number])[];
  /** Share of the charge's change that the fuel film keeps back while it grows, as found beside the delay. */
  readonly filmShare: number;
}

/** Said where the log does not tell: one cycle, 1.5 L of exhaust at 500 °C up to the sensor (101 kPa), a wideband in gas flow. Reference figures. */
export const ASSUMED_DELAY: PhysicalDelay = { kind: 'physical', cycles: 1, gasG: 0.68, lagS: 0.05 };
/** Share of the fuel that first wets the wall, and how long it stays (Aquino's film, as Guzzella and Onder have it; orders of magnitude, from memory). */
const ASSUMED_FILM = { share: 0.1, staysS: 0.4 } as const;
/** How far the assumed figures may be off (standard deviation): cycles, ln gas, ln lag, film share, ln film time. Orders of magnitude, no source. */
const PRIOR_DEVIATION = [0.15, 0.7, 0.6, 0.15, 0.5] as const;
/** How the parameters are stepped to see what each does. */
const STEPS = [0.02, 0.03, 0.05, 0.01, 0.05] as const;
const LONGEST_S = 2.5;
const GAP_S = 1;

const physical = (parameters: readonly number[]): PhysicalDelay => ({ kind: 'physical', cycles: parameters[0], gasG: Math.exp(parameters[1]), lagS: Math.exp(parameters[2]) });

/** The whole delay at one steady flow and speed, seconds. */
export const wholeDelayS = (model: DelayModel, flowGPerS: number, rpm: number): number =>
  model.kind === 'stated' ? statedS(model.byFlow, flowGPerS) : Math.min(model.cycles * 120 / rpm + model.gasG / flowGPerS + model.lagS, LONGEST_S);

const statedS = (points: StatedDelay['byFlow'], flowGPerS: number): number => {
  const next = points.findIndex(([flow]) => flow >= flowGPerS);
  if (next === 0 || points.length === 1) return points[0][1];
  if (next < 0) return points[points.length - 1][1];
  const [[f0, s0], [f1, s1]] = [points[next - 1], points[next]];
  return s0 + (s1 - s0) * (flowGPerS - f0) / (f1 - f0);
};

/** Mass of exhaust that has passed by each row, g. */
export const passedG = (track: Pick<Track, 'timeS' | 'exhaustGPerS'>): Float64Array => {
  const { exhaustGPerS, timeS } = track;
  const sum = new Float64Array(timeS.length);
  let flow = 0;
  for (let row = 0; row < sum.length; row++) {
    const before = flow;
    if (exhaustGPerS[row] >= 0) flow = exhaustGPerS[row];
    if (row > 0) sum[row] = sum[row - 1] + Math.max(0, Math.min(timeS[row] - timeS[row - 1], GAP_S)) * (before + flow) / 2;
  }
  return sum;
};

/**
 * When the mixture read at each of the rows (ascending) was injected, as a fractional row; NaN before the log's start or across a hole.
 * The sensor's lag is not in it: it is laid on what is compared (`lagged`). `from`: earliest row that belongs to each reading's stretch.
 */
export const injectedAt = (track: Pick<Track, 'timeS' | 'rpm' | 'exhaustGPerS'>, rows: Int32Array, model: DelayModel, passed: Float64Array, from?: Int32Array): Float64Array => {
  const { timeS, rpm, exhaustGPerS } = track;
  const result = new Float64Array(rows.length);
  let gasRow = 0;
  let fuelRow = 0;
  for (let index = 0; index < rows.length; index++) {
    const row = rows[index];
    const first = from ? from[index] : 0;
    if (gasRow < first) gasRow = first;
    if (fuelRow < first) fuelRow = first;
    let injectedS: number;
    if (model.kind === 'stated') injectedS = timeS[row] - statedS(model.byFlow, exhaustGPerS[row]);
    else {
      const left = passed[row] - model.gasG;
      if (left < passed[first]) { result[index] = NaN; continue; }
      while (gasRow < row && passed[gasRow + 1] <= left) gasRow++;
      const step = passed[gasRow + 1] - passed[gasRow];
      const valveS = timeS[gasRow] + (step > 0 ? (left - passed[gasRow]) / step : 0) * (timeS[gasRow + 1] - timeS[gasRow]);
      const speed = rpm ? rpm[gasRow] : 2500;
      injectedS = valveS - model.cycles * (speed > 400 ? 120 / speed : 0.3);
    }
    if (!(injectedS >= timeS[first]) || timeS[row] - injectedS > LONGEST_S) { result[index] = NaN; continue; }
    if (timeS[fuelRow] > injectedS) while (fuelRow > first && timeS[fuelRow] > injectedS) fuelRow--;
    while (fuelRow < row && timeS[fuelRow + 1] <= injectedS) fuelRow++;
    const stepS = timeS[fuelRow + 1] - timeS[fuelRow];
    result[index] = fuelRow >= row ? row : stepS > GAP_S ? NaN : fuelRow + (injectedS - timeS[fuelRow]) / stepS;
  }
  return result;
};

/** The vehicle file's own word on the delay, or the stated model where it says to estimate but the log does not tell. */
export const givenDelay = (vehicle: Vehicle, track: Track): Delay => {
  const stated = vehicle.lambdaSensor.transportDelay;
  if (typeof stated === 'number' || Array.isArray(stated) && stated.length > 0) {
    const byFlow = typeof stated === 'number' ? [[0, stated] as const] : [...stated as StatedDelay['byFlow']].sort((a, b) => a[0] - b[0]);
    return describe(track, { kind: 'stated', byFlow, lagS: 0 }, 'vehicle.json', 0, 0);
  }
  const { flow, rpm } = typical(track);
  const { gasG, lagS } = ASSUMED_DELAY;
  const deviationS = Math.hypot(PRIOR_DEVIATION[0] * 120 / rpm, PRIOR_DEVIATION[1] * gasG / flow, PRIOR_DEVIATION[2] * lagS);
  return describe(track, ASSUMED_DELAY, 'assumed', Number.isFinite(deviationS) ? deviationS : 0.1, 0);
};

const driven = (track: Track): number[] => {
  const rows: number[] = [];
  for (let row = 0; row < track.timeS.length; row += Math.max(1, track.timeS.length >> 11)) if (track.exhaustGPerS[row] > 0.3 && !(track.rpm && track.rpm[row] < 400)) rows.push(row);
  return rows;
};

const typical = (track: Track): { flow: number; rpm: number } => {
  const rows = driven(track);
  return { flow: medianOf(rows.map((row) => track.exhaustGPerS[row])), rpm: track.rpm ? medianOf(rows.map((row) => track.rpm![row])) : 2500 };
};

const describe = (track: Track, model: DelayModel, from: Delay['from'], deviationS: number, filmShare: number): Delay => {
  const rows = driven(track).sort((a, b) => track.exhaustGPerS[a] - track.exhaustGPerS[b]);
  const delayAt = (row: number): number => wholeDelayS(model, track.exhaustGPerS[row], track.rpm ? track.rpm[row] : 2500);
  const byFlow: [number, number][] = [];
  const shares = [0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95];
  if (rows.length >= 40) {
    for (const share of shares) {
      const middle = Math.floor(share * (rows.length - 1));
      const near = rows.slice(Math.max(0, middle - (rows.length >> 5)), middle + (rows.length >> 5) + 1);
      const point: [number, number] = [medianOf(near.map((row) => track.exhaustGPerS[row])), medianOf(near.map(delayAt))];
      if (!byFlow.some(([flow]) => Math.abs(flow / point[0] - 1) < 0.05)) byFlow.push(point);
    }
  }
  const { flow } = typical(track);
  const medianS = rows.length ? medianOf(rows.map(delayAt)) : model.kind === 'stated' ? statedS(model.byFlow, flow || 0) : NaN;
  return { model, from, deviationS, medianS, byFlow, filmShare };
};

/** Stretches of the log in which the mixture moved, cut out and laid end to end: what was injected, and what was then read. */
interface Comparison {
  readonly timeS: Float64Array;
  /** The mixture (φ, fuel over what is needed) as the table and the evidence so far say it was injected. */
  readonly injected: Float64Array;
  readonly exhaustGPerS: Float64Array;
  readonly rpm: Float64Array | undefined;
  readonly passed: Float64Array;
  /** Rows (of the columns above) of the readings compared, window after window, ascending; and the first row of the window's stretch. */
  readonly rows: Int32Array;
  readonly from: Int32Array;
  readonly measured: Float64Array;
  /** First reading of each window, and the end. */
  readonly starts: readonly number[];
  /** Whether a window holds the edge of a fuel cut; the level of the others is not compared. */
  readonly edge: readonly boolean[];
  readonly leanest: number;
}

const WINDOW_S = 3;
/** What a window's first reading may still show was injected up to this long before. */
const LEAD_S = 3;
/** Windows are taken from slow, middling and fast flow alike, those that move most. */
const FLOW_CLASSES = 4;
const WINDOWS_A_CLASS = 8;
const READINGS_A_WINDOW = 40;
/** The mixture must have moved by this much (standard deviation of φ) in a window for its timing to show. */
const LEAST_MOVE = 0.004;
/** Readings compared are limited to here (φ 0.65 is λ 1.54), or short of where this sensor stops. */
const LEANEST_PHI = 0.65;
const SHORT_OF_END = 0.97;

/**
 * Finds delay and lag from the log: what was injected, shifted and lagged, must move as lambda does. `lnRequired`: ln of the value the
 * table should have had at each row, as far as known; `start`: an earlier answer. Undefined where too little moved to tell.
 */
export const estimateDelay = (track: Track, lnRequired: Float64Array, start?: Delay): Delay | undefined => {
  const comparison = compared(track, lnRequired);
  if (!comparison) return undefined;
  const prior = [ASSUMED_DELAY.cycles, Math.log(ASSUMED_DELAY.gasG), Math.log(ASSUMED_DELAY.lagS), ASSUMED_FILM.share, Math.log(ASSUMED_FILM.staysS)];
  const residuals = (parameters: readonly number[]): Float64Array => residualsOf(comparison, parameters);
  if (start?.from === 'log' && start.model.kind === 'physical') {
    const { cycles, gasG, lagS } = start.model;
    return refine(track, [cycles, Math.log(gasG), Math.log(lagS), start.filmShare, prior[4]], prior, residuals);
  }
  let best = prior;
  let leastCost = Infinity;
  for (const gasFactor of [0.2, 0.4, 0.7, 1, 1.5, 2.2, 3.5]) {
    for (const lagFactor of [0.4, 1, 2.5]) {
      const guess = [prior[0], prior[1] + Math.log(gasFactor), prior[2] + Math.log(lagFactor), prior[3], prior[4]];
      const cost = meanAbsolute(residuals(guess));
      if (cost < leastCost) [best, leastCost] = [guess, cost];
    }
  }
  return refine(track, best, prior, residuals);
};

const refine = (track: Track, start: readonly number[], prior: readonly number[], residuals: (parameters: readonly number[]) => Float64Array): Delay | undefined => {
  const count = prior.length;
  let at = [...start];
  let rest = residuals(at);
  let normal: number[][] = [];
  let damping = 0.01;
  let scale = Math.max(1.4826 * medianAbsolute(rest), 1e-4);
  let share = independence(rest);
  const costOf = (values: Float64Array, parameters: readonly number[]): number => {
    let sum = 0;
    for (const value of values) if (!Number.isNaN(value)) sum += pseudoHuber(value / scale);
    return share * sum + parameters.reduce((total, parameter, index) => total + ((parameter - prior[index]) / PRIOR_DEVIATION[index]) ** 2, 0);
  };
  for (let round = 0; round < 12; round++) {
    scale = Math.max(1.4826 * medianAbsolute(rest), 1e-4);
    share = independence(rest);
    const worth = share / scale ** 2;
    const slopes = STEPS.map((step, index) => {
      const there = residuals(at.map((value, other) => (other === index ? value + step : value)));
      return there.map((value, sample) => (value - rest[sample]) / step);
    });
    normal = Array.from({ length: count }, (_, i) => Array.from({ length: count }, (__, j) => (i === j ? PRIOR_DEVIATION[i] ** -2 : 0)));
    const gradient = at.map((value, i) => (value - prior[i]) * PRIOR_DEVIATION[i] ** -2);
    for (let sample = 0; sample < rest.length; sample++) {
      const value = rest[sample];
      if (Number.isNaN(value)) continue;
      const weight = worth / Math.sqrt(1 + (value / (HUBER * scale)) ** 2);
      for (let i = 0; i < count; i++) {
        const slope = slopes[i][sample];
        if (Number.isNaN(slope)) continue;
        gradient[i] += weight * slope * value;
        for (let j = 0; j <= i; j++) if (!Number.isNaN(slopes[j][sample])) normal[i][j] += weight * slope * slopes[j][sample];
      }
    }
    for (let i = 0; i < count; i++) for (let j = 0; j < i; j++) normal[j][i] = normal[i][j];
    const cost = costOf(rest, at);
    let moved = 0;
    for (let attempt = 0; attempt < 6; attempt++) {
      const change = solveSmall(normal.map((row, i) => row.map((value, j) => (i === j ? value * (1 + damping) : value))), gradient);
      const next = at.map((value, i) => value - Math.max(-0.5, Math.min(0.5, change[i])));
      next[0] = Math.max(0.3, Math.min(2.5, next[0]));
      next[2] = Math.max(Math.log(0.003), Math.min(Math.log(0.5), next[2]));
      const there = residuals(next);
      if (costOf(there, next) <= cost) {
        moved = Math.max(...next.map((value, i) => Math.abs(value - at[i]) / PRIOR_DEVIATION[i]));
        [at, rest, damping] = [next, there, damping / 3];
        break;
      }
      damping *= 5;
    }
    if (moved < 0.03) break;
  }
  const model = physical(at);
  const { flow, rpm } = typical(track);
  const sensitivity = [120 / rpm, model.gasG / flow, model.lagS, 0, 0];
  const deviationS = Math.sqrt(Math.max(0, sensitivity.reduce((sum, value, i) => sum + value * solveSmall(normal, sensitivity)[i], 0)));
  const before = Math.hypot(...sensitivity.map((value, i) => value * PRIOR_DEVIATION[i]));
  if (!(deviationS < 0.5 * before) || !(deviationS < 0.05)) return undefined;
  return describe(track, model, 'log', Math.hypot(deviationS, MODEL_DEVIATION_S), at[3]);
};

/** What the model's own shape leaves open, whatever the fit says: mixing on the way, the wall's film. Found by simulation. */
const MODEL_DEVIATION_S = 0.01;
const HUBER = 1.5;
const pseudoHuber = (z: number): number => 2 * HUBER ** 2 * (Math.sqrt(1 + (z / HUBER) ** 2) - 1);

const meanAbsolute = (values: Float64Array): number => {
  let [sum, count] = [0, 0];
  for (const value of values) if (value === value) { sum += Math.abs(value); count++; }
  return count > 0 ? sum / count : Infinity;
};

const medianAbsolute = (values: Float64Array): number => {
  const numbers = new Float64Array(values.length);
  let count = 0;
  for (const value of values) if (value === value) numbers[count++] = Math.abs(value);
  numbers.subarray(0, count).sort();
  return count ? numbers[count >> 1] : Infinity;
};

/** Share of the samples that counts as independent, from how alike neighbours' residuals are. */
const independence = (values: Float64Array): number => {
  let [product, square] = [0, 0];
  for (let at = 1; at < values.length; at++) {
    if (Number.isNaN(values[at] + values[at - 1])) continue;
    product += values[at] * values[at - 1];
    square += values[at] ** 2;
  }
  const r = square > 0 ? Math.max(0, Math.min(0.95, product / square)) : 0;
  return (1 - r) / (1 + r);
};

const residualsOf = (comparison: Comparison, parameters: readonly number[]): Float64Array => {
  const model = physical(parameters);
  const { timeS, rows, measured, starts, edge, passed, from, leanest } = comparison;
  const mixture = lagged(burnt(comparison, parameters[3], Math.exp(parameters[4])), timeS, model.lagS);
  const at = injectedAt(comparison, rows, model, passed, from);
  const residuals = new Float64Array(rows.length);
  for (let window = 0; window + 1 < starts.length; window++) {
    let [sum, count] = [0, 0];
    for (let index = starts[window]; index < starts[window + 1]; index++) {
      const rest = measured[index] - Math.max(leanest, sampleAt(mixture, at[index]));
      residuals[index] = rest;
      if (!Number.isNaN(rest)) { sum += rest; count++; }
    }
    if (!edge[window]) for (let index = starts[window]; index < starts[window + 1]; index++) residuals[index] -= sum / count;
  }
  return residuals;
};

/** What burns of what is injected: the wall keeps a share of any growth of the fuel's flow until its film has grown too. */
const burnt = ({ timeS, injected, exhaustGPerS }: Comparison, share: number, staysS: number): Float64Array => {
  const flow = new Float64Array(injected.length);
  for (let row = 0; row < flow.length; row++) flow[row] = injected[row] * exhaustGPerS[row];
  const settled = lagged(flow, timeS, staysS);
  for (let row = 0; row < flow.length; row++) flow[row] = injected[row] - share * (flow[row] - settled[row]) / Math.max(exhaustGPerS[row], 0.1);
  return flow;
};

/** Where only the throttle tells of the overrun, the cut may have begun earlier than it looks. */
const BLIND_BEFORE_S = 0.7;
/** Behind a cut the wall is dry; behind a change of load the controller's own enrichment, which no channel tells, runs out. */
const BLIND_AFTER_CUT_S = 1;
const BLIND_AFTER_CHANGE_S = 0.6;
/** An edge is a cut that lasts, told exactly, some time after the last one. */
const EDGE_LASTS_S = 0.4;
const EDGE_BEFORE_S = 1;
const EDGE_AFTER_S = 1;
/** What the sensor shows while the cut is still on its way is what was burnt before it. */
const EDGE_SHOWN_S = 0.06;
const MOST_EDGES = 24;
/** Behind a cut the wall's film goes on evaporating, uncompensated: about this share at first. Order of magnitude, from memory. */
const CUT_VAPOUR_SHARE = 0.2;

/** The mixture injected at each row; NaN where the controller or the wall does what no channel tells. */
const injectedMixture = ({ commanded, timeS, cut, reason }: Track, lnRequired: Float64Array): Float64Array => {
  const size = timeS.length;
  const [overrun, engineOff, transient] = [reasonIndex('overrun'), reasonIndex('engine-off'), reasonIndex('transient')];
  const injected = new Float64Array(size);
  let untilS = -Infinity;
  for (let row = 0; row < size; row++) {
    if (cut?.[row] || reason[row] === overrun) untilS = Math.max(untilS, timeS[row] + BLIND_AFTER_CUT_S);
    else if (reason[row] === transient) untilS = Math.max(untilS, timeS[row] + BLIND_AFTER_CHANGE_S);
    injected[row] = timeS[row] <= untilS || reason[row] === engineOff ? NaN : Math.exp(commanded[row] - lnRequired[row]);
  }
  for (let row = size - 1, edgeS = Infinity; row >= 0; row--) {
    if (reason[row] === overrun) edgeS = timeS[row];
    else if (edgeS - timeS[row] < BLIND_BEFORE_S) injected[row] = NaN;
  }
  return injected;
};

interface Window { readonly from: number; readonly to: number; readonly edge: boolean }

/**
 * The cuts' edges: before each the mixture is what the sensor still shows at that moment, behind it none. Writes both into `injected`, which
 * holds nothing else there, and returns the readings to compare.
 */
const edgesOf = ({ timeS, cut, readings }: Track, injected: Float64Array, leanest: number): Window[] => {
  const edges: Window[] = [];
  if (!cut) return edges;
  let lastCutS = -Infinity;
  let reading = 0;
  for (let row = 1; row < cut.length && edges.length < MOST_EDGES; row++) {
    if (cut[row] && !cut[row - 1] && timeS[row] - lastCutS > EDGE_BEFORE_S) {
      let end = row;
      while (end < cut.length && cut[end] && timeS[end] - timeS[row] < EDGE_AFTER_S) end++;
      while (reading < readings.row.length && timeS[readings.row[reading]] < timeS[row] - EDGE_SHOWN_S) reading++;
      let [sum, count, to] = [0, 0, reading];
      for (; to < readings.row.length && readings.row[to] < end; to++) {
        const phi = Math.exp(-readings.lnShown[to]);
        if (timeS[readings.row[to]] <= timeS[row] + EDGE_SHOWN_S && phi > 0) { sum += phi; count++; }
        if (count > 0 && phi < leanest && timeS[readings.row[to]] > timeS[row] + EDGE_SHOWN_S) { to = Math.min(to + 2, readings.row.length); break; }
      }
      const shown = sum / count;
      if (timeS[end - 1] - timeS[row] > EDGE_LASTS_S && count > 0 && shown > leanest + 0.1 && to - reading >= 3) {
        for (let back = row - 1; back >= 0 && timeS[row] - timeS[back] < EDGE_BEFORE_S + LONGEST_S; back--) injected[back] = shown;
        for (let ahead = row; ahead < end; ahead++) injected[ahead] = shown * CUT_VAPOUR_SHARE * Math.exp((timeS[row] - timeS[ahead]) / ASSUMED_FILM.staysS);
        edges.push({ from: reading, to, edge: true });
      }
    }
    if (cut[row]) lastCutS = timeS[row];
  }
  return edges;
};

const compared = (track: Track, lnRequired: Float64Array): Comparison | undefined => {
  const { timeS, readings, exhaustGPerS, rpm } = track;
  if (readings.kind !== 'lambda') return undefined;
  const injected = injectedMixture(track, lnRequired);
  const windows: (Window & { move: number; flow: number })[] = [];
  let first = 0;
  for (let index = 1; index <= readings.row.length; index++) {
    const gap = index === readings.row.length || timeS[readings.row[index]] - timeS[readings.row[index - 1]] > GAP_S;
    if (!gap && timeS[readings.row[index]] - timeS[readings.row[first]] < WINDOW_S) continue;
    const move = index - first >= 8 ? moveOf(injected, readings.row, first, index) : 0;
    if (move > LEAST_MOVE) windows.push({ from: first, to: index, edge: false, move, flow: exhaustGPerS[readings.row[(first + index) >> 1]] });
    first = index;
  }
  windows.sort((a, b) => a.flow - b.flow);
  const chosen = Array.from({ length: FLOW_CLASSES }, (_, each) => windows
    .slice(Math.floor(each * windows.length / FLOW_CLASSES), Math.floor((each + 1) * windows.length / FLOW_CLASSES))
    .sort((a, b) => b.move - a.move).slice(0, WINDOWS_A_CLASS)).flat();
  const edgeMixture = injected.slice();
  const leanest = Math.max(LEANEST_PHI, 1 / (SHORT_OF_END * leanestShown(readings.lnShown)));
  const edges = edgesOf(track, edgeMixture, leanest);
  if (chosen.length + edges.length < 4) return undefined;
  return cutOut(track, injected, edgeMixture, [...chosen, ...edges].sort((a, b) => a.from - b.from), rpm, leanest);
};

const cutOut = (
  { timeS, exhaustGPerS, readings }: Track, injected: Float64Array, edgeMixture: Float64Array, chosen: readonly Window[], rpm: Float64Array | undefined, leanest: number,
): Comparison => {
  const source: number[] = [];
  const mixture: number[] = [];
  const rows: number[] = [];
  const from: number[] = [];
  const measured: number[] = [];
  const starts = [0];
  for (const window of chosen) {
    const start = source.length;
    let row = readings.row[window.from];
    while (row > 0 && timeS[row - 1] > timeS[readings.row[window.from]] - LEAD_S) row--;
    const stride = Math.max(1, Math.ceil((window.to - window.from) / READINGS_A_WINDOW));
    for (let index = window.from; index < window.to; index += stride) {
      while (row <= readings.row[index]) {
        mixture.push((window.edge ? edgeMixture : injected)[row]);
        source.push(row++);
      }
      rows.push(source.length - 1);
      from.push(start);
      measured.push(Math.max(leanest, Math.exp(-(window.edge ? readings.lnShown : readings.lnLambda)[index])));
    }
    starts.push(rows.length);
  }
  const column = (values: Float64Array): Float64Array => Float64Array.from(source, (row) => values[row]);
  const stretch = { timeS: column(timeS), exhaustGPerS: column(exhaustGPerS) };
  return {
    ...stretch, injected: Float64Array.from(mixture), edge: chosen.map(({ edge }) => edge), rpm: rpm && column(rpm), passed: passedG(stretch),
    rows: Int32Array.from(rows), from: Int32Array.from(from), measured: Float64Array.from(measured), starts, leanest,
  };
};

const leanestShown = (lnShown: Float64Array): number => {
  let most = 0;
  for (const value of lnShown) if (value > most) most = value;
  return Math.exp(most);
};

const moveOf = (injected: Float64Array, rows: Int32Array, from: number, to: number): number => {
  let [sum, square, count] = [0, 0, 0];
  for (let index = from; index < to; index++) {
    const value = injected[rows[index]];
    if (Number.isNaN(value)) continue;
    const limited = Math.max(LEANEST_PHI, value);
    sum += limited;
    square += limited ** 2;
    count++;
  }
  return count > (to - from) / 2 ? Math.sqrt(Math.max(0, square / count - (sum / count) ** 2)) : 0;
};

/** Gaussian elimination with pivots, for a handful of unknowns. */
const solveSmall = (matrix: readonly (readonly number[])[], right: readonly number[]): number[] => {
  const rows = matrix.map((row, i) => [...row, right[i]]);
  const size = rows.length;
  for (let i = 0; i < size; i++) {
    const pivot = rows.slice(i).reduce((most, row, at) => (Math.abs(row[i]) > Math.abs(rows[most][i]) ? at + i : most), i);
    [rows[i], rows[pivot]] = [rows[pivot], rows[i]];
    for (let j = i + 1; j < size; j++) {
      const factor = rows[j][i] / rows[i][i];
      for (let k = i; k <= size; k++) rows[j][k] -= factor * rows[i][k];
    }
  }
  const x = new Array<number>(size).fill(0);
  for (let i = size - 1; i >= 0; i--) {
    let sum = rows[i][size];
    for (let k = i + 1; k < size; k++) sum -= rows[i][k] * x[k];
    x[i] = sum / rows[i][i];
  }
  return x;
};
