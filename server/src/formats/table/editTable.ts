// Changing cells of a table without touching anything else of the author's text: decimals, decimal sign, alignment, comments stay.

import { range } from '../range.js';
import type { Table, TextEdit } from './table.js';
import { numberOf } from './tableText.js';

/** A cell to change; `value` is in the table's unit as written. */
export interface CellChange {
  readonly row: number;
  readonly column: number;
  readonly value: number;
}

const decimalsOf = (text: string): number => /[.,](\d*)/.exec(text)?.[1].length ?? 0;

/** Decimals of a cell as its author wrote it; a whole number has those of the table's finest cell, so that 1 can become 1.05 among 0.98. */
const decimalsFor = (table: Table, text: string): number => {
  if (/[.,]/.test(text)) return decimalsOf(text);
  const width = table.columns.values.length;
  let most = 0;
  for (let i = 0; i < table.values.length; i++)
    if (table.values[i] === table.values[i]) most = Math.max(most, decimalsOf(table.cellText(Math.floor(i / width), i % width)));
  return most;
};

const commaIn = (table: Table): boolean => {
  const width = table.columns.values.length;
  for (let i = 0; i < table.values.length; i++) {
    const text = table.cellText(Math.floor(i / width), i % width);
    if (text.includes(',')) return true;
    if (text.includes('.')) return false;
  }
  return false;
};

/**
 * The text that `setCells` puts for a value: decimals, decimal sign and sign in the author's way. Undefined for values that are not finite.
 */
export const cellTextFor = (table: Table, row: number, column: number, value: number): string | undefined => {
  if (!Number.isFinite(value) || Math.abs(value) >= 1e15) return undefined;
  const written = table.cellText(row, column);
  const exponent = /e/i.exec(written)?.[0];
  const decimals = Math.min(decimalsFor(table, written), 20);
  let text = exponent ? value.toExponential(decimalsOf(written)).replace('e+', 'e').replace('e', exponent) : value.toFixed(decimals);
  if (/^-[0.]+$/.test(text)) text = text.slice(1);
  if (/^[+-]?[.,]/.test(written)) text = text.replace(/^(-?)0(?=\.)/, '$1');
  if (written.startsWith('+') && !text.startsWith('-')) text = `+${text}`;
  return written.includes(',') || (!written.includes('.') && commaIn(table)) ? text.replace('.', ',') : text;
};

/**
 * The edits that give cells new values in the text the table was read from. A cell whose value does not change at the author's decimals
 * gets none, nor does one that the text has no place for (a row that ends before it) or a value that is not finite.
 *
 * Columns stay under each other where the blanks around allow it: a longer number eats blanks before it (or behind it, where the number
 * stands at the left of its field), a shorter one leaves blanks there.
 */
export const setCells = (table: Table, text: string, cells: readonly CellChange[]): TextEdit[] => {
  const lines = text.split(/\r\n|\r|\n/);
  const last = new Map(cells.map((cell) => [`${cell.row} ${cell.column}`, cell])); // of two changes of a cell the later counts
  const edits: TextEdit[] = [];
  for (const { row, column, value } of last.values()) {
    if (row < 0 || column < 0) continue; // the axes are not for editing here
    if (table.values[row * table.columns.values.length + column] === value) continue;
    const newText = cellTextFor(table, row, column, value);
    const oldText = table.cellText(row, column);
    const { start, end } = table.cellRange(row, column);
    const at = table.at(start.line, start.character);
    if (newText === undefined || numberOf(newText) === numberOf(oldText) || at?.row !== row || at.column !== column) continue;
    edits.push(fit(lines[start.line] ?? '', start.line, start.character, end.character, newText));
  }
  return edits.sort((a, b) => a.range.start.line - b.range.start.line || a.range.start.character - b.range.start.character);
};

const blanksBefore = (line: string, at: number): number => {
  let n = 0;
  while (line[at - 1 - n] === ' ') n++;
  return n;
};
const blanksBehind = (line: string, at: number): number => {
  let n = 0;
  while (line[at + n] === ' ') n++;
  return n;
};

const fit = (line: string, lineNumber: number, start: number, end: number, newText: string): TextEdit => {
  const grows = newText.length - (end - start);
  const before = blanksBefore(line, start);
  // Only blanks inside the field: those behind the last number of a row belong to its comment or to nobody.
  const behind = end + blanksBehind(line, end) < line.length ? blanksBehind(line, end) : 0;
  const edit = (from: number, to: number, text: string): TextEdit => ({ range: range(lineNumber, from, lineNumber, to), newText: text });
  if (grows === 0 || (before === 0 && behind === 0)) return edit(start, end, newText);
  if (before > 0) return grows > 0 ? edit(start - Math.min(grows, before), end, newText) : edit(start, end, ' '.repeat(-grows) + newText);
  return grows > 0 ? edit(start, end + Math.min(grows, behind), newText) : edit(start, end, newText + ' '.repeat(-grows));
};
