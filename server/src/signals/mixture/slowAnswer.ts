// How slowly a lambda sensor answers, by the fuel cuts of its own log: an old one, or one far down the pipe, is still on its way when the
// stated model of the delay (delay.ts) takes it to have arrived. What it shows then is where the mixture was, not where it is.

import { limitOf } from '../../formats/limits.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { delaySeries } from './delay.js';
import type { Signals, Span } from '../signals.js';
import { quantileOf } from '../columns/statistics.js';

/** Leaner than this the exhaust holds air; a reading on its way back is timed from here. */
const AIR_LAMBDA = 1.4;
/** A sensor that ends sooner stands at its end there. */
const AIR_END_LAMBDA = 1.3;
/** Where a reading has left what was burnt before the cut. */
const LEAVES_LAMBDA = 1.1;
/**
 * It comes back to what is burnt again, or to what a computer that refuels richly makes it: the richest it reads within so long, or within
 * longer where it has not come so far by then.
 */
const SETTLES_S = 2,
  COMES_BACK_S = 4;
const SETTLED_LAMBDA = 1.05;
/** So late at most a cut shows. */
const MOST_LATE_S = 4;
/** Fewer cuts tell nothing. */
const LEAST_CUTS = 4;
/**
 * A sound sensor has 0.02 to 0.1 s (order of magnitude, from memory); but fuel that the port walls keep back behind a cut, with nothing to
 * make up for it, looks like a lag of up to this, and then it is the engine's.
 */
const SLOW_LAG_S = 0.33;
/** Rows, or answers of a channel that is asked for now and then, in a lag that can be told. */
const ROWS_IN_LAG = 3;

export interface SlowAnswer {
  /** First-order time constant, seconds. */
  readonly lagS: number;
  /** Times the stated model's delay after which the answer begins: of a probe in the tailpipe alone, else 1. */
  readonly delays: number;
  /** So much later than the model has it a reading comes at any flow, seconds: a gauge that averages, a slow bus. */
  readonly lateS: number;
  /** So many cuts tell it. */
  readonly cuts: number;
}

/** Undefined where the sensor is as quick as the model takes it to be, where vehicle.json states the delay, and where too few cuts tell. */
export const slowAnswerOf = (signals: Signals, quantity: QuantityId): SlowAnswer | undefined => {
  const { transportDelay, mount } = signals.vehicle.lambdaSensor,
    lambda = signals.held(quantity);
  if (!lambda || (transportDelay !== undefined && transportDelay !== 'estimate')) return undefined;
  const cuts = signals.events.filter(({ kind }) => kind === 'overrun'),
    falls = told(cuts, (cut) => fallS(signals.timeS, lambda, cut));
  const known = falls.length >= LEAST_CUTS,
    lagS = quantileOf(falls, 0.5);
  const isSlow = known && quantileOf(falls, 0.25) > SLOW_LAG_S && isResolved(signals, quantity, lagS);
  // When a cut begins only a foot tells, and the controller may wait with it: that is no reason to doubt the delay of a sensor in its
  // place.
  const delayS = mount === 'tailpipe' ? delaySeries(signals) : undefined,
    times = delayS ? told(cuts, (cut) => leavesAfterS(signals.timeS, lambda, cut) / delayS[cut.from]) : new Float64Array(0);
  const delays = times.length >= LEAST_CUTS ? Math.max(1, quantileOf(times, 0.5)) : 1;
  const back = told(cuts, (cut) => backAfterS(signals, lambda, cut)),
    lateS =
      isSlow || delays > 1 || back.length < LEAST_CUTS
        ? 0
        : quantileOf(back, 0.5) - REFUELS_S - Math.max(0, signals.stepS + signals.ageS(quantity) - REFUELS_S);
  return isSlow || delays > 1 || lateS >= LEAST_LATE_S
    ? { lagS: known && lateS < LEAST_LATE_S ? lagS : 0, delays, lateS: Math.max(0, lateS), cuts: Math.max(falls.length, times.length) }
    : undefined;
};

/**
 * Whether a spell is no more than the readings' way back from where the exhaust may hold `air`, at the pace that their own cuts show: it ends
 * before all but 1/e³ is gone, and no leaner than a first-order way is by then and the limit of a warning allows.
 */
export const isWayFromAir = (
  signals: Signals,
  quantity: QuantityId,
  lambda: Float64Array,
  air: Uint8Array,
): ((span: Span & { readonly endsOver: number }) => boolean) => {
  const { timeS, stepS, vehicle } = signals,
    falls = told(
      signals.events.filter(({ kind }) => kind === 'overrun'),
      (cut) => fallS(timeS, lambda, cut),
    ),
    lagS = falls.length >= LEAST_CUTS ? quantileOf(falls, 0.5) : 0,
    allowed = limitOf('leanUnderLoadWarning', vehicle.limits).value;
  if (!isResolved(signals, quantity, lagS)) return () => false;
  // Where it begins and where it ends is known to a row each.
  const wayS = FROM_AIR_LAGS * lagS + 2 * stepS;
  return ({ from, to, endsOver }) => {
    let at = from;
    while (at > 0 && lambda[at] < AIR_LAMBDA && timeS[to - 1] - timeS[at] <= wayS) at--;
    const pastS = timeS[to - 1] - timeS[at],
      target = lambda[to - 1] - endsOver;
    return (
      air[at] === 1 && lambda[at] >= AIR_LAMBDA && pastS <= wayS && endsOver <= (lambda[at] - target) * Math.exp(-pastS / lagS) + allowed
    );
  };
};

/** Whether rows and answers follow so closely that a lag can be told by them. */
const isResolved = ({ stepS, ageS }: Signals, quantity: QuantityId, lagS: number): boolean => lagS > ROWS_IN_LAG * (stepS + ageS(quantity));

const told = (cuts: readonly Span[], of: (cut: Span) => number): Float64Array => Float64Array.from(cuts, of).filter((value) => value > 0);

/** Seconds in which the reading comes back from air behind a cut, by all but 1/e of what is left; NaN where it does not. */
const fallS = (timeS: Float64Array, lambda: Float64Array, { from, to }: Span): number => {
  const untilS = timeS[to - 1] + MOST_LATE_S;
  let last = -1;
  for (let i = from; i < timeS.length && timeS[i] <= untilS && !(last >= 0 && lambda[i] < LEAVES_LAMBDA); i++)
    if (lambda[i] >= AIR_LAMBDA) last = i;
  if (last < 0) return NaN;
  const leastTo = (withinS: number): number => {
    let least = Infinity;
    for (let i = last + 1; i < timeS.length && timeS[i] <= timeS[last] + withinS; i++) if (lambda[i] < least) least = lambda[i];
    return least;
  };
  const soon = leastTo(SETTLES_S),
    settled = Math.min(SETTLED_LAMBDA, soon > SETTLED_LAMBDA ? leastTo(COMES_BACK_S) : soon);
  // Where it is the fuel over the air that mixes, lambda comes back sooner than that: rather a lag too short than an engine that is
  // excused.
  const nearLambda = settled + (AIR_LAMBDA - settled) / Math.E;
  for (let i = last + 1; i < timeS.length && timeS[i] <= timeS[last] + COMES_BACK_S; i++)
    if (lambda[i] <= nearLambda) return timeS[i] - (timeS[last] + timeS[last + 1]) / 2;
  return NaN;
};

/** Seconds from a cut's begin until the reading leaves for air; NaN where it does not, or had left before. */
const leavesAfterS = (timeS: Float64Array, lambda: Float64Array, { from }: Span): number => {
  if (!(lambda[from] < LEAVES_LAMBDA)) return NaN;
  for (let i = from; i < timeS.length && timeS[i] <= timeS[from] + MOST_LATE_S; i++)
    if (lambda[i] >= LEAVES_LAMBDA) return timeS[i] - timeS[from];
  return NaN;
};

/**
 * A controller that is trodden on fuels at once, but some cycles' fuel wets the port first; and what is less is the model's own doubt.
 * Orders of magnitude, no source.
 */
const REFUELS_S = 0.05,
  LEAST_LATE_S = 0.08;
const FOOT_PERCENT = 5,
  FOOT_S = 0.3,
  LEAVES_STOP_LAMBDA = 0.05;

/** Seconds beyond the model's delay until a reading leaves air behind a cut that the foot ended; NaN where another thing ended it. */
const backAfterS = (signals: Signals, lambda: Float64Array, { from, to }: Span): number => {
  const { timeS } = signals,
    foot = signals.held('throttle') ?? signals.held('pedal'),
    aired = lambda[to];
  const isPressed = (i: number): boolean => foot![i] > foot![(from + to) >> 1] + FOOT_PERCENT;
  if (!foot || !(aired > AIR_END_LAMBDA) || isPressed(to - 2)) return NaN;
  let pressed = to;
  while (!isPressed(pressed)) if (++pressed >= timeS.length || timeS[pressed] > timeS[to] + FOOT_S) return NaN;
  for (let i = to; i < timeS.length && timeS[i] <= timeS[to] + MOST_LATE_S; i++)
    if (lambda[i] < aired - LEAVES_STOP_LAMBDA) return timeS[i] - timeS[pressed] - delaySeries(signals)[pressed];
  return NaN;
};

/** What burns before the load is about stoichiometric, unless its target says leaner. */
const BURNT_LAMBDA = 1;

/** So many of its time constants a sensor may be on its way back from air; and so many at its end, for air lies far beyond (1 / φ). */
const FROM_AIR_LAGS = 3,
  AT_END_LAGS = 2;

/** Where such a sensor is on its way to what the targets ask for, by row of a stretch under load. */
export class Approach {
  private lambda = NaN;
  private lastS = NaN;
  private burnt = BURNT_LAMBDA;
  private beganS = NaN;
  private isAired = false;
  /** When the exhaust last held it, and whether the reading has stood at its end, or was on its way there, since. */
  private airedS = NaN;
  private standsAtEnd = false;

  constructor(
    private readonly answer: SlowAnswer,
    private readonly timeS: Float64Array,
    private readonly delayS: Float64Array,
  ) {}

  /** At the first row of a stretch; `air`: where the exhaust may hold it. */
  begin(row: number, air: Uint8Array): void {
    const {
      lambda,
      timeS,
      answer: { lagS },
    } = this;
    // In a gap between two stretches it goes back towards what is burnt there: in a short one, no further than it can.
    this.burnt =
      lambda === lambda && lagS > 0 ? BURNT_LAMBDA + (lambda - BURNT_LAMBDA) * Math.exp((this.lastS - timeS[row]) / lagS) : BURNT_LAMBDA;
    this.lambda = NaN;
    this.beganS = timeS[row];
    let before = Math.max(0, row - 1);
    while (air[before] === 0 && before > 0 && timeS[row] - timeS[before - 1] <= FROM_AIR_LAGS * lagS) before--;
    this.standsAtEnd = this.isAired = air[before] === 1;
    this.airedS = timeS[before];
  }

  /**
   * What it would show at a row of an engine that meets its target: until the first gas of the stretch arrives what it shows, from then on
   * a first-order way down.
   */
  at(row: number, reading: number, target: number): number {
    const { lagS, delays } = this.answer,
      { timeS } = this;
    // Leaner than what was burnt before it only comes from air: a reading that rises under load is the engine's.
    const shown = this.isAired ? reading : Math.min(reading, Math.max(target, this.burnt));
    this.lastS = timeS[row];
    this.standsAtEnd &&= reading >= AIR_LAMBDA ? timeS[row] - this.beganS <= AT_END_LAGS * lagS : timeS[row] - this.airedS <= lagS;
    if (this.standsAtEnd && reading >= AIR_LAMBDA) return (this.lambda = reading);
    if (!(this.lambda === this.lambda) || timeS[row] - this.beganS <= (delays - 1) * this.delayS[row]) return (this.lambda = shown);
    return (this.lambda = target + (this.lambda - target) * (lagS > 0 ? Math.exp(-(timeS[row] - timeS[row - 1]) / lagS) : 0));
  }
}
