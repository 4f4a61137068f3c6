// What a correction may not rest on, cell by cell: every proposal goes by this (correct.ts), and the cell rules say the same.

import { GASOLINE_SCALE_AFR, type Fuel } from '../../quantities/fuels.js';
import { STANDARD_CONTEXT } from '../../quantities/convert.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { Table } from '../../formats/table/table.js';
import { lookup } from '../../formats/table/tableLookup.js';
import { tableToCanonical } from '../../formats/table/tableQuantity.js';
import { scaleAfr } from '../../formats/table/targetScale.js';
import type { Vehicle } from '../../formats/vehicle/vehicle.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { onceFor } from '../../signals/once.js';
import type { CellEvidence, Evidence, SessionDoubt } from '../evidence.js';
import { banksDiffer } from './banksDiffer.js';
import { causePercent, commonCause, isOfCause } from './commonCause.js';
import { limitOf } from '../../formats/limits.js';
import { isRatioOfScales, oneCause } from './oneCause.js';
import { isBurntOtherwise, leanTarget, type Load } from './leanTarget.js';
import { LEAST_TAKEN, OPEN_LOOP_TARGET } from './openLoopTrim.js';
import type { SessionEvidence } from '../weigh.js';

/**
 * `target-unsafe`: no fuel is taken out toward one that is too lean, nor added toward one that is far too rich. `target-broken`: it does
 * not read right at all. `not-driven-since`: no log is of the value that it has now. `sessions-disagree`: what was true in one drive was
 * not in another. `session-drifts`: what was true at the beginning of a drive was not at its end. `too-far`: so much is another thing's
 * doing; `far-beside`: and what does that may take from the other cells too: no fuel comes out of them. `scale`: nearly all cells want less
 * by what two fuels' air-fuel ratios differ by. `trim-unread`: no fuel is taken out by a log with a column that looks like a fuel trim and
 * that nobody named. `gauges-apart`: of two gauges that differ one is wrong. `loop-apart`: no fuel is taken out by a gauge that reads rich
 * of what the computer's own loop holds. `air-dead`: every cell was fuelled for air that is not so cold. `speed-off`: each reading was laid
 * to another column. `trims-turned`: what they add was taken for what they take away. `open-loop-trim`: a
 * long-term trim asks for less at full load, where the computer may do without it. `banks-differ`: what is right for one bank is wrong
 * for the other. `shared-cause`: what all have in common makes the cell want it, and no table is wrong so.
 */
export type Held =
  | 'target-unsafe'
  | 'target-broken'
  | 'not-driven-since'
  | 'sessions-disagree'
  | 'session-drifts'
  | 'banks-differ'
  | 'too-far'
  | 'far-beside'
  | 'scale'
  | 'shared-cause'
  | SessionDoubt['kind'];

/** What is rather behind a change of `cellFarPercent`. */
export const TOO_FAR_WORDS =
  'so much is hardly the table, rather the scale of the lambda, a sensor that the fuel is reckoned by, the injectors, or the log of another car';

/** Before a list of cells. */
export const HELD_WORDS: Readonly<Record<Held, string>> = {
  'target-unsafe': 'mend the target first: it is leaner than it may be at this load, or so rich that it washes the cylinder walls',
  'target-broken': 'mend the target table first: it does not read right, or an axis ends far below where the engine ran (another unit?)',
  'sessions-disagree': 'find out first what changed between the sessions: they contradict each other in these cells',
  'session-drifts': 'find out first what changed on the way: a session contradicts itself in these cells',
  'banks-differ':
    'find out first why one bank wants other fuel than the other (an injector, a sensor, a leak on one side): one table feeds both',
  'too-far': `find the cause first: ${TOO_FAR_WORDS} (cellFarPercent in vehicle.json)`,
  'far-beside': `find the cause first of what other cells hold too much by: ${TOO_FAR_WORDS}`,
  scale:
    "see first on which scale the target table, the sensor's display and the tune count: the cells want less fuel by what the air-fuel ratio of the fuel in the tank is to gasoline's",
  'trim-unread':
    'say first under "channels" in vehicle.json what the columns are that are not recognised and look like fuel trims: they may hold the mixture where it stands',
  'gauges-apart':
    'find out first which of the two lambda gauges is right, and call the other one "other" under "channels" in vehicle.json: they differ steadily',
  'loop-apart':
    "find out first whether the lambda gauge or the computer's own sensor is right: the gauge reads rich while the closed loop holds λ 1",
  'air-dead':
    'mend the intake air temperature sensor first, and log again: the computer reckons the fuel of every cell by it, and it stands where an open wire ends',
  'trims-turned':
    'turn the sign of the fuel trims first: they move against lambda, and make of a cell that is short one that holds too much',
  'open-loop-trim':
    'find out first whether the computer counts its long-term trim at full load (reset it and log a pull): what it takes away there is no proof that the cell holds too much',
  'speed-off':
    'mend the scale of the engine speed first: the log shows twice the true one, or half, and lays each reading to another column',
  'shared-cause':
    'look first for the one cause of these cells (where it is none, `sharedCausePercent` under "limits" in vehicle.json lets them be changed)',
  'not-driven-since': 'log again first: no session was logged with the value that these cells have now',
};

export interface AroundTable {
  readonly vehicle: Pick<Vehicle, 'fuel' | 'limits'> | undefined;
  /** The vehicle's target table. */
  readonly target: Table | undefined;
  /** Whether that table is itself found not to read right. */
  readonly isTargetBroken?: boolean;
}

/** Cells that evidence speaks of and that stay as they are all the same, by index. */
export const heldCells = (
  table: Table,
  evidence: Pick<Evidence, 'cells' | 'contradiction' | 'drift' | 'bankSpread'>,
  evidences: readonly SessionEvidence[],
  around: AroundTable,
): ReadonlyMap<number, Held> => {
  const held = new Map<number, Held>(),
    { cells, contradiction } = evidence;
  const aim = aiming(table, around),
    isUnsafe = unsafeTargets(around),
    { target } = around,
    far = limitOf('cellFarPercent', around.vehicle?.limits ?? {}).value / 100;
  const isFarRich = farRich(cells, far),
    one = oneCause({ cells }),
    isScale = one !== undefined && isOtherScale(one.factor, cells, around.vehicle && vehicleFuel(around.vehicle));
  const cause = commonCause(table, evidence),
    isShared = cause && causePercent(cause) >= limitOf('sharedCausePercent', around.vehicle?.limits ?? {}).value ? cause : undefined;
  const isBroken = target !== undefined && (around.isTargetBroken === true || axisFarBelow(table, cells, target) !== undefined);
  cells.forEach((cell, at) => {
    if (cell.proof === 'none') return;
    const aimed = aim(cell);
    if (isBroken && aimed.isOfTable) held.set(at, 'target-broken');
    else if (isUnsafe(aimed, cell.factor > 1)) held.set(at, 'target-unsafe');
    else if (contradiction?.cells.has(at)) held.set(at, 'sessions-disagree');
    else if (evidence.drift?.has(at)) held.set(at, 'session-drifts');
    else if (banksDiffer(evidence, at)) held.set(at, 'banks-differ');
    else if (isDoubted(evidences, at, 'gauges-apart')) held.set(at, 'gauges-apart');
    else if (isDoubted(evidences, at, 'speed-off')) held.set(at, 'speed-off');
    else if (isDoubted(evidences, at, 'trims-turned')) held.set(at, 'trims-turned');
    else if (isDoubted(evidences, at, 'air-dead')) held.set(at, 'air-dead');
    else if (cell.factor < 1 && isDoubted(evidences, at, 'trim-unread')) held.set(at, 'trim-unread');
    else if (cell.factor < 1 && isDoubted(evidences, at, 'loop-apart')) held.set(at, 'loop-apart');
    else if (isAskedByTrim(cell) && isDoubted(evidences, at, 'open-loop-trim')) held.set(at, 'open-loop-trim');
    else if (Math.abs(cell.factor - 1) > far) held.set(at, 'too-far');
    else if (isScale && cell.factor < 1) held.set(at, 'scale');
    else if (isFarRich && cell.factor < 1) held.set(at, 'far-beside');
    else if (isShared && isOfCause(isShared, table, cell)) held.set(at, 'shared-cause');
    else if (!evidences.some((evidence) => isLoggedWith(evidence, at, cell.value) && visitedBy(evidence)[at] === 1))
      held.set(at, 'not-driven-since');
  });
  return held;
};

/** So many of the proven cells that want less, and such a share of them. Common practice, no source. */
const FAR_CELLS = 2,
  FAR_SHARE = 0.25;

/** Whether what asks for far less fuel in some cells may ask for less in all. */
const farRich = (cells: readonly CellEvidence[], far: number): boolean => {
  const rich = cells.filter(({ proof, factor }) => proof === 'firm' && factor < 1),
    beyond = rich.filter(({ factor }) => factor < 1 - far).length;
  return beyond >= FAR_CELLS && beyond >= FAR_SHARE * rich.length;
};

/** Scales nearer to each other than this (ln), as E10's and gasoline's, are not told from a table that is a little rich. No source. */
const LEAST_SCALE = 0.055;

/** Whether all want less fuel by what two scales differ by, and by what is read, not by what the trims took back of it. */
const isOtherScale = (factor: number, cells: readonly CellEvidence[], fuel: Fuel | undefined): boolean => {
  const read = cells.filter(
    ({ proof, measuredLambda, targetLambda }) => proof === 'firm' && Math.log(measuredLambda / targetLambda) < Math.log(factor) / 2,
  ).length;
  return (
    factor < 1 &&
    fuel !== undefined &&
    Math.abs(Math.log(fuel.stoichAfr / GASOLINE_SCALE_AFR)) >= LEAST_SCALE &&
    isRatioOfScales(factor, fuel) &&
    2 * read > cells.filter(({ proof }) => proof === 'firm').length
  );
};

/** Whether a log that passed through a cell has this doubt. */
const isDoubted = (evidences: readonly SessionEvidence[], at: number, kind: SessionDoubt['kind']): boolean =>
  evidences.some((evidence) => evidence.weight.doubts?.some((doubt) => doubt.kind === kind) === true && visitedBy(evidence)[at] === 1);

/** Whether less is wanted on a rich target, and the trims say so. */
const isAskedByTrim = ({ factor, targetLambda, trimmed }: CellEvidence): boolean =>
  factor < 1 && targetLambda < OPEN_LOOP_TARGET && trimmed < -LEAST_TAKEN;

/** A logged target that is this far from the target table's is another: a mean over a cell differs by less. No source. */
const SAME_TARGET = 0.05;

/** Where a cell stands on an axis of its quantity, in the canonical unit; undefined where the table has no such axis. */
const placeOn = (table: Table, { row, column }: CellEvidence, quantity: QuantityId | undefined): number | undefined =>
  quantity === undefined
    ? undefined
    : table.columns.quantity === quantity
      ? table.columns.canonical[column]
      : table.rows.quantity === quantity
        ? table.rows.canonical[row]
        : undefined;

/** What is aimed at in a cell, lambda, and at which load; whether it is the target table's. */
interface Aimed extends Load {
  readonly lambda: number;
  readonly isOfTable: boolean;
}

/** The target table's value in a cell, or what was aimed at where that is another. */
const aiming = (table: Table, { target, vehicle }: AroundTable): ((cell: CellEvidence) => Aimed) => {
  const toLambda = target && tableToCanonical(target, { ...STANDARD_CONTEXT, stoichAfr: scaleAfr(target, vehicle) });
  return (cell) => {
    const along = ({ quantity, canonical }: Table['columns']): number =>
      canonical.length < 2 ? 0 : (placeOn(table, cell, quantity) ?? NaN);
    const said = target ? toLambda!(lookup(target, along(target.columns), along(target.rows))) : NaN;
    const isOfTable = Math.abs(said - cell.targetLambda) < SAME_TARGET;
    const kPa =
        placeOn(table, cell, 'manifold-pressure') ?? (Number.isNaN(cell.manifoldPressureKPa) ? undefined : cell.manifoldPressureKPa),
      throttlePercent = placeOn(table, cell, 'throttle');
    return {
      lambda: isOfTable ? said : cell.targetLambda,
      isOfTable,
      ...(kPa === undefined ? {} : { kPa }),
      ...(throttlePercent === undefined ? {} : { throttlePercent }),
    };
  };
};

/**
 * Whether fuel would come out toward a target that is too lean for its load, or be added toward one that is richer than any engine may be.
 */
const unsafeTargets = ({ vehicle, target }: AroundTable): ((aimed: Aimed, isAdded: boolean) => boolean) => {
  if (isBurntOtherwise(vehicle, target)) return () => false;
  const set = vehicle?.limits ?? {},
    rich = limitOf('richLambda', set).value;
  return (aimed, isAdded) => (isAdded ? aimed.lambda < rich : leanTarget(aimed.lambda, aimed, set) !== undefined);
};

/**
 * The axis of the target table that goes up to less than half of what more than half of the driven cells lie at: it is hardly in the unit
 * that it says.
 */
export const axisFarBelow = (table: Table, cells: readonly CellEvidence[], target: Table): 'columns' | 'rows' | undefined =>
  (['columns', 'rows'] as const).find((along) => {
    const { quantity, canonical } = target[along];
    if (canonical.length < 2) return false;
    const highest = Math.max(...canonical),
      places = cells
        .filter(({ proof }) => proof !== 'none')
        .map((cell) => placeOn(table, cell, quantity))
        .filter((place) => place !== undefined);
    return 2 * places.filter((place) => place > 2 * highest).length > places.length;
  });

/** Kept evidence holds seven digits of a value. */
const isLoggedWith = ({ reference, deadTimeMs }: SessionEvidence, at: number, value: number): boolean =>
  Math.abs(reference[at] + deadTimeMs - value) <= 1e-6 * Math.abs(value);

/** A block is a visit to a cell from this bilinear weight on. */
const VISIT_WEIGHT = 0.2;

const visitedBy = onceFor(({ blocks: { count, cell, weights }, reference, grid }: SessionEvidence): Uint8Array => {
  const width = grid.columns.length,
    offsets = [0, 1, width, width + 1],
    visited = new Uint8Array(reference.length);
  for (let at = 0; at < count; at++)
    for (let i = 0; i < 4; i++) if (weights[4 * at + i] >= VISIT_WEIGHT) visited[cell[at] + offsets[i]] = 1;
  return visited;
});
