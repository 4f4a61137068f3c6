// A table's columns put under each other: blanks move, the text of every number, comment and line end stays.

import { range } from '../../formats/range.js';
import type { TextEdit } from '../../formats/table/table.js';
import { readGrid, type GridRow } from '../../formats/table/tableText.js';

/** A field as written, quotes and all; its decimals, the sign before them included, where it is a number of the grid. */
interface Written {
  readonly whole: string;
  readonly decimals: string | undefined;
}

const DECIMALS = /^([+-]?\d*)([.,]\d*)?$/;

/**
 * Edits that align a table, one for each line that moves; none for a table between tabs, which align themselves, nor for one that is not
 * read whole.
 * Decimal signs stand under each other. Aligning an aligned table changes nothing.
 */
export function alignTable(text: string): TextEdit[] {
  const { rows, delimiter, moreRows } = readGrid(text);
  if (delimiter === '\t' || moreRows || rows.some(({ more }) => more)) return [];
  const lines = text.split(/\r\n|\r|\n/);
  const fields = rows.map((row, index) => fieldsOf(lines[row.line] ?? '', row, index === 0));
  const widths: { before: number; behind: number }[] = [];
  const within = (column: number): { before: number; behind: number } => (widths[column] ??= { before: 0, behind: 0 });
  for (const row of fields) {
    for (const [column, { whole, decimals }] of row.entries()) {
      if (decimals === undefined) continue;
      within(column).before = Math.max(within(column).before, whole.length - decimals.length);
      within(column).behind = Math.max(within(column).behind, decimals.length);
    }
  }
  // What is no number, and the breakpoints above, end where the numbers end.
  for (const row of fields)
    for (const [column, { whole }] of row.entries())
      within(column).before = Math.max(within(column).before, whole.length - within(column).behind);
  const padded = ({ whole, decimals }: Written, column: number): string => {
    const { before, behind } = widths[column];
    const number =
      decimals === undefined ? whole.padStart(before + behind) : whole.padStart(before + decimals.length).padEnd(before + behind);
    // A blank sets the breakpoints of the rows apart.
    return column === 0 ? `${number} ` : number;
  };
  const aligned = fields.map((row) => row.map(padded).join(`${delimiter} `).trimEnd());
  const longest = Math.max(0, ...aligned.map((line) => line.length));
  return rows.flatMap(({ line, fields: placed, comment }, index) => {
    const end = placed[placed.length - 1].to;
    const newText = comment === undefined ? aligned[index] : `${aligned[index].padEnd(longest)}  `;
    return lines[line].slice(0, end) === newText ? [] : [{ range: range(line, 0, line, end), newText }];
  });
}

function fieldsOf(line: string, { fields }: GridRow, isHead: boolean): Written[] {
  return fields.map(({ from, to }) => {
    const whole = line.slice(from, to).trim();
    const number = isHead ? null : DECIMALS.exec(whole);
    return { whole, decimals: number ? (number[2] ?? '') : undefined };
  });
}
