// A session as the fuel table sees it: at every row where the engine stood in the table, what fuel was commanded there, and whether to look.

import { limitOf } from '../formats/limits.js';
import type { Table } from '../formats/table.js';
import { distressOf } from '../signals/distress.js';
import { limiterRpm } from '../signals/limiter.js';
import type { Signals } from '../signals/signals.js';
import { passedG } from './delayModel.js';
import type { LeftOut, SessionWeight } from './evidence.js';
import { whileLeaking } from './leaking.js';
import { asksThrottle, exhaustFlow, leavesOf } from './exhaustFlow.js';
import { lagged, notYetFollowed } from './filters.js';
import { beyondAxis, fuellingOf, gridOf, positionOn, sameGrid, stepOf, valueAt, type Grid } from './grid.js';
import { asFilm, drawnFlow, lnFilling } from './manifold.js';
import { meteredOver, overInjector } from './metered.js';
import { missingSpells } from './missing.js';
import { believed, closedLoop, lambdaReadings, lnTrims, trimReadings, wantedApart, type Readings } from './readings.js';
import { betweenReadings, nearestReading } from './rhythm.js';
import { copyOf, roomFor } from './room.js';
import { sumOf } from './statistics.js';

/** Reasons in the order in which they count: the first that applies is the one told. Index 0 is evidence. */
export const REASONS: readonly (LeftOut | undefined)[] = [
  undefined, 'engine-off', 'sensor-mount', 'no-lambda', 'no-target', 'closed-loop-unknown', 'sensor-fault', 'cold-engine', 'overrun', 'after-fuel-cut',
  'outside-axes', 'misfire', 'banks-apart', 'knock', 'fuel-pressure', 'injector-duty', 'hot-air', 'transient', 'delay-unproven',
];
const PLACES = new Map(REASONS.map((reason, index) => [reason, index]));
export const reasonIndex = (reason: LeftOut): number => PLACES.get(reason)!;

export interface Track {
  readonly grid: Grid;
  readonly timeS: Float64Array;
  /** Operating point per row, counted in breakpoints (`positionOn`). */
  readonly columnPosition: Float64Array;
  readonly rowPosition: Float64Array;
  /** ln(value of the table logged with × (1 + trims) / target lambda), dead time taken off: plus a reading it is what the value should have been. */
  readonly commanded: Float64Array;
  readonly target: Float64Array;
  readonly lnTarget: Float64Array;
  /** ln of the target over the last one read, where it is read more seldom than rows are: somewhere between them it moved. */
  readonly targetMoved: Float64Array | undefined;
  readonly rpm: Float64Array | undefined;
  readonly exhaustGPerS: Float64Array;
  /** Mass of exhaust that has passed by each row, g. */
  readonly passed: Float64Array;
  /** The flow as it is metered: another behind an air meter, where the manifold fills first. */
  readonly meteredGPerS: Float64Array;
  /** Share of the fuel's flow by which a film on the intake wall still has to grow: what a wall that keeps a share s takes from the mixture is s × this. */
  readonly film: Float64Array;
  /** The same by the fuel of a cycle, as if the engine's speed had stood still; behind an air meter `asFilm` of the manifold's filling, which hides it. */
  readonly chargeFilm: Float64Array;
  readonly manifoldKPa: Float64Array | undefined;
  /** Fuel beyond what table and trims ask for that comes and goes (enrichment, film compensation), as ln; undefined where no pulse tells. */
  readonly unasked: Float64Array | undefined;
  /** ln of the fuel injected over the fuel `commanded`, by the injector's pulse, and whether the fuel goes with the charge; undefined where no pulse tells. */
  readonly metered: Float64Array | undefined;
  readonly chargeByPressure: boolean;
  /** Whether the table asks the pedal or the throttle, ahead of the charge. */
  readonly byThrottle: boolean;
  /** Whether the fuel goes with what an air meter sees, before the manifold. */
  readonly throughManifold: boolean;
  /** ln of the air drawn over the air metered, where a meter before the manifold asks for the fuel. */
  readonly filling: Float64Array | undefined;
  /** 1 while a channel says that no fuel is injected. Undefined where no channel tells the moment exactly. */
  readonly cut: Uint8Array | undefined;
  /** Per row at which the fuel was injected: index into REASONS. */
  readonly reason: Uint8Array;
  readonly readings: Readings;
  /** See `SessionWeight`. */
  readonly beyond: SessionWeight['beyond'];
  /** What was taken for granted, in plain words. */
  readonly assumed: readonly string[];
}

/** Behind a catalyst or out at the tailpipe, lambda is not what the engine burns. */
const isUpstream = (signals: Signals): boolean => (signals.vehicle.lambdaSensor.mount ?? 'upstream') === 'upstream';

/** Time in which the mixture settles after a change of load, seconds. Order of magnitude from the control literature, from memory. */
const SETTLES_S = 0.5;
/** What went before a recording is not known to have settled: the film's and the manifold's share of it is gone by then. */
const UNKNOWN_BEFORE_S = 2 * SETTLES_S;
/** How long the fuel film on the wall stays, seconds. */
const FILM_STAYS_S = 0.4;
/** A short-term trim answers through delay and integrator: charge must have stood still for longer. */
const TRIM_SETTLES_S = 1.5;
/** ln of the charge not yet settled beyond this is a transient (16 % a second, sustained). Common practice, no source. */
const UNSETTLED_LIMIT = 0.08;
const RPM_RATE_LIMIT_PER_S = 1500; // common practice, no source
const RPM_RATE_OVER_S = 0.15;
const AFTER_CUT_S = 0.5; // common practice, no source
const RUNNING_RPM = 300;
/**
 * Readings up to this share of a step beyond the axes still speak of the edge cell: the engine goes on changing where the table is held, by several
 * per cent a step, so that a tenth costs about as much as what a sensor repeats itself to.
 */
const BEYOND_LIMIT = 0.1;

const isBeyond = (axis: Float64Array, position: number, value: number): boolean => (position === 0 || position === axis.length - 1) && beyondAxis(axis, value) > BEYOND_LIMIT;

/** Leaves a row out for a reason, unless one that goes first does. */
const mark = (reason: Uint8Array, row: number, why: LeftOut): void => {
  const index = reasonIndex(why);
  if (reason[row] === 0 || index < reason[row]) reason[row] = index;
};

// What goes over all rows stands in small functions: each loop of a large one would have all of it compiled anew.

const markDuring = (reason: Uint8Array, on: Uint8Array, why: LeftOut, is = true): void => {
  for (let row = 0; row < reason.length; row++) if ((on[row] !== 0) === is) mark(reason, row, why);
};

const markUnknown = (reason: Uint8Array, values: Float64Array, why: LeftOut): void => {
  for (let row = 0; row < reason.length; row++) if (values[row] !== values[row]) mark(reason, row, why);
};

const markBelow = (reason: Uint8Array, values: Float64Array, least: number, why: LeftOut): void => {
  for (let row = 0; row < reason.length; row++) if (values[row] < least) mark(reason, row, why);
};

const markMoving = (reason: Uint8Array, change: Float64Array, most: number): void => {
  for (let row = 0; row < reason.length; row++) if (Math.abs(change[row]) > most) mark(reason, row, 'transient');
};

const markOutside = (reason: Uint8Array, axis: Float64Array, position: Float64Array, values: Float64Array): void => {
  for (let row = 0; row < reason.length; row++) if (isBeyond(axis, position[row], values[row])) mark(reason, row, 'outside-axes');
};

/** The greatest value of the running engine beyond the greatest breakpoint; nothing where there is none. */
const furthestBeyond = (axis: Float64Array, position: Float64Array, values: Float64Array | undefined, rpm: Float64Array | undefined): number | undefined => {
  let most = Math.max(axis[0], axis[axis.length - 1]);
  const end = most;
  if (values) for (let row = 0; row < values.length; row++) if (values[row] > most && isBeyond(axis, position[row], values[row]) && !(rpm && !(rpm[row] > RUNNING_RPM))) most = values[row];
  return most > end ? most : undefined;
};

const markCuts = (reason: Uint8Array, cut: Uint8Array | undefined, overrun: Uint8Array, timeS: Float64Array): void => {
  const overrunIndex = reasonIndex('overrun');
  let cutUntilS = -Infinity;
  for (let row = 0; row < reason.length; row++) {
    if (cut?.[row] || overrun[row] || reason[row] === overrunIndex) {
      mark(reason, row, 'overrun');
      cutUntilS = timeS[row];
    } else if (timeS[row] < cutUntilS + AFTER_CUT_S) mark(reason, row, 'after-fuel-cut');
  }
};

/** A table's values where the engine stood. */
const readAt = (values: Float64Array, grid: Grid, column: Float64Array, row: Float64Array): Float64Array => {
  const read = roomFor(column.length);
  for (let at = 0; at < read.length; at++) read[at] = valueAt(values, grid, column[at], row[at]);
  return read;
};

/** ln of a column that often stays as it is. */
const lnOfHeld = (values: Float64Array): Float64Array => {
  const ln = roomFor(values.length);
  for (let row = 0; row < ln.length; row++) ln[row] = row > 0 && values[row] === values[row - 1] ? ln[row - 1] : Math.log(values[row]);
  return ln;
};

/** ln of what is fuelled, trims in it and the target out. */
const commandedBy = (fuelled: Float64Array, trims: Float64Array | undefined, lnTarget: Float64Array): Float64Array => {
  const commanded = roomFor(fuelled.length);
  for (let row = 0; row < commanded.length; row++) commanded[row] = Math.log(fuelled[row]) + ((trims ? trims[row] : 0) - lnTarget[row]);
  return commanded;
};

/** A session laid over a table. `loggedWith` is the table that was in the engine computer; `deadTimeMs` is kept out of pulse widths; `between`: see `WeighOptions`. */
export const trackOf = (signals: Signals, table: Table, loggedWith: Table, deadTimeMs: number, between = (): void => undefined): Track => {
  const { timeS, vehicle } = signals;
  const size = timeS.length;
  const grid = gridOf(table);
  const assumed: string[] = [];
  const reason = new Uint8Array(size);
  const axisValues = (axis: Table['columns']): Float64Array | undefined => (axis.canonical.length > 1 && axis.quantity ? believed(signals, axis.quantity) : undefined);

  // What is first asked of a channel is whether it is to be believed: most of the work.
  const columns = axisValues(table.columns);
  between();
  const rows = axisValues(table.rows);
  between();
  const columnPosition = positions(grid.columns, columns, size);
  const rowPosition = positions(grid.rows, rows, size);
  markUnknown(reason, columnPosition, 'sensor-fault');
  markUnknown(reason, rowPosition, 'sensor-fault');
  if (columns) markOutside(reason, grid.columns, columnPosition, columns);
  if (rows) markOutside(reason, grid.rows, rowPosition, rows);

  const logGrid = gridOf(loggedWith);
  const shared = sameGrid(grid, logGrid) && loggedWith.columns.quantity === table.columns.quantity && loggedWith.rows.quantity === table.rows.quantity;
  const logColumn = shared ? columnPosition : positions(logGrid.columns, axisValues(loggedWith.columns), size);
  const logRow = shared ? rowPosition : positions(logGrid.rows, axisValues(loggedWith.rows), size);
  const fuelled = readAt(fuellingOf(loggedWith, deadTimeMs), logGrid, logColumn, logRow);

  const rpm = believed(signals, 'engine-speed');
  const manifoldKPa = believed(signals, 'manifold-pressure'), lnManifold = manifoldKPa && lnOf(manifoldKPa);
  between();
  const lambda = isUpstream(signals) ? lambdaReadings(signals) : undefined;
  between();
  const trimmed = lnTrims(signals, lambda?.banks ?? [1, 2]), trims = trimmed?.mean;
  between();
  const closed = lambda && signals.targetLambda ? undefined : closedLoop(signals);
  const readings = lambda?.readings ?? trimReadings(signals, trims);
  const logged = signals.targetLambda, own = logged?.from === 'channel' ? signals.channel('target-lambda') : undefined;
  const target = own ? betweenReadings(logged!.values, own.values, timeS) : logged?.values ?? new Float64Array(size).fill(closed ? 1 : NaN);
  if (!signals.targetLambda && closed) assumed.push('no target lambda is logged: where the trims move, the engine computer is taken to hold lambda 1.00');
  if (!lambda && trims) assumed.push('no lambda to be believed: the fuel trims alone are the evidence');

  const lnTarget = lnOfHeld(target), targetMoved = own && own.filled < size ? sumOf(lnTarget, lnOfHeld(logged!.values), -1) : undefined, commanded = lambda ? commandedBy(fuelled, trims, lnTarget) : lnOf(fuelled);

  between();
  const flow = exhaustFlow(signals, loggedWith, { fuelled, target, rpm, manifoldKPa }, assumed);
  const unsettled = notYetFollowed(lnManifold ?? lnCharge(signals, flow, rpm), timeS, readings?.kind === 'trims' ? TRIM_SETTLES_S : SETTLES_S);
  const rpmChange = rpm ? notYetFollowed(rpm, timeS, RPM_RATE_OVER_S) : undefined;
  for (const start of signals.session.recordingStarts) for (let row = start; row < size && timeS[row] - timeS[start] < UNKNOWN_BEFORE_S; row++) mark(reason, row, 'transient');
  markMoving(reason, unsettled, UNSETTLED_LIMIT);
  if (rpmChange) markMoving(reason, rpmChange, RPM_RATE_LIMIT_PER_S * RPM_RATE_OVER_S);
  if (!lambda && !trims) for (let row = 0; row < size; row++) mark(reason, row, isUpstream(signals) ? 'no-lambda' : 'sensor-mount');
  markUnknown(reason, target, 'no-target');
  if (closed) markDuring(reason, closed, lambda ? 'no-target' : isUpstream(signals) ? 'closed-loop-unknown' : 'sensor-mount', false);
  markUnknown(reason, commanded, 'sensor-fault');
  if (rpm) markBelow(reason, rpm, RUNNING_RPM, 'engine-off');

  markDuring(reason, signals.during('engine-off'), 'engine-off');
  markDuring(reason, signals.during('cranking'), 'engine-off');
  markDuring(reason, signals.during('gear-shift'), 'transient');
  between();
  const coolantC = signals.held('coolant-temperature');
  const warmC = limitOf('warmCoolantC', vehicle.limits).value;
  if (coolantC) markBelow(reason, coolantC, warmC, 'cold-engine');

  // What an engine in distress burns is not the table's word: the rows in which it is are no evidence, for more fuel or for less.
  for (const [why, spells] of distressOf(signals)) for (const { from, to } of spells) for (let row = from; row < to; row++) mark(reason, row, why);

  const cut = fuelCut(signals, rpm);
  const film = filmGrowth(timeS, flow, undefined, target, cut);
  const throughManifold = loggedWith.quantity === 'mass-air-flow' && rpm !== undefined;
  const byThrottle = asksThrottle(loggedWith), drawn = throughManifold || byThrottle && !manifoldKPa && rpm ? drawnFlow(flow, timeS, rpm) : flow, exhaustGPerS = leavesOf(signals, loggedWith, drawn, cut, manifoldKPa);
  const filling = throughManifold ? lnFilling(drawn, flow) : undefined;
  const chargeFilm = filling ? asFilm(filling) : rpm ? filmGrowth(timeS, flow, rpm, target, cut) : film;
  whileLeaking(signals, flow, (row) => mark(reason, row, 'sensor-fault'));
  const overrun = signals.during('overrun');
  if (lambda) looksCut(signals, lambda.readings, target, lnTarget, rpm, manifoldKPa, (row) => mark(reason, row, 'overrun'));
  markCuts(reason, cut, overrun, timeS);
  if (lambda) for (const [why, { from, to }] of missingSpells(signals, lambda.readings, target, reason)) for (let row = from; row < to; row++) mark(reason, row, why);

  between();
  const asked = lnAsked(loggedWith.quantity, commanded, lnTarget, lnManifold, rpm);
  const pulsed = asked && lambda && meteredOver(signals, asked, reason, loggedWith.quantity === 'injector-pulse-width' ? deadTimeMs : undefined, loggedWith.quantity === 'mass-air-flow');
  between();
  const rail = pulsed && overInjector(signals);
  between();
  const metered = pulsed && rail ? withRail(pulsed, passing(rail, timeS)) : pulsed;

  const beyondColumns = furthestBeyond(grid.columns, columnPosition, columns, rpm), beyondRows = furthestBeyond(grid.rows, rowPosition, rows, rpm);
  return {
    beyond: { ...beyondColumns === undefined ? {} : { columns: beyondColumns }, ...beyondRows === undefined ? {} : { rows: beyondRows } },
    grid, timeS, columnPosition, rowPosition, commanded, target, lnTarget, targetMoved, rpm, exhaustGPerS, passed: passedG({ timeS, exhaustGPerS }), meteredGPerS: flow, film, chargeFilm, manifoldKPa, metered, unasked: metered && passing(metered, timeS), chargeByPressure: loggedWith.quantity === 'volumetric-efficiency', byThrottle, throughManifold, filling, cut, reason, assumed,
    readings: readings ? { ...readings, bankSpread: wantedApart(readings, trimmed?.apart) } : { kind: 'lambda', row: new Int32Array(0), lnLambda: new Float64Array(0), lnShown: new Float64Array(0), bankSpread: undefined },
  };
};

/** ln of the fuel a cylinder is asked to get in a cycle, up to a constant and slow temperatures. */
const lnAsked = (quantity: Table['quantity'], commanded: Float64Array, lnTarget: Float64Array, lnManifold: Float64Array | undefined, rpm: Float64Array | undefined): Float64Array | undefined => {
  if (quantity === 'mass-air-flow') return rpm && sumOf(commanded, lnOf(rpm), -1);
  if (quantity === 'volumetric-efficiency') return lnManifold && sumOf(commanded, lnManifold, 1);
  return quantity === 'fuel-mass' || quantity === 'injector-pulse-width' ? sumOf(commanded, lnTarget, 1) : undefined;
};

const lnOf = (values: Float64Array): Float64Array => {
  const ln = roomFor(values.length);
  for (let row = 0; row < ln.length; row++) ln[row] = Math.log(values[row]);
  return ln;
};

/** The fuel by the pulse, with what the rail's pressure passes more or less; where it is not known, the pulse alone. */
const withRail = (pulsed: Float64Array, rail: Float64Array): Float64Array => {
  const all = copyOf(pulsed);
  for (let row = 0; row < all.length; row++) if (rail[row] === rail[row]) all[row] += rail[row];
  return all;
};

/** Against what the pulse settles to soon after: slower changes are the air's temperature and the rail's, which the table is not told of. */
const PASSES_S = 1.5;
const passing = (metered: Float64Array, timeS: Float64Array): Float64Array => {
  const known = copyOf(metered);
  for (let row = 0; row < known.length; row++) if (known[row] - known[row] !== 0) known[row] = NaN;
  return notYetFollowed(known, timeS, PASSES_S, true);
};

/** By what share of the fuel's flow (by each turn where `rpm` is given) the wall's film still has to grow. */
const filmGrowth = (timeS: Float64Array, gPerS: Float64Array, rpm: Float64Array | undefined, target: Float64Array, cut: Uint8Array | undefined): Float64Array => {
  const fuelFlow = roomFor(gPerS.length);
  for (let row = 0; row < fuelFlow.length; row++) fuelFlow[row] = cut?.[row] ? 0 : (rpm ? gPerS[row] / rpm[row] : gPerS[row]) / (target[row] > 0 ? target[row] : 1);
  const film = lagged(fuelFlow, timeS, FILM_STAYS_S);
  for (let row = 0; row < film.length; row++) film[row] = fuelFlow[row] > 0 ? Math.max(-1, 1 - film[row] / fuelFlow[row]) : 0;
  return film;
};

const positions = (axis: Float64Array, values: Float64Array | undefined, size: number): Float64Array => {
  const all = roomFor(size);
  if (axis.length < 2) return all.fill(0);
  if (!values) return all.fill(NaN);
  // Where the last value stood, the next one most often does.
  let low = 0, from = NaN, to = NaN;
  for (let row = 0; row < size; row++) {
    const value = values[row];
    if (from < value && value < to) { all[row] = low + (value - axis[low]) / (axis[low + 1] - axis[low]); continue; }
    all[row] = positionOn(axis, value);
    if (value === value) {
      low = stepOf(all[row], axis.length);
      [from, to] = axis[low] < axis[low + 1] ? [axis[low], axis[low + 1]] : [axis[low + 1], axis[low]];
    }
  }
  return all;
};

/** 1 while no fuel is injected, from a channel that tells the moment exactly. */
const fuelCut = (signals: Signals, rpm: Float64Array | undefined): Uint8Array | undefined => {
  const flag = signals.held('fuel-cut');
  if (!flag && !rpm) return undefined;
  const injected = signals.held('injector-pulse-width') ?? signals.held('injector-duty');
  if (!flag && !injected) return undefined;
  return flag ? isAbove(nearestReading(flag, signals.channel('fuel-cut')!.values, signals.timeS), 0.5) : nothingInjected(injected!, rpm!);
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

/** Tells the rows round readings that only a fuel cut explains. */
const looksCut = (
  signals: Signals, { row: rows, lnLambda }: Readings, target: Float64Array, lnTarget: Float64Array, rpm: Float64Array | undefined, manifoldKPa: Float64Array | undefined, tell: (row: number) => void,
): void => {
  const load = manifoldKPa ? undefined : signals.held('engine-load') ?? signals.held('throttle');
  const lightLoad = manifoldKPa ? CUT_LOAD_SHARE * signals.barometer.kPa : 30;
  const { timeS } = signals;
  const limit = Math.log(CUT_LAMBDA_OVER_TARGET), cutsFromRpm = LIMITER_SHARE * (limiterRpm(signals) ?? Infinity);
  let told = -1;
  for (let index = 0; index < rows.length; index++) {
    const row = rows[index];
    if (!(lnLambda[index] - (target[row] > 0 ? lnTarget[row] : 0) > limit) || rpm && !(rpm[row] > 1100)) continue;
    const here = (manifoldKPa ?? load)?.[row];
    if (here !== undefined && !(here < lightLoad) && !(rpm && rpm[row] > cutsFromRpm)) continue;
    let from = row;
    while (from > told + 1 && timeS[from - 1] > timeS[row] - CUT_BEFORE_S) from--;
    for (; from <= row; from++) tell(from);
    told = row;
  }
};

/** ln of what a cylinder takes in, up to a constant, where no manifold's pressure tells. */
const lnCharge = (signals: Signals, flowGPerS: Float64Array, rpm: Float64Array | undefined): Float64Array => {
  const logged = signals.channel('mass-air-flow') ?? signals.channel('mass-air-flow-signal');
  if (logged && rpm) return lnPerTurn(flowGPerS, rpm);
  const load = believed(signals, 'engine-load') ?? believed(signals, 'throttle') ?? believed(signals, 'pedal');
  return load ? load.map((value) => Math.log(Math.max(value, 5))) : new Float64Array(signals.timeS.length);
};

const lnPerTurn = (flowGPerS: Float64Array, rpm: Float64Array): Float64Array => {
  const charge = roomFor(flowGPerS.length);
  for (let row = 0; row < charge.length; row++) charge[row] = Math.log(flowGPerS[row] / rpm[row]);
  return charge;
};
