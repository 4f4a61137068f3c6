// Runs laid over each other: against engine speed, or against time from where they are aligned, with the difference of their lambda.

import type { NumberTable } from '../../protocol/numberTables.js';
import { RUN_TIME, type Alignment } from '../../protocol/trace.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { decimate, POINTS_PER_BUCKET, pyramidOf } from '../../signals/columns/pyramid.js';
import type { Signals, Span } from '../../signals/signals.js';
import { sampleAtTime } from '../../signals/columns/spans.js';
import type { Sweep } from '../../signals/drive/sweeps.js';
import { traceColumns } from './traceColumns.js';

/**
 * The samples of a run, with what is shown around it and what its lambda is read behind: plain data. `from`, `to`: where the run lies among
 * them; `delaysS`: one transport delay a sample.
 */
export interface Run extends Span {
  readonly direction: Sweep['direction'];
  readonly timeS: Float64Array;
  readonly rpm: Float64Array | undefined;
  readonly delaysS: Float64Array;
  /** By the channel's name, of those that are asked for and lambda. */
  readonly columns: ReadonlyMap<string, { readonly quantity: QuantityId | undefined; readonly values: Float64Array }>;
}

/** `run`: by its place in the summary's list; `delaysS`: one a sample of the session. */
export interface RunQuestion {
  readonly run: number;
  readonly channels: readonly string[];
  readonly delaysS: Float64Array;
}

/** Undefined where the session has no such run. */
export function runOf(signals: Signals, { run, channels, delaysS }: RunQuestion): Run | undefined {
  const columns = traceColumns(signals),
    sweep = signals.session.samples > 0 ? columns.sweeps[run] : undefined;
  if (!sweep) return undefined;
  const { timeS } = signals,
    { from, to, direction } = sweep;
  const longestS = delaysS.subarray(from, to).reduce((most, delayS) => (delayS > most ? delayS : most), AROUND_S);
  const first = sampleAtTime(timeS, timeS[from] - AROUND_S),
    last = Math.min(timeS.length, sampleAtTime(timeS, timeS[to - 1] + longestS) + 1);
  const part = (values: Float64Array): Float64Array => values.slice(first, last),
    rpm = signals.held('engine-speed');
  return {
    direction,
    from: from - first,
    to: to - first,
    timeS: part(timeS),
    rpm: rpm && part(rpm),
    delaysS: part(delaysS),
    columns: new Map(
      [...new Set([...channels, 'lambda'])].flatMap((id) => {
        const column = columns.find(id);
        return column ? [[id, { quantity: column.channel.quantity, values: part(column.values) }] as const] : [];
      }),
    ),
  };
}

export interface RunsOptions {
  readonly channels: readonly string[];
  readonly against: 'speed' | 'seconds';
  readonly align: Alignment;
  readonly alignRpm: number;
  readonly pixels: number;
}

/** What of a run tells its engine speed. */
type Matched = Pick<Run, 'timeS' | 'rpm' | 'from' | 'to'>;

export interface OverlaidRuns {
  readonly tables: readonly NumberTable[];
  readonly offsetsS: readonly number[];
}

const NOTHING: NumberTable = { x: new Float64Array(), columns: [] };
/** Shown before and behind a run against time, seconds. */
const AROUND_S = 1;
/** Points of a line of differences. */
const DIFFERENCE_POINTS = 400;

/** One table a run, then the lambda of each but the first less that of the first. Undefined runs give empty tables. */
export function overlayRuns(runs: readonly (Run | undefined)[], options: RunsOptions): OverlaidRuns {
  const first = runs.find((run) => run !== undefined);
  const offsetsS = runs.map((run) => (run && first && options.against === 'seconds' ? offsetOf(run, first, options) : 0));
  const each = Math.max(64, Math.floor((options.pixels * 2) / Math.max(1, runs.length)) * 2);
  const tables = runs.map((run, i) => (run ? lineOf(run, options, offsetsS[i], each) : NOTHING));
  const lambdas = runs.map((run, i) => run && curveOf(run, options.against, offsetsS[i]));
  const differences = lambdas.slice(1).map((curve) => (curve && lambdas[0] ? differenceOf(curve, lambdas[0]) : NOTHING));
  return { tables: [...tables, ...differences], offsetsS };
}

/** The values of a span against x, at most `most` points. */
function lineOf(run: Run, { channels, against }: RunsOptions, offsetS: number, most: number): NumberTable {
  const { timeS, columns } = run;
  const span: Span =
    against === 'speed'
      ? run
      : {
          from: sampleAtTime(timeS, timeS[run.from] - AROUND_S),
          to: Math.min(timeS.length, sampleAtTime(timeS, timeS[run.to - 1] + AROUND_S) + 1),
        };
  const x = against === 'speed' ? risingSpeed(run) : Float64Array.from(timeS.subarray(span.from, span.to), (at) => at - offsetS);
  if (!x) return NOTHING;
  let values = channels.map((id) =>
    id === RUN_TIME
      ? timeS.slice(span.from, span.to).map((at) => at - timeS[run.from])
      : against === 'speed'
        ? fuelledThen(run, columns.get(id))
        : columns.get(id)?.values.subarray(span.from, span.to),
  );
  if (against === 'speed' && run.direction === 'down') values = values.map((column) => column?.slice().reverse());
  strictlyRising(x);
  if (x.length <= most)
    return { x, columns: values.map((column) => (column ? Float32Array.from(column) : new Float32Array(x.length).fill(NaN))) };

  const buckets = Math.floor(most / POINTS_PER_BUCKET);
  const edges = Int32Array.from({ length: buckets + 1 }, (_, k) => Math.round((k * x.length) / buckets));
  const points = new Float64Array(buckets * POINTS_PER_BUCKET);
  for (let k = 0; k < buckets; k++) {
    const last = edges[k + 1] - 1;
    for (let n = 0; n < POINTS_PER_BUCKET; n++)
      points[k * POINTS_PER_BUCKET + n] = x[edges[k]] + (n / (POINTS_PER_BUCKET - 1)) * (x[last] - x[edges[k]]);
  }
  strictlyRising(points);
  return {
    x: points,
    columns: values.map((column) => (column ? decimate(pyramidOf(column), edges) : new Float32Array(points.length).fill(NaN))),
  };
}

/** Engine speed of a sweep made to rise (a falling one turned round): the highest so far, so that every sample keeps a place of its own. */
function risingSpeed({ rpm: all, from, to, direction }: Run): Float64Array | undefined {
  const rpm = all?.slice(from, to);
  if (!rpm) return undefined;
  if (direction === 'down') rpm.reverse();
  let highest = rpm.find((value) => value === value) ?? 0;
  return rpm.map((value) => (highest = value > highest ? value : highest));
}

function strictlyRising(x: Float64Array): void {
  for (let i = 1; i < x.length; i++) if (!(x[i] > x[i - 1])) x[i] = x[i - 1] + Math.max(1e-9, Math.abs(x[i - 1]) * 1e-12);
}

/** A column over a span; lambda is taken when it was read, a transport delay after the sample that it speaks of. */
function fuelledThen(
  { timeS, delaysS, from, to }: Run,
  column: { readonly quantity: QuantityId | undefined; readonly values: Float64Array } | undefined,
): Float64Array | undefined {
  if (!column) return undefined;
  const { quantity } = column;
  if (quantity !== 'lambda' && quantity !== 'lambda-2') return column.values.subarray(from, to);
  return Float64Array.from({ length: to - from }, (_, k) => {
    const delayS = delaysS[from + k];
    return column.values[delayS > 0 ? Math.min(timeS.length - 1, sampleAtTime(timeS, timeS[from + k] + delayS)) : from + k];
  });
}

/** The time that stands at zero. */
function offsetOf(run: Run, first: Run, { align, alignRpm }: RunsOptions): number {
  const startS = run.timeS[run.from];
  if (align === 'speed') return crossingS(run, alignRpm) ?? startS;
  if (align === 'match' && run !== first) return startS - bestLagS(first, run);
  return startS;
}

/** When the run passes an engine speed; undefined where it does not. */
function crossingS({ timeS, rpm, from, to, direction }: Run, rpmWanted: number): number | undefined {
  if (!rpm) return undefined;
  const sign = direction === 'up' ? 1 : -1;
  for (let i = from + 1; i < to; i++) {
    const before = (rpm[i - 1] - rpmWanted) * sign,
      now = (rpm[i] - rpmWanted) * sign;
    if (before <= 0 && now > 0) return timeS[i - 1] + (timeS[i] - timeS[i - 1]) * (before / (before - now));
  }
  return undefined;
}

const MATCH_STEP_S = 0.02;

/**
 * How many seconds after the first run's start the other's start must lie for their engine speeds to match best (least mean square, half of
 * the shorter in common).
 */
export function bestLagS(first: Matched, other: Matched): number {
  const a = evenSpeed(first),
    b = evenSpeed(other);
  const least = Math.max(2, Math.floor(Math.min(a.length, b.length) / 2));
  const errorAt = (lag: number): number => {
    let sum = 0,
      count = 0;
    for (let i = Math.max(0, lag); i < Math.min(a.length, b.length + lag); i++) {
      const off = a[i] - b[i - lag];
      if (off === off) {
        sum += off * off;
        count++;
      }
    }
    return count >= least ? sum / count : Infinity;
  };
  let best = 0;
  for (let lag = least - b.length; lag <= a.length - least; lag++) if (errorAt(lag) < errorAt(best)) best = lag;
  // The bottom of a parabola through the best lag and its neighbours.
  const [left, middle, right] = [errorAt(best - 1), errorAt(best), errorAt(best + 1)];
  const bend = left - 2 * middle + right;
  const part = Number.isFinite(bend) && bend > 0 ? (left - right) / (2 * bend) : 0;
  return (best + part) * MATCH_STEP_S;
}

function evenSpeed({ timeS, rpm: all, from, to }: Matched): Float64Array {
  const rpm = all!;
  const count = Math.max(2, Math.min(20_000, Math.floor((timeS[to - 1] - timeS[from]) / MATCH_STEP_S)));
  let at = from;
  return Float64Array.from({ length: count }, (_, k) => {
    const when = timeS[from] + k * MATCH_STEP_S;
    while (at + 1 < to - 1 && timeS[at + 1] <= when) at++;
    const part = (when - timeS[at]) / (timeS[at + 1] - timeS[at] || 1);
    return rpm[at] + Math.min(1, Math.max(0, part)) * (rpm[at + 1] - rpm[at]);
  });
}

interface Curve {
  readonly x: Float64Array;
  readonly values: Float64Array;
}

/** Lambda of a run; undefined without. */
function curveOf(run: Run, against: RunsOptions['against'], offsetS: number): Curve | undefined {
  if (!run.columns.has('lambda')) return undefined;
  const { x, columns } = lineOf(run, { channels: ['lambda'], against, align: 'start', alignRpm: 0, pixels: 0 }, offsetS, Infinity);
  return { x, values: Float64Array.from(columns[0] ?? []) };
}

function differenceOf(curve: Curve, first: Curve): NumberTable {
  const low = Math.max(curve.x[0], first.x[0]),
    high = Math.min(curve.x[curve.x.length - 1], first.x[first.x.length - 1]);
  if (!(low < high)) return NOTHING;
  const x = Float64Array.from({ length: DIFFERENCE_POINTS }, (_, k) => low + (k / (DIFFERENCE_POINTS - 1)) * (high - low));
  const a = alongX(curve, x),
    b = alongX(first, x);
  return { x, columns: [Float32Array.from(a, (value, i) => value - b[i])] };
}

function alongX({ x, values }: Curve, wanted: Float64Array): Float64Array {
  let at = 0;
  return wanted.map((place) => {
    while (at + 2 < x.length && x[at + 1] <= place) at++;
    return values[at] + ((place - x[at]) / (x[at + 1] - x[at])) * (values[at + 1] - values[at]);
  });
}
