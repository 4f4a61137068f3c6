// A session's first lines, read without the rest: which table it was logged with, and what tells its drive from another.

import { bytesSource, type ByteSource } from '../formats/source.js';
import type { Table } from '../formats/table/table.js';
import { printOf } from './keep.js';
import { textOf } from './text.js';

const HEAD_BYTES = 8 << 10;

/** What a session's first lines tell of its table. */
export interface SessionHead {
  /** `# logged-with: PATH` among the notes before the header. */
  readonly loggedWith?: string;
  /** Tells one drive from another: a print of the header and first rows, notes left out. */
  readonly drive: string;
}

/** Read from the start of the file alone, cut at a line's end so that no character is torn. */
export function readHead(source: ByteSource | undefined): SessionHead {
  if (!source) return { drive: '' };
  const bytes = source.read(0, Math.min(source.size, HEAD_BYTES));
  const lastLine = source.size > HEAD_BYTES ? bytes.lastIndexOf(0x0a) + 1 : 0;
  const lines = textOf(bytesSource(lastLine > 0 ? bytes.slice(0, lastLine) : bytes)).split(/\r\n|\r|\n/);
  const header = lines.findIndex((line) => line.trim() !== '' && !line.trim().startsWith('#'));
  const notes = header < 0 ? lines : lines.slice(0, header);
  const loggedWith = notes.flatMap((line) => /^\s*#\s*logged-with\s*:\s*(\S.*?)\s*$/i.exec(line)?.[1] ?? [])[0];
  const rows = lines.slice(notes.length).filter((line) => !line.trim().startsWith('#'));
  return { drive: printOf(rows.slice(0, DRIVE_LINES).join('\n')), ...(loggedWith === undefined ? {} : { loggedWith }) };
}

/**
 * The note of a table that was written to a new file: the one before, and the drives that it was corrected by and that nothing pins to it.
 */
export const CORRECTED_FROM = 'corrected-from';

/** Whether the table's note says that it was corrected by this session. */
export const madeTheTable = ({ metadata }: Table, head: SessionHead | undefined): boolean =>
  head !== undefined && metadata.get(CORRECTED_FROM)?.split(' ').includes(head.drive) === true;

/** A header and as many rows: two drives do not agree in all of them. */
const DRIVE_LINES = 20;
