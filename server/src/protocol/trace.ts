// What the editor asks the server for a trace: a session's summary, a window of its channels at the screen's width, one sample, a span's
// numbers, runs over each other. Client → server, each answered with null where the file is no session or is gone.

import type { QuantityId } from '../quantities/quantity.js';
import type { UnitId } from '../quantities/units.js';
import type { PackedTables } from './numberTables.js';

export const TRACE = {
  summary: 'leanspot/trace/summary',
  window: 'leanspot/trace/window',
  sample: 'leanspot/trace/sample',
  span: 'leanspot/trace/span',
  runs: 'leanspot/trace/runs',
  visits: 'leanspot/trace/visits',
  csv: 'leanspot/trace/csv',
} as const;

/** A channel by a name that other sessions share: its quantity where it is the first of it, else its header. */
export type ChannelId = string;

export interface TraceChannel {
  readonly id: ChannelId;
  /** As the log names it. */
  readonly name: string;
  readonly quantity?: QuantityId;
  /** Canonical unit of the numbers sent, and the one the log is written in. */
  readonly unit: UnitId | undefined;
  readonly writtenUnit: UnitId | undefined;
  /** Unit as words where the quantity is not known. */
  readonly symbol: string;
  /** Worked out rather than logged, e.g. the target from the target table. */
  readonly derived: boolean;
}

/** A pull or a falling sweep. */
export interface TraceRun {
  /** As the outline counts the pulls, from 1; 0 for a sweep that is no pull. */
  readonly pull: number;
  readonly direction: 'up' | 'down';
  readonly fromS: number;
  readonly toS: number;
  readonly fromRpm: number;
  readonly toRpm: number;
  /** A pull's numbers in one line. */
  readonly words: string;
  readonly worstS?: number;
}

/** A finding with a time. */
export interface TraceSpell {
  readonly code: string;
  readonly severity: 'error' | 'warning' | 'information' | 'hint';
  readonly message: string;
  readonly channel?: ChannelId;
  readonly fromS: number;
  readonly toS: number;
  /** Place in the text, from 0. */
  readonly line: number;
  readonly character: number;
}

export interface TraceSummary {
  readonly uri: string;
  readonly name: string;
  /** Changes whenever anything here or any number of the session may. */
  readonly key: string;
  readonly samples: number;
  readonly fromS: number;
  readonly toS: number;
  readonly stepS: number;
  readonly channels: readonly TraceChannel[];
  readonly recordings: readonly (readonly [fromS: number, toS: number])[];
  readonly runs: readonly TraceRun[];
  readonly spells: readonly TraceSpell[];
  readonly barometerKPa: number;
  readonly fuel?: { readonly name: string; readonly stoichAfr: number };
  /** λ above target that is an error under load. */
  readonly leanLimit: number;
  /** Name of the table that the readings speak of. */
  readonly fuelTable?: string;
}

export interface FileParams {
  readonly uri: string;
}

export interface WindowParams extends FileParams {
  readonly channels: readonly ChannelId[];
  readonly fromS: number;
  readonly toS: number;
  /** Width of the plot: two to four points a pixel come back. */
  readonly pixels: number;
}
/** One table, x in seconds. `whole`: every sample of the window is in it. */
export interface WindowResult<Data> extends PackedTables<Data> {
  readonly key: string;
  readonly whole: boolean;
  readonly pixels: number;
}

/** The sample at or nearest to a time, or that a line of the text holds. */
export interface SampleParams extends FileParams {
  readonly timeS?: number;
  readonly line?: number;
}
export interface TraceSample {
  readonly sample: number;
  readonly timeS: number;
  readonly line: number;
  /** One a channel of the summary, canonical unit; null where there is none. */
  readonly values: readonly (number | null)[];
  /** What the engine was doing, and which readings are not to be believed, in words. */
  readonly doing: string;
  readonly doubts: readonly string[];
  readonly cell?: TraceCell;
}
/** The cell of the fuel table that fuelled the sample. */
export interface TraceCell {
  readonly uri: string;
  readonly line: number;
  readonly character: number;
  readonly endCharacter: number;
  readonly words: string;
  readonly sharePercent: number;
  readonly delayMs: number;
}

export interface SpanParams extends FileParams {
  readonly fromS: number;
  readonly toS: number;
}
/** Between two times, one entry a channel of the summary; null where there is nothing. Means are over time. */
export interface SpanResult {
  readonly fromS: number;
  readonly toS: number;
  readonly channels: readonly ({
    readonly from: number | null;
    readonly to: number | null;
    readonly mean: number;
    readonly low: number;
    readonly high: number;
  } | null)[];
}

/** Among a run's channels: seconds since the run began, so that a point leads back to its row. */
export const RUN_TIME = '#time';

/** A run of a session, by its place in the summary's list. */
export interface RunRef {
  readonly uri: string;
  readonly run: number;
}
export type Alignment = 'start' | 'speed' | 'match';
export interface RunsParams extends FileParams {
  readonly runs: readonly RunRef[];
  readonly channels: readonly ChannelId[];
  /** Against engine speed, or against seconds from the alignment. */
  readonly against: 'speed' | 'seconds';
  readonly align: Alignment;
  /** Where `align` is `speed`. */
  readonly alignRpm: number;
  readonly pixels: number;
}
/**
 * One table a run, in the order asked, then one for each run but the first: its lambda less the first's. A run that is gone is a table
 * without rows.
 */
export interface RunsResult<Data> extends PackedTables<Data> {
  readonly offsetsS: readonly number[];
  readonly directions: readonly ('up' | 'down')[];
}

/** When a session was in a cell of its fuel table. */
export interface VisitsParams extends FileParams {
  readonly line: number;
  readonly character: number;
  readonly session?: string;
}
export interface VisitsResult {
  readonly cell: string;
  readonly sessions: readonly { readonly uri: string; readonly samples: number }[];
  /** Of the session asked for. */
  readonly visits: readonly (readonly [fromS: number, toS: number])[];
  readonly worstS?: number;
}

export interface CsvParams extends SpanParams {
  readonly channels: readonly ChannelId[];
}
export interface CsvResult {
  readonly text: string;
  readonly rows: number;
  readonly left: number;
}
