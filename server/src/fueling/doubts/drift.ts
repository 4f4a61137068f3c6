// Whether a session contradicts itself: what its first half says of a cell is held against its second.

import { CONTRADICTION, heardOf, meanHeard } from './contradiction.js';
import type { Grid } from '../solution/grid.js';
import type { SessionEvidence } from '../weigh.js';

/** What a session's two halves say of a cell (ln of the value it should have), where they contradict each other. Plain data. */
export interface Drift { readonly session: number; readonly cell: number; readonly early: number; readonly late: number }

/**
 * A table is the same from the first pull to the last. Where a cell wants surely more or less fuel in the second half of a drive than in the first, by more than sessions may differ, what changed is the car: a rail that
 * fades as it warms, a falling battery, another fuel from the tank's bottom, a bottle opened. The middle of both holds for neither.
 */
export const driftsOf = (list: readonly Pick<SessionEvidence, 'blocks' | 'timeS'>[], residual: Float64Array, lnValue: Float64Array, { columns, rows }: Grid): Drift[] => {
  const width = columns.length, size = width * rows.length;
  let from = 0;
  return list.flatMap(({ blocks, timeS }, session) => {
    const left = residual.subarray(from, from += blocks.count);
    if (blocks.count < 2) return [];
    const middleS = (timeS[0] + timeS[blocks.count - 1]) / 2;
    let at = 0;
    while (at < blocks.count && timeS[at] < middleS) at++;
    const early = heardOf({ blocks: part(blocks, 0, at) }, left.subarray(0, at), width, size), late = heardOf({ blocks: part(blocks, at, blocks.count) }, left.subarray(at), width, size);
    const found: Drift[] = [];
    for (let cell = 0; cell < size; cell++) {
      const [before, behind] = [meanHeard(early, cell), meanHeard(late, cell)];
      if (Math.abs(behind.mean - before.mean) - before.sure - behind.sure > CONTRADICTION) found.push({ session, cell, early: lnValue[cell] + before.mean, late: lnValue[cell] + behind.mean });
    }
    return found;
  });
};

const part = (blocks: SessionEvidence['blocks'], from: number, to: number): SessionEvidence['blocks'] => ({
  ...blocks, count: to - from, cell: blocks.cell.subarray(from, to), weights: blocks.weights.subarray(4 * from, 4 * to), visit: blocks.visit.subarray(from, to), variance: blocks.variance.subarray(from, to),
});
