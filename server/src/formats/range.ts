// Places in a text, as LSP counts them: lines and UTF-16 characters from 0.

export interface Position { readonly line: number; readonly character: number }
/** `end` is exclusive. */
export interface Range { readonly start: Position; readonly end: Position }

export const range = (startLine: number, startCharacter: number, endLine: number, endCharacter: number): Range => ({
  start: { line: startLine, character: startCharacter }, end: { line: endLine, character: endCharacter },
});
