// Sessions that contradict each other, taken apart: those that want more fuel and those that want less, each side solved by itself. One
// table for both would lay to a cell what none of them says: where one side read between two cells and the other proved the one right, the
// whole of it goes to the other one.

import { CONTRADICTION, heardOf, type Contradictions } from './contradiction.js';
import type { Grid } from '../solution/grid.js';
import type { InPieces } from '../pieces.js';
import { solving } from '../solution/solve.js';
import { studentT95 } from '../solution/statistics.js';
import type { Witness } from '../solution/tally.js';
import { asObservations } from '../weigh.js';

/** What a side says of each cell (ln), whether it read there, and how surely it says so: asked of few cells. */
interface Side {
  readonly lnValue: Float64Array;
  readonly isThere: (cell: number) => boolean;
  readonly halfWidth: (cell: number) => number;
}

/** Values of the cells that lie within what the sides say, and what the sessions say beside them. */
export interface TakenApart {
  readonly lnValue: Float64Array;
  readonly contradictions: Contradictions;
}

export function* takenApart(
  list: readonly Witness[],
  lnReference: Float64Array,
  lnPooled: Float64Array,
  pooled: Contradictions,
  grid: Grid,
): InPieces<TakenApart> {
  const size = lnPooled.length,
    says = pooled.means.map((mean) => meanOf(pooled.cells.map((cell) => mean[cell]).filter((each) => !Number.isNaN(each))));
  const known = says.filter((each) => !Number.isNaN(each)),
    middle = (Math.min(...known) + Math.max(...known)) / 2;
  const sides: Side[] = [],
    own = pooled.means.map((mean) => mean.slice());
  for (const way of [-1, 1]) {
    // Who says nothing of what they contradict each other in stands on either side.
    const members = [...list.keys()].filter((session) => !(way * (says[session] - middle) < 0));
    const solution = yield* solving(grid, lnReference, asObservations(members.map((session) => list[session].blocks)), members.length);
    const effective = new Float64Array(size),
      weight = new Float64Array(size),
      { lnValue, deviation } = solution;
    let from = 0;
    for (const session of members) {
      const { blocks } = list[session],
        { precision, left } = heardOf(list[session], solution.residual.subarray(from, (from += blocks.count)), grid.columns.length, size);
      addEvidence(blocks, grid.columns.length, effective, weight);
      if (!Number.isNaN(says[session]))
        for (let cell = 0; cell < size; cell++) own[session][cell] = lnValue[cell] - lnPooled[cell] + left[cell] / precision[cell];
    }
    sides.push({
      lnValue,
      isThere: (cell) => weight[cell] >= 1,
      halfWidth: (cell) => studentT95(Math.max(4, effective[cell])) * deviation[cell],
    });
  }
  const lnValue = lnPooled.slice(),
    below = new Float64Array(size),
    above = new Float64Array(size),
    contradicted = new Set(pooled.cells);
  for (let cell = 0; cell < size; cell++) {
    const both = sides.every(({ isThere }) => isThere(cell)) && areApart(sides, cell);
    if (both) contradicted.add(cell);
    const heard = contradicted.has(cell) ? sides : sides.filter(({ isThere }) => isThere(cell));
    if (heard.length === 0) continue;
    const values = heard.map((side) => side.lnValue[cell]);
    lnValue[cell] = Math.min(Math.max(...values), Math.max(Math.min(...values), lnPooled[cell]));
    if (!contradicted.has(cell) && lnValue[cell] === lnPooled[cell]) continue;
    below[cell] = Math.min(...heard.map((side) => side.lnValue[cell] - side.halfWidth(cell))) - lnValue[cell];
    above[cell] = Math.max(...heard.map((side) => side.lnValue[cell] + side.halfWidth(cell))) - lnValue[cell];
  }
  for (const mean of own) for (let cell = 0; cell < size; cell++) mean[cell] += lnPooled[cell] - lnValue[cell];
  return { lnValue, contradictions: { ...pooled, cells: [...contradicted].sort((a, b) => a - b), below, above, means: own } };
}

const meanOf = (values: readonly number[]): number => values.reduce((sum, each) => sum + each, 0) / values.length;

/** Whether what two sides surely say lies further apart than sessions may. */
const areApart = ([a, b]: readonly Side[], cell: number): boolean => {
  const apart = Math.abs(a.lnValue[cell] - b.lnValue[cell]) - CONTRADICTION;
  return apart > 0 && apart > a.halfWidth(cell) + b.halfWidth(cell);
};

const addEvidence = (
  { count, cell, weights, samples, effective }: Witness['blocks'],
  width: number,
  sumOfEffective: Float64Array,
  sumOfSamples: Float64Array,
): void => {
  const corners = [0, 1, width, width + 1];
  for (let at = 0; at < count; at++) {
    for (let i = 0; i < 4; i++) {
      const w = weights[4 * at + i];
      if (w === 0) continue;
      sumOfEffective[cell[at] + corners[i]] += w * effective[at];
      sumOfSamples[cell[at] + corners[i]] += w * samples[at];
    }
  }
};
