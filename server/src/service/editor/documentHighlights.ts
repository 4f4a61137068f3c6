// What lights up with the cursor: in a session the channel's header and the reading; in a table the cell's two breakpoints.

import { DocumentHighlightKind, type DocumentHighlight } from 'vscode-languageserver-types';
import type { Position, Range } from '../../formats/range.js';
import type { Table } from '../../formats/table/table.js';
import type { Signals } from '../../signals/signals.js';

const light = (range: Range, kind: DocumentHighlightKind = DocumentHighlightKind.Text): DocumentHighlight => ({ range, kind });

export const documentHighlights = {
  session: ({ session: { places, channels } }: Signals, { line, character }: Position): DocumentHighlight[] => {
    const sample = places.sampleAt(line);
    const index = places.channelAt(line, character);
    const channel = index === undefined ? undefined : channels[index];
    return sample !== undefined && channel
      ? [light(channel.headerRange), light(places.cellRange(channel.index, sample), DocumentHighlightKind.Read)]
      : [];
  },

  table: (table: Table, { line, character }: Position): DocumentHighlight[] => {
    const at = table.at(line, character);
    if (!at) return [];
    const { row, column } = at;
    const axes = [row >= 0 ? table.rows.ranges[row] : undefined, column >= 0 ? table.columns.ranges[column] : undefined];
    return [
      ...axes.filter((range) => range !== undefined).map((range) => light(range)),
      ...(row >= 0 && column >= 0 ? [light(table.cellRange(row, column), DocumentHighlightKind.Read)] : []),
    ];
  },
};
