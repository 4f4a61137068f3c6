// What the injector's pulse tells that the table does not: enrichment, film compensation and cuts, as fuel over what table and trims ask
// for.

import { droopOf } from '../../signals/droop.js';
import type { Signals } from '../../signals/signals.js';
import { betweenCycles, betweenFresh, freshRows, freshRowsOfMost, isOncePerCycle } from './rhythm.js';
import { roomFor } from '../room.js';
import { medianOf } from '../solution/statistics.js';

/** Dead times that injectors have, ms. Common practice, no source. */
const MOST_DEAD_TIME_MS = 2.5;
const LEAST_ROWS = 200;
const MOST_ROWS = 1000;
/** A pulse read less often than this misses what it is asked for: it is over within a few tenths of a second. */
const MOST_STEP_S = 0.1;
/** Behind an air meter also the manifold's filling must be seen, over in less than a tenth. */
const MOST_STEP_BEHIND_METER_S = 0.05;
/**
 * In steady running the pulse follows the table to this (median of the distances), or it is another table's, or the rail's pressure is not
 * held.
 */
const MOST_DISTANCE = 0.02;
const ROUNDS = 8;

/**
 * ln of the fuel that the pulse passes over the fuel that table, target and trims ask for, per row, up to a constant; -Infinity where the
 * pulse passes none. Undefined where no pulse is logged often enough, or it does not follow the table. `lnAsked`: ln of the fuel a cylinder
 * is asked to get in a cycle, up to a constant; `reason`: 0 in the steady rows, by which the injector's line (dead time and slope) is
 * drawn; `deadTimeMs`: if it is known;
 * `behindMeter`: whether an air meter asks.
 */
export const meteredOver = (
  signals: Signals,
  lnAsked: Float64Array,
  reason: Uint8Array,
  deadTimeMs?: number,
  behindMeter = false,
): Float64Array | undefined => {
  const held = signals.held('injector-pulse-width');
  const { timeS } = signals;
  if (!held) return undefined;
  const fresh = freshRowsOfMost(held)?.length ?? signals.channel('injector-pulse-width')!.filled;
  if (!((timeS[timeS.length - 1] - timeS[0]) / fresh < (behindMeter ? MOST_STEP_BEHIND_METER_S : MOST_STEP_S))) return undefined;
  const rpm = signals.held('engine-speed');
  const pulseMs =
    rpm && !freshRows(held) && isOncePerCycle(held, lnAsked, timeS, rpm) ? betweenCycles(held, timeS, rpm) : betweenFresh(held, timeS);
  const rows = steadyRows(pulseMs, lnAsked, reason),
    count = rows.length;
  if (count < LEAST_ROWS) return undefined;
  const stride = Math.ceil(count / MOST_ROWS),
    used = Math.ceil(count / stride);
  const asked = strided(lnAsked, rows, stride, used);
  const middle = medianOf(asked);
  const line = lineThrough(over(asked, middle), strided(pulseMs, rows, stride, used), deadTimeMs);
  if (!(line.slope > 0) || !(line.distance < MOST_DISTANCE)) return undefined;
  return overAsked(pulseMs, lnAsked, middle, line);
};

/** What a logarithm stands for, in terms of another's. */
const over = (ln: Float64Array, middle: number): Float64Array => {
  const all = roomFor(ln.length);
  for (let at = 0; at < all.length; at++) all[at] = Math.exp(ln[at] - middle);
  return all;
};

const steadyRows = (pulseMs: Float64Array, lnAsked: Float64Array, reason: Uint8Array): Int32Array => {
  const rows = new Int32Array(pulseMs.length);
  let count = 0;
  for (let row = 0; row < pulseMs.length; row++)
    if (pulseMs[row] > 0 && lnAsked[row] - lnAsked[row] === 0 && reason[row] === 0) rows[count++] = row;
  return rows.subarray(0, count);
};

const strided = (values: Float64Array, rows: Int32Array, stride: number, count: number): Float64Array => {
  const some = roomFor(count);
  for (let at = 0; at < count; at++) some[at] = values[rows[at * stride]];
  return some;
};

const overAsked = (
  pulseMs: Float64Array,
  lnAsked: Float64Array,
  middle: number,
  { dead, slope }: { readonly dead: number; readonly slope: number },
): Float64Array => {
  const over = roomFor(pulseMs.length);
  for (let row = 0; row < over.length; row++) {
    const pulse = pulseMs[row];
    if (pulse > dead) over[row] = Math.log((pulse - dead) / slope) - (lnAsked[row] - middle);
    else over[row] = pulse <= dead ? -Infinity : NaN;
  }
  return over;
};

/**
 * ln of the flow through an open injector, up to a constant: it goes with the root of the pressure over it (Bernoulli). A rail that follows
 * the manifold follows it late, so that a tip-in gets less than its pulse says. Undefined where the rail is not logged or does not follow.
 */
export const overInjector = (signals: Signals): Float64Array | undefined => {
  const [rail, manifold] = [signals.held('fuel-pressure'), signals.held('manifold-pressure')];
  if (!rail || !manifold || !droopOf(signals)?.referenced) return undefined;
  return lnThrough(rail, signals.barometer.kPa, manifold);
};

const lnThrough = (rail: Float64Array, kPa: number, manifold: Float64Array): Float64Array => {
  const flow = roomFor(rail.length);
  for (let row = 0; row < flow.length; row++) flow[row] = 0.5 * Math.log(rail[row] + kPa - manifold[row]);
  return flow;
};

/**
 * pulse = dead + slope × asked, by least squares of the shares, far ones counting less (reweighted, Cauchy's weights); `distance`: median
 * share off it.
 */
const lineThrough = (
  asked: Float64Array,
  pulses: Float64Array,
  deadTimeMs: number | undefined,
): { dead: number; slope: number; distance: number } => {
  const weights = roomFor(asked.length).fill(1),
    off = roomFor(asked.length);
  let [dead, slope, distance] = [deadTimeMs ?? 0, 0, Infinity];
  for (let round = 0; round < ROUNDS; round++) {
    let [s, sx, sy, sxx, sxy] = [0, 0, 0, 0, 0];
    for (let at = 0; at < asked.length; at++) {
      const weight = weights[at] / asked[at];
      s += weight;
      sx += weight * asked[at];
      sy += weight * pulses[at];
      sxx += weight * asked[at] ** 2;
      sxy += weight * asked[at] * pulses[at];
    }
    if (deadTimeMs === undefined) {
      const determinant = s * sxx - sx ** 2;
      dead = determinant > 1e-3 * s * sxx ? Math.max(0, Math.min(MOST_DEAD_TIME_MS, (sxx * sy - sx * sxy) / determinant)) : 0;
    }
    slope = (sxy - dead * sx) / sxx;
    for (let at = 0; at < off.length; at++) off[at] = Math.abs((pulses[at] - dead) / (slope * asked[at]) - 1);
    distance = medianOf(off);
    const scale = Math.max(0.003, 1.4826 * distance);
    for (let at = 0; at < off.length; at++) weights[at] = 1 / (1 + (off[at] / (2 * scale)) ** 2);
  }
  return { dead, slope, distance };
};
