// What the grammar cannot know about a text: which words are channels and units, which readings are not to be believed, which numbers are
// breakpoints.

import type { Range } from '../../formats/range.js';
import type { Table } from '../../formats/table/table.js';
import type { Signals } from '../../signals/signals.js';

export type TokenKind = 'property' | 'type' | 'number';
export type TokenModifier = 'readonly' | 'deprecated';
/** A token on one line; in the order of the text. */
export interface Token {
  readonly line: number;
  readonly character: number;
  readonly length: number;
  readonly kind: TokenKind;
  readonly modifier?: TokenModifier;
}

export const TOKEN_KINDS: readonly TokenKind[] = ['property', 'type', 'number'];
export const TOKEN_MODIFIERS: readonly TokenModifier[] = ['readonly', 'deprecated'];

/** A longer answer helps nobody; a client that scrolls asks for what it shows. */
export const MOST_TOKENS = 20_000;

const onOneLine = ({ start, end }: Range): boolean => start.line === end.line && end.character > start.character;
const token = ({ start, end }: Range, kind: TokenKind, modifier?: TokenModifier): Token[] =>
  onOneLine({ start, end })
    ? [{ line: start.line, character: start.character, length: end.character - start.character, kind, ...(modifier ? { modifier } : {}) }]
    : [];
const inOrder = (tokens: Token[]): Token[] => tokens.sort((a, b) => a.line - b.line || a.character - b.character);

/**
 * The header's channels and units, and the readings that failed a check (`deprecated`: most themes strike them through) between two lines.
 */
export function sessionTokens({ session, faults }: Signals, firstLine = 0, lastLine = Infinity): Token[] {
  const { places, channels } = session;
  const tokens = channels.flatMap(({ header, headerRange }) =>
    headerRange.start.line >= firstLine && headerRange.start.line <= lastLine ? headerTokens(header, headerRange) : [],
  );
  const marked = new Set<string>();
  for (const { from, to, channel } of faults) {
    if (session.samples === 0 || places.lineOf(to - 1) < firstLine || places.lineOf(from) > lastLine) continue;
    for (let sample = from; sample < to && tokens.length < MOST_TOKENS; sample++) {
      const line = places.lineOf(sample);
      if (line < firstLine) continue;
      if (line > lastLine) break;
      const key = `${channel.index} ${sample}`;
      if (marked.has(key) || channel.values[sample] !== channel.values[sample]) continue;
      marked.add(key);
      tokens.push(...token(places.cellRange(channel.index, sample), 'number', 'deprecated'));
    }
  }
  return inOrder(tokens);
}

/** `Engine Speed (rpm)`: the name and the unit within its brackets. */
function headerTokens(header: string, headerRange: Range): Token[] {
  const { start, end } = headerRange;
  const unit = /[([]\s*([^()[\]]+?)\s*[)\]]\s*$/.exec(header);
  // A header with quotes within quotes stands otherwise in the text.
  if (!unit || end.character - start.character !== header.length) return token(headerRange, 'property');
  const at = (from: number, to: number): Range => ({
    start: { line: start.line, character: start.character + from },
    end: { line: start.line, character: start.character + to },
  });
  const unitStart = unit.index + unit[0].indexOf(unit[1], 1);
  return [
    ...token(at(0, header.slice(0, unit.index).trimEnd().length), 'property'),
    ...token(at(unitStart, unitStart + unit[1].length), 'type'),
  ];
}

/** A table's breakpoints (`readonly`: a correction never changes them) and cells. */
export function tableTokens(table: Table, firstLine = 0, lastLine = Infinity): Token[] {
  const { columns, rows, values } = table;
  const width = columns.values.length;
  const tokens = [...columns.ranges, ...rows.ranges].flatMap((each) => token(each, 'property', 'readonly'));
  for (let i = 0; i < values.length && tokens.length < MOST_TOKENS; i++)
    if (values[i] === values[i]) tokens.push(...token(table.cellRange(Math.floor(i / width), i % width), 'number'));
  return inOrder(tokens.filter(({ line }) => line >= firstLine && line <= lastLine));
}
