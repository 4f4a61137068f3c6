// A reading that keeps one value while others that measure the same thing go through much of what they do: physics, however coarse the
// channel.

import { limitOf } from '../../formats/limits.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { dithers } from '../columns/dither.js';
import type { Track } from '../columns/hold.js';
import { above, mark } from '../columns/marks.js';
import type { Readings } from '../readings.js';
import type { Fault, Span } from '../signals.js';
import { quantileOf, quantisedStep, sampleOf } from '../columns/statistics.js';
import { isAnyAbove, rangeOfColumn } from '../columns/stretches.js';
import {
  burns,
  DRIVEN_RPM,
  FOLLOWS_LOAD,
  fullAtSpeed,
  fullManifold,
  levelsOf,
  LOAD_READINGS,
  movedAtOneSpeed,
  perTurn,
  roadSpeedMoved,
  RUNNING_RPM,
  SHUT,
  STANDING_KMH,
  type Witness,
  witnessesFor,
} from './atOneSpeed.js';
import { anyDithers } from './neverMoves.js';
import { unlikeElsewhere } from './unlikeElsewhere.js';

const SPEED_MOVES_RPM = 1000;
/**
 * Shares of its own range by which another load reading must have moved: most of it where this one may rest by right (a foot held still, a
 * stop, the barometer).
 */
const WITNESS_SHARE = 0.3,
  WITNESS_BY_FOOT_SHARE = 0.4,
  WITNESS_AT_REST_SHARE = 0.6;
const AT_BAROMETER_SHARE = 0.04;
/**
 * Shares of its range by which a reading must be off what it reads elsewhere in this log at the same engine speed and load: more where it
 * may rest, or rested for a short time only (evidence grows with the root of time).
 */
const UNLIKE_SHARE = 0.06,
  UNLIKE_AT_REST_SHARE = 0.12;
/** The first part of a foot's way, in which a throttle is closed. */
const CLOSED_SHARE = 0.1;
/** A channel must have had so many chances to move: in a slow log the others are ahead of it by a reading or two. */
const LEAST_UPDATES = 10;
/** The air follows a foot, and a slow logger the air, so late at most. */
const SETTLES_S = 2;

/** Nearly all the time. */
const NEARLY_ALL = 0.95;

/**
 * Whether the throttle (or pedal) stayed closed, for most of it well above idle: no fuel is what is meant, whatever a sensor that air does not reach shows.
 */
const coasts = (readings: Readings, rpm: Float64Array, { from, to }: Span): boolean => {
  const opening = readings.clean('throttle') ?? readings.clean('pedal');
  if (!opening) return false;
  const { least, greatest } = rangeOfColumn(opening),
    within = sampleOf(opening, from, to);
  return (
    quantileOf(within, NEARLY_ALL) <= least + CLOSED_SHARE * (greatest - least) && quantileOf(sampleOf(rpm, from, to), 0.5) > DRIVEN_RPM
  );
};

/** Whether the engine burns fuel, and is driven, while these injectors are shut: another set of them or another fuel feeds it. */
export const isFedElsewhere = (readings: Readings, shut: Span): boolean => {
  const rpm = readings.clean('engine-speed');
  return rpm !== undefined && burns(readings, shut.from, shut.to) && !coasts(readings, rpm, shut);
};

/** One witness alone may be the one that is wrong: of three or more two must agree. */
const enough = (witnesses: readonly Witness[], says: (witness: Witness) => boolean): boolean => {
  let left = witnesses.length > 2 ? 2 : 1;
  return witnesses.some((witness) => says(witness) && --left === 0);
};

/**
 * One value for so long that what measures the same thing went through much of what it does: physics, however coarse the channel. Nothing
 * is asked of the others where `readings.clean` has no number. `heldFor` says how many readings the logger holds a value for, or what is
 * enough to know.
 */
export const stillWhileDriven = (
  readings: Readings,
  track: Track,
  [least, greatest]: readonly [number, number],
  taken: Uint8Array,
  heldFor: (enough: number) => number,
): Fault[] => {
  const { channel } = track;
  if (track.count < 20 || !(greatest > least)) return [];
  const { quantity } = channel;
  const { timeS, barometer } = readings;
  const rpm = readings.clean('engine-speed');
  if (quantity === undefined || !(FOLLOWS_LOAD.has(quantity) || quantity === 'pedal' || quantity === 'vehicle-speed') || !rpm) return [];
  const set = readings.vehicle.limits;
  const drivenS = limitOf('stillWhileDrivenS', set).value;
  const shortestS = Math.min(drivenS, limitOf('stuckS', set).value);
  const shareOf = (of: Float64Array, share: number): number => quantileOf(sampleOf(of), share);
  const margin = 0.03 * (greatest - least);
  let plain: readonly Pick<Witness, 'within' | 'range'>[] | undefined,
    alive: readonly Witness[] | undefined,
    full: { readonly at: ReturnType<typeof fullManifold> } | undefined;
  let step: number | undefined;
  const still = levelsOf(readings, track, shortestS).filter(({ from, to }) => taken[from] === 0 && taken[to - 1] === 0);
  if (still.length === 0) return [];
  const enoughReadings = Math.floor(shortestS / (LEAST_UPDATES * track.spacingS)) - 1;
  const leastS = LEAST_UPDATES * heldFor(enoughReadings) * track.spacingS,
    levels = still.filter(({ from, to }) => timeS[to - 1] - timeS[from] >= leastS);
  const isFullAt = forAll(levels, (witness: Witness, { from, to }) => fullAtSpeed(readings, witness, from, to));
  const burnsAt = forAll(levels, (_: 'lambda', { from, to }) => burns(readings, from, to));
  const moved = (level: Level): boolean => {
    const { value, from, to } = level;
    readings.between();
    const long = timeS[to - 1] - timeS[from] >= drivenS;
    if (quantity === 'vehicle-speed')
      return (
        value >= STANDING_KMH && dithers(readings.track(readings.channel('engine-speed')!)) && roadSpeedMoved(readings, from, to, drivenS)
      );
    // A pedal at rest may have a cruise control at work, and injectors that stay shut a fuel cut.
    if (quantity === 'pedal' && value <= least + margin) return false;
    if ((quantity === 'injector-pulse-width' || quantity === 'injector-duty') && value <= SHUT)
      return (
        enough((alive ??= witnessesFor(readings, quantity)), (other) => isFullAt(other, level)) ||
        (!coasts(readings, rpm, level) && burnsAt('lambda', level))
      );
    const atRest =
      value <= least + margin ||
      value >= greatest - margin ||
      (quantity === 'manifold-pressure' && Math.abs(value - barometer.kPa) < AT_BAROMETER_SHARE * barometer.kPa);
    const byFoot = quantity === 'throttle' || quantity === 'pedal';
    alive ??= witnessesFor(readings, quantity);
    // A throttle at its stop says little of the air that an idle valve lets past: only a full manifold speaks against it.
    const closed = byFoot && value <= least + CLOSED_SHARE * (greatest - least);
    if (closed && !isAnyAbove(DRIVEN_RPM, rpm, from, to)) return false;
    const isFull = byFoot ? (full ??= { at: fullManifold(readings) }).at : undefined,
      fromRpm = closed ? DRIVEN_RPM : RUNNING_RPM;
    const speaks = (i: number, by: QuantityId): boolean => rpm[i] > fromRpm && (by === 'throttle' || by === 'pedal' || !isFull?.(i));
    const unlike =
      closed || atRest || byFoot
        ? UNLIKE_AT_REST_SHARE
        : Math.max(
            UNLIKE_SHARE,
            UNLIKE_AT_REST_SHARE * Math.min(1, Math.sqrt(limitOf('stuckS', set).value / (timeS[to - 1] - timeS[from]))),
          );
    if ((long || anyDithers(readings)) && unlikeElsewhere(readings, track, { from, to, value }, unlike * (greatest - least), speaks))
      return true;
    if (closed) return enough(alive, (other) => isFullAt(other, level));
    // A level of few steps stands for a wide ratio of what it measures: the others must have gone further.
    const half = byFoot ? 0 : (step ??= quantisedStep(track.values, track.count)) / 2,
      hides = value > half ? (value + half) / (value - half) : 1;
    const further = (other: Witness): boolean => {
      if (hides === 1) return true;
      const sample = sampleOf(other.within(from, to));
      return !(quantileOf(sample, 0.95) < hides * quantileOf(sample, 0.05));
    };
    if (
      enough(
        alive,
        (other) =>
          further(other) &&
          movedAtOneSpeed(readings, other, from, to, atRest ? WITNESS_AT_REST_SHARE : byFoot ? WITNESS_BY_FOOT_SHARE : WITNESS_SHARE),
      )
    )
      return true;
    if (!long || quantity === 'pedal') return false;
    const turning = rpm.subarray(from, to),
      running = sampleOf(turning, 0, turning.length, mark(turning, above(600)));
    if (!(quantileOf(running, 0.97) - quantileOf(running, 0.03) > SPEED_MOVES_RPM)) return false;
    plain ??= LOAD_READINGS.flatMap((other): Pick<Witness, 'within' | 'range'>[] => {
      if (other === quantity || !readings.channel(other)) return [];
      const within: Witness['within'] = (a, b) => {
        const own = readings.clean(other)!.subarray(a, b);
        return other === 'mass-air-flow' ? perTurn(own, rpm.subarray(a, b)) : own;
      };
      const all = within(0, timeS.length),
        range = shareOf(all, 0.98) - shareOf(all, 0.02);
      return range > 0 ? [{ within, range }] : [];
    });
    const share = atRest || byFoot ? WITNESS_AT_REST_SHARE : WITNESS_SHARE;
    // What the others showed of the moment before does not count.
    let late = from;
    while (late < to - 1 && timeS[late] - timeS[from] < SETTLES_S) late++;
    return plain.some((other) => {
      const then = other.within(late, to);
      return shareOf(then, 0.97) - shareOf(then, 0.03) > share * other.range;
    });
  };
  return levels.filter(moved).map(({ from, to, value }): Fault => ({
    kind: 'stuck',
    channel,
    shape: 'frozen',
    value,
    from: Math.min(from + 1, to - 1),
    to,
    data: {},
  }));
};

interface Level {
  readonly from: number;
  readonly to: number;
  readonly value: number;
}

/**
 * An answer about a level, found for all levels when it is first asked: of a long session few columns are at hand, and each question looks
 * at its own.
 */
const forAll = <By, Answer>(levels: readonly Level[], ask: (by: By, level: Level) => Answer): ((by: By, level: Level) => Answer) => {
  const known = new Map<By, ReadonlyMap<Level, Answer>>();
  return (by, level) => {
    let answers = known.get(by);
    if (!answers) known.set(by, (answers = new Map(levels.map((each) => [each, ask(by, each)]))));
    return answers.get(level)!;
  };
};
