// Growing the selection: cell, row, block (a pull, a recording, the table's grid).

import type { SelectionRange } from 'vscode-languageserver-types';
import { range, type Position, type Range } from '../../formats/range.js';
import type { Table } from '../../formats/table/table.js';
import type { Signals } from '../../signals/signals.js';

const nested = (position: Position, ranges: readonly (Range | undefined)[]): SelectionRange => {
  let parent: SelectionRange | undefined;
  // The largest first; one that does not lie within the one before it is left out, as the protocol wants each within its parent.
  for (const each of [...ranges].reverse())
    if (each && (!parent || isWithin(each, parent.range))) parent = parent ? { range: each, parent } : { range: each };
  return parent ?? { range: { start: position, end: position } };
};
const before = (a: Position, b: Position): boolean => a.line < b.line || (a.line === b.line && a.character <= b.character);
const isWithin = (inner: Range, outer: Range): boolean => before(outer.start, inner.start) && before(inner.end, outer.end);

/** One answer for each position, as the protocol wants it. */
export const selectionRanges = {
  session: (signals: Signals, positions: readonly Position[]): SelectionRange[] =>
    positions.map((position) => {
      const { places } = signals.session;
      const sample = places.sampleAt(position.line);
      const channel = places.channelAt(position.line, position.character);
      if (sample === undefined) return nested(position, []);
      const row = range(position.line, 0, position.line + 1, 0);
      const linesOf = ({ from, to }: { from: number; to: number }): Range => range(places.lineOf(from), 0, places.lineOf(to - 1) + 1, 0);
      const around = [...signals.pulls, ...signals.recordings].filter(({ from, to }) => from <= sample && sample < to).map(linesOf);
      return nested(position, [channel !== undefined && channel >= 0 ? places.cellRange(channel, sample) : undefined, row, ...around]);
    }),

  table: (table: Table, positions: readonly Position[]): SelectionRange[] =>
    positions.map((position) => {
      const at = table.at(position.line, position.character);
      if (!at || at.row < 0) return nested(position, []);
      const width = table.columns.values.length;
      const height = table.values.length / width;
      const first = table.cellRange(at.row, 0);
      const last = table.cellRange(at.row, width - 1);
      return nested(position, [
        at.column >= 0 ? table.cellRange(at.row, at.column) : undefined,
        { start: first.start, end: last.end },
        { start: table.cellRange(0, 0).start, end: table.cellRange(height - 1, width - 1).end },
      ]);
    }),
};
