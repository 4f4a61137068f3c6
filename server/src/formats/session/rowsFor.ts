// Sets the row reader up for a file's layout.

import type { Keeping } from '../csv/columns.js';
import { Rows, type CellKind } from '../csv/rows.js';
import type { Clock } from './clock.js';
import type { Layout } from './header.js';
import type { ProblemBook } from '../problemBook.js';
import { readClock, readIso } from './time.js';

/** A reader of rows for a layout. `keeping`: how each column is kept, by the bytes that all of them take; whole where left out. */
export const rowsFor = (
  layout: Layout,
  kinds: readonly CellKind[],
  clock: Clock | undefined,
  oddTextsOf: number,
  book: ProblemBook,
  textBook: ProblemBook,
  keeping?: (kind: CellKind, allBytes: number, column: number) => Keeping,
): Rows => {
  const readTime = clock?.form === 'iso' ? readIso : readClock;
  const width = layout.header.length;
  const expected = ((layout.source.size - layout.dataOffset) / layout.rowBytes) * 1.05;
  return new Rows(
    width,
    layout.delimiter.charCodeAt(0),
    layout.delimiter === ',' ? 46 : 44,
    kinds,
    clock?.column ?? -1,
    readTime,
    oddTextsOf,
    layout.text,
    book,
    textBook,
    width + layout.columnsLeftOut,
    expected,
    layout.dataLine,
    keeping && ((column) => keeping(kinds[column], expected * width * 8, column)),
    layout.headless ? [] : layout.header.map(({ text }) => text),
    layout.unitsRow,
    layout.decimalComma ? 44 : undefined,
  );
};
