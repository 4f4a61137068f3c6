// What a table's reader noticed, in words: the table half of the rules that sessions and tables share.

import { formatNumber } from '../quantities/format.js';
import type { Problem } from '../formats/problem.js';
import type { Table } from '../formats/table/table.js';
import type { Vehicle } from '../formats/vehicle/vehicle.js';
import { cellPlace } from './cellPlace.js';
import type { Finding, Severity } from './finding.js';

type Engine = Vehicle['engine'];
type Words = readonly [severity: Severity, message: string];
type Wording = (problem: Problem, table: Table) => Words;

const quoted = (problem: Problem): string => `"${String(problem.data.text ?? '')}"`;
const number = (value: unknown): string => {
  const digits = formatNumber(Number(value), 3);
  return digits.includes('.') ? digits.replace(/\.?0+$/, '') : digits;
};
const axisWords = (problem: Problem): string =>
  problem.data.axis === 'columns' ? 'column axis (the first row)' : 'row axis (the first column)';
const place = (problem: Problem, table: Table): string => cellPlace(table, Number(problem.data.row), Number(problem.data.column));
const headLine = (problem: Problem): string => `"# ${String(problem.data.line)}:"`;
const EXAMPLES: Readonly<Record<string, string>> = {
  quantity: '# quantity: volumetric efficiency (%)',
  columns: '# columns: engine speed (rpm)',
  rows: '# rows: manifold pressure (kPa)',
};
const writtenAs = (p: Problem): string =>
  `${number(p.data.value)} ${p.data.writtenUnit}${p.data.writtenUnit === p.data.unit ? '' : ` (${number(p.data.canonical)} ${p.data.unit})`}`;
const example = (problem: Problem): string => EXAMPLES[String(problem.data.line)] ?? '';
const withoutIt = (problem: Problem): string =>
  problem.data.line === 'quantity'
    ? 'Without it nothing is known of what the values do'
    : 'Without it no reading can be placed on this axis';

/** By code and kind. */
const WORDINGS: Readonly<Record<string, Wording>> = {
  'value-not-a-number blank': (p, t) => [
    'error',
    `The cell at ${place(p, t)} is blank. An engine computer has a number in every cell: put in what it holds.`,
  ],
  'value-not-a-number text': (p, t) => [
    'error',
    `${quoted(p)} at ${place(p, t)} is not a number. The cell counts as blank; put in what the engine computer holds.`,
  ],
  'value-not-a-number too-large': (p, t) => [
    'error',
    `${quoted(p)} at ${place(p, t)} is more than a number can hold. The cell counts as blank; check how it was typed.`,
  ],
  'value-not-a-number breakpoint-blank': (p) => [
    'error',
    `A breakpoint of the ${axisWords(p)} is blank. No reading can be placed in this table until it is filled in.`,
  ],
  'value-not-a-number breakpoint-text': (p) => [
    'error',
    `The breakpoint ${quoted(p)} of the ${axisWords(p)} is not a number. No reading can be placed in this table until it is one.`,
  ],
  'value-not-a-number breakpoint-too-large': (p) => [
    'error',
    `The breakpoint ${quoted(p)} of the ${axisWords(p)} is more than a number can hold. Check how it was typed.`,
  ],
  'value-not-a-number binary': () => [
    'error',
    'This is not a text file, so no table can be read from it. Check that it was exported as CSV.',
  ],
  'row-ragged no-grid': () => [
    'error',
    'There is no table in this file: a first row of breakpoints and below it at least one row of a breakpoint and values.',
  ],
  'row-ragged cut-off': (p) => [
    'error',
    `The last row breaks off after ${p.data.found} of ${p.data.expected} values. The file was probably cut short: take the table from the engine computer again.`,
  ],
  'row-ragged too-few': (p) => [
    'error',
    `This row has ${p.data.found} values where the axis has ${p.data.expected}. The missing cells are at its end; check that none was left out in the middle.`,
  ],
  'row-ragged too-many': (p) => [
    'error',
    `This row has ${p.data.found} values where the axis has ${p.data.expected}. What is over is not read; check for a comma used as decimal sign.`,
  ],
  'row-ragged rows-left-out': (p) => [
    'error',
    `The table has more than ${p.data.most} rows. Those beyond are not read: check that this is a table of an engine computer and not a log.`,
  ],
  'row-ragged columns-left-out': (p) => [
    'error',
    `The table has more than ${p.data.most} columns. Those beyond are not read: check that this is a table of an engine computer.`,
  ],
  'row-ragged corner-left-out': () => [
    'warning',
    'The first row has no corner field, so it was read as one breakpoint for each value below. Begin it with a delimiter to say so.',
  ],
  'row-ragged corner-number': (p) => [
    'information',
    `The first field, ${quoted(p)}, is the corner of the table and is not read. If it is a point of the curve, put a row or column of heads before it.`,
  ],
  'unit-unknown line-missing': (p) => ['warning', `There is no line ${headLine(p)}. ${withoutIt(p)}. Add for example "${example(p)}".`],
  'unit-unknown quantity-unknown': (p) => [
    'warning',
    `${quoted(p)} is not a quantity known for ${headLine(p)}. ${withoutIt(p)}. Write for example "${example(p)}".`,
  ],
  'unit-unknown unit-missing': (p) => [
    'information',
    `No unit is given for ${p.data.quantity}: ${p.data.assumed} is assumed. Write it in brackets behind the name.`,
  ],
  'unit-unknown unit-unknown': (p) => [
    'warning',
    `${quoted(p)} is not a unit of ${p.data.quantity}: ${p.data.assumed} is assumed. Check it before you trust anything said of this table.`,
  ],
  'unit-unknown barometer-assumed': (p) => [
    'information',
    `These breakpoints are gauge pressure. They are made absolute with ${formatNumber(Number(p.data.barometerKPa), 1)} kPa of air around the car, assumed (sea level).`,
  ],
  'axis-not-monotonic repeated': (p) => [
    'error',
    `The breakpoint ${number(p.data.value)} of the ${axisWords(p)} stands there twice. Breakpoints have to go strictly ${p.data.up ? 'up' : 'down'}: no reading can be placed in this table until they do.`,
  ],
  'axis-not-monotonic turns': (p) => [
    'error',
    `The breakpoint ${number(p.data.value)} of the ${axisWords(p)} comes after ${number(p.data.before)}. Breakpoints have to go strictly ${p.data.up ? 'up' : 'down'}: check both for a slip; no reading can be placed in this table until then.`,
  ],
  'value-implausible cell': (p, t) => [
    'warning',
    `${number(p.data.written)} ${p.data.writtenUnit} at ${place(p, t)} is no ${p.data.quantity} an engine has (${number(p.data.low)} to ${number(p.data.high)} ${p.data.unit}). Check for a slipped decimal sign or a wrong unit.`,
  ],
  'value-implausible hole': (p, t) => [
    'error',
    `${number(p.data.written)} ${p.data.writtenUnit} at ${place(p, t)} is no fuel at all, and there is some at less load: an engine that comes there with this table burns lean or nothing. Put in what the engine computer holds, or say in vehicle.json (engine: aspiration, maxManifoldPressureKPa) that it does not.`,
  ],
  'value-implausible axes-swapped': (p) => {
    const ends = (value: unknown): string => (value as readonly number[]).map(number).join(' to ');
    return [
      'error',
      `The axes look swapped: the first row goes from ${ends(p.data.columnEnds)} as ${p.data.columns}, the first column from ${ends(p.data.rowEnds)} as ${p.data.rows}. Change over "# columns:" and "# rows:"; until then every reading falls into the wrong cell.`,
    ];
  },
  'value-implausible breakpoint': (p) =>
    Number(p.data.canonical) < 0 && p.data.unit === 'kPa' && !String(p.data.writtenUnit).includes('gauge')
      ? [
          'error',
          `${writtenAs(p)} is less than nothing for an absolute pressure: the ${axisWords(p)} is in gauge pressure, or it is a slip. Write "${p.data.quantity} (${p.data.writtenUnit} gauge)" if it is; until then readings fall into cells of another load.`,
        ]
      : [
          'warning',
          `${number(p.data.value)} ${p.data.writtenUnit}${p.data.writtenUnit === p.data.unit ? '' : ` (${formatNumber(Number(p.data.canonical), 0)} ${p.data.unit})`} is no ${p.data.quantity} an engine has (${number(p.data.low)} to ${number(p.data.high)} ${p.data.unit}). Check the breakpoint and the unit of the ${axisWords(p)}.`,
        ],
  'value-implausible axis-ends-low': (p) => [
    'warning',
    `The ${axisWords(p)} ends at ${writtenAs(p)}: ${p.data.quantity} of a running engine goes beyond ${number(p.data.least)} ${p.data.unit}, so the numbers are hardly in the unit that their head line says. Write the one that they are in; until then readings fall past this axis, into its last cells or none.`,
  ],
};

/**
 * Cells beyond one end of what is plausible are slips up to so many; more have one cause, and are told once. Common practice, no source.
 */
const MOST_SLIPS = 6;

const beyondTop = ({ data }: Problem): boolean => Number(data.value) > Number(data.high);

/** Cells that are beyond one end, told by the first of them. */
const tellOnce = (cells: readonly Problem[], table: Table): Finding => {
  const [first, ...others] = cells,
    { written, writtenUnit, quantity, low, high, unit } = first.data,
    off = ({ data }: Problem): number => Math.abs(Number(data.value) - Number(low));
  // Of very many not each has a place.
  const furthest = cells.reduce((far, cell) => (off(cell) > off(far) ? cell : far));
  const more = cells.reduce((sum, { count }) => sum + count, 0) - 1;
  return {
    code: 'value-implausible',
    severity: 'warning',
    range: first.range,
    message:
      `${number(written)} ${writtenUnit} at ${place(first, table)} is no ${quantity} an engine has (${number(low)} to ${number(high)} ${unit}), and ${more} more cells are beyond it too, ${number(furthest.data.written)} ${writtenUnit} among them. ` +
      'So many are hardly slips: see what the engine computer counts this table in, and in which unit.',
    related: others.map((other) => ({
      range: other.range,
      message: `${number(other.data.written)} ${writtenUnit} at ${place(other, table)}`,
    })),
    data: { kind: 'cells', cells: cells.map(({ data: { row, column } }) => [row, column]), count: more + 1 },
  };
};

/**
 * No air around a car that is driven is denser, kPa; and up to here at least a natural engine comes with its throttle open. Common
 * practice, no source.
 */
const DENSEST_KPA = 104,
  OPEN_FROM_KPA = 95;

/**
 * Whether an engine does not come to a cell that holds nothing: above the air around a natural one, or above the most that vehicle.json
 * lets it have, and fuelled up to there.
 */
const isUnreached = ({ data }: Problem, { columns, rows }: Table, engine: Engine | undefined): boolean => {
  const [axis, at] = rows.quantity === 'manifold-pressure' ? [rows, Number(data.row)] : [columns, Number(data.column)],
    kPa = axis.canonical[at];
  const most = engine?.maxManifoldPressureKPa,
    [from, to] = engine?.aspiration === 'natural' ? [OPEN_FROM_KPA, DENSEST_KPA] : most === undefined ? [Infinity, Infinity] : [most, most];
  return axis.quantity === 'manifold-pressure' && kPa > to && axis.canonical.some((other) => other >= from && other < kPa);
};

const tellUnreached = (cells: readonly Problem[], table: Table): Finding => {
  const [first, ...others] = cells,
    { written, writtenUnit } = first.data,
    more = cells.reduce((sum, { count }) => sum + count, 0) - 1;
  return {
    code: 'value-implausible',
    severity: 'warning',
    range: first.range,
    message: `${number(written)} ${writtenUnit} at ${place(first, table)}${more > 0 ? `, and in ${more} more cells,` : ''} is no fuel at all. By vehicle.json the engine does not come there, so they are left aside; yet on the way there the fuel falls away: put in what the next lower load holds.`,
    related: others.map((other) => ({
      range: other.range,
      message: `${number(other.data.written)} ${writtenUnit} at ${place(other, table)}`,
    })),
    data: { kind: 'unreached', count: more + 1 },
  };
};

/** Findings for the problems of one code, at their places. */
export const tableProblemFindings = (code: Finding['code'], table: Table, engine?: Engine): Finding[] => {
  const cells = code === 'value-implausible' ? table.problems.filter((problem) => problem.code === code && problem.kind === 'cell') : [];
  const together = [cells.filter(beyondTop), cells.filter((cell) => !beyondTop(cell))].filter(({ length }) => length > MOST_SLIPS),
    unreached =
      code === 'value-implausible'
        ? table.problems.filter((problem) => problem.kind === 'hole' && isUnreached(problem, table, engine))
        : [],
    told = new Set([...together.flat(), ...unreached]);
  return [
    ...(unreached.length > 0 ? [tellUnreached(unreached, table)] : []),
    ...together.map((each) => tellOnce(each, table)),
    ...singly(code, table, told),
  ];
};

const singly = (code: Finding['code'], table: Table, told: ReadonlySet<Problem>): Finding[] =>
  table.problems.flatMap((problem) => {
    if (problem.code !== code || told.has(problem)) return [];
    const [severity, message] = WORDINGS[`${code} ${problem.kind}`]?.(problem, table) ?? ['warning', `${code}: ${problem.kind}`];
    const more = problem.count > 1 ? ` So are ${problem.count - 1} more of this kind in the file.` : '';
    return [
      {
        code,
        severity,
        range: problem.range,
        message: `${message.replace(/ {2,}/g, ' ')}${more}`,
        data: { kind: problem.kind, ...problem.data, count: problem.count },
      },
    ];
  });
