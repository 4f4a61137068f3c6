// Lean and rich spells of a session, told apart from misfires (misfire.ts) once for the three rules that speak of them.
// A reading is judged only where its whole delay band was under load, no air was in the exhaust and the sensor is trusted.

import { limitOf } from '../formats/limits.js';
import { isOfCylinder } from '../formats/session/channelNames.js';
import type { Channel } from '../formats/session/session.js';
import type { QuantityId } from '../quantities/quantity.js';
import { delaySeries } from '../signals/mixture/delay.js';
import { missesOf, type MisfireSpell } from '../signals/mixture/misfire.js';
import {
  MERGE_S,
  ROUNDED_OFF,
  runsToJudge,
  targetAt,
  targetsOf,
  type Targets,
  isOtherwise,
  unjudgedFuel,
} from '../signals/mixture/offTarget.js';
import { allowedByOwnPull } from './ownPull.js';
import { onceFor } from '../signals/once.js';
import { ofLaunch } from '../signals/drive/launch.js';
import { believed, operatingOf, type Operating } from '../signals/drive/operating.js';
import type { Signals, Span } from '../signals/signals.js';
import { anyOf, marksWithin, spansOf, widened, without } from '../signals/columns/spans.js';
import { believedColumns, columnsOf, heldOf } from '../signals/columns/worstOf.js';
import { secondGauges } from '../signals/mixture/secondGauge.js';
import { Approach, isWayFromAir, slowAnswerOf, type SlowAnswer } from '../signals/mixture/slowAnswer.js';
import { greatestOf, leastOf, writtenStep } from '../signals/columns/statistics.js';
import { spellsUnderLoad } from '../signals/columns/underLoad.js';

/** Lag of a wideband sensor, seconds: smears a short blip by lag × ln(height / limit), which is taken off its length. */
const SENSOR_LAG_S = 0.05;
/** Just behind a tip-in the film on the port wall takes its share first: such a spell must last this much longer. */
const TIP_IN_EXTRA_S = 0.15;
/** What a pull held before stands in for the assumed target only where it is clearly richer. */
const CLEARLY_LAMBDA = 0.01;

export interface MixtureSpell extends Span {
  readonly channel: Channel;
  /** Greatest distance from the target over a window of the limit's length, λ. */
  readonly byLambda: number;
  readonly worstAt: number;
  readonly lambda: number;
  readonly target: number;
  /** What its last reading is above its target, λ. */
  readonly endsOver: number;
  /** `pull`: no target is known, and the pull itself held a richer mixture before. */
  readonly targetFrom: 'channel' | 'table' | 'assumed' | 'pull';
  /** Which limit made it an error: over the target, or the absolute one under boost. */
  readonly absolute: boolean;
  readonly error: boolean;
  readonly oneBank: boolean;
  /** The gauge of the same bank that shows nothing of it. */
  readonly notBy?: Channel;
}

/** A sensor whose way to its target was taken for lean where its delay is that of the stated model. */
export interface SlowSensor extends Span {
  readonly channel: Channel;
  readonly answer: SlowAnswer;
  readonly spells: number;
}

export interface Mixture {
  readonly lean: readonly MixtureSpell[];
  readonly rich: readonly MixtureSpell[];
  readonly misfire: readonly MisfireSpell[];
  readonly slow: readonly SlowSensor[];
}

export const mixtureOf = onceFor((signals: Signals): Mixture => judgeMixture(signals));

const judgeMixture = (signals: Signals): Mixture => {
  // Asked for at each sample: at hand for as long.
  const operating = { ...operatingOf(signals) };
  const tipIn = widened(signals.during('tip-in'), signals.timeS, 0, 0.6);
  const launch = ofLaunch(signals, true),
    isLaunch = ({ from, to }: Span): boolean => 2 * marksWithin(launch, from, to) > to - from;
  const lean: MixtureSpell[] = [],
    rich: MixtureSpell[] = [],
    slow: SlowSensor[] = [],
    misfire = missesOf(signals).filter((spell) => !isLaunch(spell));
  for (const bank of ['lambda', 'lambda-2'] as const) {
    const channel = signals.channel(bank),
      lambda = believed(signals, bank);
    if (!channel || !lambda || unjudgedFuel(signals) !== undefined) continue;
    const missing = misfire.filter((spell) => spell.channel === channel);
    const excused = (span: Span): boolean => missing.some((each) => span.from < each.to && each.from < span.to);
    signals.between();
    const own = tellable(signals, operating, bank, channel, lambda, signals.held(bank)!, tipIn);
    if (own.slow) slow.push(own.slow);
    lean.push(...own.spells.filter((span) => !excused(span) && !isLaunch(span)));
    for (const { channel: second, lambda: read } of secondGauges(signals, channel, lambda, operating))
      lean.push(
        ...tellable(signals, operating, bank, second, read, heldOf(signals, second), tipIn)
          .spells.filter((span) => !isLaunch(span) && !lean.some((other) => span.from < other.to && other.from < span.to))
          .map((span) => ({ ...span, notBy: channel })),
      );
    rich.push(...richSpells(signals, operating, channel, lambda, tipIn));
  }
  const hasCylinders = signals.session.channels.some(isOfCylinder) && unjudgedFuel(signals) === undefined;
  for (const { channel, values } of hasCylinders ? believedColumns(signals, 'lambda').slice(1) : []) {
    if (!isOfCylinder(channel)) continue;
    const { spells } = tellable(signals, operating, 'lambda', channel, values, heldOf(signals, channel), tipIn);
    lean.push(...spells.filter((span) => !isLaunch(span)));
  }
  const banks = hasCylinders || (signals.channel('lambda') !== undefined && signals.channel('lambda-2') !== undefined);
  // Both banks lean at once is one event, and so are several cylinders: the fuel supply's, told at the leaner one.
  const told = lean.filter(
    (span) =>
      !banks ||
      !lean.some(
        (other) => other.channel !== span.channel && other.byLambda > span.byLambda && other.from < span.to && span.from < other.to,
      ),
  );
  return {
    lean: told.map((span) => ({
      ...span,
      oneBank: banks && !lean.some((other) => other.channel !== span.channel && other.from < span.to && span.from < other.to),
    })),
    rich,
    misfire,
    slow,
  };
};

/** What is lean by a gauge whatever it rounds off, and but for how slowly it answers; `held`: its readings, believed or not. */
const tellable = (
  signals: Signals,
  operating: Operating,
  bank: QuantityId,
  channel: Channel,
  lambda: Float64Array,
  held: Float64Array,
  tipIn: Uint8Array,
): { readonly spells: readonly MixtureSpell[]; readonly slow?: SlowSensor } => {
  const spells = leanSpells(signals, operating, channel, lambda, tipIn);
  signals.between();
  // Asked only where somebody would be accused by it.
  if (spells.length === 0) return { spells };
  const answer = slowAnswerOf(signals, bank),
    stays = answer ? leanSpells(signals, operating, channel, lambda, tipIn, answer) : spells,
    isOnItsWay = answer && answer.lagS > 0 ? (): boolean => false : isWayFromAir(signals, bank, held, operating.air);
  return {
    spells: beyondRounding(signals, bank, stays).filter((span) => !isOnItsWay(span)),
    slow: answer && { channel, answer, spells: spells.length - stays.length, from: spells[0].from, to: spells[0].to },
  };
};

/** λ; from steps so large on a reading's rounding is told from its noise. No source. */
const COARSE_STEP = 0.02;

/** The spells that are lean whatever was rounded off: a coarse reading is good to half of its step. */
const beyondRounding = (signals: Signals, bank: QuantityId, spells: MixtureSpell[]): MixtureSpell[] => {
  const { limits } = signals.vehicle,
    // A cylinder's column is written as its neighbours are.
    step = spells.length > 0 ? writtenStep(columnsOf(signals, bank)) : 0,
    isOver = ({ byLambda, absolute }: MixtureSpell, id: 'leanUnderLoad' | 'leanUnderLoadWarning'): boolean =>
      absolute || byLambda - step / 2 > limitOf(id, limits).value + ROUNDED_OFF;
  return step < COARSE_STEP
    ? spells
    : spells.filter((span) => isOver(span, 'leanUnderLoadWarning')).map((span) => ({ ...span, error: isOver(span, 'leanUnderLoad') }));
};

/** The same, of readings that may come so much later. */
const laterBy = (lateS: number, operating: Operating, timeS: Float64Array): Operating => {
  const bandFrom = operating.bandFrom.slice();
  for (let i = 0; i < bandFrom.length; i++)
    while (
      bandFrom[i] > 0 &&
      timeS[operating.bandFrom[i]] - timeS[bandFrom[i] - 1] <= lateS &&
      timeS[bandFrom[i] - 1] <= timeS[bandFrom[i]]
    )
      bandFrom[i]--;
  return { ...operating, bandFrom };
};

const leanSpells = (
  signals: Signals,
  operating: Operating,
  channel: Channel,
  lambda: Float64Array,
  tipIn: Uint8Array,
  answer?: SlowAnswer,
): MixtureSpell[] => {
  const { stepS, vehicle, targetLambda } = signals;
  const warnOver = limitOf('leanUnderLoadWarning', vehicle.limits).value,
    errorOver = limitOf('leanUnderLoad', vehicle.limits).value;
  const leastS = limitOf('leanUnderLoadS', vehicle.limits).value,
    absoluteLambda = isOtherwise(vehicle) ? Infinity : limitOf('leanUnderBoostLambda', vehicle.limits).value;
  const ownPulls = targetLambda ? undefined : allowedByOwnPull(signals, operating, lambda);
  // One answer of a slow log shows a moment, not how long it lasted.
  const ageS = signals.ageS(channel.quantity!),
    delayS = answer && delaySeries(signals),
    late = answer && answer.lateS > 0 ? laterBy(answer.lateS, operating, signals.timeS) : undefined;
  return spellsUnderLoad(
    signals,
    operating,
    lambda,
    leastS,
    [warnOver, 0],
    ({ row, timeS, lambda, readsLoad, air }) => {
      const excess = new Float64Array(lambda.length).fill(NaN),
        underBoost = new Float64Array(lambda.length).fill(NaN),
        targets = targetsOf(signals, late ?? operating, 1),
        mask = without(readsLoad, air);
      const runs = runsToJudge(
        targets,
        row,
        mask,
        timeS,
        lambda,
        warnOver,
        (from, to) => greatestOf(lambda, from, to) > absoluteLambda - ROUNDED_OFF,
      );
      putLean(
        targets,
        row,
        runs,
        mask,
        air,
        lambda,
        ownPulls?.subarray(row),
        absoluteLambda,
        excess,
        underBoost,
        answer && !late ? new Approach(answer, timeS, delayS!.subarray(row)) : undefined,
      );
      return [excess, underBoost];
    },
    ({ row, timeS, lambda, recordings }, [excess, underBoost], [over, above]) =>
      spansOf(anyOf(over.mask, above.mask), timeS, { bridgeS: MERGE_S, recordings }).flatMap((rough): MixtureSpell[] => {
        const { from, to, first, last, worst, worstAt, leanS, absolute, greatest } = leanIn(
          rough,
          timeS,
          stepS,
          warnOver,
          excess,
          underBoost,
          over.means,
          above.means,
        );
        if (!(timeS[last] - timeS[first] > ageS)) return [];
        const smearedS = SENSOR_LAG_S * Math.log(Math.max(1, greatest / Math.max(warnOver, 1e-3)));
        if (leanS - smearedS < leastS - 1e-6 + (tipIn[row + from] === 1 ? TIP_IN_EXTRA_S : 0)) return [];
        return [
          {
            from,
            to,
            channel,
            byLambda: worst,
            worstAt,
            lambda: lambda[worstAt],
            target: lambda[worstAt] - excess[worstAt],
            endsOver: excess[to - 1],
            targetFrom:
              targetLambda?.from ??
              (ownPulls && Math.abs(lambda[worstAt] - excess[worstAt] - ownPulls[row + worstAt]) < 1e-9 ? 'pull' : 'assumed'),
            absolute,
            error: worst > errorOver || absolute,
            oneBank: false,
          },
        ];
      }),
  );
};

// What goes over the readings stands by itself: what is compiled of a function that is made anew for each session is let go with it.

const putLean = (
  targets: Targets,
  row: number,
  runs: readonly Span[],
  mask: Uint8Array,
  air: Uint8Array,
  lambda: Float64Array,
  ownPull: Float64Array | undefined,
  absoluteLambda: number,
  excess: Float64Array,
  underBoost: Float64Array,
  approach?: Approach,
): void => {
  const { readsBoost } = targets;
  for (const { from, to } of runs)
    for (let i = from; i < to; i++) {
      if (mask[i] === 0) continue;
      if (i === from || mask[i - 1] === 0) approach?.begin(i, air);
      const target = targetAt(targets, row + i),
        held = ownPull && ownPull[i] < target - CLEARLY_LAMBDA ? ownPull[i] : target,
        coming = approach ? approach.at(i, lambda[i], target) : held;
      excess[i] = lambda[i] - (coming > held ? coming : held);
      // On its way it is judged by its way alone.
      if (readsBoost[row + i] === 1 && !(coming > held + CLEARLY_LAMBDA)) underBoost[i] = lambda[i] - absoluteLambda;
    }
};

const isLean = (excess: number, warnOver: number, underBoost: number): boolean => excess > warnOver || underBoost >= 0;

/**
 * A rough spell from its first to its last lean reading, NaN both of none, how long it is lean, and its worst: in the mean of a window, and
 * the greatest excess by itself.
 */
const leanIn = (
  { from, to }: Span,
  timeS: Float64Array,
  stepS: number,
  warnOver: number,
  excess: Float64Array,
  underBoost: Float64Array,
  over: Float64Array,
  above: Float64Array,
) => {
  while (from < to - 1 && !isLean(excess[from], warnOver, underBoost[from])) from++;
  while (to > from + 1 && !isLean(excess[to - 1], warnOver, underBoost[to - 1])) to--;
  let first = NaN,
    last = NaN,
    worst = -Infinity,
    worstAt = from,
    leanS = 0,
    absolute = false,
    greatest = -Infinity;
  for (let i = from; i < to; i++) {
    if (over[i] > worst) worst = over[i];
    if (excess[i] > greatest) {
      greatest = excess[i];
      worstAt = i;
    }
    if (above[i] > 0) absolute = true;
    if (!isLean(excess[i], warnOver, underBoost[i])) continue;
    if (!(first <= i)) first = i;
    last = i;
    leanS += i + 1 < timeS.length ? Math.min(timeS[i + 1] - timeS[i], 2 * stepS) : stepS;
  }
  return { from, to, first, last, worst: worst > -Infinity ? worst : greatest, worstAt, leanS, absolute, greatest };
};

const richSpells = (signals: Signals, operating: Operating, channel: Channel, lambda: Float64Array, tipIn: Uint8Array): MixtureSpell[] => {
  const { vehicle, targetLambda } = signals;
  const under = limitOf('richUnderLoad', vehicle.limits).value,
    washes = limitOf('richLambda', vehicle.limits).value,
    leastS = limitOf('richUnderLoadS', vehicle.limits).value;
  const warmUp = signals.during('warm-up');
  // One answer of a slow log shows a moment, as a throttle that closes has it, not how long it lasted.
  const ageS = signals.ageS(channel.quantity!);
  return spellsUnderLoad(
    signals,
    operating,
    lambda,
    leastS,
    [under, 0],
    ({ row, timeS, lambda, readsLoad, air }) => {
      const short = new Float64Array(lambda.length).fill(NaN),
        washing = new Float64Array(lambda.length).fill(NaN);
      const targets = targetsOf(signals, operating, -1),
        to = row + lambda.length,
        mask = without(readsLoad, air, warmUp.subarray(row, to), tipIn.subarray(row, to));
      putRich(
        targets,
        row,
        runsToJudge(targets, row, mask, timeS, lambda, under, (from, to) => leastOf(lambda, from, to) < washes + ROUNDED_OFF),
        mask,
        lambda,
        washes,
        short,
        washing,
      );
      return [short, washing];
    },
    ({ timeS, lambda, recordings }, [short, washing], [far, wet]) =>
      spansOf(anyOf(far.mask, wet.mask), timeS, { bridgeS: MERGE_S, recordings, leastS }).flatMap(({ from, to }): MixtureSpell[] => {
        const { first, last, worst, worstAt, absolute } = richIn(from, to, lambda, under, short, washing, far.means, wet.means);
        if (!(timeS[last] - timeS[first] > ageS)) return [];
        const target = targetLambda ? lambda[worstAt] + short[worstAt] : NaN;
        return [
          {
            from,
            to,
            channel,
            byLambda: worst > 0 ? worst : target - lambda[worstAt],
            worstAt,
            lambda: lambda[worstAt],
            target,
            endsOver: -short[last],
            targetFrom: targetLambda?.from ?? 'assumed',
            absolute,
            error: false,
            oneBank: false,
          },
        ];
      }),
  );
};

const putRich = (
  targets: Targets,
  row: number,
  runs: readonly Span[],
  mask: Uint8Array,
  lambda: Float64Array,
  washes: number,
  short: Float64Array,
  washing: Float64Array,
): void => {
  for (const { from, to } of runs)
    for (let i = from; i < to; i++) {
      if (mask[i] === 0) continue;
      if (targets.known) short[i] = targetAt(targets, row + i) - lambda[i];
      washing[i] = washes - lambda[i];
    }
};

/** The first and the last rich reading of `[from, to)`, NaN both of none, the richest, and the worst mean of a window. */
const richIn = (
  from: number,
  to: number,
  lambda: Float64Array,
  under: number,
  short: Float64Array,
  washing: Float64Array,
  far: Float64Array,
  wet: Float64Array,
) => {
  let worstAt = from,
    absolute = false,
    worst = -Infinity,
    first = NaN,
    last = NaN;
  for (let i = from; i < to; i++) {
    if (short[i] > under || washing[i] > 0) {
      last = i;
      if (!(first <= i)) first = i;
    }
    if (lambda[i] < lambda[worstAt] || lambda[worstAt] !== lambda[worstAt]) worstAt = i;
    if (wet[i] > 0) absolute = true;
    if (far[i] > worst) worst = far[i];
  }
  return { first, last, worst, worstAt, absolute };
};
