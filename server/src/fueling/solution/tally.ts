// What the sessions' evidence comes to on each cell of a table's grid, whatever the table now holds: the long part of judging it, from
// plain data to plain data, so that another thread can do it.

import { contradictionsOf, type Contradictions } from '../doubts/contradiction.js';
import { driftsOf, type Drift } from '../doubts/drift.js';
import type { Proof } from '../evidence.js';
import type { InPieces } from '../pieces.js';
import { smoothnessPrior } from './prior.js';
import { takenApart } from '../doubts/sides.js';
import { solving } from './solve.js';
import { studentT95 } from './statistics.js';
import { asObservations, type SessionEvidence } from '../weigh.js';

/** Least independent samples of a firm cell. Common practice, no source. */
const FIRM_EFFECTIVE_SAMPLES = 5;
/** Widest half interval (1.96 deviations) of a firm cell: firm promises 3 %, and keeps it to three deviations. */
const FIRM_HALF_WIDTH = 0.02;
/**
 * A firm cell must also be told apart from its neighbours by readings, not by smoothness alone: half interval without it. Also then it
 * keeps the 3 % to two and a half deviations; a pull along one line between two rows tells their sum well, and either of them badly.
 */
export const FIRM_OWN_HALF_WIDTH = (0.03 * 1.96) / 2.5;
/** Readings of one passage err alike, so a firm cell was passed more than once. */
const FIRM_PASSAGES = 2;
/**
 * Readings of a cell so far apart are of two passages, also where it was never left: by then film, manifold and exhaust have settled anew
 * several times over. Common practice, no source.
 */
const APART_S = 4;
/**
 * A firm cell was used for this long itself (bilinear weight × time, counted near its own corner only), in each passage as long as the
 * mixture takes to settle (half a second):
 * what merely passes far off says nothing that a straight line does not carry over.
 */
const FIRM_OWN_SECONDS = 0.5 * FIRM_PASSAGES;
/**
 * Of readings that differ by their noise, nine tenths are believed under Tukey's weights; of such as differ by twice as much, this. Where
 * it is less, they contradict each other, and which is right is not told.
 */
const FIRM_BELIEVED = 0.73;
/**
 * Near a cell's corner: plainly more weight than the four cells have in the middle between them (0.25 each), where readings do not tell
 * them apart.
 */
const NEAR_WEIGHT = 0.33;
/**
 * What all readings of a session share (standard deviation of ln): how far a gauge repeats itself from one day to the next, the air's damp,
 * what the fuel's warmth and pressure give. No averaging within it takes that away; several sessions do. Order of magnitude, no source.
 */
const SESSION_DEVIATION = 0.0025;
/** A block counts among a cell's samples from this bilinear weight on. */
export const COUNTED_WEIGHT = 0.2;

/** What the evidence says of each cell, whatever the table now holds. Plain data: another thread may have told it. */
export interface Tally {
  readonly width: number;
  /** ln of the value each cell should have (`Solution`). */
  readonly lnValue: Float64Array;
  readonly samples: Float64Array;
  readonly effective: Float64Array;
  readonly seconds: Float64Array;
  readonly weight: Float64Array;
  readonly measured: Float64Array;
  readonly target: Float64Array;
  readonly trimmed: Float64Array;
  /** ln of the values that the readings of each cell were fuelled by, mean over `reach`. */
  readonly lnLogged: Float64Array;
  /** How much each cell's readings lay on it and the eight round it, mean: nine entries a cell, row by row. */
  readonly reach: Float64Array;
  readonly manifoldKPa: Float64Array;
  readonly bankSpread: Float64Array | undefined;
  readonly halfWidth: Float64Array;
  readonly proof: readonly Proof[];
  readonly contradictions: Contradictions | undefined;
  readonly drifts: readonly Drift[];
}

/** What of a session's evidence is told of the cells. */
export type Witness = Pick<SessionEvidence, 'grid' | 'reference' | 'blocks' | 'timeS' | 'silenced'>;

export function* tallying(list: readonly Witness[]): InPieces<Tally> {
  const { grid } = list[0];
  const width = grid.columns.length;
  const size = width * grid.rows.length;
  const observations = asObservations(list.map(({ blocks }) => blocks));
  const lnReference = smoothestReference(list),
    solution = yield* solving(grid, lnReference, observations, list.length);
  const sums = sumsOf(size),
    {
      samples,
      effective,
      seconds,
      weight,
      measured,
      target,
      trimmed,
      lnLogged,
      manifoldKPa,
      spread,
      spreadWeight,
      ownSeconds,
      told,
      believed,
      passages,
    } = sums,
    reach = new Float64Array(REACH * size);
  const offsets = [0, 1, width, width + 1],
    bySession = new Float64Array(size),
    before = new Float64Array(size);
  let observation = 0;
  for (const [session, evidence] of list.entries()) {
    if (session % SESSIONS_A_PIECE === 0) yield;
    addTo(sums, reach, evidence, solution.trust.subarray(observation, (observation += evidence.blocks.count)), offsets);
    for (let cell = 0; cell < size; cell++) {
      bySession[cell] += (weight[cell] - before[cell]) ** 2;
      before[cell] = weight[cell];
    }
  }
  for (let cell = 0; cell < size; cell++) {
    measured[cell] /= weight[cell];
    target[cell] /= weight[cell];
    trimmed[cell] = Math.expm1(trimmed[cell] / weight[cell]);
    lnLogged[cell] /= weight[cell];
    for (let near = REACH * cell; near < REACH * (cell + 1); near++) reach[near] /= weight[cell];
    manifoldKPa[cell] /= weight[cell];
    spread[cell] = Math.expm1(spread[cell] / spreadWeight[cell]);
  }
  const pooled = contradictionsOf(list, solution.residual, grid),
    apart = pooled && (yield* takenApart(list, lnReference, solution.lnValue, pooled, grid)),
    contradictions = apart?.contradictions,
    contradicted = new Uint8Array(size);
  for (const cell of contradictions?.cells ?? []) contradicted[cell] = 1;
  const halfWidth = solution.deviation.map((deviation, cell) =>
    weight[cell] >= 1
      ? studentT95(Math.max(4, effective[cell])) * Math.hypot(deviation, (SESSION_DEVIATION * Math.sqrt(bySession[cell])) / weight[cell])
      : NaN,
  );
  const proof = Array.from(weight, (sum, cell): Proof => {
    if (!(sum >= 1)) return 'none';
    const narrow = halfWidth[cell] < FIRM_HALF_WIDTH && 1.96 * solution.ownDeviation[cell] < FIRM_OWN_HALF_WIDTH;
    const bent = contradictions !== undefined && (contradictions.below[cell] !== 0 || contradictions.above[cell] !== 0);
    const agreed = contradicted[cell] === 0 && !bent && believed[cell] >= FIRM_BELIEVED * told[cell];
    return narrow &&
      agreed &&
      passages[cell] >= FIRM_PASSAGES &&
      ownSeconds[cell] >= FIRM_OWN_SECONDS &&
      effective[cell] >= FIRM_EFFECTIVE_SAMPLES
      ? 'firm'
      : 'thin';
  });
  return {
    width,
    lnValue: apart?.lnValue ?? solution.lnValue,
    samples,
    effective,
    seconds,
    weight,
    measured,
    target,
    trimmed,
    lnLogged,
    reach,
    manifoldKPa,
    halfWidth,
    proof,
    contradictions,
    drifts: driftsOf(list, solution.residual, solution.lnValue, grid),
    bankSpread: spreadWeight.some((sum) => sum > 0) ? spread : undefined,
  };
}

/**
 * Of the tables that the sessions were logged with (ln) the one that bends least; a session without evidence, an empty one say, tells of
 * none. An engine is smooth, and so is its departure from a table as it was made; one that was corrected since, cell by cell and where that
 * was proven, stands off it in steps, and to smooth those would lay what is left in a cell to its neighbours that are right by now.
 */
const smoothestReference = (list: readonly Witness[]): Float64Array => {
  const { roughness } = smoothnessPrior(list[0].grid),
    known: Float64Array[] = [];
  let best = new Float64Array(0),
    least = Infinity;
  for (const { reference, blocks, silenced } of list) {
    if ((blocks.count === 0 && !silenced) || known.some((other) => sameValues(other, reference))) continue;
    known.push(reference);
    const ln = reference.map(Math.log),
      rough = roughness(ln);
    if (rough < least) [best, least] = [ln, rough];
  }
  return best;
};

const sameValues = (a: Float64Array, b: Float64Array): boolean => a.every((value, at) => value === b[at]);

const SESSIONS_A_PIECE = 20;

/** A cell and the eight round it. */
export const REACH = 9;
/** Which of those, seen from corner i of a square, corner j is. */
const NEAR = [0, 1, 2, 3].map((i) => [0, 1, 2, 3].map((j) => 4 + ((j % 2) - (i % 2)) + 3 * ((j >> 1) - (i >> 1))));

const SUMS = [
  'samples',
  'effective',
  'seconds',
  'weight',
  'measured',
  'target',
  'trimmed',
  'lnLogged',
  'manifoldKPa',
  'spread',
  'spreadWeight',
  'ownSeconds',
  'told',
  'believed',
  'passages',
] as const;

/** What is added up for each cell. */
type Sums = Readonly<Record<(typeof SUMS)[number], Float64Array>>;

const sumsOf = (size: number): Sums => Object.fromEntries(SUMS.map((name) => [name, new Float64Array(size)])) as Sums;

/** Adds what a session's blocks, trusted so far each, say of their cells. */
const addTo = (
  sums: Sums,
  reach: Float64Array,
  { blocks, reference, timeS }: Witness,
  trust: Float64Array,
  offsets: readonly number[],
): void => {
  const {
      samples,
      effective,
      seconds,
      weight,
      measured,
      target,
      trimmed,
      lnLogged,
      manifoldKPa,
      spread,
      spreadWeight,
      ownSeconds,
      told,
      believed,
      passages,
    } = sums,
    { cell: cells, weights, bankSpread } = blocks;
  const sinceS = new Float64Array(samples.length).fill(-Infinity),
    lnReference = reference.map(Math.log);
  for (let at = 0; at < blocks.count; at++) {
    const measuredLambda = Math.exp(blocks.lnMeasured[at]),
      targetLambda = Math.exp(blocks.lnTarget[at]),
      first = cells[at],
      count = blocks.samples[at],
      precision = 1 / blocks.variance[at],
      apart = bankSpread[at],
      kPa = blocks.manifoldKPa[at];
    // What is required beyond the value logged with and what lambda says of it, the trims have added.
    let logged = 0,
      lnLoggedHere = 0;
    for (let i = 0; i < 4; i++) {
      const w = weights[4 * at + i],
        k = first + offsets[i];
      if (w > 0) {
        logged += w * reference[k];
        lnLoggedHere += w * lnReference[k];
      }
    }
    const lnTrimmed = blocks.lnRequired[at] - Math.log(logged) - (blocks.lnMeasured[at] - blocks.lnTarget[at]);
    for (let i = 0; i < 4; i++) {
      const w = weights[4 * at + i];
      if (w === 0) continue;
      const cell = first + offsets[i];
      const share = w * count;
      told[cell] += w * w * precision;
      believed[cell] += trust[at] * w * w * precision;
      weight[cell] += share;
      effective[cell] += w * blocks.effective[at];
      measured[cell] += share * measuredLambda;
      target[cell] += share * targetLambda;
      trimmed[cell] += share * lnTrimmed;
      lnLogged[cell] += share * lnLoggedHere;
      for (let j = 0, near = NEAR[i], to = REACH * cell; j < 4; j++)
        if (weights[4 * at + j] > 0) reach[to + near[j]] += share * weights[4 * at + j];
      manifoldKPa[cell] += share * kPa;
      if (!Number.isNaN(apart)) {
        spread[cell] += share * apart;
        spreadWeight[cell] += share;
      }
      if (w >= NEAR_WEIGHT) ownSeconds[cell] += w * blocks.seconds[at];
      if (w < COUNTED_WEIGHT) continue;
      samples[cell] += count;
      seconds[cell] += blocks.seconds[at];
      if (!(timeS[at] - sinceS[cell] >= APART_S)) continue;
      passages[cell]++;
      sinceS[cell] = timeS[at];
    }
  }
};
