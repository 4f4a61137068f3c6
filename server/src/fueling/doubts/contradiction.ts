// Whether sessions contradict each other: what each by itself says of a cell is held against the others, however few of them the solution
// believes.

import type { Grid } from '../solution/grid.js';
import type { SessionEvidence } from '../weigh.js';

/**
 * Readings of one passage err alike, and passages of a healthy drive differ by about this (standard deviation of ln): warmth of parts and
 * intake air, film, a curve between breakpoints. Order of magnitude, no source.
 */
const PASSAGE_DEVIATION = 0.01;
/** Either side of what a session says: 95 %. */
const SURE = 2;
/**
 * Sessions contradict each other where what they surely say lies further apart than what is promised of a firm cell: then one of the two
 * would make the promise false, and the middle of both holds for neither. Drives of a healthy car differ by weather, a batch of fuel and
 * warmth by one or two per cent.
 */
export const CONTRADICTION = 0.03;

/** What sessions say of each cell beside the solution of all (ln). Plain data. */
export interface Contradictions {
  /** Cells in which they contradict each other. */
  readonly cells: readonly number[];
  /**
   * Of every cell: how far the two that are furthest apart reach below and above the solution, with their uncertainty; 0 where no two
   * contradict each other.
   */
  readonly below: Float64Array;
  readonly above: Float64Array;
  /** Of every cell: how far they lie apart, by how uncertain they are. */
  readonly sureness: Float64Array;
  /** Of every session, what it says of each cell; NaN where it says nothing. */
  readonly means: readonly Float64Array[];
}

/** That of these cells in which they contradict each other most surely. */
export const surestOf = ({ sureness }: Contradictions, cells: readonly number[]): number =>
  cells.reduce((best, cell) => (sureness[cell] > sureness[best] ? cell : best));

/** What each session says of a cell; NaN where it says nothing. */
export const saidOf = ({ means }: Contradictions, cell: number): number[] => means.map((mean) => mean[cell]);

/**
 * Sums of a session over the squares round each cell: of precision, of that times what is left of the readings, of the squares of each
 * passage's precision.
 */
export interface Heard {
  readonly precision: Float64Array;
  readonly left: Float64Array;
  readonly passages: Float64Array;
}

/** `residual`: what the solution leaves of all the sessions' blocks, one after the other. */
export const contradictionsOf = (
  list: readonly Pick<SessionEvidence, 'blocks'>[],
  residual: Float64Array,
  { columns, rows }: Grid,
): Contradictions | undefined => {
  if (list.length < 2) return undefined;
  const width = columns.length,
    size = width * rows.length;
  const lowest = new Float64Array(size).fill(Infinity),
    highest = new Float64Array(size).fill(-Infinity),
    below = new Float64Array(size),
    above = new Float64Array(size);
  let from = 0;
  const means = list.map((evidence) => {
    const mean = new Float64Array(size).fill(NaN),
      heard = heardOf(evidence, residual.subarray(from, (from += evidence.blocks.count)), width, size);
    for (let cell = 0; cell < size; cell++) {
      if (!(heard.precision[cell] > 0)) continue;
      const { mean: said, sure } = meanHeard(heard, cell);
      mean[cell] = said;
      if (mean[cell] + sure < lowest[cell]) {
        lowest[cell] = mean[cell] + sure;
        below[cell] = mean[cell] - sure;
      }
      if (mean[cell] - sure > highest[cell]) {
        highest[cell] = mean[cell] - sure;
        above[cell] = mean[cell] + sure;
      }
    }
    return mean;
  });
  const cells: number[] = [],
    apart = (cell: number): number => highest[cell] - lowest[cell];
  const sureness = new Float64Array(size);
  for (let cell = 0; cell < size; cell++) {
    sureness[cell] = apart(cell) / (lowest[cell] - below[cell] + above[cell] - highest[cell]);
    if (apart(cell) > CONTRADICTION) cells.push(cell);
    else below[cell] = above[cell] = 0;
  }
  return cells.length === 0 ? undefined : { cells, below, above, sureness, means };
};

/** What was heard of a cell, and 95 % either side of it; NaN where nothing was. */
export const meanHeard = ({ precision, left, passages }: Heard, cell: number): { readonly mean: number; readonly sure: number } => ({
  mean: left[cell] / precision[cell],
  sure: sureOf(precision[cell], passages[cell]),
});

/** 95 % either side of the mean of passages: `precision` of all, `squares` the sum of the squares of each one's. */
export const sureOf = (precision: number, squares: number): number =>
  SURE * Math.sqrt(1 / precision + (PASSAGE_DEVIATION ** 2 * squares) / precision ** 2);

/**
 * All readings in the squares that meet at a cell count alike for it: what sets sessions apart there is a state of the car, and no cell's
 * own.
 */
export const heardOf = (
  { blocks: { count, cell, weights, visit, variance } }: Pick<SessionEvidence, 'blocks'>,
  residual: Float64Array,
  width: number,
  size: number,
): Heard => {
  const precision = new Float64Array(size),
    left = new Float64Array(size),
    passages = new Float64Array(size),
    corners = [0, 1, width, width + 1];
  for (let at = 0; at < count;) {
    const square = cell[at],
      passage = visit[at];
    let [told, sum, touched] = [0, 0, 0];
    for (; at < count && visit[at] === passage && cell[at] === square; at++) {
      told += 1 / variance[at];
      sum += residual[at] / variance[at];
      for (let i = 0; i < 4; i++) if (weights[4 * at + i] > 0) touched |= 1 << i;
    }
    for (let i = 0; i < 4; i++) {
      if (!((touched >> i) & 1)) continue;
      const to = square + corners[i];
      precision[to] += told;
      left[to] += sum;
      passages[to] += told ** 2;
    }
  }
  return { precision, left, passages };
};
