// The last step of reading: a session from its parts, with what its notes say.

import type { Channel, LoggedCode, Note, Session, SessionPlaces } from './session.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import type { Problem } from '../problem.js';
import type { Unit } from '../../quantities/units.js';
import type { Layout } from './header.js';
import type { LaidTime } from './time.js';
import type { ProblemBook } from '../problemBook.js';
import { range } from '../range.js';
import { Shelf } from '../shelf.js';
import { TROUBLE_CODE } from '../csv/rows.js';

export interface ReadOptions {
  readonly vehicle?: Vehicle;
  /**
   * Nobody is to look at channels of which nothing is known, as the editor does: of a long session they are read again where somebody does.
   */
  readonly knownAlone?: boolean;
}

/** The parts of a session as a reader has them. */
export interface SessionParts {
  readonly book: ProblemBook;
  readonly channels: readonly Channel[];
  /** Where the channels' own values are kept at hand, if they are. */
  readonly shelf?: Shelf;
  readonly time: LaidTime;
  readonly timeKind: Session['time']['kind'];
  readonly timeColumn: { readonly header: string; readonly unit: Unit | undefined; readonly startIso: string | undefined } | undefined;
  readonly notes: readonly Note[];
  readonly codes: readonly LoggedCode[];
  readonly form: Session['form'];
  readonly places: SessionPlaces;
}

export const metadataOf = (notes: readonly Note[]): Map<string, string> =>
  new Map(notes.flatMap((note) => (note.key === undefined ? [] : [[note.key, note.value ?? ''] as const])));

export const finishSession = (
  layout: Pick<Layout, 'headerRange' | 'encoding' | 'delimiter' | 'decimalComma'>,
  parts: SessionParts,
): Session => {
  const { time, timeColumn, notes } = parts;
  const problems: Problem[] = [...parts.book.placed].sort(
    (a, b) => a.range.start.line - b.range.start.line || a.range.start.character - b.range.start.character,
  );
  return {
    kind: 'session',
    samples: time.timeS.length,
    timeS: time.timeS,
    recordingStarts: time.recordingStarts,
    time: {
      kind: parts.timeKind,
      spread: time.spread,
      medianStepS: time.medianStepS,
      ...(timeColumn ? { channel: timeColumn.header } : {}),
      ...(timeColumn?.unit ? { unit: timeColumn.unit } : {}),
      ...(timeColumn?.startIso ? { startIso: timeColumn.startIso } : {}),
    },
    channels: parts.channels,
    shelf: parts.shelf ?? new Shelf(),
    notes,
    metadata: metadataOf(notes),
    codes: [...codesOfNotes(notes), ...parts.codes],
    ignored: notes.flatMap((note) => (note.key === 'ignore' ? (note.value ?? '').split(/[\s,;]+/).filter((code) => code !== '') : [])),
    problems,
    headerRange: layout.headerRange,
    places: parts.places,
    form: parts.form,
    encoding: layout.encoding,
    delimiter: layout.delimiter,
    decimalComma: layout.decimalComma,
  };
};

const codesOfNotes = (notes: readonly Note[]): LoggedCode[] =>
  notes.flatMap((note) => {
    if (!/^(?:trouble|fault|diagnostic trouble)[ -]?codes?$|^dtcs?$/.test(note.key ?? '')) return [];
    return [...note.text.matchAll(TROUBLE_CODE)].map((match) => {
      const from = (note.character ?? 0) + match.index;
      return {
        text: match[0].toUpperCase(),
        sample: undefined,
        line: note.line,
        range: range(note.line, from, note.line, from + match[0].length),
      };
    });
  });
