// Spells in which readings under load stay beyond a limit, found in pieces of a session: most of a drive is none, and what its pieces are
// judged by stays small.

import type { Operating } from '../drive/operating.js';
import type { Signals, Span } from '../signals.js';
import { nextMark } from './spans.js';
import { greatestOf } from './statistics.js';
import { ROUNDED_OFF } from '../mixture/offTarget.js';

/** Rows of a piece at least: what is loaded here and there is passed over by the piece. */
const PIECE_ROWS = 1 << 11;
/** So long without load: no window and no spell (bridged over a second) reaches over it. */
const APART_S = 2;

/** A session's columns in a piece of it, rows counted from its first; `row` is that one's place in the session. */
export interface Piece {
  readonly row: number;
  readonly timeS: Float64Array;
  readonly lambda: Float64Array;
  readonly readsLoad: Uint8Array;
  readonly air: Uint8Array;
  readonly recordings: readonly Span[];
}

/** Where a column stays above its limit, and the means over the windows. */
export interface Sustained {
  readonly mask: Uint8Array;
  readonly means: Float64Array;
}
type Pair<T> = readonly [T, T];

/**
 * Judges each piece by two columns, NaN where nothing is judged, each against its limit, and gives the spells that are found by them, their
 * rows counted in the session.
 */
export const spellsUnderLoad = <Spell extends Span & { readonly worstAt: number }>(
  signals: Signals,
  operating: Operating,
  lambda: Float64Array,
  windowS: number,
  limits: Pair<number>,
  judge: (piece: Piece) => Pair<Float64Array>,
  spellsIn: (piece: Piece, judged: Pair<Float64Array>, sustained: Pair<Sustained>) => readonly Spell[],
): Spell[] => {
  return piecesOf(signals, operating, lambda, PIECE_ROWS).flatMap((piece): Spell[] => {
    if (nextMark(piece.readsLoad, 0) === piece.readsLoad.length) return [];
    const judged = judge(piece);
    if (!judged.some((column, at) => reaches(column, limits[at]))) return [];
    const [one, other] = judged.map((column, at) =>
      at === 0 || reaches(column, limits[at]) ? sustained(column, { ...piece, stepS: signals.stepS }, windowS, limits[at]) : NOWHERE,
    );
    return spellsIn(piece, judged, [one, other]).map((spell) => ({
      ...spell,
      from: spell.from + piece.row,
      to: spell.to + piece.row,
      worstAt: spell.worstAt + piece.row,
    }));
  });
};

/** A session cut into pieces of so many rows at least, each time in the middle of one without load. */
export const piecesOf = (
  { timeS, recordings }: Pick<Signals, 'timeS' | 'recordings'>,
  { readsLoad, air }: Pick<Operating, 'readsLoad' | 'air'>,
  lambda: Float64Array,
  leastRows: number,
): Piece[] => {
  const pieces: Piece[] = [];
  for (let from = 0; from < lambda.length;) {
    const to = endOfPiece(readsLoad, timeS, from + leastRows);
    pieces.push({
      row: from,
      timeS: timeS.subarray(from, to),
      lambda: lambda.subarray(from, to),
      readsLoad: readsLoad.subarray(from, to),
      air: air.subarray(from, to),
      recordings: recordings.flatMap((each) =>
        each.to > from && each.from < to ? [{ from: Math.max(each.from, from) - from, to: Math.min(each.to, to) - from }] : [],
      ),
    });
    from = to;
  }
  return pieces;
};

/** First row from `from` on that lies in the middle of a time without load; that behind the last where there is none. */
const endOfPiece = (readsLoad: Uint8Array, timeS: Float64Array, from: number): number => {
  let since = from;
  for (let i = from; i < timeS.length; i++) {
    if (readsLoad[i] === 1) since = i + 1;
    else if (timeS[i] - timeS[since] >= APART_S) return (since + i) >> 1;
  }
  return timeS.length;
};

const NONE = new Float64Array(0);
/** Of a column that nowhere reaches its limit no mean is asked. */
const NOWHERE: Sustained = { mask: new Uint8Array(0), means: NONE };
/** No mean is above what no value is above, with room for what a running sum rounds off. */
const reaches = (values: Float64Array, limit: number): boolean => greatestOf(values) > limit - ROUNDED_OFF;

type Rows = Pick<Signals, 'timeS' | 'stepS' | 'recordings'>;

/** Marks every window of `windowS` (two readings at least) whose mean is above `limit`, each within one recording. */
export const marksSustained = (values: Float64Array, { timeS, stepS, recordings }: Rows, windowS: number, limit: number): Uint8Array => {
  const mask = new Uint8Array(values.length);
  if (reaches(values, limit)) for (const recording of recordings) meansOver(values, recording, timeS, stepS, windowS, limit, mask, NONE);
  return mask;
};

const sustained = (values: Float64Array, { timeS, stepS, recordings }: Rows, windowS: number, limit: number): Sustained => {
  const mask = new Uint8Array(values.length),
    means = new Float64Array(values.length).fill(NaN);
  for (const recording of recordings) meansOver(values, recording, timeS, stepS, windowS, limit, mask, means);
  return { mask, means };
};

const meansOver = (
  values: Float64Array,
  { from: first, to }: Span,
  timeS: Float64Array,
  stepS: number,
  windowS: number,
  limit: number,
  mask: Uint8Array,
  means: Float64Array,
): void => {
  let from = first,
    sum = 0;
  // How far the mask is set: windows overlap.
  let marked = first;
  for (let i = first; i < to; i++) {
    const value = values[i],
      isNumber = value === value;
    if (!isNumber || (i > first && timeS[i] - timeS[i - 1] > 1)) {
      from = isNumber ? i : i + 1;
      sum = 0;
      if (from > i) continue;
    }
    sum += value;
    while (i - from >= 2 && timeS[i] - timeS[from + 1] + stepS >= windowS - 1e-6) sum -= values[from++];
    if (i - from < 1 || timeS[i] - timeS[from] + stepS < windowS - 1e-6) continue;
    const mean = sum / (i - from + 1);
    if (i < means.length) means[i] = mean;
    if (!(mean > limit)) continue;
    for (let k = Math.max(from, marked); k <= i; k++) mask[k] = 1;
    marked = i + 1;
  }
};
