// How far a lambda reading lies off its target: which one it may be held to, and where any lies so far off that a spell may come of it.

import { stays } from '../../formats/stays.js';
import type { Vehicle } from '../../formats/vehicle/vehicle.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { isBurntOtherwise } from '../../quantities/fuels.js';
import type { Operating } from '../drive/operating.js';
import type { Signals, Span } from '../signals.js';
import { spansOf } from '../columns/spans.js';

/** Breaks in a spell that are bridged, seconds. */
export const MERGE_S = 1;
/** What a running sum rounds off, lambda. */
export const ROUNDED_OFF = 1e-9;
/** Without a target: what an engine under load is held against (reference: best power is richer still; common practice, no source). */
export const ASSUMED_TARGET_LOAD = 1.0;
export const ASSUMED_TARGET_BOOST = 0.9;

/** Whether the fuel in the tank is burnt far from lambda 1 on purpose: no limit of lambda holds for it. */
export const isOtherwise = (vehicle: Vehicle): boolean => {
  const fuel = vehicleFuel(vehicle);
  return fuel !== undefined && isBurntOtherwise(fuel);
};
/** The fuel of which no mixture can be judged, for want of a target. */
export const unjudgedFuel = ({ vehicle, targetLambda }: Pick<Signals, 'vehicle' | 'targetLambda'>): string | undefined =>
  targetLambda || !isOtherwise(vehicle) ? undefined : vehicleFuel(vehicle)!.name;

/** What readings may be held to, `targetAt` by `targetAt`. Asked for once before a loop: its columns are at hand for as long. */
export interface Targets extends Pick<Operating, 'bandFrom' | 'bandTo' | 'readsBoost'> {
  readonly sign: 1 | -1;
  /** The session's targets; undefined where one is assumed. */
  readonly known: Float64Array | undefined;
  readonly timeS: Float64Array;
  /** How old a target may be. */
  readonly ageS: number;
  readonly furthest: Furthest | undefined;
}

/**
 * By `sign` 1 (for lean) the leanest, by −1 (for rich) the richest target of a reading's delay band, so that a target in motion accuses
 * nobody.
 */
export const targetsOf = (signals: Signals, operating: Operating, sign: 1 | -1): Targets => {
  const { timeS, targetLambda } = signals,
    { bandFrom, bandTo } = operating,
    known = targetLambda?.values;
  return {
    sign,
    known,
    bandFrom,
    bandTo,
    timeS,
    ageS: targetLambda?.from === 'channel' ? signals.ageS('target-lambda') : 0,
    furthest: known && new Furthest(known, sign),
    get readsBoost() {
      return operating.readsBoost;
    },
  };
};

// What is asked at each sample is no function made anew for each session: what is compiled of such a one is let go with it.

/** The target that the reading of a sample is held to. */
export const targetAt = (targets: Targets, sample: number): number => {
  const { bandFrom, bandTo, timeS, ageS, furthest } = targets;
  if (!furthest) return targets.readsBoost[sample] === 1 ? ASSUMED_TARGET_BOOST : ASSUMED_TARGET_LOAD;
  let from = bandFrom[sample],
    to = bandTo[sample];
  // A target that is asked for now and then may have been the one before, or be the next already.
  while (from > 0 && timeS[bandFrom[sample]] - timeS[from - 1] <= ageS) from--;
  while (to + 1 < timeS.length && timeS[to + 1] - timeS[bandTo[sample]] <= ageS) to++;
  return furthest.of(from, to + 1);
};

/**
 * The greatest number (by `sign` −1 the smallest) of one stretch of a column after another, NaN of none: of one that overlaps the last one
 * only what is new is looked at.
 */
class Furthest {
  private from = 0;
  private to = 0;
  /** Where the last one's stands; -1 of none. */
  private at = -1;

  constructor(
    private readonly values: Float64Array,
    private readonly sign: 1 | -1,
  ) {}

  of(from: number, to: number): number {
    const goesOn = from >= this.from && from <= this.to && to >= this.to,
      holds = goesOn && this.at >= from;
    // What is no longer met was the furthest: the rest of the last stretch is looked at again.
    this.at = furthestIn(this.values, this.sign, holds ? this.to : from, to, holds ? this.at : -1);
    this.from = from;
    this.to = to;
    return this.at < 0 ? NaN : this.values[this.at];
  }
}

stays(new Furthest(new Float64Array(0), 1));

/** Where the furthest number of `[from, to)` stands, or `best` where none is as far; the last of equals, which is met longest. */
const furthestIn = (values: Float64Array, sign: 1 | -1, from: number, to: number, best: number): number => {
  let at = best,
    furthest = best < 0 ? -Infinity : sign * values[best];
  for (let i = from; i < to; i++)
    if (sign * values[i] >= furthest) {
      at = i;
      furthest = sign * values[i];
    }
  return at;
};

/**
 * The runs of what the mask marks, counted from the session's sample `first` on, in which a spell may lie: not those in which no reading is
 * further than `limit` from its target nor one that `orIn` knows, and which lie too far from any such for a spell to be bridged over them.
 * Without a target all are.
 */
export const runsToJudge = (
  targets: Targets,
  first: number,
  mask: Uint8Array,
  timeS: Float64Array,
  lambda: Float64Array,
  limit: number,
  orIn: (from: number, to: number) => boolean,
): Span[] => {
  const runs = spansOf(mask, timeS);
  if (!targets.known) return runs;
  const isFar = new Uint8Array(runs.length);
  for (let at = 0; at < runs.length; at++) {
    const { from, to } = runs[at];
    // Most runs are nowhere far from any target: which one a reading is held to is asked of the others.
    const far = nextFarFromOne(targets, first, lambda, limit - ROUNDED_OFF, from, to);
    if ((far < to && nextFar(targets, first, lambda, limit, far, to) < to) || orIn(from, to)) isFar[at] = 1;
  }
  return runs.filter((_, at) => isFar[at] === 1 || isNear(runs, isFar, timeS, at, -1) || isNear(runs, isFar, timeS, at, 1));
};

/** Whether a run beside one, on the side that `step` tells, is far, with nothing between that is not bridged. */
const isNear = (runs: readonly Span[], isFar: Uint8Array, timeS: Float64Array, at: number, step: 1 | -1): boolean => {
  for (let other = at + step; other >= 0 && other < runs.length; other += step) {
    const apartS = step > 0 ? timeS[runs[other].from] - timeS[runs[at].to - 1] : timeS[runs[at].from] - timeS[runs[other].to - 1];
    // Over a clock that steps back nothing is bridged.
    if (!(apartS >= 0 && apartS <= MERGE_S)) return false;
    if (isFar[other] === 1) return true;
  }
  return false;
};

/** The first reading of `[from, to)` that is further than `limit` from its target; `to` where there is none. */
export const nextFar = (targets: Targets, first: number, lambda: Float64Array, limit: number, from: number, to: number): number => {
  const atLeast = limit - ROUNDED_OFF;
  for (let i = from; (i = nextFarFromOne(targets, first, lambda, atLeast, i, to)) < to; i++)
    if (targets.sign * (lambda[i] - targetAt(targets, first + i)) > atLeast) return i;
  return to;
};

/** The same of one of the targets that a reading may have: it is none further from the one that it is held to. */
const nextFarFromOne = (
  { sign, known, bandFrom }: Targets,
  first: number,
  lambda: Float64Array,
  limit: number,
  from: number,
  to: number,
): number => {
  for (let i = from; i < to; i++) if (!(sign * (lambda[i] - known![bandFrom[first + i]]) <= limit) && lambda[i] === lambda[i]) return i;
  return to;
};
