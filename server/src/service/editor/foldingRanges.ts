// What folds: notes, recordings and the pulls within; the notes of a table.

import { FoldingRangeKind, type FoldingRange } from 'vscode-languageserver-types';
import type { Signals } from '../../signals/signals.js';

export function sessionFolding({ session, recordings, pulls }: Signals): FoldingRange[] {
  const { places } = session;
  const span = ({ from, to }: { from: number; to: number }): FoldingRange => ({
    startLine: places.lineOf(from),
    endLine: places.lineOf(to - 1),
    kind: FoldingRangeKind.Region,
  });
  return [
    ...runs(session.notes.map(({ line }) => line)),
    ...(recordings.length > 1 ? recordings.map(span) : []),
    ...pulls.map(span),
  ].filter(({ startLine, endLine }) => endLine > startLine);
}

/** Runs of lines that begin with `#`. */
export function noteFolding(text: string): FoldingRange[] {
  const lines = text.split(/\r\n|\r|\n/, 10_000).flatMap((line, index) => (/^\s*#/.test(line) ? [index] : []));
  return runs(lines).filter(({ startLine, endLine }) => endLine > startLine);
}

function runs(lines: readonly number[]): FoldingRange[] {
  const found: FoldingRange[] = [];
  for (const line of lines) {
    const last = found[found.length - 1];
    if (last?.endLine === line - 1) last.endLine = line;
    else found.push({ startLine: line, endLine: line, kind: FoldingRangeKind.Comment });
  }
  return found;
}
