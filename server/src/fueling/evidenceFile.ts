// A session's evidence as one line of JSON: small beside the session, kept and merged without it, by us or by any engine that reads JSON
// Lines.
// The format is a contract, described in server/docs/evidence-file.md.

import type { Table } from '../formats/table/table.js';
import { asKept, type Blocks } from './blocks.js';
import { SESSION_DOUBTS, type DelayFit, type LeftOut, type SessionDoubt, type SessionWeight } from './evidence.js';
import { DELAY_PARTS } from './delay/delayModel.js';
import { gridOf, sameGrid } from './solution/grid.js';
import { REASONS } from './doubts/leftOut.js';
import type { SessionEvidence } from './weigh.js';

/** Goes up where an older reader would misread a newer line. */
export const EVIDENCE_SCHEMA = 1;
const KIND = 'leanspot-evidence';

type ColumnName = Exclude<keyof Blocks, 'count'>;
type Column = Int32Array | Float64Array;

/** Every column of the blocks: how many numbers a block, and of which type. */
const COLUMNS: Readonly<Record<ColumnName, { readonly each: number; readonly whole: boolean }>> = {
  cell: { each: 1, whole: true },
  weights: { each: 4, whole: false },
  lnRequired: { each: 1, whole: false },
  variance: { each: 1, whole: false },
  film: { each: 1, whole: false },
  chargeFilm: { each: 1, whole: false },
  samples: { each: 1, whole: true },
  effective: { each: 1, whole: false },
  seconds: { each: 1, whole: false },
  lnMeasured: { each: 1, whole: false },
  lnTarget: { each: 1, whole: false },
  manifoldKPa: { each: 1, whole: false },
  bankSpread: { each: 1, whole: false },
  row: { each: 1, whole: true },
  visit: { each: 1, whole: true },
};

/** Nine digits bring single precision back to the bit (IEEE 754), seven most of its numbers. */
const DIGITS = 7;
const MOST_DIGITS = 9;
const MOST_BLOCKS = 5_000_000;

const short = (value: number): number | null => (Number.isFinite(value) ? Number(value.toPrecision(DIGITS)) : null);
const single = (value: number): number | null => {
  for (let digits = DIGITS; digits < MOST_DIGITS; digits++) {
    const each = Number(value.toPrecision(digits));
    if (Math.fround(each) === value) return each;
  }
  return Number.isFinite(value) ? Number(value.toPrecision(MOST_DIGITS)) : null;
};
const list = (values: Column | readonly number[]): (number | null)[] => Array.from(values, short);

/** The table that evidence is about, as far as it matters: what it holds, and where its breakpoints are, in canonical units. */
const tableOf = (table: Table): object => ({
  quantity: table.quantity ?? null,
  unit: table.unit?.id ?? null,
  columns: { quantity: table.columns.quantity ?? null, values: list(table.columns.canonical) },
  rows: { quantity: table.rows.quantity ?? null, values: list(table.rows.canonical) },
});

/** One line, without its end. `session` is how the session is to be called: a path relative to the vehicle's folder. */
export function evidenceLine(evidence: SessionEvidence, table: Table, session: string): string {
  const { weight, deadTimeMs, reference, blocks, line, timeS } = evidence;
  return JSON.stringify({
    schema: EVIDENCE_SCHEMA,
    kind: KIND,
    session,
    table: tableOf(table),
    deadTimeMs,
    reference: [...reference],
    weight: {
      ...weight,
      session: undefined,
      transportDelay: {
        ...weight.transportDelay,
        medianS: short(weight.transportDelay.medianS),
        deviationS: short(weight.transportDelay.deviationS),
        ...(weight.transportDelay.fit ? { fit: fitLine(weight.transportDelay.fit) } : {}),
      },
    },
    blocks: {
      count: blocks.count,
      line: [...line],
      timeS: [...timeS],
      ...Object.fromEntries(Object.keys(COLUMNS).map((name) => [name, Array.from(blocks[name as ColumnName], single)])),
    },
  });
}

const fitLine = (fit: DelayFit): object =>
  Object.fromEntries(
    Object.entries(fit).map(([name, value]) => [
      name,
      typeof value === 'number' ? short(value) : typeof value === 'string' ? value : list(value),
    ]),
  );

export type EvidenceRead =
  | { readonly evidence: SessionEvidence }
  /** One clause for the user: what is wrong with the line. */
  | { readonly refused: string };

/** Reads a line for a table. Never throws; evidence on another table, of a newer schema, or out of shape is refused. */
export function readEvidenceLine(text: string, table: Table): EvidenceRead {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return { refused: 'it is no JSON' };
  }
  const found = asObject(value);
  if (found?.kind !== KIND) return { refused: 'it is no evidence of Leanspot' };
  if (found.schema !== EVIDENCE_SCHEMA)
    return { refused: `its schema is ${String(found.schema).slice(0, 20)}, and this version reads ${EVIDENCE_SCHEMA}` };
  const grid = gridOf(table);
  const about = asObject(found.table);
  const axis = (name: 'columns' | 'rows'): Float64Array | undefined =>
    numbers(asObject(about?.[name])?.values, table[name].values.length, false) as Float64Array | undefined;
  const [columns, rows] = [axis('columns'), axis('rows')];
  const sameKind =
    about?.quantity === (table.quantity ?? null) &&
    about.unit === (table.unit?.id ?? null) &&
    asObject(about.columns)?.quantity === (table.columns.quantity ?? null) &&
    asObject(about.rows)?.quantity === (table.rows.quantity ?? null);
  if (
    !sameKind ||
    !columns ||
    !rows ||
    !sameGrid({ columns, rows }, { columns: grid.columns.map(shortened), rows: grid.rows.map(shortened) })
  ) {
    return { refused: 'it is evidence on a table with other breakpoints or of another quantity' };
  }
  const size = grid.columns.length * grid.rows.length;
  const reference = numbers(found.reference, size, false) as Float64Array | undefined;
  const weight = weightOf(found.weight, found.session);
  const blocks = asObject(found.blocks);
  const count = blocks?.count;
  if (
    !reference?.every((each) => each > 1e-9 && each < 1e9) ||
    !weight ||
    !blocks ||
    !isCount(count, MOST_BLOCKS) ||
    !isNumber(found.deadTimeMs)
  )
    return { refused: 'it is out of shape' };
  const read: Partial<Record<ColumnName, Column>> = {};
  for (const [name, { each, whole }] of Object.entries(COLUMNS) as [ColumnName, { each: number; whole: boolean }][]) {
    // Lines from before the film was told in two parts lack the second.
    const column =
      name === 'chargeFilm' && blocks[name] === undefined ? new Float64Array(count) : numbers(blocks[name], count * each, whole);
    if (!column) return { refused: `its blocks are out of shape (${name})` };
    read[name] = column;
  }
  const [line, timeS] = [numbers(blocks.line, count, true), numbers(blocks.timeS, count, false)];
  const whole = asKept({ count, ...read } as unknown as Blocks);
  if (!line || !timeS || !isSound(whole, size, grid.columns.length)) return { refused: 'its blocks are out of shape' };
  return {
    evidence: {
      weight,
      grid,
      deadTimeMs: found.deadTimeMs,
      reference,
      blocks: whole,
      line: line as Int32Array,
      timeS: timeS as Float64Array,
    },
  };
}

const shortened = (value: number): number => short(value) ?? NaN;
const asObject = (value: unknown): Readonly<Record<string, unknown>> | undefined =>
  typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as Record<string, unknown>) : undefined;
const isNumber = (value: unknown): value is number => typeof value === 'number' && Number.isFinite(value);
const isCount = (value: unknown, most: number): value is number =>
  Number.isInteger(value) && (value as number) >= 0 && (value as number) <= most;
const isTexts = (value: unknown): value is string[] => Array.isArray(value) && value.length <= 10_000 && value.every(isText);
const isText = (value: unknown): value is string => typeof value === 'string' && value.length < 10_000;

/** A column of `length` numbers; `null` is NaN, and not allowed among whole ones. Undefined where anything else stands there. */
function numbers(value: unknown, length: number, whole: boolean): Column | undefined {
  if (!Array.isArray(value) || value.length !== length) return undefined;
  const column = whole ? new Int32Array(length) : new Float64Array(length);
  for (let at = 0; at < length; at++) {
    const each: unknown = value[at];
    if (whole ? !isCount(each, 2 ** 31 - 1) : each !== null && !isNumber(each)) return undefined;
    column[at] = each === null ? NaN : (each as number);
  }
  return column;
}

/** Every block on cells of the table, with weights and variances that can be solved with. */
function isSound(
  { count, cell, weights, lnRequired, variance, film, chargeFilm, effective, seconds, lnMeasured, lnTarget }: Blocks,
  size: number,
  width: number,
): boolean {
  const corners = [0, 1, width, width + 1];
  for (let at = 0; at < count; at++) {
    let whole = 0;
    for (let corner = 0; corner < 4; corner++) {
      const weight = weights[4 * at + corner];
      if (!(weight >= 0 && weight <= 1.0001) || (weight > 0 && cell[at] + corners[corner] >= size)) return false;
      whole += weight;
    }
    // A block of no cell, by one of which a whole table would be told nothing.
    if (!(whole > 0.5)) return false;
    if (
      !(variance[at] > 1e-9 && variance[at] < 100 && effective[at] >= 0 && effective[at] < 1e9 && seconds[at] >= 0 && seconds[at] < 1e9) ||
      [lnRequired, film, chargeFilm, lnMeasured, lnTarget].some((column) => !Number.isFinite(column[at]) || Math.abs(column[at]) > 50)
    )
      return false;
  }
  return true;
}

function weightOf(value: unknown, session: unknown): SessionWeight | undefined {
  const weight = asObject(value);
  const delay = asObject(weight?.transportDelay);
  if (!weight || !delay || !isText(session) || !isCount(weight.samples, 2 ** 40) || !isCount(weight.used, 2 ** 40)) return undefined;
  const { from, byFlow } = delay;
  const points = Array.isArray(byFlow)
    ? byFlow.map((each: unknown) =>
        Array.isArray(each) && each.length === 2 && each.every(isNumber) ? ([each[0], each[1]] as const) : undefined,
      )
    : [undefined];
  const leftOut = Object.entries(asObject(weight.leftOut) ?? {});
  const assumed = weight.assumed;
  if ((from !== 'log' && from !== 'vehicle.json' && from !== 'assumed') || points.includes(undefined) || points.length > 1000)
    return undefined;
  if (leftOut.some(([reason, count]) => (!REASONS.includes(reason as LeftOut) && reason !== 'same-readings') || !isCount(count, 2 ** 40)))
    return undefined;
  if (
    !Array.isArray(assumed) ||
    assumed.length > 100 ||
    !assumed.every(isText) ||
    (weight.loggedWith !== undefined && !isText(weight.loggedWith))
  )
    return undefined;
  return {
    session,
    samples: weight.samples,
    used: weight.used,
    leftOut: Object.fromEntries(leftOut) as SessionWeight['leftOut'],
    transportDelay: {
      estimated: delay.estimated === true,
      medianS: isNumber(delay.medianS) ? delay.medianS : NaN,
      deviationS: isNumber(delay.deviationS) ? delay.deviationS : NaN,
      byFlow: points as (readonly [number, number])[],
      from,
      ...fitOf(delay.fit, points.length),
    },
    ...beyondOf(weight.beyond),
    assumed,
    ...(weight.loggedWith === undefined ? {} : { loggedWith: weight.loggedWith as string }),
    ...(isTexts(weight.unread) ? { unread: weight.unread } : {}),
    ...doubtsOf(weight.doubts),
  };
}

/** Lines of an earlier version have none; one of a kind that is not known here is of a later one. */
function doubtsOf(value: unknown): Pick<SessionWeight, 'doubts'> {
  if (!Array.isArray(value)) return {};
  const doubts = value
    .slice(0, 100)
    .map(asObject)
    .filter((each) => each !== undefined && SESSION_DOUBTS.some((kind) => kind === each.kind) && isTexts(each.channels));
  return { doubts: doubts as unknown as SessionDoubt[] };
}

/** Lines of an earlier version have none. */
function beyondOf(value: unknown): Pick<SessionWeight, 'beyond'> {
  const { columns, rows } = asObject(value) ?? {};
  return isNumber(columns) || isNumber(rows)
    ? { beyond: { ...(isNumber(columns) ? { columns } : {}), ...(isNumber(rows) ? { rows } : {}) } }
    : {};
}

/** Nothing where there is none, or one out of shape (lines of an earlier version have none): the session's delay then stands by itself. */
function fitOf(value: unknown, points: number): { readonly fit?: DelayFit } {
  const fit = asObject(value);
  if (!fit) return {};
  const { cycles, gasG, assumedGasG, lagS, latencyS, rowS, flowGPerS, rpm, sensor } = fit,
    covariance = numbers(fit.covariance, DELAY_PARTS ** 2, false),
    rpmAt = numbers(fit.rpmAt, points, false);
  const isWithin = (each: unknown, least: number, most: number): each is number => isNumber(each) && each >= least && each <= most;
  if (
    !isWithin(cycles, 0, 10) ||
    !isWithin(gasG, 1e-9, 1e3) ||
    !isWithin(assumedGasG, 1e-9, 1e3) ||
    !isWithin(lagS, 1e-9, 10) ||
    !isWithin(latencyS, 0, 10) ||
    !isWithin(rowS, 0, 100) ||
    !isWithin(flowGPerS, 0, 1e5) ||
    !isWithin(rpm, 1, 1e6) ||
    !isText(sensor)
  )
    return {};
  if (!covariance?.every((each) => isWithin(each, -1e6, 1e6)) || !rpmAt?.every((each) => isWithin(each, 1, 1e6))) return {};
  return {
    fit: { cycles, gasG, assumedGasG, lagS, latencyS, covariance: [...covariance], rowS, sensor, flowGPerS, rpm, rpmAt: [...rpmAt] },
  };
}
