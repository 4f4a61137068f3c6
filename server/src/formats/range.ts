// Places in a text, as LSP counts them: lines and UTF-16 characters from 0.

export interface Position {
  readonly line: number;
  readonly character: number;
}
/** `end` is exclusive. */
export interface Range {
  readonly start: Position;
  readonly end: Position;
}

export const range = (startLine: number, startCharacter: number, endLine: number, endCharacter: number): Range => ({
  start: { line: startLine, character: startCharacter },
  end: { line: endLine, character: endCharacter },
});

const isBefore = (a: Position, b: Position): boolean => a.line < b.line || (a.line === b.line && a.character < b.character);

/**
 * From the start of one place to the end of another; where the second stands before the first (rows in another order than their times), the
 * other way round.
 */
export const rangeOver = (from: Range, to: Range): Range =>
  isBefore(to.end, from.start) ? { start: to.start, end: from.end } : { start: from.start, end: to.end };
