// What the table's picture and the extension say to each other. Both ends check every message on arrival: a view can be sent anything.

import {
  has,
  isAsk,
  isBoolean,
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
import { MOST_PICTURE_CELLS, type PathResult, type TablePicture } from './table.js';
import type { TableWords } from './tableWords.js';

/** One selection of the text's, from 0; `end` is exclusive. */
export interface TextSpan {
  readonly startLine: number;
  readonly startCharacter: number;
  readonly endLine: number;
  readonly endCharacter: number;
}

/** A run that may be drawn, by its place in the trace's summary. */
export interface PathChoice {
  readonly run: number;
  readonly pull: number;
  readonly direction: 'up' | 'down';
  readonly fromS: number;
  readonly words: string;
}

/** View → extension. `ask` numbers come back with the answer; the newest of a kind counts. */
export type FromTableView =
  /** `duty`: shown, so the sessions are to be looked at for it. */
  | { readonly type: 'ready'; readonly duty: boolean }
  | { readonly type: 'duty' }
  /** Cells that were selected, each as its number stands in the text. `open`: the text is brought to the front, with the focus. */
  | { readonly type: 'select'; readonly spans: readonly TextSpan[]; readonly open: boolean }
  | { readonly type: 'runs'; readonly ask: number; readonly session: string }
  | { readonly type: 'path'; readonly ask: number; readonly session: string; readonly run: number }
  | { readonly type: 'moments'; readonly line: number; readonly character: number }
  /** The cells at these places, or every proven one. */
  | { readonly type: 'correct'; readonly spans: readonly TextSpan[] | null };

/** Extension → view. */
export type ToTableView =
  | { readonly type: 'picture'; readonly picture: TablePicture; readonly words: TableWords }
  /** The selections of the text. */
  | { readonly type: 'selected'; readonly spans: readonly TextSpan[] }
  | { readonly type: 'runs'; readonly ask: number; readonly runs: readonly PathChoice[] }
  | { readonly type: 'path'; readonly ask: number; readonly path: PathResult }
  /** A line to be read. */
  | { readonly type: 'tell'; readonly message: string }
  /** No answer to this `ask`, and why in a line (or nothing worth saying). */
  | { readonly type: 'failed'; readonly ask: number; readonly message: string };

const isSpan = has({ startLine: isCount, startCharacter: isCount, endLine: isCount, endCharacter: isCount } satisfies Record<
  keyof TextSpan,
  Check
>);
const optional =
  (check: Check): Check =>
  (value) =>
    value === undefined || check(value);
const isAxis = has({ title: isText, texts: listOf(isText, MOST_PICTURE_CELLS), values: listOf(orNull(isNumber), MOST_PICTURE_CELLS) });
const isEvidence = has({
  proof: oneOf('firm', 'thin'),
  samples: isNumber,
  measuredLambda: orNull(isNumber),
  targetLambda: orNull(isNumber),
  factor: isNumber,
  factorLow: isNumber,
  factorHigh: isNumber,
});
const isCell = has({
  text: isText,
  value: orNull(isNumber),
  line: isCount,
  character: isCount,
  endCharacter: isCount,
  evidence: optional(isEvidence),
  proposed: optional(has({ text: isText, value: isNumber, capped: isBoolean })),
  dutyPercent: optional(isNumber),
});
const isPicture: Check = (value) =>
  has({
    uri: isText,
    name: isText,
    title: isText,
    columns: isAxis,
    rows: isAxis,
    cells: listOf(isCell, MOST_PICTURE_CELLS),
    cellCount: isCount,
    evidence: oneOf('there', 'being weighed', 'none'),
    dutyLimitPercent: isNumber,
    dutyKnown: orNull(isBoolean),
    sessions: listOf(has({ uri: isText, name: isText })),
  })(value) && isWhole(value as TablePicture);
/** As many cells as the axes say, or none. */
const isWhole = ({ cells, columns, rows }: TablePicture): boolean =>
  cells.length === 0 || cells.length === columns.texts.length * rows.texts.length;

const FROM_VIEW: Checks<FromTableView> = {
  ready: { duty: isBoolean },
  duty: {},
  select: { spans: listOf(isSpan, MOST_PICTURE_CELLS), open: isBoolean },
  runs: { ask: isAsk, session: isText },
  path: { ask: isAsk, session: isText, run: isCount },
  moments: { line: isCount, character: isCount },
  correct: { spans: orNull(listOf(isSpan, MOST_PICTURE_CELLS)) },
};

const TO_VIEW: Checks<ToTableView> = {
  picture: { picture: isPicture, words: mapOf(isText) },
  selected: { spans: listOf(isSpan) },
  runs: { ask: isAsk, runs: listOf(has({ run: isCount, pull: isCount, direction: oneOf('up', 'down'), fromS: isNumber, words: isText })) },
  path: {
    ask: isAsk,
    path: has({ places: listOf(isPair, 2000), worst: orNull(isPair), worstLambda: orNull(isNumber), worstTargetLambda: orNull(isNumber) }),
  },
  tell: { message: isText },
  failed: { ask: isAsk, message: isText },
};

/** Whether a value is a message that a table's picture sends. */
export const isFromTableView = (value: unknown): value is FromTableView => passes(FROM_VIEW, value);

/** Whether a value is a message for a table's picture. */
export const isToTableView = (value: unknown): value is ToTableView => passes(TO_VIEW, value);
