// A session as the fuel table sees it: at every row where the engine stood in the table, what fuel was commanded there, and whether to
// look.

import { limitOf } from '../formats/limits.js';
import type { Table } from '../formats/table/table.js';
import { distressOf } from '../signals/distress.js';
import { ofLaunch } from '../signals/drive/launch.js';
import type { QuantityId } from '../quantities/quantity.js';
import type { Signals } from '../signals/signals.js';
import type { SessionWeight } from './evidence.js';
import { markLeaking } from './doubts/leaking.js';
import { asksThrottle, exhaustFlow, leavesOf } from './delay/exhaustFlow.js';
import { lagged, notYetFollowed } from './delay/filters.js';
import { cutIsOld, fuelCut, markLooksCut } from './delay/fuelCut.js';
import { passedG } from './delay/gasPassed.js';
import { fuellingOf, gridOf, positionOn, sameGrid, stepOf, valueAt, type Grid } from './solution/grid.js';
import {
  isBeyond,
  mark,
  markBelow,
  markCuts,
  markDuring,
  markMoving,
  markOutside,
  markShortRests,
  markUnknown,
  markUnseen,
  RUNNING_RPM,
} from './doubts/leftOut.js';
import { asFilm, drawnFlow, lnFilling } from './delay/manifold.js';
import { meteredOver, overInjector } from './delay/metered.js';
import { missingSpells } from './doubts/missing.js';
import { believed, closedLoop, lambdaReadings, lnTrims, trimReadings, wantedApart, type Readings } from './readings.js';
import { betweenFresh, betweenReadings, freshRowsOfMost, unseenS } from './delay/rhythm.js';
import { copyOf, roomFor } from './room.js';
import { sumOf } from './solution/statistics.js';

export interface Track {
  readonly grid: Grid;
  readonly timeS: Float64Array;
  /** Operating point per row, counted in breakpoints (`positionOn`). */
  readonly columnPosition: Float64Array;
  readonly rowPosition: Float64Array;
  /**
   * ln(value of the table logged with × (1 + trims) / target lambda), dead time taken off: plus a reading it is what the value should have
   * been.
   */
  readonly commanded: Float64Array;
  readonly target: Float64Array;
  readonly lnTarget: Float64Array;
  /** ln of the target over the last one read, where it is read more seldom than rows are: somewhere between them it moved. */
  readonly targetMoved: Float64Array | undefined;
  readonly rpm: Float64Array | undefined;
  readonly exhaustGPerS: Float64Array;
  /** Exhaust that has passed by each row (`passedG`). */
  readonly passed: Float64Array;
  /** The flow as it is metered: another behind an air meter, where the manifold fills first. */
  readonly meteredGPerS: Float64Array;
  /**
   * Share of the fuel's flow by which a film on the intake wall still has to grow: what a wall that keeps a share s takes from the mixture
   * is s × this.
   */
  readonly film: Float64Array;
  /**
   * The same by the fuel of a cycle, as if the engine's speed had stood still; behind an air meter `asFilm` of the manifold's filling,
   * which hides it.
   */
  readonly chargeFilm: Float64Array;
  readonly manifoldKPa: Float64Array | undefined;
  /** Throttle or pedal, per cent. */
  readonly throttle: Float64Array | undefined;
  /**
   * Fuel beyond what table and trims ask for that comes and goes (enrichment, film compensation), as ln; undefined where no pulse tells.
   */
  readonly unasked: Float64Array | undefined;
  /**
   * ln of the fuel injected over the fuel `commanded`, by the injector's pulse, and whether the fuel goes with the charge; undefined where
   * no pulse tells.
   */
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
  /** Whether the cuts in it began earlier than they look (`cutIsOld`). */
  readonly cutIsOld: boolean;
  /** Per row at which the fuel was injected: index into REASONS. */
  readonly reason: Uint8Array;
  /** How far what moves the mixture may be off in time, where its readings are repeated (`unseenS`). */
  readonly unseenS: number;
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
/** The greatest value of the running engine beyond the greatest breakpoint; nothing where there is none. */
const furthestBeyond = (
  axis: Float64Array,
  position: Float64Array,
  values: Float64Array | undefined,
  rpm: Float64Array | undefined,
): number | undefined => {
  let most = Math.max(axis[0], axis[axis.length - 1]);
  const end = most;
  if (values)
    for (let row = 0; row < values.length; row++)
      if (values[row] > most && isBeyond(axis, position[row], values[row]) && !(rpm && !(rpm[row] > RUNNING_RPM))) most = values[row];
  return most > end ? most : undefined;
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

/**
 * A session laid over a table. `loggedWith` is the table that was in the engine computer; `deadTimeMs` is kept out of pulse widths;
 * `between`: see `WeighOptions`.
 */
export const trackOf = (signals: Signals, table: Table, loggedWith: Table, deadTimeMs: number, between = (): void => undefined): Track => {
  const { timeS, vehicle } = signals;
  const size = timeS.length;
  const grid = gridOf(table);
  const assumed: string[] = [];
  const reason = new Uint8Array(size);
  const axisValues = (axis: Table['columns']): Float64Array | undefined =>
    axis.canonical.length > 1 && axis.quantity ? believed(signals, axis.quantity) : undefined;

  // What is first asked of a channel is whether it is to be believed: most of the work.
  const columns = axisValues(table.columns);
  between();
  const rows = axisValues(table.rows);
  between();
  const columnPosition = positions(grid.columns, columns, size);
  const rowPosition = positions(grid.rows, rows, size);
  const unknown = (axis: Table['columns'], unlogged: 'columns-not-logged' | 'rows-not-logged') =>
    axis.quantity && signals.channel(axis.quantity)?.filled ? 'sensor-fault' : unlogged;
  markUnknown(reason, columnPosition, unknown(table.columns, 'columns-not-logged'));
  markUnknown(reason, rowPosition, unknown(table.rows, 'rows-not-logged'));
  if (columns) markOutside(reason, grid.columns, columnPosition, columns);
  if (rows) markOutside(reason, grid.rows, rowPosition, rows);

  const logGrid = gridOf(loggedWith);
  const shared =
    sameGrid(grid, logGrid) && loggedWith.columns.quantity === table.columns.quantity && loggedWith.rows.quantity === table.rows.quantity;
  const logColumn = shared ? columnPosition : positions(logGrid.columns, axisValues(loggedWith.columns), size);
  const logRow = shared ? rowPosition : positions(logGrid.rows, axisValues(loggedWith.rows), size);
  const fuelled = readAt(fuellingOf(loggedWith, deadTimeMs), logGrid, logColumn, logRow);

  const rpm = believed(signals, 'engine-speed');
  const manifoldKPa = believed(signals, 'manifold-pressure'),
    lnManifold = manifoldKPa && lnOf(manifoldKPa);
  between();
  const lambda = isUpstream(signals) ? lambdaReadings(signals) : undefined;
  between();
  const trimmed = lnTrims(signals, lambda?.banks ?? [1, 2]),
    trims = trimmed?.mean;
  between();
  const closed = lambda && signals.targetLambda ? undefined : closedLoop(signals);
  const readings = lambda?.readings ?? trimReadings(signals, trims);
  const logged = signals.targetLambda,
    own = logged?.from === 'channel' ? signals.channel('target-lambda') : undefined;
  const target = own
    ? betweenReadings(logged!.values, own.values, timeS)
    : (logged?.values ?? new Float64Array(size).fill(closed ? 1 : NaN));
  if (!signals.targetLambda && closed)
    assumed.push('no target lambda is logged: where the trims move, the engine computer is taken to hold lambda 1.00');
  if (!lambda && trims) assumed.push('no lambda to be believed: the fuel trims alone are the evidence');

  const lnTarget = lnOfHeld(target),
    targetMoved = own && own.filled < size ? sumOf(lnTarget, lnOfHeld(logged!.values), -1) : undefined,
    commanded = lambda ? commandedBy(fuelled, trims, lnTarget) : lnOf(fuelled);

  between();
  const flow = exhaustFlow(signals, loggedWith, { fuelled, target, rpm, manifoldKPa }, assumed);
  const charge = lnManifold ?? lnCharge(signals, flow, rpm),
    unsettled = notYetFollowed(charge, timeS, readings?.kind === 'trims' ? TRIM_SETTLES_S : SETTLES_S);
  const rpmChange = rpm ? notYetFollowed(rpm, timeS, RPM_RATE_OVER_S) : undefined;
  for (const start of signals.session.recordingStarts)
    for (let row = start; row < size && timeS[row] - timeS[start] < UNKNOWN_BEFORE_S; row++) mark(reason, row, 'transient');
  markMoving(reason, unsettled, UNSETTLED_LIMIT);
  markShortRests(reason, unsettled, UNSETTLED_LIMIT, timeS, SETTLES_S);
  if (rpmChange) markMoving(reason, rpmChange, RPM_RATE_LIMIT_PER_S * RPM_RATE_OVER_S);
  const fresh = (quantity: QuantityId): Int32Array | undefined => {
    const held = signals.held(quantity);
    return held && freshRowsOfMost(held);
  };
  const charged = fresh(lnManifold ? 'manifold-pressure' : signals.channel('mass-air-flow') ? 'mass-air-flow' : 'mass-air-flow-signal'),
    turned = fresh('engine-speed');
  markUnseen(reason, charged, charge, UNSETTLED_LIMIT);
  if (rpm) markUnseen(reason, turned, rpm, RPM_RATE_LIMIT_PER_S * RPM_RATE_OVER_S);
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
  for (const [why, spells] of distressOf(signals))
    for (const { from, to } of spells) for (let row = from; row < to; row++) mark(reason, row, why);

  const cut = fuelCut(signals, rpm);
  const film = filmGrowth(timeS, flow, undefined, target, cut);
  const throughManifold = loggedWith.quantity === 'mass-air-flow' && rpm !== undefined;
  const byThrottle = asksThrottle(loggedWith),
    drawn = throughManifold || (byThrottle && !manifoldKPa && rpm) ? drawnFlow(flow, timeS, rpm) : flow,
    exhaustGPerS = leavesOf(signals, loggedWith, drawn, cut, manifoldKPa);
  const filling = throughManifold ? lnFilling(drawn, flow) : undefined;
  const chargeFilm = filling ? asFilm(filling) : rpm ? filmGrowth(timeS, flow, rpm, target, cut) : film;
  markLeaking(reason, signals, flow);
  const overrun = signals.during('overrun');
  if (lambda) markLooksCut(reason, signals, lambda.readings, target, lnTarget, rpm, manifoldKPa);
  markCuts(reason, cut, overrun, timeS);
  markDuring(reason, ofLaunch(signals, false), 'launch');
  if (readings)
    for (const [why, { from, to }] of missingSpells(signals, readings, target, reason))
      for (let row = from; row < to; row++) mark(reason, row, why);

  between();
  const asked = lnAsked(loggedWith.quantity, commanded, lnTarget, lnManifold, rpm);
  const pulsed =
    asked &&
    lambda &&
    meteredOver(
      signals,
      asked,
      reason,
      loggedWith.quantity === 'injector-pulse-width' ? deadTimeMs : undefined,
      loggedWith.quantity === 'mass-air-flow',
    );
  between();
  const rail = pulsed && overInjector(signals);
  between();
  const metered = pulsed && rail ? withRail(pulsed, passing(rail, timeS)) : pulsed;

  const unseen = Math.max(unseenS(charged, timeS), unseenS(turned, timeS));
  const beyondColumns = furthestBeyond(grid.columns, columnPosition, columns, rpm),
    beyondRows = furthestBeyond(grid.rows, rowPosition, rows, rpm);
  return {
    beyond: {
      ...(beyondColumns === undefined ? {} : { columns: beyondColumns }),
      ...(beyondRows === undefined ? {} : { rows: beyondRows }),
    },
    grid,
    timeS,
    columnPosition,
    rowPosition,
    commanded,
    target,
    lnTarget,
    targetMoved,
    rpm,
    exhaustGPerS,
    passed: passedG({ timeS, exhaustGPerS }),
    meteredGPerS: flow,
    film,
    chargeFilm,
    manifoldKPa,
    throttle: openingOf(signals, unseen > 0),
    metered,
    unasked: metered && passing(metered, timeS),
    chargeByPressure: loggedWith.quantity === 'volumetric-efficiency',
    byThrottle,
    throughManifold,
    filling,
    cut,
    cutIsOld: cut !== undefined && cutIsOld(signals),
    reason,
    assumed,
    unseenS: unseen,
    readings: readings
      ? withTrims(readings, trimmed?.apart)
      : { kind: 'lambda', row: new Int32Array(0), lnLambda: new Float64Array(0), lnShown: new Float64Array(0), bankSpread: undefined },
  };
};

/** Throttle or pedal: the line between its readings is looked for, which takes its time, in a log that repeats those of others. */
const openingOf = (signals: Signals, repeats: boolean): Float64Array | undefined => {
  const held = signals.held('throttle') ?? signals.held('pedal');
  return held && repeats ? betweenFresh(held, signals.timeS) : held;
};

/** Written out, of one shape with all others: what is compiled for a spread's is let go with the last of them. */
const withTrims = (readings: Readings, trimsApart: Float64Array | undefined): Readings => {
  const { kind, row, lnLambda, lnShown } = readings;
  return { kind, row, lnLambda, lnShown, bankSpread: wantedApart(readings, trimsApart) };
};

/** ln of the fuel a cylinder is asked to get in a cycle, up to a constant and slow temperatures. */
const lnAsked = (
  quantity: Table['quantity'],
  commanded: Float64Array,
  lnTarget: Float64Array,
  lnManifold: Float64Array | undefined,
  rpm: Float64Array | undefined,
): Float64Array | undefined => {
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

/**
 * Against what the pulse settles to soon after: slower changes are the air's temperature and the rail's, which the table is not told of.
 */
const PASSES_S = 1.5;
const passing = (metered: Float64Array, timeS: Float64Array): Float64Array => {
  const known = copyOf(metered);
  for (let row = 0; row < known.length; row++) if (known[row] - known[row] !== 0) known[row] = NaN;
  return notYetFollowed(known, timeS, PASSES_S, true);
};

/** By what share of the fuel's flow (by each turn where `rpm` is given) the wall's film still has to grow. */
const filmGrowth = (
  timeS: Float64Array,
  gPerS: Float64Array,
  rpm: Float64Array | undefined,
  target: Float64Array,
  cut: Uint8Array | undefined,
): Float64Array => {
  const fuelFlow = roomFor(gPerS.length);
  for (let row = 0; row < fuelFlow.length; row++)
    fuelFlow[row] = cut?.[row] ? 0 : (rpm ? gPerS[row] / rpm[row] : gPerS[row]) / (target[row] > 0 ? target[row] : 1);
  const film = lagged(fuelFlow, timeS, FILM_STAYS_S);
  for (let row = 0; row < film.length; row++) film[row] = fuelFlow[row] > 0 ? Math.max(-1, 1 - film[row] / fuelFlow[row]) : 0;
  return film;
};

const positions = (axis: Float64Array, values: Float64Array | undefined, size: number): Float64Array => {
  const all = roomFor(size);
  if (axis.length < 2) return all.fill(0);
  if (!values) return all.fill(NaN);
  // Where the last value stood, the next one most often does.
  let low = 0,
    from = NaN,
    to = NaN;
  for (let row = 0; row < size; row++) {
    const value = values[row];
    if (from < value && value < to) {
      all[row] = low + (value - axis[low]) / (axis[low + 1] - axis[low]);
      continue;
    }
    all[row] = positionOn(axis, value);
    if (value === value) {
      low = stepOf(all[row], axis.length);
      from = Math.min(axis[low], axis[low + 1]);
      to = Math.max(axis[low], axis[low + 1]);
    }
  }
  return all;
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
