// A reading that stands still while the engine moves: for a moment a frozen dropout, for longer a stuck channel.
// Judged by how rarely this channel stands still for so long in moments as busy (flatRuns.ts), never by a fixed time alone.

import { limitOf } from '../../formats/limits.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { Activity } from '../activity.js';
import type { FlatRun, FlatStatistics } from '../flatRuns.js';
import type { Track } from '../hold.js';
import type { Readings } from '../readings.js';
import { above, mark } from '../marks.js';
import { lastingRuns } from '../lasting.js';
import type { Fault, Span } from '../signals.js';
import { dithers, isSmooth } from '../dither.js';
import { expectedOf } from '../related.js';
import { endOfEqual, extremes, greatestOf, median, nextOutside, quantileOf, quantisedStep, sampleOf } from '../statistics.js';
import { airNeverMoves } from './airNeverMoves.js';
import { unlikeElsewhere } from './unlikeElsewhere.js';
import { burns, DRIVEN_RPM, RUNNING_RPM, fullAtSpeed, levelsOf, LOAD_READINGS, movedAtOneSpeed, perTurn, roadSpeedMoved, STANDING_KMH, witnessesFor, type Witness } from './atOneSpeed.js';

/** Channels that rightly keep one value for as long as they like. */
const RIGHTLY_STILL: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'time', 'gear', 'fuel-cut', 'trouble-code', 'target-lambda', 'barometric-pressure', 'ethanol-content', 'knock-retard',
  'short-term-fuel-trim', 'long-term-fuel-trim', 'short-term-fuel-trim-2', 'long-term-fuel-trim-2',
]);
const THERMAL: ReadonlySet<QuantityId> = new Set<QuantityId>(['coolant-temperature', 'oil-temperature', 'intake-air-temperature']);
/** Channels that cannot keep one value for a whole drive. */
const ALWAYS_MOVES: ReadonlySet<QuantityId> = new Set<QuantityId>([
  'engine-speed', 'manifold-pressure', 'throttle', 'pedal', 'lambda', 'lambda-2', 'mass-air-flow', 'mass-air-flow-signal', 'engine-load',
  'injector-pulse-width', 'injector-duty', 'ignition-advance', 'exhaust-gas-temperature',
]);
/** Set by a foot, computed, or held by a valve: they stand still without noise whenever nothing asks for a change, so another channel must bear witness. */
const NO_NOISE: ReadonlySet<QuantityId> = new Set<QuantityId>(['throttle', 'pedal', 'injector-duty', 'injector-pulse-width', 'engine-load', 'ignition-advance', 'vehicle-speed', 'fuel-pressure', 'oil-pressure']);
const LONG_STILL_S = 5;
const LEAST_OFF_AT_END = 4;
/** Share of a run in which the related channels must disagree with it. */
const LEAST_OFF_SHARE = 0.25;
/** Steps of the last digit by which a curve that turns may leave its flat top within half a run's length on either side (a parabola: three times what it moves within the run). */
const TURN_STEPS = 6;
/** Road speed and the heat of a probe turn round slowly and are flat there. */
const TURNS_SLOWLY: ReadonlySet<QuantityId> = new Set<QuantityId>(['vehicle-speed', 'exhaust-gas-temperature']);
const LEAST_FROZEN_SLOW_S = 2;
/** Below this the clutch or the converter slips: the engine speed says nothing of the road's. */
const CLUTCH_KMH = 10;
/** Nats above the log of the number of runs: one false alarm in some hundred channels. */
const MARGIN_NATS = 6;
/** A run is told only when it is so many times as long as the others near it. */
const STANDS_OUT = 3;
/** From this share of repeats on a channel is coarse, and standing still alone proves nothing. */
const COARSE_FROM_REPEATS = 0.3;
/** Readings within this share of the channel's range are at the same level. */
const LEVEL_SHARE = 0.02;
/** Asked on top of a coarse channel that no other one speaks for; given where another one says that this one should have moved. */
const UNWITNESSED_NATS = 10, WITNESSED_NATS = 4;
/** A target, and the other bank, that moved by so much while lambda stood still. */
const MIXTURE_MOVED_LAMBDA = 0.06;
/** In a fuel cut this long a living sensor has come to read air, if it ever does. */
const AIRED_S = 3, AIR_LAMBDA = 1.15;

/** Spells in which one channel stands still against its own habit; `ends` are the least and greatest of its believable readings, `taken` marks samples of other faults, `air` where the exhaust may hold plain air. */
export const frozenOf = (readings: Readings, track: Track, flatOf: () => FlatStatistics, activity: () => Activity, taken: Uint8Array, [least, greatest]: readonly [number, number], air: () => Uint8Array): Fault[] => {
  const { channel, count, rows } = track;
  const { quantity } = channel;
  if (quantity === undefined || count < 20) return [];
  if (track.least === track.greatest) return quantity === 'intake-air-temperature' ? airNeverMoves(readings, track) : neverMoves(readings, track, activity);
  if (THERMAL.has(quantity)) return coldCoolantStill(readings, track);
  if (RIGHTLY_STILL.has(quantity)) return [];
  const { timeS } = readings;
  // Without unrest anywhere flat is how the channel reads: only what the others did for long bears witness (`stillWhileDriven`).
  if (!dithers(track)) return [];
  const stuckS = limitOf('stuckS', readings.vehicle.limits).value;
  const leastS = TURNS_SLOWLY.has(quantity) ? LEAST_FROZEN_SLOW_S : limitOf('dropoutS', readings.vehicle.limits).value;
  const nearEnd = quantity === 'throttle' || quantity === 'pedal' ? 0.02 * (greatest - least) : 0, zero = channel.toCanonical(0);
  const isInside = (value: number): boolean => value > least + nearEnd && (value < greatest - nearEnd || quantity === 'engine-speed') && value !== zero;
  // How rare so long a run is, is dear to learn: only where one may ask.
  if (!mayStandOut(readings, track, leastS, isInside, [least, greatest])) return [];
  const flat = flatOf();
  // Neither a coarse channel nor a smooth one says anything by standing still alone.
  const coarse = flat.repeats > COARSE_FROM_REPEATS || isSmooth(track);
  // Learnt only where a run asks: what the other channels say is dear.
  let witness: { readonly says: ((run: FlatRun) => boolean) | undefined } | undefined;
  const witnessOf = () => (witness ??= { says: movedMeanwhile(readings, track, greatest - least, greatest > AIR_LAMBDA ? air : undefined) }).says;
  const lambda = quantity === 'lambda' || quantity === 'lambda-2';
  const usual = Math.log(flat.runCount + 2) + MARGIN_NATS;
  let step: number | undefined;
  const stepOf = (): number => (step ??= quantisedStep(track.values, track.count));
  const asked = coarse && lambda ? askedFor(readings, track, stepOf) : undefined;
  /** Nats that a run must have: fewer where another channel says that this one should have moved. */
  const neededFor = (run: FlatRun): number => {
    const moved = witnessOf(), quiet = NO_NOISE.has(quantity) || (coarse && !lambda);
    if (moved?.(run)) return quiet ? usual : usual - WITNESSED_NATS;
    if (quiet && (moved || NO_NOISE.has(quantity))) return Infinity;
    return usual + (coarse ? UNWITNESSED_NATS : 0) + (asked?.(run) ? UNWITNESSED_NATS : 0);
  };
  const suspects = flat.runs.filter((run) => run.nats >= usual - WITNESSED_NATS
    && isInside(run.value) && (run.value < greatest - nearEnd || witnessOf()?.(run) === true)
    && taken[rows[run.from]] === 0 && taken[rows[run.to - 1]] === 0
    && timeS[rows[run.to - 1]] - timeS[rows[run.from]] >= leastS
    && !(flat.repeats < COARSE_FROM_REPEATS && turnsThere(track, run, stepOf())) && standsOut(readings, track, run, [least, greatest])
    && !(quantity === 'vehicle-speed' && run.value < CLUTCH_KMH) && run.nats >= neededFor(run) && rareAtItsLevel(track, run, greatest - least, Math.min(run.nats, usual)));
  const places = new Map<number, number>();
  for (const run of suspects) places.set(run.value, (places.get(run.value) ?? 0) + 1);
  // A value that the channel comes back to rest at is a place of rest, not a fault.
  const restsFrom = flat.repeats > 0.15 ? 2 : 3;
  return suspects.filter((run) => places.get(run.value)! < restsFrom).map((run) => faultOf(readings, track, run, stuckS));
};

/** Whether any run of equal readings is as long, and longer than those near it, as a frozen one must be. */
const mayStandOut = (readings: Readings, track: Track, leastS: number, isInside: (value: number) => boolean, ends: readonly number[]): boolean => {
  const { timeS } = readings, { rows, values, count } = track;
  const isWhole = count === timeS.length;
  return lastingRuns(readings, track).some((from) => {
    if (!isInside(values[from])) return false;
    const to = endOfEqual(values, from, count);
    // Blanks may part a run.
    return timeS[rows[to - 1]] - timeS[rows[from]] >= leastS && (!isWhole || standsOut(readings, track, { from, to }, ends));
  });
};

/** Whether target and other bank, where logged, say that a coarse lambda may well show this one value throughout. */
const askedFor = (readings: Readings, { channel, rows }: Track, stepOf: () => number) => (run: FlatRun): boolean => {
  const others = [readings.held('target-lambda'), readings.held(channel.quantity === 'lambda' ? 'lambda-2' : 'lambda')].filter((other) => other !== undefined);
  return others.length > 0 && others.every((other) => {
    const [low, high] = extremes(other, rows[run.from], rows[run.to - 1] + 1);
    return Math.max(high - run.value, run.value - low) <= 1.5 * stepOf();
  });
};

/** Whether the run is three times as long as any other near it: a channel that is steady in this stretch of road is steady by nature. */
const standsOut = ({ timeS }: Readings, { rows, values, count }: Track, run: Span, ends: readonly number[]): boolean => {
  const length = run.to - run.from;
  const aroundS = Math.max(8, timeS[rows[run.to - 1]] - timeS[rows[run.from]]);
  const isLong = (from: number, to: number): boolean => (to - from) * STANDS_OUT > length && !ends.includes(values[from]);
  for (let a = run.to; a < count && timeS[rows[a]] - timeS[rows[run.to - 1]] <= aroundS;) {
    let b = a + 1;
    while (b < count && values[b] === values[a]) b++;
    if (isLong(a, b) && b < count) return false;
    a = b;
  }
  for (let b = run.from; b > 0 && timeS[rows[run.from]] - timeS[rows[b - 1]] <= aroundS;) {
    let a = b - 1;
    while (a > 0 && values[a - 1] === values[b - 1]) a--;
    if (isLong(a, b) && a > 0) return false;
    b = a;
  }
  return true;
};

/** Whether so long a run is also unlikely at this very level: a quiet channel at the low end of its range repeats itself more than higher up. */
const rareAtItsLevel = ({ values, count }: Track, run: FlatRun, span: number, needed: number): boolean => {
  let near = 0, again = 0;
  for (let k = 1; k < count; k++) {
    if (k >= run.from && k < run.to) { k = run.to; continue; }
    if (Math.abs(values[k] - run.value) > LEVEL_SHARE * span) continue;
    near++;
    if (values[k] === values[k - 1]) again++;
  }
  return near < 30 || (run.to - run.from - 1) * -Math.log(Math.max(again / near, 1 / near)) > 0.7 * needed;
};

/** Whether the run is the flat top or bottom of a smooth curve: fine steps lead up to it and away, with no unrest in them. */
const turnsThere = ({ values, count }: Track, run: FlatRun, step: number): boolean => {
  const half = Math.ceil((run.to - run.from) / 2);
  const before = run.from - half, after = run.to + half, low = run.value - TURN_STEPS * step, high = run.value + TURN_STEPS * step;
  return before >= 0 && after <= count && nextOutside(values, before, run.from, low, high) === run.from && nextOutside(values, run.to, after, low, high) === after;
};

/** The longest that a mask stays set within `[from, to)`. */
const longestS = (mask: Uint8Array, timeS: Float64Array, from: number, to: number): number => {
  let most = 0, since = -1;
  for (let i = from; i < to; i++) {
    if (mask[i] === 0) { since = -1; continue; }
    if (since < 0) since = i;
    if (timeS[i] - timeS[since] > most) most = timeS[i] - timeS[since];
  }
  return most;
};

/** Least and greatest of the medians of a spell's thirds. */
const thirdsOf = (values: Float64Array): readonly [low: number, high: number] =>
  extremes([0, 1, 2].map((third) => median(values.subarray(Math.floor((values.length * third) / 3), Math.ceil((values.length * (third + 1)) / 3)))));

/** For coarse channels: whether the channels it goes with say that it should have moved by more than the usual spread. Undefined where none is logged. */
const movedMeanwhile = (readings: Readings, track: Track, span: number, air: (() => Uint8Array) | undefined): ((run: FlatRun) => boolean) | undefined => {
  const { quantity } = track.channel;
  const { rows } = track;
  const movedBy = (values: Float64Array | undefined, share: number) => values && ((run: FlatRun): boolean => {
    // A shift at its edge, or one odd reading, moves no road.
    const sample = sampleOf(values, rows[run.from], rows[run.to - 1] + 1), high = quantileOf(sample, 0.95);
    return high - quantileOf(sample, 0.05) > share * Math.max(high, 1);
  });
  if (quantity === 'vehicle-speed') return movedBy(readings.clean('engine-speed'), 0.12);
  if (quantity === 'engine-speed') return movedBy(readings.clean('vehicle-speed'), 0.12);
  if (quantity === undefined) return undefined;
  if (quantity === 'lambda' || quantity === 'lambda-2') {
    const others = [readings.held('target-lambda'), readings.held(quantity === 'lambda' ? 'lambda-2' : 'lambda')].filter((other) => other !== undefined);
    const missedAir = (run: FlatRun): boolean => run.value < AIR_LAMBDA && air !== undefined && longestS(air(), readings.timeS, rows[run.from], rows[run.to - 1]) >= AIRED_S;
    return (run) => missedAir(run) || (others.length > 0 && others.every((other) => {
      const [low, high] = thirdsOf(other.subarray(rows[run.from], rows[run.to - 1] + 1));
      return high - low > MIXTURE_MOVED_LAMBDA;
    }));
  }
  const expected = expectedOf(readings, track);
  const byFoot = quantity === 'throttle' || quantity === 'pedal';
  if (!expected) return byFoot ? () => false : undefined;
  // A foot that rests while boost builds up is right.
  const full = byFoot && expected.by !== 'throttle' ? fullManifold(readings) : undefined;
  return (run) => {
    // Over seconds a smaller disagreement is proof enough.
    const long = readings.timeS[rows[run.to - 1]] - readings.timeS[rows[run.from]] > LONG_STILL_S;
    const least = Math.max(5 * expected.spread, (NO_NOISE.has(quantity) && !long ? 0.2 : 0.12) * span);
    const usual: number[] = [], usualAt = expected.at();
    let off = 0, offAtEnd = 0;
    for (let row = rows[run.from]; row <= rows[run.to - 1]; row++) {
      const value = usualAt(row);
      if (value !== value || full?.(row)) continue;
      usual.push(value);
      if (Math.abs(run.value - value) > least) { off++; offAtEnd++; } else offAtEnd = 0;
    }
    // A sensor that comes back leaps to where the others have been for a few readings; only a foot is so quick by itself.
    if (!NO_NOISE.has(quantity) && offAtEnd >= LEAST_OFF_AT_END && run.to < track.count && Math.abs(track.values[run.to] - run.value) > least) return true;
    // A foot just set down is ahead of the air for a moment: both the movement (from third to third) and the disagreement must last.
    const [low, high] = thirdsOf(Float64Array.from(usual));
    return high - low > least && off >= LEAST_OFF_SHARE * usual.length;
  };
};

const FOLLOWS_LOAD: ReadonlySet<QuantityId> = new Set<QuantityId>([...LOAD_READINGS, 'mass-air-flow-signal', 'injector-duty']);
const SPEED_MOVES_RPM = 1000;
/** Shares of its own range by which another load reading must have moved: most of it where this one may rest by right (a foot held still, a stop, the barometer). */
const WITNESS_SHARE = 0.3, WITNESS_BY_FOOT_SHARE = 0.4, WITNESS_AT_REST_SHARE = 0.6;
const AT_BAROMETER_SHARE = 0.04;
/** Shares of its range by which a reading must be off what it reads elsewhere in this log at the same engine speed and load: more where it may rest, or rested for a short time only (evidence grows with the root of time). */
const UNLIKE_SHARE = 0.06, UNLIKE_AT_REST_SHARE = 0.12;
/** Share of the barometer from which an engine draws what it can. */
const FULL_MANIFOLD_SHARE = 0.85;
/** The same of what a log without manifold pressure shows at most. */
const FULL_STROKE_SHARE = 0.75;
/** The first part of a foot's way, in which a throttle is closed. */
const CLOSED_SHARE = 0.1;
/** A channel must have had so many chances to move: in a slow log the others are ahead of it by a reading or two. */
const LEAST_UPDATES = 10;
/** The air follows a foot, and a slow logger the air, so late at most. */
const SETTLES_S = 2;
/** Injectors shut. */
const SHUT = 0.05;

/** Whether the manifold holds as much as the air around it: behind it a throttle may stand anywhere, and only a foot tells of a throttle. */
const fullManifold = (readings: Readings): ((i: number) => boolean) | undefined => {
  const pressure = readings.clean('manifold-pressure'), rpm = readings.clean('engine-speed');
  // Without a pressure the fullest strokes of this log stand in for it.
  const flow = readings.clean('mass-air-flow'), drawn = pressure ?? readings.clean('engine-load') ?? (flow && perTurn(flow, rpm));
  const full = drawn && (pressure ? FULL_MANIFOLD_SHARE * readings.barometer.kPa : FULL_STROKE_SHARE * quantileOf(sampleOf(drawn), 0.98));
  return drawn && ((i) => !(drawn[i] <= full!));
};

/** Nearly all the time. */
const NEARLY_ALL = 0.95;

/** Whether the throttle (or pedal) stayed closed well above idle: no fuel is what is meant, whatever a sensor that air does not reach shows. */
const coasts = (readings: Readings, rpm: Float64Array, { from, to }: Level): boolean => {
  const opening = readings.clean('throttle') ?? readings.clean('pedal');
  if (!opening) return false;
  const [closed, open] = extremes(opening), within = sampleOf(opening, from, to);
  return quantileOf(within, NEARLY_ALL) <= closed + CLOSED_SHARE * (open - closed) && quantileOf(sampleOf(rpm, from, to), 1 - NEARLY_ALL) > DRIVEN_RPM;
};

/** Whether the log shows the unrest of living sensors anywhere. */
const anyDithers = (readings: Readings): boolean => readings.session.channels.some((other) => other.filled > 0 && dithers(readings.track(other)));

/** One witness alone may be the one that is wrong: of three or more two must agree. */
const enough = (witnesses: readonly Witness[], says: (witness: Witness) => boolean): boolean => {
  let left = witnesses.length > 2 ? 2 : 1;
  return witnesses.some((witness) => says(witness) && --left === 0);
};

/**
 * One value for so long that what measures the same thing went through much of what it does: physics, however coarse the channel. Nothing is asked of the
 * others where `readings.clean` has no number. `heldFor` says how many readings the logger holds a value for, or what is enough to know.
 */
export const stillWhileDriven = (readings: Readings, track: Track, [least, greatest]: readonly [number, number], taken: Uint8Array, heldFor: (enough: number) => number): Fault[] => {
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
  let plain: readonly Pick<Witness, 'within' | 'range'>[] | undefined, alive: readonly Witness[] | undefined, full: { readonly at: ReturnType<typeof fullManifold> } | undefined;
  let step: number | undefined;
  const still = levelsOf(readings, track, shortestS).filter(({ from, to }) => taken[from] === 0 && taken[to - 1] === 0);
  if (still.length === 0) return [];
  const enoughReadings = Math.floor(shortestS / (LEAST_UPDATES * track.spacingS)) - 1;
  const leastS = LEAST_UPDATES * heldFor(enoughReadings) * track.spacingS, levels = still.filter(({ from, to }) => timeS[to - 1] - timeS[from] >= leastS);
  const isFullAt = forAll(levels, (witness: Witness, { from, to }) => fullAtSpeed(readings, witness, from, to));
  const burnsAt = forAll(levels, (_: 'lambda', { from, to }) => burns(readings, from, to));
  const moved = (level: Level): boolean => {
    const { value, from, to } = level;
    const long = timeS[to - 1] - timeS[from] >= drivenS;
    if (quantity === 'vehicle-speed') return value >= STANDING_KMH && dithers(readings.track(readings.channel('engine-speed')!)) && roadSpeedMoved(readings, from, to, drivenS);
    // A pedal at rest may have a cruise control at work, and injectors that stay shut a fuel cut.
    if (quantity === 'pedal' && value <= least + margin) return false;
    if ((quantity === 'injector-pulse-width' || quantity === 'injector-duty') && value <= SHUT) return enough(alive ??= witnessesFor(readings, quantity), (other) => isFullAt(other, level)) || !coasts(readings, rpm, level) && burnsAt('lambda', level);
    const atRest = value <= least + margin || value >= greatest - margin
      || (quantity === 'manifold-pressure' && Math.abs(value - barometer.kPa) < AT_BAROMETER_SHARE * barometer.kPa);
    const byFoot = quantity === 'throttle' || quantity === 'pedal';
    alive ??= witnessesFor(readings, quantity);
    // A throttle at its stop says little of the air that an idle valve lets past: only a full manifold speaks against it.
    const closed = byFoot && value <= least + CLOSED_SHARE * (greatest - least);
    if (closed && !(greatestOf(rpm, from, to) > DRIVEN_RPM)) return false;
    const isFull = byFoot ? (full ??= { at: fullManifold(readings) }).at : undefined, fromRpm = closed ? DRIVEN_RPM : RUNNING_RPM;
    const speaks = (i: number, by: QuantityId): boolean => rpm[i] > fromRpm && (by === 'throttle' || by === 'pedal' || !isFull?.(i));
    const unlike = closed || atRest || byFoot ? UNLIKE_AT_REST_SHARE : Math.max(UNLIKE_SHARE, UNLIKE_AT_REST_SHARE * Math.min(1, Math.sqrt(limitOf('stuckS', set).value / (timeS[to - 1] - timeS[from]))));
    if ((long || anyDithers(readings)) && unlikeElsewhere(readings, track, { from, to, value }, unlike * (greatest - least), speaks)) return true;
    if (closed) return enough(alive, (other) => isFullAt(other, level));
    // A level of few steps stands for a wide ratio of what it measures: the others must have gone further.
    const half = byFoot ? 0 : (step ??= quantisedStep(track.values, track.count)) / 2, hides = value > half ? (value + half) / (value - half) : 1;
    const further = (other: Witness): boolean => {
      if (hides === 1) return true;
      const sample = sampleOf(other.within(from, to));
      return !(quantileOf(sample, 0.95) < hides * quantileOf(sample, 0.05));
    };
    if (enough(alive, (other) => further(other) && movedAtOneSpeed(readings, other, from, to, atRest ? WITNESS_AT_REST_SHARE : byFoot ? WITNESS_BY_FOOT_SHARE : WITNESS_SHARE))) return true;
    if (!long || quantity === 'pedal') return false;
    const turning = rpm.subarray(from, to), running = sampleOf(turning, 0, turning.length, mark(turning, above(600)));
    if (!(quantileOf(running, 0.97) - quantileOf(running, 0.03) > SPEED_MOVES_RPM)) return false;
    plain ??= LOAD_READINGS.flatMap((other): Pick<Witness, 'within' | 'range'>[] => {
      if (other === quantity || !readings.channel(other)) return [];
      const within: Witness['within'] = (a, b) => { const own = readings.clean(other)!.subarray(a, b); return other === 'mass-air-flow' ? perTurn(own, rpm.subarray(a, b)) : own; };
      const all = within(0, timeS.length), range = shareOf(all, 0.98) - shareOf(all, 0.02);
      return range > 0 ? [{ within, range }] : [];
    });
    const share = atRest || byFoot ? WITNESS_AT_REST_SHARE : WITNESS_SHARE;
    // What the others showed of the moment before does not count.
    let late = from;
    while (late < to - 1 && timeS[late] - timeS[from] < SETTLES_S) late++;
    return plain.some((other) => { const then = other.within(late, to); return shareOf(then, 0.97) - shareOf(then, 0.03) > share * other.range; });
  };
  return levels.filter(moved).map(({ from, to, value }): Fault => ({ kind: 'stuck', channel, shape: 'frozen', value, from: Math.min(from + 1, to - 1), to, data: {} }));
};

interface Level { readonly from: number; readonly to: number; readonly value: number }

/** An answer about a level, found for all levels when it is first asked: of a long session few columns are at hand, and each question looks at its own. */
const forAll = <By, Answer>(levels: readonly Level[], ask: (by: By, level: Level) => Answer): ((by: By, level: Level) => Answer) => {
  const known = new Map<By, ReadonlyMap<Level, Answer>>();
  return (by, level) => {
    let answers = known.get(by);
    if (!answers) known.set(by, answers = new Map(levels.map((each) => [each, ask(by, each)])));
    return answers.get(level)!;
  };
};

const faultOf = (readings: Readings, track: Track, run: FlatRun, stuckS: number): Fault => {
  const { rows, count, channel } = track;
  const { timeS } = readings;
  // The first of the equal readings was still true.
  const from = rows[Math.min(run.from + 1, run.to - 1)];
  const to = run.to < count ? rows[run.to] : rows[run.to - 1] + 1;
  const spanS = timeS[Math.min(to, timeS.length - 1)] - timeS[rows[run.from]];
  return { kind: spanS >= stuckS ? 'stuck' : 'dropout', channel, shape: 'frozen', value: run.value, from, to, data: { nats: run.nats } };
};

/** One value from the first sample to the last, though other channels show that the engine was driven. */
const neverMoves = (readings: Readings, track: Track, activity: () => Activity): Fault[] => {
  const { channel, rows, count, values } = track;
  const { quantity } = channel;
  const { timeS } = readings;
  const whole: Fault = { kind: 'stuck', channel, shape: 'never-moves', value: values[0], from: rows[0], to: rows[count - 1] + 1, data: {} };
  if (timeS[rows[count - 1]] - timeS[rows[0]] < limitOf('stuckS', readings.vehicle.limits).value || quantity === undefined) return [];
  if (quantity === 'target-lambda') return values[0] > 0.5 && values[0] < 2 ? [] : [{ ...whole, shape: 'never-answered' }];
  // In a log without any unrest a level is no proof, unless it is of what must follow the engine and lasts.
  if (!anyDithers(readings)
    && (!(FOLLOWS_LOAD.has(quantity) || quantity === 'engine-speed') || timeS[rows[count - 1]] - timeS[rows[0]] < limitOf('stillWhileDrivenS', readings.vehicle.limits).value)) return [];
  if (!ALWAYS_MOVES.has(quantity) || activity().tellers(quantity) === 0 || !driven(readings, quantity)) return [];
  return [{ ...whole, shape: values[0] === channel.toCanonical(0) ? 'never-answered' : 'never-moves' }];
};

/** Whether any channel but this shows a running engine that changes. */
const driven = (readings: Readings, but: QuantityId): boolean => {
  const byFoot = but === 'throttle' || but === 'pedal';
  for (const [quantity, least] of [['engine-speed', byFoot ? Infinity : 400], ['manifold-pressure', byFoot ? 30 : 12], ['throttle', 6], ['mass-air-flow', byFoot ? 15 : 4], ['vehicle-speed', byFoot ? 20 : 10], ['lambda', byFoot ? Infinity : 0.03]] as const) {
    const values = quantity === but ? undefined : readings.held(quantity);
    if (!values) continue;
    const sample = sampleOf(values);
    if (quantileOf(sample, 0.97) - quantileOf(sample, 0.03) > least) return true;
  }
  return false;
};

/** Coolant that stays below warm and does not move for minutes of running. */
const coldCoolantStill = (readings: Readings, track: Track): Fault[] => {
  if (track.channel.quantity !== 'coolant-temperature') return [];
  const { rows, values, count, channel } = track;
  const { timeS } = readings;
  const rpm = readings.clean('engine-speed');
  const warmC = limitOf('warmCoolantC', readings.vehicle.limits).value, stillS = limitOf('coldCoolantStillS', readings.vehicle.limits).value;
  const found: Fault[] = [];
  for (const a of lastingRuns(readings, track)) {
    if (!(values[a] < warmC - 10)) continue;
    let b = a + 1, runningS = 0;
    for (; b < count && values[b] === values[a]; b++) if (!rpm || rpm[rows[b]] > 500) runningS += Math.min(2, timeS[rows[b]] - timeS[rows[b - 1]]);
    if (runningS > stillS) found.push({ kind: 'stuck', channel, shape: 'frozen', value: values[a], from: rows[Math.min(a + 1, b - 1)], to: rows[b - 1] + 1, data: {} });
  }
  return found;
};
