// What the trace view and the extension say to each other. Both ends check every message on arrival: a view can be sent anything.

import {
  has,
  isAsk,
  isBoolean,
  isBytes,
  isCount,
  isNumber,
  isPair,
  isText,
  listOf,
  mapOf,
  oneOf,
  orNull,
  passes,
  type Check,
  type Checks,
} from './checks.js';
import type { PackedTables } from './numberTables.js';
import type { RunRef, RunsParams, RunsResult, SpanResult, TraceSample, TraceSummary, WindowResult } from './trace.js';
import type { TraceWords } from './traceWords.js';

/** What is kept for the next time a trace is opened, whatever the session. */
export interface KeptView {
  /** Channels by lane, top to bottom. */
  readonly lanes: readonly (readonly string[])[];
  /** Unit that a reader chose, by quantity or channel. */
  readonly units: Readonly<Record<string, string>>;
}

/** View → extension. `ask` numbers come back with the answer; the newest of a kind counts. */
export type FromTraceView =
  | { readonly type: 'ready' }
  | {
      readonly type: 'window';
      readonly ask: number;
      readonly channels: readonly string[];
      readonly fromS: number;
      readonly toS: number;
      readonly pixels: number;
    }
  /** `place`: the text follows. */
  | { readonly type: 'cursor'; readonly ask: number; readonly timeS: number; readonly place: boolean }
  | { readonly type: 'span'; readonly ask: number; readonly fromS: number; readonly toS: number }
  | ({ readonly type: 'runs'; readonly ask: number } & Omit<RunsParams, 'uri'>)
  | { readonly type: 'openRow'; readonly timeS: number }
  | { readonly type: 'openPlace'; readonly line: number; readonly character: number }
  | { readonly type: 'openCell'; readonly timeS: number }
  /** Their runs are to be laid over these; without any, the user is asked which. */
  | { readonly type: 'addSession'; readonly uris: readonly string[] }
  | { readonly type: 'copy'; readonly channels: readonly string[]; readonly fromS: number; readonly toS: number }
  | { readonly type: 'savePicture'; readonly kind: 'png' | 'svg'; readonly bytes: Uint8Array }
  | { readonly type: 'keep'; readonly kept: KeptView };

/** Extension → view. */
export type ToTraceView =
  | { readonly type: 'session'; readonly summary: TraceSummary; readonly words: TraceWords; readonly kept: KeptView | null }
  /** Other sessions whose runs may be laid over this one's. */
  | { readonly type: 'others'; readonly summaries: readonly TraceSummary[] }
  | ({ readonly type: 'window'; readonly ask: number } & WindowResult<Uint8Array>)
  | { readonly type: 'sample'; readonly ask: number; readonly sample: TraceSample }
  /**
   * The cursor was put on a row of the text, when so many messages of the view had been `heard`: what was done in the view since goes
   * before it.
   */
  | { readonly type: 'follow'; readonly sample: TraceSample; readonly heard: number }
  | { readonly type: 'span'; readonly ask: number; readonly span: SpanResult }
  | ({ readonly type: 'runs'; readonly ask: number } & RunsResult<Uint8Array>)
  | {
      readonly type: 'visits';
      readonly cell: string;
      readonly visits: readonly (readonly [number, number])[];
      readonly worstS: number | null;
      readonly heard: number;
    }
  /** A line to be read. */
  | { readonly type: 'tell'; readonly message: string }
  /** No answer to this `ask`, and why in a line (or nothing worth saying). */
  | { readonly type: 'failed'; readonly ask: number; readonly message: string };

const isRunRef = has({ uri: isText, run: isCount } satisfies Record<keyof RunRef, Check>);
const isKept = has({ lanes: listOf(listOf(isText, 200), 200), units: mapOf(isText) });
const isSummary = has({
  uri: isText,
  name: isText,
  key: isText,
  samples: isCount,
  fromS: isNumber,
  toS: isNumber,
  stepS: isNumber,
  barometerKPa: isNumber,
  leanLimit: isNumber,
  channels: listOf(has({ id: isText, name: isText, symbol: isText })),
  recordings: listOf(isPair),
  runs: listOf(
    has({
      pull: isCount,
      direction: oneOf('up', 'down'),
      fromS: isNumber,
      toS: isNumber,
      fromRpm: isNumber,
      toRpm: isNumber,
      words: isText,
    }),
  ),
  spells: listOf(
    has({
      code: isText,
      severity: oneOf('error', 'warning', 'information', 'hint'),
      message: isText,
      fromS: isNumber,
      toS: isNumber,
      line: isCount,
      character: isCount,
    }),
  ),
});
const isSample = has({
  sample: isCount,
  timeS: isNumber,
  line: isCount,
  values: listOf(orNull(isNumber)),
  doing: isText,
  doubts: listOf(isText),
});
const packed = { shapes: listOf(has({ rows: isCount, columns: isCount })), data: isBytes } satisfies Record<
  keyof PackedTables<Uint8Array>,
  Check
>;
const isSpan = has({ fromS: isNumber, toS: isNumber, channels: listOf(orNull(has({ mean: isNumber, low: isNumber, high: isNumber }))) });

const FROM_VIEW: Checks<FromTraceView> = {
  ready: {},
  window: { ask: isAsk, channels: listOf(isText, 500), fromS: isNumber, toS: isNumber, pixels: isCount },
  cursor: { ask: isAsk, timeS: isNumber, place: isBoolean },
  span: { ask: isAsk, fromS: isNumber, toS: isNumber },
  runs: {
    ask: isAsk,
    runs: listOf(isRunRef, 60),
    channels: listOf(isText, 500),
    against: oneOf('speed', 'seconds'),
    align: oneOf('start', 'speed', 'match'),
    alignRpm: isNumber,
    pixels: isCount,
  },
  openRow: { timeS: isNumber },
  openPlace: { line: isCount, character: isCount },
  openCell: { timeS: isNumber },
  addSession: { uris: listOf(isText, 60) },
  copy: { channels: listOf(isText, 500), fromS: isNumber, toS: isNumber },
  savePicture: { kind: oneOf('png', 'svg'), bytes: isBytes },
  keep: { kept: isKept },
};

const TO_VIEW: Checks<ToTraceView> = {
  session: { summary: isSummary, words: mapOf(isText), kept: orNull(isKept) },
  others: { summaries: listOf(isSummary, 100) },
  window: { ask: isAsk, key: isText, whole: isBoolean, pixels: isCount, ...packed },
  sample: { ask: isAsk, sample: isSample },
  follow: { sample: isSample, heard: isCount },
  span: { ask: isAsk, span: isSpan },
  runs: { ask: isAsk, offsetsS: listOf(isNumber), directions: listOf(oneOf('up', 'down')), ...packed },
  visits: { cell: isText, visits: listOf(isPair), worstS: orNull(isNumber), heard: isCount },
  tell: { message: isText },
  failed: { ask: isAsk, message: isText },
};

/** Whether a value is a message that a trace view sends. */
export const isFromTraceView = (value: unknown): value is FromTraceView => passes(FROM_VIEW, value);

/** Whether a value is a message for a trace view. */
export const isToTraceView = (value: unknown): value is ToTraceView => passes(TO_VIEW, value);

export { isKept as isKeptView };
