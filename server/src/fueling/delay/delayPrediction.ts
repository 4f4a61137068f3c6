// What the readings of a comparison should have been under a set of parameters, how that goes with each parameter, and how well it is
// known: what the wall, the charge, the gas on its way and the sensor make of the mixture injected.

import { stays } from '../../formats/stays.js';
import type { Comparison } from './delayEvents.js';
import { COLUMN, COLUMNS, carriedOf, leftOver, shownAt, type Sloped } from './delayLeftOver.js';
import { TIMING_PARTS, injectedAt } from './delayModel.js';
import { ASSUMED, AT, NAMES, physical } from './delayParameters.js';
import { freshSteps } from './filters.js';
import { drawnThrough } from './manifold.js';
import { copyOf, roomFor } from '../room.js';

/**
 * What a wall's film, the manifold and the controller's way with them come to is known to about this share (standard deviation). No source.
 */
const UNSTEADY_SHARE = 0.25;

/**
 * Behind a lift the wall gives about this share of the flow that was. The more it makes up of what the charge needs, the greater the share
 * of it that is in doubt: a controller takes fuel back down to its shortest pulse alone, and a low pressure draws the film off faster.
 * Order of magnitude, no source.
 */
const LIFTED_SHARE = ASSUMED[AT.vapour];

/** Less is as good as none, and has a slope. */
const LEAST_STIRRED = 0.01;
/** How far the manifold's cycles are stepped to see what it does. */
const MANIFOLD_STEP = 0.05;

/** The readings under one set of parameters. */
export interface Predicted {
  readonly at: Float64Array;
  /**
   * What is left of each reading; of an edge, at its first reading, by how many seconds it falls later than it should. NaN where there is
   * nothing to compare.
   */
  readonly rest: Float64Array;
  /** How that goes with each parameter: a column of each. None where they were not asked for. */
  readonly slopes: readonly Float64Array[];
  /** Parameters that something goes with, ascending: the slopes of the others are nought. */
  readonly parts: readonly number[];
  /**
   * Standard deviation of what each reading should have been: the unsteady part of the mixture and the table where it is not known. Empty
   * as `slopes`.
   */
  readonly doubt: Float64Array;
}

/**
 * How much more the charge is than it was metered as when the fuel of each row meets it (a factor), and how that goes with ahead and
 * manifold.
 */
interface Growth {
  readonly aheadCycles: number;
  readonly manifoldCycles: number;
  readonly factor: Float64Array;
  readonly byAhead: Float64Array;
  readonly byManifold: Float64Array | undefined;
}

/** How far the throttle has just opened, by a controller that forgets it within so long, and how that goes with ln of it. */
interface Opening {
  readonly staysS: number;
  readonly share: Float64Array;
  readonly byStays: Float64Array;
}

/** Parameters that move where the mixture is read. */
const PLACED = [AT.cycles, AT.lnGasG, AT.stirred, AT.latencyS];

/** What slopes are found in, used again; `moved`: those of the parameters that move anything. */
interface Room extends Pick<Sloped, 'timing' | 'slopes' | 'doubt'> {
  readonly moved: readonly Float64Array[];
}

const NONE = new Float64Array(0);
/** Of the same kind as a list of columns: another would have compiled loops over such thrown away. */
const UNSLOPED = { slopes: [NONE].slice(1), moved: [NONE].slice(1), doubt: NONE };

/** A class, so that what is compiled of it is there for the next session. */
export class Prediction {
  private readonly flow: Float64Array;
  private readonly stepS: Float64Array;
  private readonly stepG: Float64Array;
  private readonly columns: readonly Float64Array[];
  private readonly carried: Sloped['carried'];
  private readonly carriedColumns: readonly Float64Array[];
  /** Parameters that move anything here. */
  private readonly parts: readonly number[];
  private readonly stirring: Follower;
  private readonly sensing: Follower;
  private growth: Growth | undefined;
  private readonly opened: Follower;
  private opening: Opening | undefined;
  private readonly rooms: Room[] = [];

  constructor(private readonly comparison: Comparison) {
    this.flow = flowOf(comparison);
    this.stepS = freshSteps(comparison.timeS);
    // A stretch is stirred afresh: what is carried on from another would only fade to numbers too small to reckon with fast.
    this.stepG = freshSteps(comparison.passed, Infinity);
    startAfresh(this.stepG, this.stepS);
    this.columns = Array.from({ length: COLUMNS }, () => roomFor(this.flow.length).fill(0));
    this.carried = carriedOf(comparison);
    this.carriedColumns = [
      ...this.carried.filter(({ column }) => column !== COLUMN.lag).map(({ column }) => this.columns[column]),
      this.columns[COLUMN.doubt],
    ];
    this.parts = [...PLACED, ...this.carried.map(({ part }) => part)].sort((a, b) => a - b);
    this.stirring = new Follower(this.stepG);
    this.sensing = new Follower(this.stepS);
    this.opened = new Follower(this.stepS);
  }

  /** `slopes`: whether these and the doubt are asked for. What was predicted before with slopes holds no longer, but for what is `kept`. */
  at(parameters: Float64Array, slopes = true, kept?: Predicted): Predicted {
    const { comparison, columns, flow, stepS } = this;
    const growth = (this.growth = grownBy(comparison, parameters, this.growth));
    burn(comparison, flow, stepS, growth, this.openingBy(parameters), parameters, slopes, columns);
    this.carry(parameters, slopes);
    const { cycles, gasG, stirred, latencyS } = physical(parameters);
    const { rows, passed, from } = comparison;
    const room = slopes ? this.roomBeside(kept) : undefined;
    const places = injectedAt(
      comparison,
      rows,
      { kind: 'physical', cycles, gasG: gasG * (1 - stirred), stirred: 0, lagS: 0, latencyS },
      passed,
      from,
      room?.timing,
    );
    const rest = shownAt(
        columns,
        places,
        comparison.timeS,
        room && { ...room, carried: this.carried, gasG, stirred: Math.max(stirred, LEAST_STIRRED) },
      ),
      { slopes: of, moved, doubt } = room ?? UNSLOPED;
    leftOver(comparison, rest, moved, doubt);
    return { at: parameters, rest, slopes: of, parts: this.parts, doubt };
  }

  private openingBy(parameters: Float64Array): Opening | undefined {
    const staysS = Math.exp(parameters[AT.lnOpenedStaysS]),
      { throttle } = this.comparison;
    if (!throttle || this.opening?.staysS === staysS) return this.opening;
    const share = copyOf(throttle),
      byStays = roomFor(share.length);
    this.opened.take(staysS);
    this.opened.sloped(share, byStays);
    for (let row = 0; row < share.length; row++) {
      const opens = throttle[row] > share[row];
      share[row] = opens ? throttle[row] - share[row] : 0;
      byStays[row] = opens ? -byStays[row] : 0;
    }
    return (this.opening = { staysS, share, byStays });
  }

  private roomBeside(kept: Predicted | undefined): Room {
    const { rooms } = this,
      count = this.comparison.rows.length;
    while (rooms.length < 2) {
      const slopes = NAMES.map(() => roomFor(count).fill(0));
      rooms.push({
        timing: roomFor(TIMING_PARTS * count).fill(0),
        slopes,
        moved: this.parts.map((part) => slopes[part]),
        doubt: roomFor(count).fill(0),
      });
    }
    return rooms[0].slopes === kept?.slopes ? rooms[1] : rooms[0];
  }

  /** What gas and sensor make of what burns: stirring is a lag over the mass that passes, the sensor's one over time. */
  private carry(parameters: Float64Array, slopes: boolean): void {
    const { columns, carriedColumns, stirring, sensing } = this,
      { gasG, stirred, lagS } = physical(parameters);
    stirring.take(gasG * Math.max(stirred, LEAST_STIRRED));
    sensing.take(lagS);
    if (!slopes) {
      stirring.one(columns[COLUMN.mixture]);
      sensing.one(columns[COLUMN.mixture]);
      return;
    }
    stirring.sloped(columns[COLUMN.mixture], columns[COLUMN.stirred]);
    sensing.sloped(columns[COLUMN.mixture], columns[COLUMN.lag]);
    sensing.one(columns[COLUMN.stirred]);
    for (const lag of [stirring, sensing])
      for (let at = 0; at < carriedColumns.length; at += 2)
        if (at + 1 < carriedColumns.length) lag.both(carriedColumns[at], carriedColumns[at + 1]);
        else lag.one(carriedColumns[at]);
  }
}

/** Where others do. */
const startAfresh = (steps: Float64Array, others: Float64Array): void => {
  for (let row = 0; row < steps.length; row++) if (!(others[row] >= 0)) steps[row] = NaN;
};

/** The fuel's flow, in terms of the metered air's; none behind a cut. */
const flowOf = ({ injected, meteredGPerS, cutAgeS }: Comparison): Float64Array => {
  const flow = roomFor(injected.length);
  for (let row = 0; row < flow.length; row++) flow[row] = cutAgeS[row] >= 0 ? 0 : injected[row] * meteredGPerS[row];
  return flow;
};

const grownBy = (comparison: Comparison, parameters: Float64Array, before: Growth | undefined): Growth => {
  const aheadCycles = parameters[AT.aheadCycles],
    manifoldCycles = parameters[AT.manifoldCycles];
  if (before?.aheadCycles === aheadCycles && (!comparison.throughManifold || before.manifoldCycles === manifoldCycles)) return before;
  const byAhead = roomFor(comparison.timeS.length).fill(0);
  const factor = growthAhead(comparison, takenIn(comparison, manifoldCycles), aheadCycles, byAhead);
  let byManifold: Float64Array | undefined;
  if (comparison.throughManifold) {
    byManifold = growthAhead(comparison, takenIn(comparison, manifoldCycles + MANIFOLD_STEP), aheadCycles);
    for (let row = 0; row < factor.length; row++) byManifold[row] = (byManifold[row] - factor[row]) / MANIFOLD_STEP;
  }
  return { aheadCycles, manifoldCycles, factor, byAhead, byManifold };
};

/** ln of what the cylinders take in where the charge is metered. */
const takenIn = ({ lnCharge, turned, throughManifold }: Comparison, manifoldCycles: number): Float64Array =>
  throughManifold ? drawnThrough(lnCharge.map(Math.exp), turned, manifoldCycles).map(Math.log) : lnCharge;

/**
 * By how much the charge is more than it was metered as, when the fuel of each row meets it (a factor); `slope` takes how that goes with
 * the cycles ahead.
 */
const growthAhead = (
  { timeS, rpm, lnCharge }: Comparison,
  taken: Float64Array,
  aheadCycles: number,
  slope?: Float64Array,
): Float64Array => {
  const growth = roomFor(timeS.length);
  let ahead = 0;
  for (let row = 0; row < growth.length; row++) {
    const cycleS = 120 / (rpm && rpm[row] > 400 ? rpm[row] : 2500),
      metS = timeS[row] + aheadCycles * cycleS;
    if (ahead < row) ahead = row;
    while (ahead > row && timeS[ahead] > metS) ahead--;
    while (ahead < growth.length - 2 && timeS[ahead + 1] <= metS && timeS[ahead + 1] >= timeS[ahead]) ahead++;
    const next = Math.min(ahead + 1, growth.length - 1),
      stepS = timeS[next] - timeS[ahead],
      part = stepS > 0 ? (metS - timeS[ahead]) / stepS : 0,
      change = taken[next] - taken[ahead];
    const met = taken[ahead] + (stepS > 0 ? Math.min(1, part) * change : 0);
    growth[row] = Math.exp(met - lnCharge[row]);
    if (slope && stepS > 0 && part < 1) slope[row] = ((growth[row] * change) / stepS) * cycleS;
  }
  return growth;
};

/**
 * A first-order lag over one step, as `lagOver` has it: what of the distance is left, and what of the step is not yet followed; `steps`:
 * the step in terms of the lag.
 */
class Step {
  left = NaN;
  behind = NaN;
  steps = NaN;

  /** By a step, NaN where the lag starts afresh. */
  take(steps: number): void {
    if (steps === this.steps) return;
    this.steps = steps;
    this.left = Math.exp(-steps);
    this.behind = steps === 0 ? 1 : (1 - this.left) / steps;
  }

  /** How a value that follows goes with ln of the lag, beyond how it went before; nothing where it starts afresh. */
  slope(value: number, before: number, now: number): number {
    const slope = this.left * (value - before) * this.steps - (now - before) * (this.behind - this.left);
    return slope === slope ? slope : 0;
  }
}

/**
 * A lag over all rows, laid on columns one after the other, in place: by row what is left of the value, and what is taken on of the input
 * now and before.
 */
class Follower {
  private readonly steps: Float64Array;
  private readonly left: Float64Array;
  private readonly ofNow: Float64Array;
  private readonly ofBefore: Float64Array;
  private lag = NaN;

  /** `rowSteps`: from row to row, NaN where the lag starts afresh. */
  constructor(private readonly rowSteps: Float64Array) {
    [this.steps, this.left, this.ofNow, this.ofBefore] = Array.from({ length: 4 }, () => roomFor(rowSteps.length));
  }

  take(lag: number): void {
    if (lag === this.lag) return;
    this.lag = lag;
    const { rowSteps, steps, left, ofNow, ofBefore } = this,
      step = new Step();
    for (let row = 0; row < steps.length; row++) {
      step.take(rowSteps[row] / lag);
      steps[row] = step.steps;
      left[row] = step.left;
      ofNow[row] = 1 - step.behind;
      ofBefore[row] = step.behind - step.left;
    }
  }

  one(column: Float64Array): void {
    const { left, ofNow, ofBefore } = this;
    for (let row = 0, value = NaN, before = NaN; row < column.length; row++) {
      const now = column[row],
        next = left[row] * value + ofNow[row] * now + ofBefore[row] * before;
      column[row] = value = next === next ? next : now;
      before = now;
    }
  }

  /** Two, of which neither waits for the other. */
  both(column: Float64Array, other: Float64Array): void {
    const { left, ofNow, ofBefore } = this;
    for (let row = 0, value = NaN, before = NaN, otherValue = NaN, otherBefore = NaN; row < column.length; row++) {
      const now = column[row],
        otherNow = other[row],
        part = left[row],
        partNow = ofNow[row],
        partBefore = ofBefore[row];
      const next = part * value + partNow * now + partBefore * before,
        otherNext = part * otherValue + partNow * otherNow + partBefore * otherBefore;
      column[row] = value = next === next ? next : now;
      other[row] = otherValue = otherNext === otherNext ? otherNext : otherNow;
      before = now;
      otherBefore = otherNow;
    }
  }

  /** `slope` takes how the column that follows goes with ln of the lag. */
  sloped(column: Float64Array, slope: Float64Array): void {
    const { steps, left, ofNow, ofBefore } = this;
    for (let row = 0, value = NaN, before = NaN, by = 0; row < column.length; row++) {
      const now = column[row],
        part = left[row],
        partBefore = ofBefore[row];
      const more = part * (value - before) * steps[row] - (now - before) * partBefore,
        next = part * value + ofNow[row] * now + partBefore * before,
        goesOn = part * by;
      slope[row] = by = (goesOn === goesOn ? goesOn : 0) + (more === more ? more : 0);
      column[row] = value = next === next ? next : now;
      before = now;
    }
  }
}

/**
 * What burns of what is injected, row after row, with how it goes with what shapes it where `all` is asked for. The wall keeps a share of
 * any growth of the fuel's flow until its film has grown too, and gives it while a lift lets the flow fall; behind a cut the film alone
 * burns, in the air that there is.
 */
const burn = (
  { injected, exhaustGPerS, meteredGPerS, cutAgeS, calm, doubt }: Comparison,
  flow: Float64Array,
  stepsS: Float64Array,
  { factor, byAhead, byManifold }: Growth,
  opening: Opening | undefined,
  parameters: Float64Array,
  all: boolean,
  columns: readonly Float64Array[],
): void => {
  const staysS = Math.exp(parameters[AT.lnFilmStaysS]),
    share = parameters[AT.filmShare],
    vapour = parameters[AT.vapour],
    opened = parameters[AT.openedShare],
    film = new Step();
  const burnt = columns[COLUMN.mixture],
    byShare = columns[COLUMN.filmShare],
    byStays = columns[COLUMN.filmStays],
    byVapour = columns[COLUMN.vapour],
    ahead = columns[COLUMN.ahead],
    manifold = columns[COLUMN.manifold],
    byOpened = columns[COLUMN.openedShare],
    byOpenedStays = columns[COLUMN.openedStays],
    doubted = columns[COLUMN.doubt];
  let settled = NaN,
    bySettled = 0,
    flowBefore = NaN;
  for (let row = 0; row < flow.length; row++) {
    const grown = factor[row],
      now = flow[row];
    film.take(stepsS[row] / staysS);
    bySettled = film.left * bySettled + film.slope(settled, flowBefore, now);
    const next = film.left * settled + (1 - film.behind) * now + (film.behind - film.left) * flowBefore;
    settled = next === next ? next : now;
    if (next !== next) bySettled = 0;
    flowBefore = now;
    const cut = cutAgeS[row] >= 0,
      air = Math.max(cut ? exhaustGPerS[row] : meteredGPerS[row], 0.1),
      grows = (now - settled) / air;
    const added = opening ? injected[row] * opening.share[row] : 0,
      mixture = (burnt[row] = cut ? (vapour * settled) / air : (injected[row] + opened * added - share * grows) / grown);
    if (!all) continue;
    byShare[row] = cut ? 0 : -grows / grown;
    byStays[row] = ((cut ? vapour : share / grown) / air) * bySettled;
    byVapour[row] = cut ? settled / air : 0;
    ahead[row] = cut ? 0 : (-mixture * byAhead[row]) / grown;
    if (opening) {
      byOpened[row] = cut ? 0 : added / grown;
      byOpenedStays[row] = cut ? 0 : (opened * injected[row] * opening.byStays[row]) / grown;
    }
    if (byManifold) manifold[row] = cut ? 0 : (-mixture * byManifold[row]) / grown;
    const lifted = (LIFTED_SHARE * Math.min(0, grows)) ** 2;
    doubted[row] = Math.sqrt((UNSTEADY_SHARE * (mixture - calm[row])) ** 2 + lifted ** 2 + doubt[row] ** 2);
  }
};

stays(
  new Prediction({
    timeS: NONE,
    passed: NONE,
    injected: NONE,
    meteredGPerS: NONE,
    cutAgeS: NONE,
    edge: new Uint8Array(0),
  } as unknown as Comparison),
);
