// A table judged by the evidence: every cell's factor, its interval and its proof. What the evidence comes to is kept, so that an edited
// cell costs nothing.

import type { Table } from '../formats/table/table.js';
import { sameList } from './solution/byList.js';
import { delaysOfCar } from './delay/carDelay.js';
import { saidOf, surestOf } from './doubts/contradiction.js';
import type { CellEvidence, Evidence, Moment, Proof, SessionDrift } from './evidence.js';
import { gridOf, sameGrid } from './solution/grid.js';
import { atOnce, breathing } from './pieces.js';
import { COUNTED_WEIGHT, REACH, tallying, type Tally, type Witness } from './solution/tally.js';
import type { SessionEvidence } from './weigh.js';

const MOST_MOMENTS = 200;

/**
 * Judges the table as it is now. Evidence placed on other axes is passed over (weigh those sessions again). The first call with a list of
 * evidences solves; every further call with the same ones only compares.
 */
export const judge = (table: Table, evidences: readonly SessionEvidence[]): Evidence => {
  const fitting = fittingTo(table, evidences);
  const width = table.columns.canonical.length;
  const told = fitting.some(speaks) ? toldOf(fitting) : undefined,
    tally = told?.tally;
  const deadTimeMs = fitting[0]?.deadTimeMs ?? 0;
  const lnNow = table.values.map((value) => Math.log(value - deadTimeMs));
  const cells = Array.from(table.values, (value, cell) => new Cell(Math.floor(cell / width), cell % width, value, told, deadTimeMs, lnNow));
  const contradiction = tally && contradictionIn(tally, cells, deadTimeMs, (session) => evidences.indexOf(fitting[session]));
  const drift = tally && driftIn(tally, cells, deadTimeMs, (session) => evidences.indexOf(fitting[session]));
  return {
    sessions: delaysOfCar(evidences),
    cells,
    ...(tally?.bankSpread ? { bankSpread: tally.bankSpread } : {}),
    ...(contradiction ? { contradiction } : {}),
    ...(drift && drift.size > 0 ? { drift } : {}),
  };
};

/** `indexOf`: among all sessions, of one that the tally was made of. */
const contradictionIn = (
  { lnValue, contradictions }: Tally,
  cells: readonly CellEvidence[],
  deadTimeMs: number,
  indexOf: (session: number) => number,
): Evidence['contradiction'] => {
  if (!contradictions) return undefined;
  const known = contradictions.cells.filter((at) => cells[at].proof !== 'none');
  return known.length === 0
    ? undefined
    : {
        cells: new Set(known),
        surest: surestOf(contradictions, known),
        said: (at) =>
          saidOf(contradictions, at).flatMap((ln, session) =>
            Number.isNaN(ln) ? [] : [{ session: indexOf(session), factor: (Math.exp(lnValue[at] + ln) + deadTimeMs) / cells[at].value }],
          ),
      };
};

/** Of a cell in which more than one session drifts, the one that does furthest. */
const driftIn = (
  { drifts, width }: Tally,
  cells: readonly CellEvidence[],
  deadTimeMs: number,
  indexOf: (session: number) => number,
): NonNullable<Evidence['drift']> => {
  const found = new Map<number, SessionDrift>(),
    apart = ({ early, late }: SessionDrift): number => Math.abs(Math.log(late / early));
  for (const { session, cell: at, early, late, isByTurns } of drifts) {
    if (cells[at].proof === 'none') continue;
    const factor = (ln: number): number => (Math.exp(ln) + deadTimeMs) / cells[at].value,
      drift = { session: indexOf(session), early: factor(early), late: factor(late), ...(isByTurns ? { isByTurns } : {}) },
      known = found.get(at);
    if (!known || apart(drift) > apart(known)) found.set(at, drift);
  }
  // A cell beside such, passed in one of two states alone, wants what sets them apart.
  for (const [at, drift] of [...found])
    if (drift.isByTurns)
      for (const near of [-width - 1, -width, 1 - width, -1, 1, width - 1, width, width + 1]) {
        const cell = cells[at + near];
        if (
          cell &&
          cell.proof !== 'none' &&
          !found.has(at + near) &&
          Math.max(Math.abs(cell.column - cells[at].column), Math.abs(cell.row - cells[at].row)) <= 1 &&
          2 * Math.abs(Math.log(cell.factor)) > apart(drift)
        )
          found.set(at + near, drift);
      }
  return found;
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
  readonly loggedOverNow: number = NaN;
  readonly trimmed: number = NaN;
  readonly factor: number = NaN;
  readonly factorLow: number = NaN;
  readonly factorHigh: number = NaN;
  readonly proof: Proof = 'none';
  readonly suggested: number = NaN;
  readonly manifoldPressureKPa: number = NaN;
  readonly #told: Told | undefined;
  readonly #at: number = 0;
  readonly #lnNow: Float64Array | undefined;

  constructor(
    readonly row: number,
    readonly column: number,
    readonly value: number,
    told: Told | undefined,
    deadTimeMs: number,
    lnNow: Float64Array,
  ) {
    const tally = told?.tally,
      at = tally ? row * tally.width + column : 0;
    if (!tally || tally.proof[at] === 'none' || !(value > 0)) return;
    const lnValue = tally.lnValue[at];
    const half = tally.halfWidth[at],
      below = Math.min(-half, tally.contradictions?.below[at] ?? 0),
      above = Math.max(half, tally.contradictions?.above[at] ?? 0);
    this.#told = told;
    this.#lnNow = lnNow;
    this.#at = at;
    this.samples = tally.samples[at];
    this.effectiveSamples = tally.effective[at];
    this.seconds = tally.seconds[at];
    this.loggedOverNow = loggedOverNow(tally, at, lnNow);
    this.measuredLambda = tally.measured[at] * this.loggedOverNow;
    this.targetLambda = tally.target[at];
    this.trimmed = tally.trimmed[at];
    this.factor = (Math.exp(lnValue) + deadTimeMs) / value;
    this.factorLow = (Math.exp(lnValue + below) + deadTimeMs) / value;
    this.factorHigh = (Math.exp(lnValue + above) + deadTimeMs) / value;
    this.proof = tally.proof[at];
    this.suggested = value * this.factor;
    this.manifoldPressureKPa = tally.manifoldKPa[at];
  }

  get moments(): CellEvidence['moments'] {
    return this.#told?.moments(this.#at, this.#lnNow!) ?? [];
  }
}

/** Kept evidence holds seven digits of a value. */
const SAME = 1e-6;
const ratioOf = (lnRatio: number): number => (Math.abs(lnRatio) < SAME || !Number.isFinite(lnRatio) ? 1 : Math.exp(lnRatio));

/** How much fuel the table gave the readings of a cell over what it would give them now. */
const loggedOverNow = ({ reach, lnLogged, width }: Tally, at: number, lnNow: Float64Array): number => {
  let now = 0;
  for (let near = 0; near < REACH; near++)
    if (reach[REACH * at + near] > 0) now += reach[REACH * at + near] * lnNow[at + (near % 3) - 1 + width * (Math.floor(near / 3) - 1)];
  return ratioOf(lnLogged[at] - now);
};

/** What a list of evidences came to, and the moments of each cell once they are asked for. */
class Told {
  readonly #picked = new Map<number, readonly Picked[]>();
  constructor(
    readonly list: readonly SessionEvidence[],
    readonly tally: Tally,
  ) {}

  moments(cell: number, lnNow: Float64Array): CellEvidence['moments'] {
    const offsets = [0, 1, this.tally.width, this.tally.width + 1];
    let picked = this.#picked.get(cell);
    if (!picked) this.#picked.set(cell, (picked = pickedFor(this.list, cell, offsets)));
    return picked.map((each) => momentOf(this.list, each, offsets, lnNow));
  }
}

/** By the first of its list. */
const kept = new WeakMap<SessionEvidence, Told>();

const knownOf = (list: readonly SessionEvidence[]): Told | undefined => {
  const known = kept.get(list[0]);
  return known && sameList(known.list, list) ? known : undefined;
};

const keep = (told: Told): Told => {
  kept.set(told.list[0], told);
  return told;
};

const toldOf = (list: readonly SessionEvidence[]): Told => knownOf(list) ?? keep(new Told(list, atOnce(tallying(list))));

/** What is being told just now, by the first of its list: whoever asks again meanwhile waits for the same. */
const underWay = new WeakMap<SessionEvidence, { readonly list: readonly SessionEvidence[]; readonly told: Promise<unknown> }>();

/** Tells elsewhere than on this thread what a list comes to (`tallying`); undefined for one that is better told here. */
export type TallyElsewhere = (list: readonly Witness[]) => Promise<Tally> | undefined;

/**
 * Judges as `judge` does; where it takes long, `breathe` is waited for between the pieces of the work, or it is done elsewhere, and here
 * where that fails.
 */
export const judgeBreathing = async (
  table: Table,
  evidences: readonly SessionEvidence[],
  breathe: () => Promise<void>,
  elsewhere?: TallyElsewhere,
): Promise<Evidence> => {
  const list = fittingTo(table, evidences);
  if (list.some(speaks) && !knownOf(list)) {
    let way = underWay.get(list[0]);
    if (!way || !sameList(way.list, list)) {
      const here = (): Promise<Tally> => breathing(tallying(list), breathe);
      // Other work there may be cancelled, and this with it.
      const told = (elsewhere?.(list)?.catch(here) ?? here()).then((tally) => keep(new Told(list, tally)));
      way = {
        list,
        told: told.finally(() => {
          if (underWay.get(list[0]) === way) underWay.delete(list[0]);
        }),
      };
      underWay.set(list[0], way);
    }
    await way.told;
  }
  return judge(table, evidences);
};

/** A block of a session. */
interface Picked {
  readonly session: number;
  readonly at: number;
}

/**
 * The blocks that speak of a cell, those furthest from target first: above it where the cell is lean on the whole, below where it is rich.
 */
const pickedFor = (list: readonly SessionEvidence[], cell: number, offsets: readonly number[]): readonly Picked[] => {
  const found: (Picked & { readonly away: number })[] = [];
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
  return found.slice(0, MOST_MOMENTS);
};

const momentOf = (list: readonly SessionEvidence[], { session, at }: Picked, offsets: readonly number[], lnNow: Float64Array): Moment => {
  const { blocks, line, timeS, reference } = list[session];
  let lnLoggedOverNow = 0;
  for (let i = 0; i < 4; i++) {
    const w = blocks.weights[4 * at + i],
      k = blocks.cell[at] + offsets[i];
    if (w > 0) lnLoggedOverNow += w * (Math.log(reference[k]) - lnNow[k]);
  }
  return {
    session,
    sample: blocks.row[at],
    lambda: Math.exp(blocks.lnMeasured[at]),
    targetLambda: Math.exp(blocks.lnTarget[at]),
    loggedOverNow: ratioOf(lnLoggedOverNow),
    timeS: timeS[at],
    line: line[at],
  };
};
