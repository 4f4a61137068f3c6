// Whether a session contradicts itself: what its first half says of a cell is held against its second, and its passages through a square
// against each other.

import { CONTRADICTION, heardOf, meanHeard, sureOf } from './contradiction.js';
import type { Grid } from '../solution/grid.js';
import type { SessionEvidence } from '../weigh.js';

/**
 * What a session's two halves say of a cell (ln of the value it should have), where they contradict each other; `isByTurns`: two kinds of
 * passages, in turns. Plain data.
 */
export interface Drift {
  readonly session: number;
  readonly cell: number;
  readonly early: number;
  readonly late: number;
  readonly isByTurns?: boolean;
}

/**
 * A table is the same from the first pull to the last. Where a cell wants surely more or less fuel in the second half of a drive than in
 * the first, by more than sessions may differ, what changed is the car: a rail that fades as it warms, a falling battery, another fuel from
 * the tank's bottom, a bottle opened. The middle of both holds for neither.
 */
export const driftsOf = (
  list: readonly Pick<SessionEvidence, 'blocks' | 'timeS'>[],
  residual: Float64Array,
  lnValue: Float64Array,
  { columns, rows }: Grid,
): Drift[] => {
  const width = columns.length,
    size = width * rows.length;
  let from = 0;
  return list.flatMap(({ blocks, timeS }, session) => {
    const left = residual.subarray(from, (from += blocks.count));
    if (blocks.count < 2) return [];
    const middleS = (timeS[0] + timeS[blocks.count - 1]) / 2;
    let at = 0;
    while (at < blocks.count && timeS[at] < middleS) at++;
    const early = heardOf({ blocks: part(blocks, 0, at) }, left.subarray(0, at), width, size),
      late = heardOf({ blocks: part(blocks, at, blocks.count) }, left.subarray(at), width, size);
    const found: Drift[] = [];
    for (let cell = 0; cell < size; cell++) {
      const [before, behind] = [meanHeard(early, cell), meanHeard(late, cell)];
      if (Math.abs(behind.mean - before.mean) - before.sure - behind.sure > CONTRADICTION)
        found.push({ session, cell, early: lnValue[cell] + before.mean, late: lnValue[cell] + behind.mean });
    }
    // Only the corners that readings speak of: in a table of one column the next two cells are one and the same.
    for (const [square, { less, more, touched }] of kindsIn(blocks, left))
      [square, square + 1, square + width, square + width + 1].forEach((cell, corner) => {
        if ((touched >> corner) & 1)
          found.push({ session, cell, early: lnValue[cell] + less, late: lnValue[cell] + more, isByTurns: true });
      });
    return found;
  });
};

/**
 * Passages of either kind that must be there, or one that is so far from all others (ln) as nothing of the road makes it, and how sure (95
 * %, ln) each must be of itself to tell. No source.
 */
const LEAST_PASSAGES = 2,
  FAR = 0.1,
  SURE_WITHIN = 0.05;

/** Squares whose passages are of two kinds with nothing between them, as where nitrous is on and off, with what either kind leaves (ln). */
const kindsIn = (
  { count, cell, weights, visit, variance }: SessionEvidence['blocks'],
  left: Float64Array,
): Map<number, { readonly less: number; readonly more: number; readonly touched: number }> => {
  const bySquare = new Map<number, { readonly mean: number; readonly sure: number }[]>(),
    corners = new Map<number, number>(),
    kinds: ReturnType<typeof kindsIn> = new Map();
  for (let at = 0; at < count;) {
    const passage = visit[at],
      square = cell[at];
    let precision = 0,
      sum = 0,
      touched = corners.get(square) ?? 0;
    for (; at < count && visit[at] === passage && cell[at] === square; at++) {
      precision += 1 / variance[at];
      sum += left[at] / variance[at];
      for (let i = 0; i < 4; i++) if (weights[4 * at + i] > 0) touched |= 1 << i;
    }
    corners.set(square, touched);
    const sure = sureOf(precision, precision ** 2),
      passages = bySquare.get(square) ?? [];
    if (sure < SURE_WITHIN) passages.push({ mean: sum / precision, sure });
    bySquare.set(square, passages);
  }
  for (const [square, passages] of bySquare) {
    passages.sort((one, other) => one.mean - other.mean);
    const lows = passages.map(({ mean, sure }) => mean - sure),
      meanOf = (some: typeof passages): number => some.reduce((sum, { mean }) => sum + mean, 0) / some.length;
    for (let at = lows.length - 2; at >= 0; at--) lows[at] = Math.min(lows[at], lows[at + 1]);
    let high = -Infinity;
    for (let next = 1; next < passages.length; next++) {
      high = Math.max(high, passages[next - 1].mean + passages[next - 1].sure);
      if (lows[next] - high > (Math.min(next, passages.length - next) >= LEAST_PASSAGES ? CONTRADICTION : FAR)) {
        kinds.set(square, { less: meanOf(passages.slice(0, next)), more: meanOf(passages.slice(next)), touched: corners.get(square)! });
        break;
      }
    }
  }
  return kinds;
};

const part = (blocks: SessionEvidence['blocks'], from: number, to: number): SessionEvidence['blocks'] => ({
  ...blocks,
  count: to - from,
  cell: blocks.cell.subarray(from, to),
  weights: blocks.weights.subarray(4 * from, 4 * to),
  visit: blocks.visit.subarray(from, to),
  variance: blocks.variance.subarray(from, to),
});
