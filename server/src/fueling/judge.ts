// A table judged by the evidence: every cell's factor, its interval and its proof. The solution is kept, so that an edited cell costs nothing.

import type { Table } from '../formats/table.js';
import { delaysOfCar } from './carDelay.js';
import { contradictionsOf, type Contradictions } from './contradiction.js';
import type { CellEvidence, Evidence, Proof } from './evidence.js';
import { gridOf, sameGrid } from './grid.js';
import { atOnce, breathing, type InPieces } from './pieces.js';
import { solving, type Solution } from './solve.js';
import { studentT95 } from './statistics.js';
import { asObservations, type SessionEvidence } from './weigh.js';

/** Least independent samples of a firm cell. Common practice, no source. */
export const FIRM_EFFECTIVE_SAMPLES = 5;
/** Widest half interval (1.96 deviations) of a firm cell: firm promises 3 %, and keeps it to three deviations. */
export const FIRM_HALF_WIDTH = 0.02;
/**
 * A firm cell must also be told apart from its neighbours by readings, not by smoothness alone: half interval without it. Also then it keeps the 3 % to two and a
 * half deviations; a pull along one line between two rows tells their sum well, and either of them badly.
 */
export const FIRM_OWN_HALF_WIDTH = 0.03 * 1.96 / 2.5;
/** Readings of one passage err alike, so a firm cell was passed more than once. */
const FIRM_PASSAGES = 2;
/** Readings of a cell so far apart are of two passages, also where it was never left: by then film, manifold and exhaust have settled anew several times over. Common practice, no source. */
const APART_S = 4;
/**
 * A firm cell was used for this long itself (bilinear weight × time, counted near its own corner only), three times what the mixture takes to settle:
 * what merely passes far off says nothing that a straight line does not carry over.
 */
const FIRM_OWN_SECONDS = 1.5;
/**
 * Of readings that differ by their noise, nine tenths are believed under Tukey's weights; of such as differ by twice as much, this. Where it is less, they contradict
 * each other, and which is right is not told.
 */
const FIRM_BELIEVED = 0.73;
/** Near a cell's corner: plainly more weight than the four cells have in the middle between them (0.25 each), where readings do not tell them apart. */
const NEAR_WEIGHT = 0.33;
const MOST_MOMENTS = 200;
/** A block counts among a cell's samples from this bilinear weight on. */
const COUNTED_WEIGHT = 0.2;

/** What the evidence says of each cell, whatever the table now holds. */
interface Tally {
  readonly width: number;
  readonly solution: Solution;
  readonly samples: Float64Array;
  readonly effective: Float64Array;
  readonly seconds: Float64Array;
  readonly weight: Float64Array;
  readonly measured: Float64Array;
  readonly target: Float64Array;
  readonly trimmed: Float64Array;
  readonly manifoldKPa: Float64Array;
  readonly bankSpread: Float64Array | undefined;
  readonly halfWidth: Float64Array;
  readonly proof: readonly Proof[];
  readonly contradictions: Contradictions | undefined;
  moments(cell: number): CellEvidence['moments'];
}

/**
 * Judges the table as it is now. Evidence placed on other axes is passed over (weigh those sessions again). The first call with a list of
 * evidences solves; every further call with the same ones only compares.
 */
export const judge = (table: Table, evidences: readonly SessionEvidence[]): Evidence => {
  const fitting = fittingTo(table, evidences);
  const width = table.columns.canonical.length;
  const tally = fitting.some(speaks) ? tallyOf(fitting) : undefined;
  const deadTimeMs = fitting[0]?.deadTimeMs ?? 0;
  const cells = Array.from(table.values, (value, cell) => new Cell(Math.floor(cell / width), cell % width, value, tally, deadTimeMs));
  const contradiction = tally && contradictionIn(tally, cells, deadTimeMs, (session) => evidences.indexOf(fitting[session]));
  return { sessions: delaysOfCar(evidences), cells, ...(tally?.bankSpread ? { bankSpread: tally.bankSpread } : {}), ...(contradiction ? { contradiction } : {}) };
};

/** `indexOf`: among all sessions, of one that the tally was made of. */
const contradictionIn = ({ solution: { lnValue }, contradictions }: Tally, cells: readonly CellEvidence[], deadTimeMs: number, indexOf: (session: number) => number): Evidence['contradiction'] => {
  if (!contradictions) return undefined;
  const known = contradictions.cells.filter((at) => cells[at].proof !== 'none');
  return known.length === 0 ? undefined : {
    cells: new Set(known), surest: contradictions.surest(known),
    said: (at) => Array.from(contradictions.said(at)).flatMap((ln, session) => (Number.isNaN(ln) ? [] : [{ session: indexOf(session), factor: (Math.exp(lnValue[at] + ln) + deadTimeMs) / cells[at].value }])),
  };
};

const fittingTo = (table: Table, evidences: readonly SessionEvidence[]): readonly SessionEvidence[] => {
  const grid = gridOf(table);
  return evidences.filter((evidence) => sameGrid(evidence.grid, grid));
};

const speaks = ({ blocks }: SessionEvidence): boolean => blocks.count > 0;

/** One cell of a table against the evidence; a class, so that a table is judged again within a frame. */
class Cell implements CellEvidence {
  readonly samples: number = 0;
  readonly effectiveSamples: number = 0;
  readonly seconds: number = 0;
  readonly measuredLambda: number = NaN;
  readonly targetLambda: number = NaN;
  readonly trimmed: number = NaN;
  readonly factor: number = NaN;
  readonly factorLow: number = NaN;
  readonly factorHigh: number = NaN;
  readonly proof: Proof = 'none';
  readonly suggested: number = NaN;
  readonly manifoldPressureKPa: number = NaN;
  readonly #tally: Tally | undefined;
  readonly #at: number = 0;

  constructor(readonly row: number, readonly column: number, readonly value: number, tally: Tally | undefined, deadTimeMs: number) {
    const at = tally ? row * tally.width + column : 0;
    if (!tally || tally.proof[at] === 'none' || !(value > 0)) return;
    const lnValue = tally.solution.lnValue[at];
    const half = tally.halfWidth[at], below = Math.min(-half, tally.contradictions?.below[at] ?? 0), above = Math.max(half, tally.contradictions?.above[at] ?? 0);
    this.#tally = tally;
    this.#at = at;
    this.samples = tally.samples[at];
    this.effectiveSamples = tally.effective[at];
    this.seconds = tally.seconds[at];
    this.measuredLambda = tally.measured[at];
    this.targetLambda = tally.target[at];
    this.trimmed = tally.trimmed[at];
    this.factor = (Math.exp(lnValue) + deadTimeMs) / value;
    this.factorLow = (Math.exp(lnValue + below) + deadTimeMs) / value;
    this.factorHigh = (Math.exp(lnValue + above) + deadTimeMs) / value;
    this.proof = tally.proof[at];
    this.suggested = value * this.factor;
    this.manifoldPressureKPa = tally.manifoldKPa[at];
  }

  get moments(): CellEvidence['moments'] { return this.#tally?.moments(this.#at) ?? []; }
}

const kept = new WeakMap<SessionEvidence, { readonly list: readonly SessionEvidence[]; readonly tally: Tally }>();

const tallyOf = (list: readonly SessionEvidence[]): Tally => {
  const known = kept.get(list[0]);
  if (known && sameList(known.list, list)) return known.tally;
  const tally = atOnce(tallying(list));
  kept.set(list[0], { list, tally });
  return tally;
};

const sameList = (a: readonly SessionEvidence[], b: readonly SessionEvidence[]): boolean => a.length === b.length && a.every((each, at) => each === b[at]);

/** What is being told just now, by the first of its list: whoever asks again meanwhile waits for the same. */
const underWay = new WeakMap<SessionEvidence, { readonly list: readonly SessionEvidence[]; readonly told: Promise<void> }>();

/** Judges as `judge` does; where it takes long, `breathe` is waited for between the pieces of the work. */
export const judgeBreathing = async (table: Table, evidences: readonly SessionEvidence[], breathe: () => Promise<void>): Promise<Evidence> => {
  const list = fittingTo(table, evidences), known = list.length > 0 ? kept.get(list[0]) : undefined;
  if (list.some(speaks) && !(known && sameList(known.list, list))) {
    let way = underWay.get(list[0]);
    if (!way || !sameList(way.list, list)) {
      way = { list, told: breathing(tallying(list), breathe).then((tally) => { kept.set(list[0], { list, tally }); }).finally(() => { if (underWay.get(list[0]) === way) underWay.delete(list[0]); }) };
      underWay.set(list[0], way);
    }
    await way.told;
  }
  return judge(table, evidences);
};

function* tallying(list: readonly SessionEvidence[]): InPieces<Tally> {
  const { grid } = list[0];
  const width = grid.columns.length;
  const size = width * grid.rows.length;
  const most = list.reduce((best, each) => (each.blocks.count > best.blocks.count ? each : best), list[0]);
  const observations = asObservations(list.map(({ blocks }) => blocks));
  const solution = yield* solving(grid, most.reference.map(Math.log), observations, list.length);
  const sums = sumsOf(size), { samples, effective, seconds, weight, measured, target, trimmed, manifoldKPa, spread, spreadWeight, ownSeconds, told, believed, passages } = sums;
  const offsets = [0, 1, width, width + 1];
  let observation = 0;
  for (const [session, evidence] of list.entries()) {
    if (session % SESSIONS_A_PIECE === 0) yield;
    addTo(sums, evidence, solution.trust.subarray(observation, observation += evidence.blocks.count), offsets);
  }
  for (let cell = 0; cell < size; cell++) {
    measured[cell] /= weight[cell];
    target[cell] /= weight[cell];
    trimmed[cell] = Math.expm1(trimmed[cell] / weight[cell]);
    manifoldKPa[cell] /= weight[cell];
    spread[cell] = Math.expm1(spread[cell] / spreadWeight[cell]);
  }
  const contradictions = contradictionsOf(list, solution.residual, grid), contradicted = new Uint8Array(size);
  for (const cell of contradictions?.cells ?? []) contradicted[cell] = 1;
  const halfWidth = solution.deviation.map((deviation, cell) => studentT95(Math.max(4, effective[cell])) * deviation);
  const proof = Array.from(weight, (sum, cell): Proof => {
    if (!(sum >= 1)) return 'none';
    const narrow = halfWidth[cell] < FIRM_HALF_WIDTH && 1.96 * solution.ownDeviation[cell] < FIRM_OWN_HALF_WIDTH;
    const agreed = contradicted[cell] === 0 && believed[cell] >= FIRM_BELIEVED * told[cell];
    return narrow && agreed && passages[cell] >= FIRM_PASSAGES && ownSeconds[cell] >= FIRM_OWN_SECONDS && effective[cell] >= FIRM_EFFECTIVE_SAMPLES ? 'firm' : 'thin';
  });
  const lists = new Map<number, CellEvidence['moments']>();
  return {
    width, solution, samples, effective, seconds, weight, measured, target, trimmed, manifoldKPa, halfWidth, proof, contradictions,
    bankSpread: spreadWeight.some((sum) => sum > 0) ? spread : undefined,
    moments: (cell) => {
      let found = lists.get(cell);
      if (!found) lists.set(cell, found = momentsOf(list, cell, offsets));
      return found;
    },
  };
}

const SESSIONS_A_PIECE = 20;

const SUMS = ['samples', 'effective', 'seconds', 'weight', 'measured', 'target', 'trimmed', 'manifoldKPa', 'spread', 'spreadWeight', 'ownSeconds', 'told', 'believed', 'passages'] as const;

/** What is added up for each cell. */
type Sums = Readonly<Record<typeof SUMS[number], Float64Array>>;

const sumsOf = (size: number): Sums => Object.fromEntries(SUMS.map((name) => [name, new Float64Array(size)])) as Sums;

/** Adds what a session's blocks, trusted so far each, say of their cells. */
const addTo = (sums: Sums, { blocks, reference, timeS }: SessionEvidence, trust: Float64Array, offsets: readonly number[]): void => {
  const { samples, effective, seconds, weight, measured, target, trimmed, manifoldKPa, spread, spreadWeight, ownSeconds, told, believed, passages } = sums;
  const sinceS = new Float64Array(samples.length).fill(-Infinity);
  for (let at = 0; at < blocks.count; at++) {
    const measuredLambda = Math.exp(blocks.lnMeasured[at]), targetLambda = Math.exp(blocks.lnTarget[at]);
    // What is required beyond the value logged with and what lambda says of it, the trims have added.
    let logged = 0;
    for (let i = 0; i < 4; i++) if (blocks.weights[4 * at + i] > 0) logged += blocks.weights[4 * at + i] * reference[blocks.cell[at] + offsets[i]];
    const lnTrimmed = blocks.lnRequired[at] - Math.log(logged) - (blocks.lnMeasured[at] - blocks.lnTarget[at]);
    for (let i = 0; i < 4; i++) {
      const w = blocks.weights[4 * at + i];
      if (w === 0) continue;
      const cell = blocks.cell[at] + offsets[i];
      const share = w * blocks.samples[at];
      told[cell] += w * w / blocks.variance[at];
      believed[cell] += trust[at] * w * w / blocks.variance[at];
      weight[cell] += share;
      effective[cell] += w * blocks.effective[at];
      measured[cell] += share * measuredLambda;
      target[cell] += share * targetLambda;
      trimmed[cell] += share * lnTrimmed;
      manifoldKPa[cell] += share * blocks.manifoldKPa[at];
      if (!Number.isNaN(blocks.bankSpread[at])) { spread[cell] += share * blocks.bankSpread[at]; spreadWeight[cell] += share; }
      if (w >= NEAR_WEIGHT) ownSeconds[cell] += w * blocks.seconds[at];
      if (w < COUNTED_WEIGHT) continue;
      samples[cell] += blocks.samples[at];
      seconds[cell] += blocks.seconds[at];
      if (!(timeS[at] - sinceS[cell] >= APART_S)) continue;
      passages[cell]++;
      sinceS[cell] = timeS[at];
    }
  }
};

/** The blocks that speak of a cell, those furthest from target first: above it where the cell is lean on the whole, below where it is rich. */
const momentsOf = (list: readonly SessionEvidence[], cell: number, offsets: readonly number[]): CellEvidence['moments'] => {
  const found: { session: number; at: number; away: number }[] = [];
  let sum = 0;
  list.forEach(({ blocks }, session) => {
    for (let at = 0; at < blocks.count; at++) {
      const corner = offsets.indexOf(cell - blocks.cell[at]);
      if (corner < 0 || blocks.weights[4 * at + corner] < COUNTED_WEIGHT) continue;
      const away = blocks.lnMeasured[at] - blocks.lnTarget[at];
      sum += away * blocks.samples[at];
      found.push({ session, at, away });
    }
  });
  found.sort((a, b) => (sum >= 0 ? b.away - a.away : a.away - b.away));
  return found.slice(0, MOST_MOMENTS).map(({ session, at }) => {
    const { blocks, line, timeS } = list[session];
    return { session, sample: blocks.row[at], lambda: Math.exp(blocks.lnMeasured[at]), timeS: timeS[at], line: line[at] };
  });
};
