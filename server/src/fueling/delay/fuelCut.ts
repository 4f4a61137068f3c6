// When the engine ran without fuel: by a channel that tells the moment, and by readings that nothing else explains.

import { limitOf } from '../../formats/limits.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { limiterRpm } from '../../signals/drive/limiter.js';
import type { Signals } from '../../signals/signals.js';
import { spansOf, widened } from '../../signals/columns/spans.js';
import { greatestOf } from '../../signals/columns/statistics.js';
import { mark, RUNNING_RPM } from '../doubts/leftOut.js';
import type { Readings } from '../readings.js';
import { freshRowsOfMost, nearestReading } from './rhythm.js';

/** 1 while no fuel is injected, from a channel that tells the moment exactly. */
export const fuelCut = (signals: Signals, rpm: Float64Array | undefined): Uint8Array | undefined => {
  // A flag that speaks of a cut while a mixture goes by tells nothing.
  const channel = signals.channel('fuel-cut'),
    flag =
      channel && signals.faultsOf(channel, 'implausible').some(({ shape }) => shape === 'burnt-cut') ? undefined : signals.held('fuel-cut');
  if (!flag && !rpm) return undefined;
  const injected = answered(signals, 'injector-pulse-width') ?? answered(signals, 'injector-duty');
  if (!flag && !injected) return undefined;
  return flag ? isAbove(nearestReading(flag, channel!.values, signals.timeS), 0.5) : nothingInjected(injected!, rpm!);
};

/**
 * Whether a flag of the cut that stands in every row may be old: where the log repeats its engine speed between readings it repeats the
 * flag as well, and a switch has no rhythm by which its readings are known. It then tells that there was a cut, and not when it began.
 */
export const cutIsOld = (signals: Signals): boolean => {
  const flag = signals.channel('fuel-cut'),
    speed = signals.channel('engine-speed');
  return (
    flag !== undefined &&
    speed !== undefined &&
    flag.filled > FILLED_SHARE * flag.values.length &&
    (freshRowsOfMost(speed.values)?.length ?? Infinity) < OLD_SHARE * speed.values.length
  );
};
const FILLED_SHARE = 0.9;
/** A log of which more rows are new is late by less than a row, which is what a cut's beginning is in doubt by in any log. */
const OLD_SHARE = 0.6;

/**
 * A channel that was asked for and never answered tells nothing, nor do injectors without which the engine ran on: a second set of them.
 * Where it pulled without them all along it ran on another fuel, which is no evidence on a table of theirs.
 */
const answered = (signals: Signals, quantity: QuantityId): Float64Array | undefined => {
  const channel = signals.channel(quantity);
  if (!channel || !(greatestOf(channel.values) > 0)) return undefined;
  const values = signals.held(quantity)!;
  // A cut in an overrun is none of these, and whether a channel is stuck is dear to find.
  const shut = shutBut(values, signals.during('overrun'), signals.during('engine-off'));
  const set = signals.vehicle.limits,
    leastS = Math.min(limitOf('stuckS', set).value, limitOf('stillWhileDrivenS', set).value);
  if (spansOf(shut, signals.timeS, { recordings: signals.recordings, leastS }).length === 0) return values;
  const unused = signals.faultsOf(channel, 'stuck').filter(({ value }) => value <= 0),
    isPulled = unused.some(({ from, to }) => signals.pulls.some((pull) => from <= pull.from && pull.to <= to));
  return unused.length > 0 && !isPulled ? undefined : values;
};

const shutBut = (values: Float64Array, overrun: Uint8Array, off: Uint8Array): Uint8Array => {
  const is = new Uint8Array(values.length);
  for (let row = 0; row < is.length; row++) if (values[row] <= 0 && overrun[row] === 0 && off[row] === 0) is[row] = 1;
  return is;
};

const isAbove = (values: Float64Array, limit: number): Uint8Array => {
  const is = new Uint8Array(values.length);
  for (let row = 0; row < is.length; row++) is[row] = values[row] > limit ? 1 : 0;
  return is;
};

const nothingInjected = (injected: Float64Array, rpm: Float64Array): Uint8Array => {
  const is = new Uint8Array(injected.length);
  for (let row = 0; row < is.length; row++) is[row] = injected[row] <= 0 && rpm[row] > 2 * RUNNING_RPM ? 1 : 0;
  return is;
};

/** Leaner than any table error at light load and speed: a fuel cut that no channel tells of. Common practice, no source. */
const CUT_LAMBDA_OVER_TARGET = 1.28;
const CUT_LOAD_SHARE = 0.45;
const CUT_BEFORE_S = 0.7;
/** At the limiter that the vehicle file states, fuel is cut at full load too; it comes back so far below it. Common practice, no source. */
const LIMITER_SHARE = 0.95;

/** Behind a gear shift under power its cut passes the sensor for so long at most. Common practice, no source. */
const SHIFT_PASSES_S = 0.5;

/** Leaves out the rows round readings that only a fuel cut explains. */
export const markLooksCut = (
  reason: Uint8Array,
  signals: Signals,
  { row: rows, lnLambda }: Readings,
  target: Float64Array,
  lnTarget: Float64Array,
  rpm: Float64Array | undefined,
  manifoldKPa: Float64Array | undefined,
): void => {
  const load = manifoldKPa ? undefined : (signals.held('engine-load') ?? signals.held('throttle'));
  const lightLoad = manifoldKPa ? CUT_LOAD_SHARE * signals.barometer.kPa : 30;
  const { timeS } = signals,
    shifting = widened(signals.during('gear-shift'), timeS, 0, SHIFT_PASSES_S);
  const limit = Math.log(CUT_LAMBDA_OVER_TARGET),
    cutsFromRpm = LIMITER_SHARE * (limiterRpm(signals) ?? Infinity);
  let told = -1;
  for (let index = 0; index < rows.length; index++) {
    const row = rows[index];
    if (!(lnLambda[index] - (target[row] > 0 ? lnTarget[row] : 0) > limit) || (rpm && !(rpm[row] > 1100))) continue;
    const here = (manifoldKPa ?? load)?.[row];
    if (here !== undefined && !(here < lightLoad) && !(rpm && rpm[row] > cutsFromRpm) && shifting[row] === 0) continue;
    let from = row;
    while (from > told + 1 && timeS[from - 1] > timeS[row] - CUT_BEFORE_S) from--;
    for (; from <= row; from++) mark(reason, from, 'overrun');
    told = row;
  }
};
