// Cells that stand off the smooth field round them: one that was mistyped, a patch that was tuned or never was, among others. Smoothness
// alone would lay what is read there to error. Which they are the readings say; where two would explain them alike, both stay in doubt.

import { addTo, banded, cholesky, choleskyOf, columnOf, inverseNear, logDeterminant, solveWith, times, type Banded } from './banded.js';
import { OWN_DEVIATION, OWN_SLOPE_DEVIATION } from './own.js';
import { dot } from './statistics.js';

/**
 * Before the readings speak, one cell in so many stands off by itself, by `OWN_DEVIATION`, or a patch begins there: of a table of 250,
 * five. Order of magnitude, no source.
 */
const CELLS_A_SPOT = 50;
/**
 * And beside one that does, one in so many, by the same but for `OWN_SLOPE_DEVIATION`: of the eight cells round one of an edited row,
 * column or patch of two by two, two or three were edited with it. Without, readings midway between two such cells would be laid to the
 * fewest that explain them: all to one of the two, or to every second of a row.
 */
const CELLS_BESIDE = 3;
/**
 * As many are tried, those first that smoothness pulls at most: more than a table has, so that what explains the readings alike is among
 * them.
 */
const MOST_TRIED = 16;
/**
 * A cell that stands by itself is told of by as many blocks at least: a wild second or two, where little else was read, is none. No source.
 */
const LEAST_BLOCKS = 3;
/**
 * No cell stands off by more than so many `OWN_DEVIATION`, 57 %: readings that ask for more have another reason, and contradict each other
 * or what else was read of the cell.
 */
const MOST_OFF = 3;
/**
 * What explains the readings this many times worse than the best does not count (Occam's window; Madigan and Raftery 1994, from memory).
 */
const WINDOW = 20;

/** A smooth solution x of (data + prior) x = right side, before anything stands by itself; `factor`: of what stands in brackets. */
interface Smooth {
  /** How many columns the table has. */
  readonly columns: number;
  readonly prior: Banded;
  readonly factor: Banded;
  readonly x: Float64Array;
}

/** What stands by itself beside a smooth solution: the sum of `mean` × `directions` is to be added to it. */
export interface Spots {
  /** In the likeliest explanation. */
  readonly cells: readonly number[];
  readonly directions: readonly Float64Array[];
  /** How far each stands off (ln), over all explanations that count. */
  readonly mean: Float64Array;
  /** Of `mean`, every element. */
  readonly covariance: Banded;
}

export const NO_SPOTS: Spots = { cells: [], directions: [], mean: new Float64Array(0), covariance: banded(0, 0) };

/**
 * Cells that may stand by themselves: how hard smoothness pulls at each, how the solution goes with it, and what readings tell of every
 * two.
 */
interface Tried {
  readonly columns: number;
  readonly cells: readonly number[];
  readonly pulls: Float64Array;
  readonly directions: readonly Float64Array[];
  readonly told: readonly Float64Array[];
}

/** With e added to cell k, of prior P, the solution goes by e H⁻¹ P u, u being 1 at k; readings tell of e by P − P H⁻¹ P. */
const tryCells = ({ columns, prior, factor }: Smooth, pull: Float64Array, cells: readonly number[]): Tried => {
  const by = cells.map((cell) => columnOf(prior, cell)),
    directions = by.map((column, each) => solveWith(factor, column, Math.max(0, cells[each] - factor.width)));
  return {
    columns,
    cells,
    pulls: valuesAt(pull, cells),
    directions,
    told: by.map((column) => Float64Array.from(cells, (cell, other) => column[cell] - dot(column, directions[other]))),
  };
};

/**
 * The readings explained by some (`which`) of those tried: how far each stands off, with the factor of its precision, and ln of how much
 * likelier the readings are than with none.
 */
interface Explained {
  readonly which: readonly number[];
  readonly mean: Float64Array;
  readonly factor: Banded;
  readonly gain: number;
}

const explain = ({ columns, cells, pulls: all, told }: Tried, which: readonly number[]): Explained => {
  const own = which.map((each) => cells[each]),
    precision = precisionBefore(own, columns),
    before = cholesky(precision),
    pulls = valuesAt(all, which);
  for (let i = 0; i < own.length; i++) for (let j = 0; j <= i; j++) addTo(precision, i, j, told[which[i]][which[j]]);
  const factor = choleskyOf(precision);
  if (!before || !factor) return { which, mean: pulls.fill(0), factor: precision, gain: -Infinity };
  const mean = solveWith(factor, pulls);
  return { which, mean, factor, gain: 0.5 * (dot(pulls, mean) + logDeterminant(before) - logDeterminant(factor)) + lnOdds(own, columns) };
};

const touch = (a: number, b: number, columns: number): boolean =>
  Math.abs((a % columns) - (b % columns)) <= 1 && Math.abs(Math.floor(a / columns) - Math.floor(b / columns)) <= 1;

/** How far each of these cells stands off, before the readings speak (its precision). */
const precisionBefore = (cells: readonly number[], columns: number): Banded => {
  const precision = full(cells.length);
  for (let i = 0; i < cells.length; i++) {
    addTo(precision, i, i, OWN_DEVIATION ** -2);
    for (let j = 0; j < i; j++) {
      if (!touch(cells[i], cells[j], columns)) continue;
      for (const end of [i, j]) addTo(precision, end, end, OWN_SLOPE_DEVIATION ** -2);
      addTo(precision, i, j, -(OWN_SLOPE_DEVIATION ** -2));
    }
  }
  return precision;
};

/** ln of the odds that these stand off, before the readings speak: the first of each patch by itself, the rest beside it. */
const lnOdds = (cells: readonly number[], columns: number): number => {
  const left = [...cells],
    patch: number[] = [];
  let ln = 0;
  while (left.length > 0) {
    ln -= Math.log(CELLS_A_SPOT - 1);
    for (patch.push(left.pop()!); patch.length > 0;) {
      const from = patch.pop()!;
      for (let at = left.length - 1; at >= 0; at--) {
        if (!touch(from, left[at], columns)) continue;
        ln -= Math.log(CELLS_BESIDE - 1);
        patch.push(...left.splice(at, 1));
      }
    }
  }
  return ln;
};

/** Nothing is explained by a cell that stands further off than any does. */
const bounded = (by: Explained): Explained => (greatestSize(by.mean) > MOST_OFF * OWN_DEVIATION ? { ...by, gain: -Infinity } : by);

// Hundreds of explanations are looked at: their loops stand here.

const greatestSize = (values: Float64Array): number => {
  let greatest = 0;
  for (let k = 0; k < values.length; k++) if (Math.abs(values[k]) > greatest) greatest = Math.abs(values[k]);
  return greatest;
};

const valuesAt = (values: Float64Array, places: readonly number[]): Float64Array => {
  const found = new Float64Array(places.length);
  for (let k = 0; k < found.length; k++) found[k] = values[places[k]];
  return found;
};

const full = (size: number): Banded => banded(size, Math.max(0, size - 1));
const upTo = (count: number): number[] => Array.from({ length: count }, (_, each) => each);

/** ln of how much likelier the readings are if these cells stand by themselves. */
export const gainOf = (smooth: Smooth, cells: readonly number[]): number =>
  cells.length === 0 ? 0 : explain(tryCells(smooth, times(smooth.prior, smooth.x), cells), upTo(cells.length)).gain;

/**
 * Finds what stands by itself. `data`: the normal equations without the prior; `before`: cells found beside an earlier solution, `blocks`:
 * how many tell of each.
 */
export const spotsBeside = (smooth: Smooth, data: Banded, before: readonly number[], blocks: Float64Array): Spots => {
  const pull = times(smooth.prior, smooth.x),
    tried = tryCells(smooth, pull, worthTrying(smooth, pull, data, before, blocks));
  const explained = (which: readonly number[]): Explained => bounded(explain(tried, which));
  let best = explained(upTo(before.length)),
    others: readonly Explained[];
  if (best.gain === -Infinity) best = explained([]);
  for (let from: Explained | undefined; from !== best;) {
    from = best;
    others = besides(tried, best.which).map(explained);
    best = others.reduce((a, b) => (b.gain > a.gain ? b : a), best);
  }
  const counted = [best, ...others!.filter(({ gain }) => gain > best.gain - Math.log(WINDOW))];
  return { cells: best.which.map((each) => tried.cells[each]), directions: tried.directions, ...mixed(counted, tried.cells.length) };
};

/**
 * The cells of before, then those with readings that touch one of them or at which smoothness pulls harder than they would swing by
 * themselves, the hardest first.
 */
const worthTrying = (
  { columns, prior }: Smooth,
  pull: Float64Array,
  data: Banded,
  before: readonly number[],
  blocks: Float64Array,
): number[] => {
  const hard = Float64Array.from(pull, (each, cell) => {
    const diagonal = cell * (prior.width + 1) + prior.width;
    return each ** 2 / Math.min(data.data[diagonal], prior.data[diagonal]);
  });
  const worth = (cell: number): boolean =>
    (hard[cell] > 1 && blocks[cell] >= LEAST_BLOCKS) || before.some((other) => touch(cell, other, columns));
  const found = upTo(pull.length)
    .filter((cell) => hard[cell] < Infinity && !before.includes(cell) && worth(cell))
    .sort((a, b) => hard[b] - hard[a]);
  return [...before, ...found.slice(0, Math.max(0, MOST_TRIED - before.length))];
};

/**
 * Every choice that differs from this one by one, one more, one less, one in place of another; and this one with all that touch it, to
 * which one by one does not always lead.
 */
const besides = ({ cells, columns }: Tried, which: readonly number[]): number[][] => {
  const less = which.map((out) => which.filter((each) => each !== out)),
    more = upTo(cells.length).filter((each) => !which.includes(each));
  const touching = more.filter((each) => which.some((other) => touch(cells[each], cells[other], columns)));
  return [
    ...less,
    ...more.flatMap((each) => [which, ...less].map((rest) => [...rest, each])),
    ...(touching.length > 1 ? [[...which, ...touching]] : []),
  ];
};

/** Mean and covariance over several explanations, each as likely as it is. */
const mixed = (counted: readonly Explained[], count: number): { mean: Float64Array; covariance: Banded } => {
  const mean = new Float64Array(count),
    covariance = full(count),
    [{ gain: most }] = counted;
  const sum = counted.reduce((total, { gain }) => total + Math.exp(gain - most), 0);
  const parts = counted.map(({ which, mean: own, factor, gain }) => {
    const share = Math.exp(gain - most) / sum,
      each = new Float64Array(count),
      { width, data } = inverseNear(factor);
    for (let i = 0; i < which.length; i++) {
      mean[which[i]] += share * own[i];
      each[which[i]] = own[i];
      for (let j = 0; j <= i; j++) addTo(covariance, which[i], which[j], share * data[i * width + j + width]);
    }
    return { share, each };
  });
  for (const { share, each } of parts)
    for (let i = 0; i < count; i++) for (let j = 0; j <= i; j++) addTo(covariance, i, j, share * (each[i] - mean[i]) * (each[j] - mean[j]));
  return { mean, covariance };
};

/** Adds to a smooth solution what stands by itself. */
export const addSpots = (x: Float64Array, { directions, mean }: Spots): void =>
  directions.forEach((direction, each) => addTimes(x, direction, mean[each]));

const addTimes = (sum: Float64Array, values: Float64Array, factor: number): void => {
  if (factor !== 0) for (let k = 0; k < sum.length; k++) sum[k] += factor * values[k];
};

/** Covariance of the smooth solution with what stands by itself, as far as the band reaches. */
export const covarianceNear = (factor: Banded, { directions, covariance }: Spots): Banded => {
  const whole = inverseNear(factor);
  directions.forEach((direction, each) => {
    const by = new Float64Array(whole.size),
      column = columnOf(covariance, each);
    if (column[each] === 0) return;
    directions.forEach((other, at) => addTimes(by, other, column[at]));
    addProducts(whole, direction, by);
  });
  return whole;
};

const addProducts = ({ size, width, data }: Banded, a: Float64Array, b: Float64Array): void => {
  for (let i = 0; i < size; i++) for (let j = Math.max(0, i - width); j <= i; j++) data[i * width + j + width] += a[i] * b[j];
};
