// Readings gathered into short steady pieces: what is kept of a session as evidence on the cells it was fuelled from. Nothing in here
// depends on the table's present values, so that an edited cell is judged anew without weighing again.

import { LEANEST_BURNT_LAMBDA } from '../signals/faults/scaleEnds.js';
import { deviationBy, injectedAt, mixedAndSeen, type Placing } from './delay/delayModel.js';
import type { LeftOut } from './evidence.js';
import { stepOf } from './solution/grid.js';
import { FILLING_DEVIATION } from './delay/manifold.js';
import { effectiveSamples } from './solution/statistics.js';
import { REASONS, reasonIndex } from './doubts/leftOut.js';
import { inRoom, roomFor } from './room.js';
import type { Track } from './track.js';

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
  /** Growth of the fuel film (`Track.film`, `Track.chargeFilm`), mean. */
  readonly film: Float64Array;
  readonly chargeFilm: Float64Array;
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

/**
 * Rounds to single precision, as kept evidence holds it: robust rounds may tip by the last digits, and what is merged later is to tip as
 * what is weighed together.
 */
export const asKept = (blocks: Blocks): Blocks => {
  for (const column of Object.values(blocks) as (number | Int32Array | Float64Array)[])
    if (column instanceof Float64Array) for (let at = 0; at < column.length; at++) column[at] = Math.fround(column[at]);
  return blocks;
};

export interface Gathered {
  readonly blocks: Blocks;
  readonly used: number;
  readonly leftOut: Readonly<Partial<Record<LeftOut, number>>>;
}

const BLOCK_S = 0.8;
const VISIT_S = 8;
const GAP_S = 1.5;
/**
 * A switching loop swings to and fro in one to three seconds: a block is averaged over a swing, which crosses the target twice: two
 * independent readings.
 */
const TRIM_BLOCK_S = 3;
const CROSSINGS_A_SWING = 2;
/**
 * Least deviation of a block, however still its readings: the mixture itself wanders by about this from second to second. Order of
 * magnitude, no source.
 */
const FLOOR_DEVIATION = 0.003;
/** How well the film's share is known from one session to the next. */
const FILM_DEVIATION = 0.1;
/** The same while the film grows: what the controller adds for it may be more or less than its due. Order of magnitude, no source. */
const GROWING_FILM_DEVIATION = 0.15;
/** Share of the fuel added unasked that may not be the film's due but enrichment (standard deviation). No source. */
const UNASKED_DEVIATION = 0.5;
/**
 * How differently neighbouring cells may be wrong, per step. What a wrong delay costs is this × the speed through the table × the delay's
 * uncertainty.
 */
const CELL_CHANGE = 0.04;
const DELAY_ERROR_LIMIT = 0.02;
/** Spread of a trim round what is needed: it hunts. */
const TRIM_DEVIATION = 0.015;
const LN_LEANEST_BURNT = Math.log(LEANEST_BURNT_LAMBDA);
/** Least spread of one reading, where a log shows none: its last digit. */
const LEAST_READING_DEVIATION = 0.002;

/** Places every reading of the track where it was fuelled and gathers them; `pause` is called between the pieces of the work. */
export const gather = (track: Track, delay: Placing, pause = (): void => undefined): Gathered =>
  inRoom(() => gathered(track, delay, pause));

const gathered = (track: Track, delay: Placing, pause: () => void): Gathered => {
  const { timeS, grid, reason, lnTarget: lnTargets, manifoldKPa, readings } = track,
    { lnLambda, bankSpread } = readings;
  const columns = grid.columns.length,
    rows = grid.rows.length;
  const trimsOnly = readings.kind === 'trims';
  const { passed } = track;
  const [column, row, commanded, film, chargeFilm, ...more] = mixedAndSeen(timeS, passed, delay.model, [
    track.columnPosition,
    track.rowPosition,
    track.commanded,
    track.film,
    track.chargeFilm,
    ...(track.unasked ? [track.unasked] : []),
    ...(track.filling ? [track.filling] : []),
  ]);
  const unasked = track.unasked && more[0],
    filling = track.filling && more[more.length - 1];
  pause();
  const doubts = doubtsBy(delay, track, column, row),
    at = injectedAt(track, readings.row, delay.model, passed);
  pause();

  const reasons = new Int32Array(REASONS.length);
  const fault = reasonIndex('sensor-fault'),
    transient = reasonIndex('transient'),
    unproven = reasonIndex('delay-unproven');
  pieces.begin();
  const blockS = trimsOnly ? TRIM_BLOCK_S : BLOCK_S;
  const last = timeS.length - 1;
  for (let index = 0; index < readings.row.length; index++) {
    const there = at[index];
    // Where nothing tells the flow, the row's own reason says more.
    let why = (Number.isNaN(there) && reason[readings.row[index]]) || unproven;
    if (there >= 0) {
      const fuelled = Math.floor(there),
        next = fuelled < last ? fuelled + 1 : last,
        part = there - fuelled;
      why = Math.max(reason[fuelled], reason[next]);
      if (why === 0) {
        const c = between(column, fuelled, next, part),
          r = between(row, fuelled, next, part),
          drawn = filling ? between(filling, fuelled, next, part) : 0,
          lnRequired = between(commanded, fuelled, next, part) + lnLambda[index] - drawn;
        let doubt = 0;
        // Leaner than any engine burns it is air, a miss or another scale.
        if (Number.isNaN(c + r + lnRequired) || lnLambda[index] > LN_LEANEST_BURNT) why = fault;
        else if (fuelled > 0 && fuelled < last) {
          doubt = doubts[fuelled];
          // Also where it cannot be told (a flow that is not known).
          if (!(doubt <= DELAY_ERROR_LIMIT)) why = unproven;
          else if (trimsOnly && movedAt(column, row, fuelled) > 1) why = transient;
        }
        if (drawn !== 0) doubt = Math.hypot(doubt, FILLING_DEVIATION * drawn);
        if (why === 0) {
          const nowS = timeS[readings.row[index]],
            left = stepOf(c, columns),
            low = stepOf(r, rows),
            cell = low * columns + left,
            lnTarget = lnTargets[fuelled];
          if (pieces.open && (cell !== pieces.here || nowS - pieces.fromS > blockS || nowS - pieces.toS > GAP_S)) pieces.close();
          const to = pieces.add(cell, nowS, readings.row[index], trimsOnly ? lnLambda[index] : lnLambda[index] - lnTarget),
            { sums } = pieces;
          const u = c - left,
            v = r - low,
            added = unasked ? Math.abs(between(unasked, fuelled, next, part)) : 0;
          sums[to] += (1 - u) * (1 - v);
          sums[to + 1] += u * (1 - v);
          sums[to + 2] += (1 - u) * v;
          sums[to + 3] += u * v;
          sums[to + 4] += lnRequired;
          sums[to + 5] += trimsOnly ? lnTarget : lnLambda[index];
          sums[to + 6] += lnTarget;
          sums[to + 7] += between(film, fuelled, next, part);
          sums[to + 8] += manifoldKPa ? manifoldKPa[fuelled] : NaN;
          sums[to + 9] += bankSpread ? bankSpread[index] : NaN;
          sums[to + 10] += doubt;
          sums[to + 11] += added === added ? added : 0;
          sums[to + 12] += between(chargeFilm, fuelled, next, part);
          continue;
        }
      }
    }
    reasons[why]++;
    pieces.close();
  }
  pieces.close();

  const leftOut: Partial<Record<LeftOut, number>> = {};
  reasons.forEach((count, index) => {
    if (count > 0 && REASONS[index]) leftOut[REASONS[index]] = count;
  });
  if (readings.row.length === 0) leftOut[track.reason.includes(reasonIndex('sensor-mount')) ? 'sensor-mount' : 'no-lambda'] = timeS.length;
  return { blocks: pieces.finish(trimsOnly), used: pieces.readings, leftOut };
};

/** By how many cells the operating point moves round a row, from the one before it to the one behind. */
const movedAt = (column: Float64Array, row: Float64Array, at: number): number =>
  Math.abs(column[at + 1] - column[at - 1]) + Math.abs(row[at + 1] - row[at - 1]);

/**
 * What a wrong delay may cost (ln) at each row that is evidence; nothing at the first and the last, of which nothing tells how fast the
 * operating point moves.
 */
const doubtsBy = (delay: Placing, { timeS, exhaustGPerS, rpm, reason }: Track, column: Float64Array, row: Float64Array): Float64Array => {
  const doubts = roomFor(timeS.length).fill(0),
    deviation = deviationBy(delay);
  for (let at = 1; at + 1 < doubts.length; at++)
    if (reason[at] === 0)
      doubts[at] =
        ((CELL_CHANGE * movedAt(column, row, at)) / (timeS[at + 1] - timeS[at - 1])) * deviation(exhaustGPerS[at], rpm ? rpm[at] : 2500);
  return doubts;
};

/** Straight between two rows; the first one's value where nothing is beyond it. */
const between = (values: Float64Array, from: number, to: number, part: number): number =>
  part === 0 ? values[from] : values[from] + part * (values[to] - values[from]);

/**
 * Sums kept of a block: weights (4), required, measured, target, film, pressure, spread of banks, the delay's doubt, fuel added unasked,
 * the charge's film.
 */
const SUMS = 13;

/** One of them, of so many blocks. */
const sumsOf = (sums: Float64Array, each: number, count: number): Float64Array => {
  const values = new Float64Array(count);
  for (let at = 0; at < count; at++) values[at] = sums[SUMS * at + each];
  return values;
};

/** Room to begin with: few sessions have many more blocks. */
const FIRST_BLOCKS = 1024;

/** The numbers with as much room again behind them. */
const doubled = <T extends Float64Array | Int32Array>(values: T): T => {
  const larger = new (values.constructor as new (length: number) => T)(2 * values.length);
  larger.set(values);
  return larger;
};

/** Blocks while they are being collected, before the session's noise is known. */
class Pieces {
  open = false;
  here = -1;
  fromS = NaN;
  toS = NaN;
  readings = 0;
  sums = new Float64Array(SUMS * FIRST_BLOCKS);
  private count = 0;
  private n = 0;
  private visits = 0;
  private visitFromS = NaN;
  private visitToS = NaN;
  private visitCell = -1;
  private cell = new Int32Array(FIRST_BLOCKS);
  private samples = new Int32Array(FIRST_BLOCKS);
  private seconds = new Float64Array(FIRST_BLOCKS);
  private row = new Int32Array(FIRST_BLOCKS);
  private visit = new Int32Array(FIRST_BLOCKS);
  /** ln of measured over target within the open block, and the rows of its readings. */
  private ratios = new Float64Array(FIRST_BLOCKS);
  private rows = new Int32Array(FIRST_BLOCKS);
  /** Sums of what is left of neighbours' products, and of squares: a column, so that the shape of these objects never changes. */
  private readonly noise = new Float64Array(2);
  private free = 0;

  begin(): void {
    this.open = false;
    this.toS = this.visitFromS = this.visitToS = -Infinity;
    this.here = this.visitCell = -1;
    this.readings = this.count = this.visits = this.free = 0;
    this.noise.fill(0);
  }

  private grow(): void {
    this.cell = doubled(this.cell);
    this.sums = doubled(this.sums);
    this.samples = doubled(this.samples);
    this.seconds = doubled(this.seconds);
    this.row = doubled(this.row);
    this.visit = doubled(this.visit);
  }

  /** Takes a reading, and tells where in `sums` its block's stand, for what it adds to them. */
  add(cell: number, nowS: number, row: number, ratio: number): number {
    if (!this.open) {
      if (this.count === this.cell.length) this.grow();
      this.open = true;
      this.here = cell;
      this.fromS = nowS;
      this.n = 0;
      this.sums.fill(0, SUMS * this.count, SUMS * (this.count + 1));
    }
    if (this.n === this.ratios.length) [this.ratios, this.rows] = [doubled(this.ratios), doubled(this.rows)];
    this.ratios[this.n] = ratio;
    this.rows[this.n++] = row;
    this.toS = nowS;
    this.readings++;
    return SUMS * this.count;
  }

  close(): void {
    if (!this.open) return;
    const { n, count } = this;
    if (this.here !== this.visitCell || this.fromS - this.visitFromS > VISIT_S || this.fromS - this.visitToS > GAP_S) {
      this.visits++;
      this.visitFromS = this.fromS;
    }
    this.visitCell = this.here;
    this.visitToS = this.toS;
    this.cell[count] = this.here;
    for (let each = SUMS * count; each < SUMS * (count + 1); each++) this.sums[each] /= n;
    this.samples[count] = n;
    this.seconds[count] = n > 1 ? ((this.toS - this.fromS) * n) / (n - 1) : 0;
    this.row[count] = this.rows[n >> 1];
    this.visit[count] = this.visits;
    this.count++;
    this.open = false;
    if (n >= 4) this.takeNoise();
  }

  /** Round a straight line rather than the mean: a slow change of lambda is the engine's, not the reading's. */
  private takeNoise(): void {
    const { n, ratios, noise } = this;
    const middle = (n - 1) / 2;
    let [mean, slope] = [0, 0];
    for (let at = 0; at < n; at++) {
      mean += ratios[at] / n;
      slope += ratios[at] * (at - middle);
    }
    slope /= (n * (n * n - 1)) / 12;
    let before = 0;
    for (let at = 0; at < n; at++) {
      const rest = ratios[at] - mean - slope * (at - middle);
      noise[1] += rest ** 2;
      if (at > 0) noise[0] += rest * before;
      before = rest;
    }
    this.free += n - 2;
  }

  finish(trimsOnly: boolean): Blocks {
    const { count, sums, free } = this,
      [product, square] = this.noise;
    const samples = this.samples.slice(0, count);
    const typical = count ? this.readings / count : 1;
    // Taking the line out of a short block takes away about 2/n of the correlation; put it back.
    const r = Math.min(0.95, square > 0 ? product / square + 2 / Math.max(4, typical) : 0);
    const reading = trimsOnly ? TRIM_DEVIATION : Math.max(LEAST_READING_DEVIATION, free > 0 ? Math.sqrt(square / free) : 0.01);
    const film = sumsOf(sums, 7, count),
      effective = new Float64Array(count),
      variance = new Float64Array(count),
      weights = new Float64Array(4 * count);
    for (let at = 0; at < count; at++) {
      const n = samples[at],
        of = SUMS * at,
        wall = (film[at] > 0 ? GROWING_FILM_DEVIATION : FILM_DEVIATION) * film[at],
        doubt = sums[of + 10],
        unasked = sums[of + 11];
      effective[at] = trimsOnly
        ? CROSSINGS_A_SWING * Math.min(1, Math.max(this.seconds[at] / TRIM_BLOCK_S, 0.5 / typical))
        : Math.max(Math.min(1, n), effectiveSamples(n, r));
      variance[at] = reading ** 2 / effective[at] + FLOOR_DEVIATION ** 2 + wall ** 2 + doubt ** 2 + (UNASKED_DEVIATION * unasked) ** 2;
      for (let each = 0; each < 4; each++) weights[4 * at + each] = sums[of + each];
    }
    return {
      count,
      cell: this.cell.slice(0, count),
      weights,
      lnRequired: sumsOf(sums, 4, count),
      variance,
      film,
      chargeFilm: sumsOf(sums, 12, count),
      samples,
      effective,
      seconds: this.seconds.slice(0, count),
      lnMeasured: sumsOf(sums, 5, count),
      lnTarget: sumsOf(sums, 6, count),
      manifoldKPa: sumsOf(sums, 8, count),
      bankSpread: sumsOf(sums, 9, count),
      row: this.row.slice(0, count),
      visit: this.visit.slice(0, count),
    };
  }
}

/** One for all sessions, which are gathered one after the other. */
const pieces = new Pieces();
