// One session's evidence on a table, and the table's verdict from the evidence of many.

import { stays } from '../formats/stays.js';
import type { Table } from '../formats/table/table.js';
import type { Signals } from '../signals/signals.js';
import { asKept, gather, type Blocks, type Gathered } from './blocks.js';
import {
  PIPE_OVER_DISPLACEMENT,
  TRIM_LAG_S,
  delayOfTrims,
  describe,
  givenDelay,
  hasMoved,
  isSettled,
  typical,
  type Delay,
  type PhysicalDelay,
  type Placing,
} from './delay/delayModel.js';
import { cutOut, tellingStretches, type Required } from './delay/delayEvents.js';
import { assumedOf } from './delay/delayParameters.js';
import type { SessionWeight } from './evidence.js';
import { ASSUMED_DISPLACEMENT_L } from './delay/exhaustFlow.js';
import { canBeWeighed, fuellingOf, gridOf, positionOn, stepOf, valueAt, withinCell, type Grid } from './solution/grid.js';
import { inRoom, roomFor } from './room.js';
import { solveTable, type Observations, type Solution } from './solution/solve.js';
import { thinned } from './delay/thinned.js';
import { trackOf, type Track } from './track.js';
import { estimateDelay, roughDelay } from './delay/transportDelay.js';
import { slowAnswerOf } from '../signals/mixture/slowAnswer.js';
import { trimsTaken } from '../signals/mixture/untoldTrims.js';
import { unreadOf } from './doubts/unread.js';

export { judge, judgeBreathing, type TallyElsewhere } from './judge.js';

export interface WeighOptions {
  /** How the session is called in reports: its path. */
  readonly session?: string;
  /** The table that was in the engine computer, and how it is called; absent is the table as it is now. */
  readonly loggedWith?: { readonly name: string; readonly table: Table };
  /** Called between the pieces of the work. */
  readonly between?: () => void;
}

/** What is kept of a session: merged with others by `judge`, and independent of the table's present values. */
export interface SessionEvidence {
  readonly weight: SessionWeight;
  /** Axes that the blocks are placed on; evidence holds only for a table of the same. */
  readonly grid: Grid;
  /** Taken off pulse widths before anything is scaled; 0 otherwise. */
  readonly deadTimeMs: number;
  /** The table logged with, read at `grid`, dead time taken off. */
  readonly reference: Float64Array;
  readonly blocks: Blocks;
  /** Text line of each block's middle reading, and its time. */
  readonly line: Int32Array;
  readonly timeS: Float64Array;
  /** Its readings are left out: it tells nothing but which table it was logged with. */
  readonly silenced?: true;
}

/**
 * Weighs one session: where each trusted reading was fuelled, and what the table should have held there. Never throws; a table that
 * readings cannot speak of (not a fuel table, axes not logged) gives evidence without blocks and says why in `weight`.
 */
export const weighSession = (signals: Signals, table: Table, options: WeighOptions = {}): SessionEvidence =>
  inRoom(() => weighed(signals, table, options));

const weighed = (signals: Signals, table: Table, options: WeighOptions): SessionEvidence => {
  const loggedWith = options.loggedWith?.table ?? table;
  const grid = gridOf(table);
  const deadTimeMs = table.quantity === 'injector-pulse-width' ? (signals.vehicle.injectors.deadTimeMs ?? 0) : 0;
  const assumed: string[] = [];
  if (table.quantity === 'injector-pulse-width' && signals.vehicle.injectors.deadTimeMs === undefined) {
    assumed.push('injector dead time is not stated (injectors.deadTimeMs): the whole pulse is scaled');
  }
  if (!canBeWeighed(table) || !canBeWeighed(loggedWith) || signals.timeS.length === 0) return nothing(signals, options, grid, deadTimeMs);
  const between = options.between ?? (() => undefined);
  between();
  const track = trackOf(signals, table, loggedWith, deadTimeMs, between);
  const reference = referenceOn(grid, loggedWith, deadTimeMs);
  between();
  const byTrims = track.readings.kind === 'trims';
  const given = byTrims ? delayOfTrims(signals.vehicle) : givenDelay(signals.vehicle);
  let placing = given;
  // Steady readings tell the table without the delay; the table then tells the delay, which places the unsteady ones.
  if (placing.from === 'assumed' && !byTrims) placing = delayFound(track, reference, placing, between) ?? slowed(placing, signals);
  between();
  const gathered = gather(track, placing, between);
  between();
  const delay = describe(track, placing),
    assumedGasG = given.model.kind === 'physical' ? given.model.gasG : undefined;
  if (byTrims) {
    assumed.push(`the short-term trim is taken to answer with a lag of ${TRIM_LAG_S} s, or half or twice that: trims alone do not tell it`);
  } else if (delay.from === 'assumed' && delay.medianS >= 0)
    assumed.push(
      `transport delay could not be told from this log: ${delay.medianS.toFixed(3)} s assumed (one engine cycle, ${(PIPE_OVER_DISPLACEMENT * (signals.vehicle.engine.displacementL ?? ASSUMED_DISPLACEMENT_L)).toFixed(1)} L of exhaust, a sensor lag of ${placing.model.lagS.toFixed(2)} s, logged ${(placing.model as PhysicalDelay).latencyS.toFixed(2)} s later)`,
    );
  const taken = track.readings.kind === 'lambda' ? trimsTaken(signals) : undefined;
  if (taken !== undefined) assumed.push(taken);
  const { blocks, used, leftOut } = gathered;
  return {
    weight: {
      session: options.session ?? '',
      samples: track.readings.row.length || signals.timeS.length,
      used,
      leftOut,
      transportDelay: {
        estimated: delay.from === 'log',
        medianS: delay.medianS,
        byFlow: delay.byFlow,
        from: delay.from,
        deviationS: delay.deviationS,
        ...(delay.fit && assumedGasG ? { fit: { ...delay.fit, assumedGasG, sensor: signals.channel('lambda')?.header ?? '' } } : {}),
      },
      ...(options.loggedWith ? { loggedWith: options.loggedWith.name } : {}),
      ...(Object.keys(track.beyond ?? {}).length > 0 ? { beyond: track.beyond } : {}),
      assumed: [...track.assumed, ...assumed],
      ...unreadOf(signals),
    },
    grid,
    deadTimeMs,
    reference,
    blocks: asKept(blocks),
    line: linesOf(signals, blocks),
    timeS: timesOf(signals, blocks),
  };
};

const linesOf = ({ session: { places } }: Signals, { count, row }: Blocks): Int32Array => {
  const lines = new Int32Array(count);
  for (let at = 0; at < count; at++) lines[at] = places.lineOf(row[at]);
  return lines;
};

const timesOf = ({ timeS }: Signals, { count, row }: Blocks): Float64Array => {
  const times = new Float64Array(count);
  for (let at = 0; at < count; at++) times[at] = timeS[row[at]];
  return times;
};

/** Where nothing else tells, assumed of a sensor whose fuel cuts show that it answers slowly or late: that it does. */
const slowed = (placing: Placing, signals: Signals): Placing => {
  const { model } = placing,
    slow = slowAnswerOf(signals, 'lambda');
  return slow && model.kind === 'physical'
    ? { ...placing, model: { ...model, lagS: Math.max(model.lagS, slow.lagS), latencyS: model.latencyS + slow.lateS } }
    : placing;
};

/** Where more is open, lines between readings tell no delay better than it is assumed. Order of magnitude, no source. */
const MOST_UNSEEN_S = 0.1;

/** What the log tells of the delay: its way is found by few stretches, by which readings are placed anew before all are asked. */
const delayFound = (track: Track, reference: Float64Array, assumed: Placing, between: () => void): Placing | undefined => {
  const some = thinned(track),
    first = gather(some, assumed, between);
  if (first.blocks.count === 0 || !(track.unseenS < MOST_UNSEEN_S)) return undefined;
  between();
  let [required, solution] = requiredAlong(track, reference, first, between);
  between();
  const stretches = tellingStretches(track, required);
  if (!stretches) return undefined;
  between();
  const usual = typical(track),
    prior = assumedOf(assumed.model);
  let before = inRoom(() => roughDelay(usual, cutOut(track, stretches.few, stretches, required), prior, between)),
    told: Placing | undefined,
    placed = assumed;
  for (let round = 0; round < 2; round++) {
    between();
    // Readings placed anew tell another table only where the delay has moved.
    if (before.told && hasMoved(usual, placed, before.told)) {
      placed = before.told;
      [required, solution] = requiredAlong(track, reference, gather(some, placed, between), between, solution);
    }
    between();
    const found = inRoom(() => estimateDelay(usual, cutOut(track, stretches.all, stretches, required), prior, before.at, between));
    if (!found.told) break;
    told = found.told;
    // A table known better tells no more where the delay's own model is what stays open.
    if ((before.told && isSettled(usual, before.told, told)) || !hasMoved(usual, placed, told)) break;
    before = found;
  }
  return told;
};

/** A cell counts as known to the delay's estimate from this much evidence on, blocks (bilinear weights). */
const KNOWN_BLOCKS = 2;
/**
 * How far off the table may be where nothing tells it (standard deviation of ln): what neighbouring cells differ by, a few steps on. No
 * source.
 */
const UNKNOWN_DEVIATION = 0.06;

/** What the table should have held, by a quick solution of this session alone; `start`: an earlier one. */
const requiredAlong = (
  { grid, columnPosition, rowPosition }: Track,
  reference: Float64Array,
  { blocks }: Gathered,
  between: () => void,
  start?: Solution,
): [Required, Solution] => {
  const solution = solveTable(grid, reference.map(Math.log), asObservations([blocks]), 1, start ?? true, between),
    values = solution.lnValue.map(Math.exp);
  const unknown = evidenceOn(grid, blocks);
  for (let cell = 0; cell < unknown.length; cell++) unknown[cell] = UNKNOWN_DEVIATION * Math.max(0, 1 - unknown[cell] / KNOWN_BLOCKS);
  return [new RequiredOf(grid, columnPosition, rowPosition, values, unknown), solution];
};

/** A class, so that what is compiled of it is there for the next session. */
class RequiredOf implements Required {
  constructor(
    private readonly grid: Grid,
    private readonly columnPosition: Float64Array,
    private readonly rowPosition: Float64Array,
    private readonly values: Float64Array,
    private readonly unknown: Float64Array,
  ) {}

  at(rows: Int32Array): ReturnType<Required['at']> {
    const { values, unknown, grid, columnPosition, rowPosition } = this,
      read = roomFor(rows.length),
      deviations = roomFor(rows.length),
      width = grid.columns.length,
      height = grid.rows.length;
    for (let each = 0; each < read.length; each++) {
      const across = columnPosition[rows[each]],
        along = rowPosition[rows[each]],
        column = stepOf(across, width),
        row = stepOf(along, height),
        cell = row * width + column;
      read[each] = withinCell(values, width, cell, across - column, along - row);
      deviations[each] = withinCell(unknown, width, cell, across - column, along - row);
    }
    return { values: read, deviations };
  }
}

const NONE = new Float64Array(0);
stays(new RequiredOf({ columns: NONE, rows: NONE }, NONE, NONE, NONE, NONE));

/** How many blocks speak of each cell, each by its bilinear weight. */
const evidenceOn = (grid: Grid, { count, cell, weights }: Blocks): Float64Array => {
  const width = grid.columns.length;
  const offsets = [0, 1, width, width + 1];
  const sum = new Float64Array(width * grid.rows.length);
  for (let at = 0; at < count; at++)
    for (let i = 0; i < 4; i++) if (weights[4 * at + i] > 0) sum[cell[at] + offsets[i]] += weights[4 * at + i];
  return sum;
};

/** Sessions' blocks in one list. */
export const asObservations = (all: readonly Blocks[]): Observations => {
  const count = all.reduce((sum, blocks) => sum + blocks.count, 0);
  const joined = {
    count,
    cell: new Int32Array(count),
    weights: new Float64Array(4 * count),
    lnRequired: new Float64Array(count),
    variance: new Float64Array(count),
    film: new Float64Array(count),
    chargeFilm: new Float64Array(count),
    session: new Int32Array(count),
    visit: new Int32Array(count),
  };
  let [at, firstVisit] = [0, 0];
  for (const [session, blocks] of all.entries()) {
    joined.cell.set(blocks.cell, at);
    joined.weights.set(blocks.weights, 4 * at);
    joined.lnRequired.set(blocks.lnRequired, at);
    joined.variance.set(blocks.variance, at);
    joined.film.set(blocks.film, at);
    joined.chargeFilm.set(blocks.chargeFilm, at);
    joined.session.fill(session, at, at + blocks.count);
    for (let each = 0; each < blocks.count; each++) joined.visit[at + each] = blocks.visit[each] + firstVisit;
    at += blocks.count;
    firstVisit += blocks.count + 1;
  }
  return joined;
};

/** A table's values at another's breakpoints, dead time taken off; blank cells take the mean of the rest so that the logarithm exists. */
const referenceOn = (grid: Grid, table: Table, deadTimeMs: number): Float64Array => {
  const own = gridOf(table);
  const values = fuellingOf(table, deadTimeMs);
  const width = grid.columns.length;
  const read = new Float64Array(width * grid.rows.length);
  let [sum, good] = [0, 0];
  for (let cell = 0; cell < read.length; cell++) {
    read[cell] = valueAt(
      values,
      own,
      positionOn(own.columns, grid.columns[cell % width]),
      positionOn(own.rows, grid.rows[Math.floor(cell / width)]),
    );
    if (read[cell] > 0) {
      sum += read[cell];
      good++;
    }
  }
  const mean = good ? sum / good : 1;
  for (let cell = 0; cell < read.length; cell++) if (!(read[cell] > 0)) read[cell] = mean;
  return read;
};

const NO_BLOCKS: Blocks = {
  count: 0,
  cell: new Int32Array(0),
  weights: new Float64Array(0),
  lnRequired: new Float64Array(0),
  variance: new Float64Array(0),
  film: new Float64Array(0),
  chargeFilm: new Float64Array(0),
  samples: new Int32Array(0),
  effective: new Float64Array(0),
  seconds: new Float64Array(0),
  lnMeasured: new Float64Array(0),
  lnTarget: new Float64Array(0),
  manifoldKPa: new Float64Array(0),
  bankSpread: new Float64Array(0),
  row: new Int32Array(0),
  visit: new Int32Array(0),
};

/** Sessions' tables without their readings: others are judged by those too. One without evidence tells neither. */
export const silenced = (list: readonly SessionEvidence[]): SessionEvidence[] =>
  list.filter(({ blocks }) => blocks.count > 0).map((evidence) => ({ ...evidence, blocks: NO_BLOCKS, silenced: true }));

const nothing = (signals: Signals, options: WeighOptions, grid: Grid, deadTimeMs: number): SessionEvidence => ({
  weight: {
    session: options.session ?? '',
    samples: signals.timeS.length,
    used: 0,
    leftOut: {},
    transportDelay: { estimated: false, medianS: NaN, byFlow: [], from: 'assumed', deviationS: NaN },
    assumed: [],
    ...(options.loggedWith ? { loggedWith: options.loggedWith.name } : {}),
  },
  grid,
  deadTimeMs,
  reference: new Float64Array(grid.columns.length * grid.rows.length).fill(1),
  blocks: NO_BLOCKS,
  line: new Int32Array(0),
  timeS: new Float64Array(0),
});

/** The delay by which one session's readings were placed, for Go to Definition: see `fuelledAt` in where.ts. */
export type { Delay };
