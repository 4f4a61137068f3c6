// Readings gathered into short steady pieces: what is kept of a session as evidence on the cells it was fuelled from. Nothing in here
// depends on the table's present values, so that an edited cell is judged anew without weighing again.

import type { LeftOut } from './evidence.js';
import { sampleAt } from './filters.js';
import { stepOf } from './grid.js';
import { autocorrelation, effectiveSamples } from './statistics.js';
import { REASONS, reasonIndex, type Track } from './track.js';
import { injectedAt, passedG, wholeDelayS, type Delay } from './transportDelay.js';
import { lagged } from './filters.js';

/** One entry a block. */
export interface Blocks {
  readonly count: number;
  /** The cell with the lower row and column of the four, row by row; neighbours are +1, + columns, + columns + 1. */
  readonly cell: Int32Array;
  /** Mean bilinear weights on the four cells, in that order: four entries a block. */
  readonly weights: Float64Array;
  /** ln of the value the table should have had at the operating point, dead time taken off. */
  readonly lnRequired: Float64Array;
  /** Variance of `lnRequired` as far as the block's own readings tell. */
  readonly variance: Float64Array;
  /** Growth of the fuel film (`Track.film`), mean. */
  readonly film: Float64Array;
  readonly samples: Int32Array;
  readonly effective: Float64Array;
  readonly seconds: Float64Array;
  readonly lnMeasured: Float64Array;
  readonly lnTarget: Float64Array;
  readonly manifoldKPa: Float64Array;
  readonly bankSpread: Float64Array;
  /** The block's middle reading. */
  readonly row: Int32Array;
  /** Blocks that follow each other without leaving the four cells, up to `VISIT_S`: their errors are alike. */
  readonly visit: Int32Array;
}

export interface Gathered {
  readonly blocks: Blocks;
  readonly used: number;
  readonly leftOut: Readonly<Partial<Record<LeftOut, number>>>;
}

const BLOCK_S = 0.8;
const VISIT_S = 8;
const GAP_S = 1.5;
/** Trims answer slowly: their blocks are longer, and fewer of them are independent. */
const TRIM_BLOCK_S = 3;
/** What no averaging takes away: curvature between breakpoints, the table's rounding. */
const FLOOR_DEVIATION = 0.003;
/** How well the film's share is known from one session to the next. */
const FILM_DEVIATION = 0.1;
/** How differently neighbouring cells may be wrong, per step. What a wrong delay costs is this × the speed through the table × the delay's uncertainty. */
const CELL_CHANGE = 0.04;
const DELAY_ERROR_LIMIT = 0.02;
/** Least spread of one reading, where a log shows none: its last digit. */
const LEAST_READING_DEVIATION = 0.002;

/** Places every reading of the track where it was fuelled and gathers them. */
export const gather = (track: Track, delay: Delay): Gathered => {
  const { readings, timeS, grid } = track;
  const columns = grid.columns.length;
  const trimsOnly = readings.kind === 'trims';
  const lagS = delay.model.lagS;
  const column = lagged(track.columnPosition, timeS, lagS);
  const row = lagged(track.rowPosition, timeS, lagS);
  const commanded = lagged(track.commanded, timeS, lagS);
  const film = lagged(track.film, timeS, lagS);
  const at = injectedAt(track, readings.row, delay.model, passedG(track));

  const reasons = new Int32Array(REASONS.length);
  const [fault, transient, unproven] = [reasonIndex('sensor-fault'), reasonIndex('transient'), reasonIndex('delay-unproven')];
  const pieces = new Pieces();
  const blockS = trimsOnly ? TRIM_BLOCK_S : BLOCK_S;
  let used = 0;
  let visit = 0;
  let visitFromS = -Infinity;
  let lastS = -Infinity;
  let lastCell = -1;

  // The block being filled.
  let n = 0;
  let cell = -1;
  let [fromS, firstIndex] = [0, 0];
  const sum = new Float64Array(10);
  let deviations: number[] = [];
  const close = (endIndex: number): void => {
    if (n === 0) return;
    if (cell !== lastCell || fromS - visitFromS > VISIT_S || fromS - lastS > GAP_S) { visit++; visitFromS = fromS; }
    const middle = readings.row[(firstIndex + endIndex) >> 1];
    lastS = timeS[readings.row[endIndex]];
    lastCell = cell;
    pieces.add(cell, sum, n, Math.max(lastS - fromS, 0) * (n > 1 ? n / (n - 1) : 1), middle, visit, deviations);
    n = 0;
    sum.fill(0);
    deviations = [];
  };

  for (let index = 0; index < readings.row.length; index++) {
    const there = at[index];
    const fuelledRow = Number.isNaN(there) ? -1 : Math.floor(there);
    let why = fuelledRow < 0 ? unproven : Math.max(track.reason[fuelledRow], track.reason[Math.min(fuelledRow + 1, timeS.length - 1)]);
    const c = fuelledRow < 0 ? NaN : sampleAt(column, there);
    const r = fuelledRow < 0 ? NaN : sampleAt(row, there);
    const lnRequired = fuelledRow < 0 ? NaN : sampleAt(commanded, there) + readings.lnLambda[index];
    if (why === 0 && Number.isNaN(c + r + lnRequired)) why = fault;
    if (why === 0 && !trimsOnly && delay.deviationS > 0 && fuelledRow > 0) {
      const stepS = timeS[fuelledRow + 1] - timeS[fuelledRow - 1];
      const speed = Math.hypot(column[fuelledRow + 1] - column[fuelledRow - 1], row[fuelledRow + 1] - row[fuelledRow - 1]) / stepS;
      if (speed * CELL_CHANGE * delay.deviationS > DELAY_ERROR_LIMIT) why = unproven;
    }
    if (why === 0 && trimsOnly && fuelledRow > 0 && Math.abs(column[fuelledRow] - column[fuelledRow - 1]) + Math.abs(row[fuelledRow] - row[fuelledRow - 1]) > 0.5) why = transient;
    if (why !== 0) {
      reasons[why]++;
      if (n > 0) close(index - 1);
      continue;
    }
    const left = stepOf(c, columns);
    const low = stepOf(r, grid.rows.length);
    const here = low * columns + left;
    const nowS = timeS[readings.row[index]];
    if (n > 0 && (here !== cell || nowS - fromS > blockS || nowS - timeS[readings.row[index - 1]] > GAP_S)) close(index - 1);
    if (n === 0) { cell = here; fromS = nowS; firstIndex = index; }
    const u = c - left;
    const v = r - low;
    sum[0] += (1 - u) * (1 - v);
    sum[1] += u * (1 - v);
    sum[2] += (1 - u) * v;
    sum[3] += u * v;
    sum[4] += lnRequired;
    sum[5] += sampleAt(film, there);
    sum[6] += trimsOnly ? Math.log(track.target[fuelledRow]) : readings.lnLambda[index];
    const lnTarget = Math.log(track.target[fuelledRow]);
    sum[7] += lnTarget;
    sum[8] += track.manifoldKPa ? track.manifoldKPa[fuelledRow] : NaN;
    sum[9] += readings.bankSpread ? readings.bankSpread[index] : NaN;
    deviations.push(readings.lnLambda[index] - (trimsOnly ? 0 : lnTarget));
    n++;
    used++;
  }
  if (n > 0) close(readings.row.length - 1);

  const leftOut: Partial<Record<LeftOut, number>> = {};
  reasons.forEach((count, index) => { if (count > 0 && REASONS[index]) leftOut[REASONS[index]] = count; });
  if (trimsOnly && readings.row.length === 0) leftOut['no-lambda'] = timeS.length;
  const typicalRate = (entry: number): number => delay.deviationS * CELL_CHANGE * entry;
  return { blocks: pieces.finish(trimsOnly, typicalRate), used, leftOut };
};

/** Blocks while they are being collected, before the session's noise is known. */
class Pieces {
  private readonly cell: number[] = [];
  private readonly sums: number[][] = [];
  private readonly n: number[] = [];
  private readonly seconds: number[] = [];
  private readonly row: number[] = [];
  private readonly visit: number[] = [];
  private readonly correlation = { product: 0, square: 0, free: 0 };

  add(cell: number, sum: Float64Array, n: number, seconds: number, row: number, visit: number, deviations: readonly number[]): void {
    this.cell.push(cell);
    this.sums.push(Array.from(sum, (value) => value / n));
    this.n.push(n);
    this.seconds.push(seconds);
    this.row.push(row);
    this.visit.push(visit);
    if (n < 4) return;
    // Round a straight line rather than the mean: a slow change of lambda is the engine's, not the reading's.
    const middle = (n - 1) / 2;
    let [mean, slope, square] = [0, 0, 0];
    for (let at = 0; at < n; at++) { mean += deviations[at] / n; slope += deviations[at] * (at - middle); square += (at - middle) ** 2; }
    slope /= square;
    let before = 0;
    for (let at = 0; at < n; at++) {
      const rest = deviations[at] - mean - slope * (at - middle);
      this.correlation.square += rest ** 2;
      if (at > 0) this.correlation.product += rest * before;
      before = rest;
    }
    this.correlation.free += n - 2;
  }

  finish(trimsOnly: boolean, _delayError: (rate: number) => number): Blocks {
    const count = this.cell.length;
    const { product, square, free } = this.correlation;
    const typical = count ? this.n.reduce((sum, n) => sum + n, 0) / count : 1;
    // Detrending a short block takes away about 2/n of the correlation; put it back.
    const r = Math.min(0.95, square > 0 ? product / square + 2 / Math.max(4, typical) : 0);
    const reading = Math.max(LEAST_READING_DEVIATION, free > 0 ? Math.sqrt(square / free) : 0.01);
    const column = (index: number): Float64Array => Float64Array.from(this.sums, (sum) => sum[index]);
    const effective = Float64Array.from(this.n, (n): number => (trimsOnly ? Math.min(1, n / (2 * typical)) : Math.max(Math.min(1, n), effectiveSamples(n, r))));
    const film = column(5);
    return {
      count,
      cell: Int32Array.from(this.cell),
      weights: Float64Array.from(this.sums.flatMap((sum) => sum.slice(0, 4))),
      lnRequired: column(4),
      variance: Float64Array.from(effective, (worth, at) =>
        (trimsOnly ? 0.015 ** 2 : reading ** 2) / worth + FLOOR_DEVIATION ** 2 + (FILM_DEVIATION * film[at]) ** 2),
      film,
      samples: Int32Array.from(this.n),
      effective,
      seconds: Float64Array.from(this.seconds),
      lnMeasured: column(6),
      lnTarget: column(7),
      manifoldKPa: column(8),
      bankSpread: column(9),
      row: Int32Array.from(this.row),
      visit: Int32Array.from(this.visit),
    };
  }
}
