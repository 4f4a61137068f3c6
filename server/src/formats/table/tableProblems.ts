// What can be wrong with the numbers of a table: not numbers, axes that turn, values that no engine has.

import { QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import { UNITS } from '../../quantities/units.js';
import type { ProblemList } from '../problemList.js';
import type { Axis, Table } from './table.js';
import { TABLE_QUANTITIES, tableToCanonical } from './tableQuantity.js';
import { numberOf } from './tableText.js';
import { STANDARD_CONTEXT } from '../../quantities/convert.js';

const kindOfText = (text: string): 'blank' | 'too-large' | 'text' => {
  if (text === '') return 'blank';
  return Number.isNaN(numberOf(text)) ? 'text' : 'too-large';
};

/** Breakpoints that are no numbers, that do not go on the way the axis runs. */
export const axisProblems = (problems: ProblemList, name: 'columns' | 'rows', axis: Axis, texts: readonly string[]): void => {
  const { values, ranges } = axis;
  const steps: number[] = [];
  let before = NaN;
  values.forEach((value, i) => {
    if (Number.isNaN(value)) {
      problems.add({
        code: 'value-not-a-number',
        kind: `breakpoint-${kindOfText(texts[i])}`,
        range: ranges[i],
        data: { axis: name, text: texts[i].slice(0, 40) },
      });
      return;
    }
    if (before === before) steps.push(Math.sign(value - before));
    before = value;
  });
  const up = steps.reduce((sum, step) => sum + step, 0) >= 0;
  before = NaN;
  values.forEach((value, i) => {
    if (Number.isNaN(value)) return;
    if (before === before && (up ? value <= before : value >= before)) {
      problems.add({
        code: 'axis-not-monotonic',
        kind: value === before ? 'repeated' : 'turns',
        range: ranges[i],
        data: { axis: name, value, before, up },
      });
    }
    before = value;
  });
};

/** Breakpoints that their quantity cannot have. */
export const axisRangeProblems = (
  problems: ProblemList,
  name: 'columns' | 'rows',
  { quantity, unit: written, values, canonical, ranges }: Axis,
): void => {
  if (!quantity) return;
  const {
    plausible: [low, high],
    title,
    unit,
  } = QUANTITIES[quantity];
  // An axis may reach to 0 where a reading never does.
  canonical.forEach((value, i) => {
    if (value < Math.min(low, 0) || value > high) {
      problems.add({
        code: 'value-implausible',
        kind: 'breakpoint',
        range: ranges[i],
        data: {
          axis: name,
          quantity: title,
          value: values[i],
          writtenUnit: written?.symbol ?? '',
          canonical: value,
          low: Math.min(low, 0),
          high,
          unit: UNITS[unit].symbol,
        },
      });
    }
  });
};

/**
 * An axis of readings that ends below this is hardly in its unit. Pressure, kPa: with the throttle open a manifold holds the air around it,
 * more than 50 kPa on any road (ISO 2533: 54 at 5000 m); a table may be of part load. Speed, rpm:
 * even a table for cranking ends above it. The others, %: numbers up to 1 are fractions. Common practice, no source.
 */
const LOWEST_AXIS_END: Readonly<Partial<Record<QuantityId, number>>> = {
  'manifold-pressure': 40,
  'engine-speed': 100,
  throttle: 2,
  pedal: 2,
  'engine-load': 3,
};

/** An axis that ends below anything that it is for: another unit than it says. */
export const axisEndProblems = (
  problems: ProblemList,
  name: 'columns' | 'rows',
  { quantity, unit: written, values, canonical, ranges }: Axis,
): void => {
  const least = quantity && LOWEST_AXIS_END[quantity],
    highest = canonical.reduce((most, value) => (value > most ? value : most), -Infinity),
    at = canonical.indexOf(highest);
  if (quantity === undefined || least === undefined || canonical.length < 2 || at < 0 || highest >= least) return;
  const { title, unit } = QUANTITIES[quantity];
  problems.add({
    code: 'value-implausible',
    kind: 'axis-ends-low',
    range: ranges[at],
    data: {
      axis: name,
      quantity: title,
      value: values[at],
      writtenUnit: written?.symbol ?? '',
      canonical: highest,
      least,
      unit: UNITS[unit].symbol,
    },
  });
};

/** No engine speed axis ends below this, rpm: engines idle above it (common practice, no source). */
const LOWEST_AXIS_END_RPM = 500;

/**
 * Whether the speed axis holds what looks like a load and the other one what looks like a speed: the first ends below any idle, and the
 * second goes beyond what its quantity can be. False for axes of other quantities.
 */
export const looksSwapped = (one: Axis, other: Axis): boolean => {
  const [speed, load] = one.quantity === 'engine-speed' ? [one, other] : [other, one];
  if (
    speed.quantity !== 'engine-speed' ||
    !load.quantity ||
    load.quantity === 'engine-speed' ||
    speed.values.length < 2 ||
    load.values.length < 2
  )
    return false;
  const greatest = (values: Float64Array): number => values.reduce((most, value) => (value > most ? value : most), -Infinity);
  const [, high] = QUANTITIES[load.quantity].plausible;
  return greatest(speed.canonical) < LOWEST_AXIS_END_RPM && greatest(load.canonical) > high && greatest(load.values) > LOWEST_AXIS_END_RPM;
};

/**
 * Up to so far open a throttle holds back most of the air at speed, and filling referred to the air outside falls to a few per cent. Common
 * practice, no source.
 */
const CLOSED_UP_TO_PERCENT = 25,
  CLOSED_EFFICIENCY_PERCENT = 1;

/** Whether a cell is one of a throttle or pedal that is nearly closed. */
const isClosed = ({ columns, rows }: Table, row: number, column: number): boolean =>
  (
    [
      [columns, column],
      [rows, row],
    ] as const
  ).some(([{ quantity, canonical }, at]) => (quantity === 'throttle' || quantity === 'pedal') && canonical[at] <= CLOSED_UP_TO_PERCENT);

/** Tables whose cell of nought is an engine without fuel. */
const OF_FUEL: ReadonlySet<Table['quantity']> = new Set(['volumetric-efficiency', 'fuel-mass', 'injector-pulse-width', 'multiplier']);

/** What an engine is asked for along an axis. */
const LOADS: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'manifold-pressure',
  'throttle',
  'pedal',
  'engine-load',
  'mass-air-flow',
  'mass-air-flow-signal',
]);

/**
 * Tells whether there is fuel at less load than a cell's, the other axis being the same: cells of the least loads may be empty for overrun.
 * Undefined for tables of which that tells nothing.
 */
const fuelAtLessLoad = ({ quantity, columns, rows, values }: Table): ((row: number, column: number) => boolean) | undefined => {
  const load = [rows, columns].find(({ quantity: along }) => along !== undefined && LOADS.has(along)),
    other = load === rows ? columns : rows;
  if (!OF_FUEL.has(quantity) || !load || (other.quantity !== undefined && other.quantity !== 'engine-speed' && !LOADS.has(other.quantity)))
    return undefined;
  // Percent added or taken off, not what everything is multiplied by.
  if (quantity === 'multiplier' && values.some((value) => value < 0)) return undefined;
  const width = columns.values.length,
    least = new Float64Array(Math.max(width, rows.values.length)).fill(Infinity),
    across = (row: number, column: number): number => (load === rows ? column : row);
  values.forEach((value, index) => {
    const row = Math.floor(index / width),
      column = index % width,
      at = across(row, column);
    if (value > 0) least[at] = Math.min(least[at], load.canonical[load === rows ? row : column]);
  });
  return (row, column) => load.canonical[load === rows ? row : column] > least[across(row, column)];
};

/** Cells that are blank, that are no numbers, or that no engine has. */
export const valueProblems = (problems: ProblemList, table: Table): void => {
  const columnCount = table.columns.values.length;
  const info = table.quantity ? TABLE_QUANTITIES[table.quantity] : undefined;
  const toUsual = tableToCanonical(table, STANDARD_CONTEXT);
  // An AFR depends on the fuel that it is for: judged as lambda.
  const [low, high] =
    table.quantity === 'target-afr' ? TABLE_QUANTITIES['target-lambda'].plausible : (info?.plausible ?? [-Infinity, Infinity]);
  // Filling referred to the air outside instead of the manifold goes far beyond under boost.
  const overPressure = [table.columns, table.rows].some(({ quantity }) => quantity === 'manifold-pressure');
  const most = table.quantity === 'volumetric-efficiency' && !overPressure ? 300 : high;
  const unit = table.quantity === 'target-afr' ? UNITS.lambda : (info?.unit ?? UNITS.count);
  const isFuelledBelow = fuelAtLessLoad(table);
  table.values.forEach((written, index) => {
    const value = toUsual(written),
      isNothing = written <= 0;
    if (value >= low && value <= most && !isNothing) return;
    const row = Math.floor(index / columnCount);
    const column = index % columnCount;
    const isEmpty = isNothing && isFuelledBelow?.(row, column) === true;
    if (value >= low && value <= most && !isEmpty) return;
    if (value >= CLOSED_EFFICIENCY_PERCENT && value <= most && table.quantity === 'volumetric-efficiency' && isClosed(table, row, column))
      return;
    const kind = isEmpty ? 'hole' : 'cell';
    if (!Number.isNaN(written) && problems.onlyCounts('value-implausible', kind)) return;
    const place = { range: table.cellRange(row, column) };
    const data = { row, column, rowBreakpoint: table.rows.values[row], columnBreakpoint: table.columns.values[column] };
    if (Number.isNaN(written)) {
      // Cells that a short row does not have are told once, for the row.
      const text = table.cellText(row, column);
      if (text !== '' || table.at(place.range.start.line, place.range.start.character)?.column === column) {
        problems.add({ code: 'value-not-a-number', kind: kindOfText(text), ...place, data: { ...data, text: text.slice(0, 40) } });
      }
      return;
    }
    problems.add({
      code: 'value-implausible',
      kind,
      ...place,
      data: {
        ...data,
        quantity: info?.title ?? '',
        written,
        writtenUnit: table.unit?.symbol ?? '',
        value,
        low,
        high: most,
        unit: unit.symbol,
      },
    });
  });
};
