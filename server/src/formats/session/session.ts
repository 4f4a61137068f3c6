// A session log in memory: typed columns over one time base, each value traceable to its place in the text.

import type { QuantityId } from '../../quantities/quantity.js';
import type { Unit } from '../../quantities/units.js';
import type { Problem } from '../problem.js';
import type { Range } from '../range.js';
import type { Shelf } from '../shelf.js';

/** One column of the log. */
export interface Channel {
  /** Position among the session's channels. */
  readonly index: number;
  /** Name as written, unit and blanks around it taken off. */
  readonly name: string;
  /** The header's text as written. */
  readonly header: string;
  readonly headerRange: Range;
  /** What it measures; undefined where that is not known. */
  readonly quantity: QuantityId | undefined;
  /** Unit the text is in; undefined where unknown and the quantity is too. */
  readonly unit: Unit | undefined;
  /** Where the knowledge came from; `guess` and `assumed` are said to the user. `standard`: SAE J1979 fixes it. */
  readonly quantityFrom: 'vehicle' | 'name' | 'standard' | 'guess' | 'none';
  readonly unitFrom: 'vehicle' | 'header' | 'units-row' | 'column' | 'standard' | 'assumed' | 'none';
  /**
   * One value a sample, in the quantity's canonical unit (as written where the quantity is unknown).
   * NaN: no new sample in this row (blank or not a number). Of a very long session unpacked when asked for: ask once, not for each value.
   */
  readonly values: Float64Array;
  /** How many of `values` are numbers. */
  readonly filled: number;
  /** Value as written → canonical, for hovers: the same arithmetic that filled `values`. */
  readonly toCanonical: (written: number) => number;
}

/** A line of notes before the header (or behind it): `# key: value` or free text. */
export interface Note {
  readonly line: number;
  readonly text: string;
  readonly key?: string;
  readonly value?: string;
  /** Character of the line at which `text` begins. */
  readonly character?: number;
}

/**
 * A trouble code as the log shows it: where it first stands after not standing there, or in a note (`# trouble-codes: P0171`, sample
 * undefined).
 */
export interface LoggedCode {
  readonly text: string;
  readonly sample: number | undefined;
  readonly line: number;
  readonly range: Range;
  /** How the controller holds it, and which one does, where the log says so. */
  readonly state?: 'stored' | 'pending' | 'permanent';
  readonly controller?: string;
}

/** How the time of each sample was found, said to the user where it is not as written. */
export interface TimeBase {
  readonly kind: 'column' | 'assumed-rate';
  /** Header of the time column. */
  readonly channel?: string;
  readonly unit?: Unit;
  /** Whole-second (or otherwise coarse) times that repeat were spread evenly between the next different ones. */
  readonly spread: boolean;
  /** Time stamps that carry a date and time of day: the first as ISO 8601. */
  readonly startIso?: string;
  /** Median step between samples, seconds. */
  readonly medianStepS: number;
}

export interface Session {
  readonly kind: 'session';
  readonly samples: number;
  /**
   * Seconds from the session's start, one a sample, never NaN. Runs on over steps back (each step starts a recording at the old clock + one
   * median step).
   */
  readonly timeS: Float64Array;
  readonly time: TimeBase;
  /** First sample of each recording: 0, and each place where the written time stepped back. */
  readonly recordingStarts: readonly number[];
  readonly channels: readonly Channel[];
  /** Where large arrays that are made from the channels are kept at hand. */
  readonly shelf: Shelf;
  /** Trouble codes of the log's code column and notes, in the order of the text. */
  readonly codes: readonly LoggedCode[];
  readonly notes: readonly Note[];
  /** `# key: value` notes, keys lower case. */
  readonly metadata: ReadonlyMap<string, string>;
  /** Codes silenced for the whole file (`# ignore: CODE`). */
  readonly ignored: readonly string[];
  readonly problems: readonly Problem[];
  readonly headerRange: Range;
  readonly places: SessionPlaces;
  /**
   * Another logger's file of the same drive whose channels are among these, which of them (by quantity), from and to when (s on this
   * session's clock), or why they are not.
   */
  readonly joined?:
    | {
        readonly path: string;
        readonly how: string;
        readonly quantities?: readonly QuantityId[];
        readonly spanS?: readonly [from: number, to: number];
      }
    | { readonly path: string; readonly refused: string };
  readonly form: 'wide' | 'long';
  readonly encoding: 'utf-8' | 'utf-16le' | 'utf-16be' | 'windows-1252';
  readonly delimiter: ',' | ';' | '\t';
  readonly decimalComma: boolean;
}

/** From samples to places in the text and back; ranges are found on demand, only row offsets are kept. */
export interface SessionPlaces {
  /** The cell of a channel at a sample; the whole line's first cell where the row has no such cell. */
  cellRange(channel: number, sample: number): Range;
  /** From the cell at `fromSample` to the cell at `toSample` (inclusive). */
  spanRange(channel: number, fromSample: number, toSample: number): Range;
  /** The text of a cell as written, trimmed; empty where the row has no such cell. */
  cellText(channel: number, sample: number): string;
  lineOf(sample: number): number;
  /** The sample that a line holds; undefined for notes, header, units and blank lines. */
  sampleAt(line: number): number | undefined;
  /** The channel whose cell holds the character of the line; undefined where it holds none (the time column has channel −1). */
  channelAt(line: number, character: number): number | undefined;
}

/**
 * Headers of columns of which nothing is known: nobody looks at them. What is known by its name and in a unit that does not measure it is
 * told as that, unless it may be a trim all the same.
 */
export const unreadHeaders = ({ channels, problems }: Pick<Session, 'channels' | 'problems'>): string[] => {
  const unfit = new Set(problems.flatMap(({ kind, channel }) => (kind === 'unfit' ? channel : [])));
  return channels
    .filter(
      ({ quantity, quantityFrom, header, unit }) =>
        quantity === undefined && quantityFrom === 'none' && (unit?.id === '%' || !unfit.has(header)),
    )
    .map(({ header }) => header);
};

/** The first channel of a quantity, by header order. */
export const channelOf = (session: Session, quantity: QuantityId): Channel | undefined =>
  session.channels.find((channel) => channel.quantity === quantity);
