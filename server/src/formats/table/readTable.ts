// From the text of a table to axes and values, with the place of each and everything odd on the way as a problem.

import { STANDARD_BAROMETER_KPA, toCanonical } from '../../quantities/convert.js';
import { GASOLINE_SCALE_AFR } from '../../quantities/fuels.js';
import { QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import type { Unit } from '../../quantities/units.js';
import type { Problem } from '../problem.js';
import { ProblemList } from '../problemList.js';
import { range, type Range } from '../range.js';
import type { Axis, Table } from './table.js';
import { axisQuantityOf, TABLE_QUANTITIES, tableQuantityOf, type Named } from './tableQuantity.js';
import { MOST_BREAKPOINTS, numberOf, readGrid, type Comment, type Field, type GridRow } from './tableText.js';
import { axisEndProblems, axisProblems, axisRangeProblems, looksSwapped, valueProblems } from './tableProblems.js';

export interface ReadTableOptions {
  /** Air around the car, for axes in gauge pressure; the standard atmosphere is assumed and said where it is left out. */
  readonly barometerKPa?: number;
}

interface HeadLine {
  readonly value: string;
  readonly range: Range;
}

/** `# key: value` lines by key (the first of a key counts), and the codes of `# ignore: CODE`. */
const readHead = (comments: readonly Comment[]): { lines: Map<string, HeadLine>; ignored: string[] } => {
  const lines = new Map<string, HeadLine>();
  const ignored: string[] = [];
  for (const { line, start, text } of comments) {
    ignored.push(...ignoredCodes(text));
    const match = /^(\s*([^:]{1,60}?)\s*:\s*)(.*)$/.exec(text);
    if (!match || match[3] === '') continue;
    const key = match[2].toLowerCase();
    const valueStart = start + match[1].length;
    if (!lines.has(key)) lines.set(key, { value: match[3], range: range(line, valueStart, line, valueStart + match[3].length) });
  }
  return { lines, ignored };
};

/** The codes that a comment silences: `ignore: CODE`, `ignore CODE, CODE`. */
const ignoredCodes = (comment: string): string[] => {
  const match = /^\s*ignore\s*:?\s+([a-z][a-z\d, -]*)/i.exec(comment);
  return match
    ? match[1]
        .toLowerCase()
        .split(/[\s,]+/)
        .filter((code) => code.includes('-') || code === 'knock')
    : [];
};

const isEmpty = (row: GridRow): boolean => row.fields.every((field) => field.text === '');
const filledWidth = (row: GridRow): number => {
  let width = row.fields.length;
  while (width > 0 && row.fields[width - 1].text === '') width--;
  return width;
};

/** The number of fields that most rows have. */
const usualWidth = (rows: readonly GridRow[]): number => {
  const counts = new Map<number, number>();
  for (const row of rows) counts.set(filledWidth(row), (counts.get(filledWidth(row)) ?? 0) + 1);
  return [...counts].reduce((best, each) => (each[1] > best[1] || (each[1] === best[1] && each[0] > best[0]) ? each : best), [0, 0])[0];
};

/** The row in which the grid begins, behind the title and the empty lines that a spreadsheet has above it. */
const gridFrom = (rows: readonly GridRow[]): number => {
  let at = 0;
  while (at + 1 < rows.length && filledWidth(rows[at]) <= 1 && Number.isNaN(numberOf(rows[at].fields[0].text))) at++;
  const isHeader =
    at > 0 &&
    filledWidth(rows[at]) > 2 &&
    Number.isNaN(numberOf(rows[at].fields[0].text)) &&
    !Number.isNaN(numberOf(rows[at].fields[1].text));
  // A line of nothing but delimiters heads a single column; before a wider grid it is an empty line.
  return isHeader ? at : rows.length > 1 && isEmpty(rows[0]) && filledWidth(rows[1]) > 2 ? 1 : 0;
};

/** Which rows hold what: the header, the body, how many columns, and whether the corner field was left out. */
const layout = (all: readonly GridRow[]): { header: GridRow | undefined; body: readonly GridRow[]; columns: number; shift: 0 | 1 } => {
  const rows = all.slice(gridFrom(all));
  const [header, ...body] = rows;
  if (!header) return { header, body: [], columns: 0, shift: 0 };
  const headerWidth = filledWidth(header);
  const bodyWidth = usualWidth(body);
  const cornerLeftOut =
    body.length > 0 && headerWidth > 0 && headerWidth === bodyWidth - 1 && !Number.isNaN(numberOf(header.fields[0].text));
  if (cornerLeftOut) return { header, body, columns: Math.min(headerWidth, MOST_BREAKPOINTS), shift: 1 };
  const width = headerWidth >= 2 ? headerWidth : Math.max(bodyWidth, headerWidth);
  return { header, body, columns: Math.min(Math.max(width - 1, 0), MOST_BREAKPOINTS), shift: 0 };
};

const fieldRange = (line: number, field: Field): Range => range(line, field.start, line, field.end);
const rowRange = (row: GridRow): Range => range(row.line, row.fields[0].start, row.line, row.fields[row.fields.length - 1].end);

/**
 * Reads a table. Never throws: what is not right is in `problems`. Rows and columns beyond 512 are left out and told so. A gauge axis is
 * made absolute with `options.barometerKPa`, else with the standard atmosphere, which is told.
 */
export const readTable = (text: string, options: ReadTableOptions = {}): Table => {
  const problems = new ProblemList();
  const binary = text.includes('\0');
  const grid = readGrid(binary ? '' : text);
  const { lines: head, ignored } = readHead(grid.comments);
  const { header, body: allRows, columns: columnCount, shift } = layout(grid.rows);
  const rows = allRows.slice(0, MOST_BREAKPOINTS);
  const headRange = header ? rowRange(header) : range(0, 0, 0, 0);
  const place = (key: string): Range => head.get(key)?.range ?? headRange;

  if (binary) problems.add({ code: 'value-not-a-number', kind: 'binary', range: headRange });
  else if (!header || rows.length === 0 || columnCount === 0) problems.add({ code: 'row-ragged', kind: 'no-grid', range: headRange });
  if (grid.moreRows || allRows.length > MOST_BREAKPOINTS)
    problems.add({ code: 'row-ragged', kind: 'rows-left-out', range: headRange, data: { most: MOST_BREAKPOINTS } });
  if (header?.more) problems.add({ code: 'row-ragged', kind: 'columns-left-out', range: headRange, data: { most: MOST_BREAKPOINTS } });
  if (header && shift === 1)
    problems.add({ code: 'row-ragged', kind: 'corner-left-out', range: fieldRange(header.line, header.fields[0]) });

  const dimensions = rows.length > 1 && columnCount > 1 ? 2 : 1;
  const singleColumn = dimensions === 1 && rows.length > 1;

  // What the numbers are.
  const quantityLine = head.get('quantity');
  const named = quantityLine ? tableQuantityOf(quantityLine.value) : undefined;
  if (rows.length > 0)
    sayNamed(problems, 'quantity', quantityLine, named, headRange, named?.quantity ? TABLE_QUANTITIES[named.quantity].title : '');
  const barometerKPa = options.barometerKPa ?? STANDARD_BAROMETER_KPA;

  const judgedAxes: ['columns' | 'rows', Axis][] = [];
  const axis = (key: 'columns' | 'rows', fields: readonly { line: number; field: Field | undefined }[], lies: boolean): Axis => {
    // The axis of a single column is the one across where only that is named.
    const line = head.get(key) ?? (key === 'rows' && singleColumn ? head.get('columns') : undefined);
    const read = line && !(lies && singleColumn && !head.get('rows')) ? axisQuantityOf(line.value) : undefined;
    if (!lies && fields.length > 0) sayNamed(problems, key, line, read, headRange, read?.quantity ? QUANTITIES[read.quantity].title : '');
    const values = Float64Array.from(fields, ({ field }) => (field ? numberOf(field.text) : NaN)).map((value) =>
      Number.isFinite(value) ? value : NaN,
    );
    const ranges = fields.map(({ line: at, field }) => (field ? fieldRange(at, field) : range(at, 0, at, 0)));
    const made: Axis = { quantity: read?.quantity, unit: read?.unit, values, canonical: canonicalAxis(values, read, barometerKPa), ranges };
    if (!lies) {
      if (read?.unit?.reference === 'gauge' || read?.unit?.reference === 'vacuum') {
        if (options.barometerKPa === undefined)
          problems.add({ code: 'unit-unknown', kind: 'barometer-assumed', range: place(key), data: { axis: key, barometerKPa } });
      }
      axisProblems(
        problems,
        key,
        made,
        fields.map(({ field }) => field?.text ?? ''),
      );
      judgedAxes.push([key, made]);
    }
    return made;
  };
  const columns = axis(
    'columns',
    header ? Array.from({ length: columnCount }, (_, i) => ({ line: header.line, field: header.fields[i + 1 - shift] })) : [],
    singleColumn,
  );
  const rowAxis = axis(
    'rows',
    rows.map((row) => ({ line: row.line, field: row.fields[0] })),
    dimensions === 1 && !singleColumn,
  );

  if (dimensions === 2 && looksSwapped(columns, rowAxis)) {
    const title = (made: Axis): string => (made.quantity ? QUANTITIES[made.quantity].title : '');
    const ends = (made: Axis): number[] => [made.values[0], made.values[made.values.length - 1]];
    problems.add({
      code: 'value-implausible',
      kind: 'axes-swapped',
      range: place('columns'),
      data: { columns: title(columns), rows: title(rowAxis), columnEnds: ends(columns), rowEnds: ends(rowAxis) },
    });
  } else
    for (const [key, made] of judgedAxes) {
      axisRangeProblems(problems, key, made);
      axisEndProblems(problems, key, made);
    }

  const cornerText = header && shift === 0 ? header.fields[0].text : '';
  if (header && dimensions === 1 && rows.length > 0 && !Number.isNaN(numberOf(cornerText))) {
    problems.add({
      code: 'row-ragged',
      kind: 'corner-number',
      range: fieldRange(header.line, header.fields[0]),
      data: { text: cornerText },
    });
  }

  // The values.
  const values = new Float64Array(rows.length * columnCount).fill(NaN);
  const ignoredInRow = new Map<number, readonly string[]>();
  if (header?.comment) addIgnored(ignoredInRow, -1, header.comment);
  rows.forEach((row, rowIndex) => {
    if (row.comment) addIgnored(ignoredInRow, rowIndex, row.comment);
    const found = Math.max(filledWidth(row), Math.min(row.fields.length, columnCount + 1)) - 1;
    if (found !== columnCount) {
      const last = rowIndex === rows.length - 1 && !row.ended && found < columnCount;
      problems.add({
        code: 'row-ragged',
        kind: last ? 'cut-off' : found < columnCount ? 'too-few' : 'too-many',
        range: rowRange(row),
        data: { expected: columnCount, found },
      });
    }
    for (let column = 0; column < Math.min(columnCount, found); column++) {
      const value = numberOf(row.fields[column + 1].text);
      values[rowIndex * columnCount + column] = Number.isFinite(value) ? value : NaN;
    }
  });

  const rowOfLine = new Map(rows.map((row, index) => [row.line, index]));
  if (header) rowOfLine.set(header.line, -1);
  const fieldOf = (row: number, column: number): { line: number; field: Field | undefined } => {
    const from = row < 0 ? header : rows[row];
    return { line: from?.line ?? 0, field: from?.fields[row < 0 ? column + 1 - shift : column + 1] };
  };
  const table: Table = {
    kind: 'table',
    quantity: named?.quantity,
    unit: named?.unit,
    columns,
    rows: rowAxis,
    dimensions,
    values,
    metadata: new Map([...head].map(([key, { value }]) => [key, value])),
    ignored,
    ignoredInRow,
    get problems(): readonly Problem[] {
      return problems.all;
    },
    cellRange: (row, column) => {
      const { line, field } = fieldOf(row, column);
      if (field) return fieldRange(line, field);
      // The row ends before this column: its end.
      const fields = rows[row]?.fields;
      const end = fields?.[fields.length - 1]?.end ?? 0;
      return range(line, end, line, end);
    },
    cellText: (row, column) => fieldOf(row, column).field?.text ?? '',
    at: (line, character) => {
      const row = rowOfLine.get(line);
      const fields = row === undefined ? undefined : row < 0 ? header?.fields : rows[row].fields;
      if (row === undefined || !fields) return undefined;
      const index = fields.findIndex((field) => character >= field.from && character <= field.to);
      const column = index - 1 + (row < 0 ? shift : 0);
      if (index < 0 || column >= columnCount || (row < 0 && column < 0)) return undefined;
      return { row, column };
    },
    headRange,
  };
  valueProblems(problems, table);
  return table;
};

const addIgnored = (to: Map<number, readonly string[]>, row: number, comment: string): void => {
  const codes = ignoredCodes(comment);
  if (codes.length > 0) to.set(row, codes);
};

const canonicalAxis = (values: Float64Array, read: Named<QuantityId> | undefined, barometerKPa: number): Float64Array => {
  if (!read?.quantity || !read.unit) return values;
  const convert = toCanonical(read.quantity, read.unit, { barometerKPa, stoichAfr: GASOLINE_SCALE_AFR });
  return values.map(convert);
};

/** What a head line leaves open: nothing there, a name that is not known, a unit that had to be assumed. */
const sayNamed = (
  problems: ProblemList,
  key: 'quantity' | 'columns' | 'rows',
  line: HeadLine | undefined,
  named: Named<string> | undefined,
  headRange: Range,
  title: string,
): void => {
  const say = (kind: string, data: Problem['data']): void =>
    problems.add({ code: 'unit-unknown', kind, range: line?.range ?? headRange, data: { line: key, ...data } });
  if (!line || !named) {
    say('line-missing', {});
    return;
  }
  if (!named.quantity) {
    say('quantity-unknown', { text: line.value });
    return;
  }
  const assumed = (unit: Unit | undefined): string => unit?.symbol ?? '';
  if (named.unitState === 'missing') say('unit-missing', { quantity: title, assumed: assumed(named.unit) });
  if (named.unitState === 'unknown') say('unit-unknown', { quantity: title, text: named.unitText, assumed: assumed(named.unit) });
};
