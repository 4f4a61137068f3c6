// Spells that look like a cylinder that misses: one bank reads lean although nothing took its fuel away.

import { limitOf } from '../../formats/limits.js';
import type { Channel } from '../../formats/session/session.js';
import { onceFor } from '../once.js';
import { believed, operatingOf, type Operating } from '../drive/operating.js';
import type { Signals, Span } from '../signals.js';
import { endOfMarks, marksWithin, nextMark, spansOf, without } from '../columns/spans.js';
import { extremes, median, quantileOf, sampleBy } from '../columns/statistics.js';
import { MERGE_S, nextFar, ROUNDED_OFF, runsToJudge, targetAt, targetsOf, type Targets } from './offTarget.js';
import { liftOff, withoutTransients } from '../drive/transients.js';
import { marksSustained } from '../columns/underLoad.js';

/**
 * One of six cylinders of a bank without fuel makes λ 0.80 of it 0.96 (cylinders over those that burn): no table and no scatter of
 * injectors does. Fewer cylinders make more.
 */
const FAR_EXCESS = 0.15;
/** Another miss of the same bank so near speaks for this one too, with so many points. */
export const GOES_ON_S = 10;
const GOES_ON_POINTS = 1;
const LONE_S = 2;
/** The mean of an engine that is held at λ 1 lies within this (order of magnitude, no source). */
const CLEARLY_LAMBDA = 0.02;
/** Leaner than any mixture that still burns in an engine under way (lean limit of ignition with room: Heywood ch. 9, from memory). */
export const AIR_LAMBDA = 1.35;

export interface MisfireSpell extends Span {
  readonly channel: Channel;
  readonly lambda: number;
  readonly reference: number;
  readonly referenceIs: 'bank' | 'target';
  readonly signs: readonly string[];
  /** For most of it. */
  readonly underLoad: boolean;
  /** Under load for seconds it was so far off as a cylinder makes it that burns nothing, and lean of its target where one is known. */
  readonly dead: boolean;
}

/** Those of both banks, one bank behind the other. */
export const missesOf = onceFor((signals: Signals): readonly MisfireSpell[] => {
  signals.between();
  const operating = operatingOf(signals),
    targets = targetsOf(signals, operating, 1);
  return (['lambda', 'lambda-2'] as const).flatMap((bank) => {
    const channel = signals.channel(bank),
      lambda = believed(signals, bank);
    return channel && lambda ? misfires(signals, operating, targets, bank, channel, lambda) : [];
  });
});

/** Spells in which one bank reads lean although nothing took its fuel away: the signs are counted, and three points make a suspicion. */
const misfires = (
  signals: Signals,
  operating: Operating,
  targets: Targets,
  bank: 'lambda' | 'lambda-2',
  channel: Channel,
  lambda: Float64Array,
): MisfireSpell[] => {
  const { timeS, stepS, targetLambda } = signals;
  const other = believed(signals, bank === 'lambda' ? 'lambda-2' : 'lambda');
  const [ownTrim, otherTrim] =
    bank === 'lambda'
      ? (['short-term-fuel-trim', 'short-term-fuel-trim-2'] as const)
      : (['short-term-fuel-trim-2', 'short-term-fuel-trim'] as const);
  // With neither a second bank nor a target (or trims that hold one) there is nothing to be lean against, and behind a catalyst nothing to
  // be seen.
  if (
    (!other && !(signals.channel('engine-speed') && (targetLambda ?? signals.channel(ownTrim)))) ||
    (signals.vehicle.lambdaSensor.mount ?? 'upstream') !== 'upstream'
  )
    return [];
  const set = signals.vehicle.limits;
  const leastS = limitOf(other ? 'misfireS' : 'misfireAloneS', set).value,
    trimPercent = limitOf('misfireTrimPercent', set).value,
    fromPoints = limitOf('misfirePoints', set).value;
  const apartLambda = limitOf(other ? 'misfireLambda' : 'misfireAloneLambda', set).value,
    leanLambda = limitOf('leanUnderLoad', set).value,
    richLambda = limitOf('richLambda', set).value;
  if (!standsApart(operating, targets, lambda, other, apartLambda)) return [];
  // Without a second bank nothing says that only one cylinder is lean: more must speak for it.
  const needed = other ? fromPoints : fromPoints + 0.5;
  const spells = spellsApart(signals, operating, targets, bank, channel, lambda, other, leastS, apartLambda);
  signals.between();
  // Of a long session the columns behind this are large: one question of all spells before the next.
  if (spells.length === 0) return [];
  const uneven = turnsUneven(signals, spells),
    starved = isStarved(signals, spells),
    rises = trimRises(signals, ownTrim, spells),
    otherRises = trimRises(signals, otherTrim, spells);
  const idle = signals.during('idle'),
    usual = other ? usualApart(signals, lambda, other) : NaN;
  const ofLoadIn = (span: Apart): OfLoad => ofLoad(operating, lambda, targets, stepS, span);
  const suspects = spells.map((span, at) => {
    const signs: string[] = [];
    let points = 0;
    const sign = (when: boolean, worth: number, words: string): void => {
      if (when) {
        points += worth;
        signs.push(words);
      }
    };
    const inside = meanOf(lambda, span);
    const { excess } = span,
      reference = inside - excess;
    if (other) {
      // A bank that always stands apart is a matter of its injectors or sensor, not of a cylinder that misses now; farther than a table can
      // be, it may miss all the time.
      const apart = meanAround({ lambda, other }, above, timeS, span, 4);
      const otherOff = targetLambda ? meanAt({ lambda: other, targets }, offTarget, span) : NaN;
      sign(
        !(excess <= FAR_EXCESS && usual > 0.5 * excess) &&
          (otherOff < 0.05 ||
            (!targetLambda && isAloneLean(ofLoadIn(span), richLambda)) ||
            (Math.abs(meanOf(other, span) - meanAround(other, reading, timeS, span, 4)) < 0.04 && !(apart > 0.5 * excess))),
        1.5,
        'the other bank does not',
      );
    }
    sign(uneven[at], 1.5, 'the engine speed turns uneven');
    if (rises) {
      sign(rises[at] > trimPercent, 1, 'the trim adds fuel and it stays lean');
      // What takes fuel from one bank takes it from both: one pump, one air path.
      if (!other && otherRises)
        sign(rises[at] > trimPercent && otherRises[at] < rises[at] / 3, 1.5, 'the trim of the other bank does not follow');
    }
    sign(other !== undefined && excess > FAR_EXCESS, excess > 2 * FAR_EXCESS ? 1 : 0.5, 'it is farther off than a table can be');
    // By the median: the leap into the spell and out of it is not its unrest.
    const rough = median(offLineIn(lambda, span.from, span.to)),
      smooth = medianAround(lambda, timeS, span, 6);
    sign(rough > 2.5 * smooth && rough - smooth > 0.003, 1, 'its reading turns ragged');
    sign(isAbrupt(lambda, timeS, span), 0.5, 'it comes and goes at once');
    // No film and no lag of an air path keeps one bank apart for so long; at idle air that leaks in may.
    sign(
      other !== undefined && !isAtIdle(span, idle) && timeS[span.to - 1] - timeS[span.from] >= LONE_S,
      0.5,
      'it lasts longer than a transient',
    );
    if (starved[at]) points -= 2;
    if (signals.session.codes.some((code) => /^P03(0\d|1[0-9])/i.test(code.text.trim()))) sign(true, 1.5, 'a misfire code is stored');
    return {
      span,
      points,
      told: {
        from: span.from,
        to: span.to,
        channel,
        lambda: inside,
        reference,
        referenceIs: other ? ('bank' as const) : ('target' as const),
        signs,
      },
    };
  });
  const sure = suspects.filter(({ points }) => points >= needed);
  // A cylinder that missed a moment ago has not healed because a cut or a shift came between.
  const goesOn = (span: Span): boolean =>
    sure.some(({ span: each }) => timeS[span.from] - timeS[each.to - 1] < GOES_ON_S && timeS[each.from] - timeS[span.to - 1] < GOES_ON_S);
  return suspects.flatMap(({ span, points, told }): MisfireSpell[] => {
    const isSure = points >= needed;
    if (!isSure && !(points + GOES_ON_POINTS >= needed && goesOn(span))) return [];
    const read = ofLoadIn(span);
    return [
      {
        ...told,
        signs: isSure ? told.signs : [...told.signs, 'it missed a moment before or after'],
        underLoad: marksWithin(operating.load, span.from, span.to) > 0.5 * (span.to - span.from),
        // Where it reads what was asked for, the other bank may as well be the one at fault: rich.
        dead: isFar(read) && !(targetLambda && read.leanBy <= leanLambda),
      },
    ];
  });
};

/** How far above the other bank this one reads for most of the session. */
const usualApart = (signals: Signals, lambda: Float64Array, other: Float64Array): number => {
  const always = quantileOf(sampleBy(lambda.length, { lambda, other }, above), 0.5),
    pulls = signals.events.filter(({ kind }) => kind === 'pull');
  if (pulls.length < SEVERAL_PULLS) return always;
  // A closed loop hides it from the middle of the drive.
  const loaded = quantileOf(
    Float64Array.from(pulls, ({ from, to }) =>
      quantileOf(
        Float64Array.from({ length: to - from }, (_, i) => lambda[from + i] - other[from + i]),
        FROM_THE_FIRST,
      ),
    ),
    LEAST_SHARE,
  );
  return loaded > always ? loaded : always;
};
/**
 * A bank that stands apart through nine tenths of a pull, from its beginning on, and in three quarters of several, does so always; a coil
 * that gives up under load does so later. No source.
 */
const SEVERAL_PULLS = 3,
  FROM_THE_FIRST = 0.1,
  LEAST_SHARE = 0.25;
const above = ({ lambda, other }: { readonly lambda: Float64Array; readonly other: Float64Array }, i: number): number =>
  lambda[i] - other[i];

/** `excess`: by how much it is leaner in the mean; `excesses`: at each of its samples. */
interface Apart extends Span {
  readonly excess: number;
  readonly excesses: Float64Array;
}

/**
 * Spells in which the bank stays leaner than the other one or its target. A function of its own: by how much at each sample of the session
 * is known as long as it runs.
 */
const spellsApart = (
  signals: Signals,
  operating: Operating,
  targets: Targets,
  bank: 'lambda' | 'lambda-2',
  channel: Channel,
  lambda: Float64Array,
  other: Float64Array | undefined,
  leastS: number,
  apartLambda: number,
): readonly Apart[] => {
  const { timeS, recordings } = signals;
  const settled = withoutTransients(signals, operating),
    excessIn = (left: Uint8Array): Float64Array => misfireExcess(signals, targets, bank, lambda, other, apartLambda, left);
  // Most drives hold nothing for so long, whatever the foot did.
  const rough = spansOf(marksSustained(excessIn(settled), signals, leastS, apartLambda - ROUNDED_OFF), timeS, { bridgeS: MERGE_S });
  if (rough.length === 0) return [];
  const excess = excessIn(without(settled, liftOff(signals, rough)));
  const mask = marksSustained(excess, signals, leastS, apartLambda);
  // One answer of a slow log shows a moment, not how long it lasted.
  const ageS = signals.ageS(bank);
  // Air that leaks in ahead of this sensor at idle is told as such, and leaks before the engine is warm too.
  const leaks = signals.faultsOf(channel, 'implausible').some((fault) => fault.shape === 'air-leak'),
    idle = signals.during('idle');
  return (
    spansOf(mask, timeS, { bridgeS: MERGE_S, recordings, leastS })
      // A moment at the very start of a recording has no before to be held against.
      .filter(
        (span) =>
          timeS[span.to - 1] - timeS[span.from] >= LONE_S ||
          !recordings.some(({ from }) => from <= span.from && timeS[span.from] - timeS[from] < LONE_S),
      )
      .filter((span) => !(leaks && isAtIdle(span, idle)))
      .filter(({ from, to }) => {
        let first = from,
          last = to - 1;
        while (first < last && !(excess[first] > apartLambda)) first++;
        while (last > first && !(excess[last] > apartLambda)) last--;
        return timeS[last] - timeS[first] > ageS;
      })
      // A window over the limit in the mean begins before its first reading over it.
      .map((window): Span => {
        let { from, to } = window;
        while (from < to - 1 && !(excess[from] > apartLambda)) from++;
        while (to > from + 1 && !(excess[to - 1] > apartLambda)) to--;
        return { from, to };
      })
      .map((span) => ({ ...span, excess: meanOf(excess, span), excesses: excess.slice(span.from, span.to) }))
  );
};

/**
 * A spell's readings that are surely of load, in the mean: `leanBy` is how far they lie above their target, or the one assumed for want of
 * it.
 */
interface OfLoad {
  readonly lambda: number;
  readonly excess: number;
  readonly leanBy: number;
  readonly lastS: number;
}

const isFar = ({ lastS, excess }: OfLoad): boolean => lastS >= LONE_S && excess > FAR_EXCESS;
/**
 * Without a target the banks tell which is at fault where this one is so far leaner than engines are run under load, and the other reads
 * such a mixture.
 */
const isAloneLean = (read: OfLoad, richLambda: number): boolean =>
  isFar(read) && read.leanBy > CLEARLY_LAMBDA && read.lambda - read.excess >= richLambda;

const ofLoad = ({ readsLoad }: Operating, lambda: Float64Array, targets: Targets, stepS: number, { from, to, excesses }: Apart): OfLoad => {
  const { timeS } = targets;
  let sum = 0,
    lambdas = 0,
    count = 0,
    lastS = 0,
    lean = 0,
    held = 0;
  for (let i = from; i < to; i++) {
    const excess = excesses[i - from];
    if (readsLoad[i] === 0 || excess !== excess) continue;
    sum += excess;
    lambdas += lambda[i];
    count++;
    const target = targetAt(targets, i);
    if (target === target) {
      lean += lambda[i] - target;
      held++;
    }
    lastS += i + 1 < timeS.length ? Math.min(timeS[i + 1] - timeS[i], 2 * stepS) : stepS;
  }
  return { lambda: lambdas / count, excess: sum / count, leanBy: lean / held, lastS };
};

/** For most of the span. */
const isAtIdle = ({ from, to }: Span, idle: Uint8Array): boolean => 2 * marksWithin(idle, from, to) > to - from;

/**
 * Whether any reading but of air is leaner than the other bank's by more than `apartLambda`, or than its target: few are in a healthy
 * drive. Where nothing tells, it may be.
 */
const standsApart = (
  { air }: Operating,
  targets: Targets,
  lambda: Float64Array,
  other: Float64Array | undefined,
  apartLambda: number,
): boolean => {
  if (!other && !targets.known) return true;
  for (let from = endOfMarks(air, 0); from < air.length;) {
    const to = nextMark(air, from);
    if ((other ? nextApart(lambda, other, apartLambda - ROUNDED_OFF, from, to) : nextFar(targets, 0, lambda, apartLambda, from, to)) < to)
      return true;
    from = endOfMarks(air, to);
  }
  return false;
};

/** The first of `[from, to)` that is more than `limit` above the other column, or has none beside it; `to` where there is none. */
const nextApart = (values: Float64Array, other: Float64Array, limit: number, from: number, to: number): number => {
  for (let i = from; i < to; i++) if (!(values[i] - other[i] <= limit) && values[i] === values[i]) return i;
  return to;
};

/**
 * How much leaner the bank reads than the other one, or than its target; NaN where nothing is `left` of the row, and where it decides
 * nothing.
 */
const misfireExcess = (
  signals: Signals,
  targets: Targets,
  bank: 'lambda' | 'lambda-2',
  lambda: Float64Array,
  other: Float64Array | undefined,
  apartLambda: number,
  left: Uint8Array,
): Float64Array => {
  const { timeS, stepS } = signals;
  const excess = new Float64Array(lambda.length).fill(NaN);
  if (other) {
    // The banks are not read in the same instant.
    const highest = highestWithin(
      other,
      timeS,
      Math.max(signals.ageS(bank), signals.ageS(bank === 'lambda' ? 'lambda-2' : 'lambda')) + 1.5 * stepS,
    );
    // Both banks far leaner than an engine burns show air: no cylinder's doing.
    for (let i = 0; i < lambda.length; i++) if (left[i] === 1 && !(highest[i] > AIR_LAMBDA)) excess[i] = lambda[i] - highest[i];
  } else
    putOffTarget(
      targets,
      runsToJudge(targets, 0, left, timeS, lambda, apartLambda, () => false),
      left,
      lambda,
      excess,
    );
  return excess;
};

const putOffTarget = (targets: Targets, runs: readonly Span[], mask: Uint8Array, lambda: Float64Array, into: Float64Array): void => {
  for (const { from, to } of runs) for (let i = from; i < to; i++) if (mask[i] === 1) into[i] = lambda[i] - targetAt(targets, i);
};

/** In which of the spells the engine runs less evenly than before and behind. */
const turnsUneven = (signals: Signals, spells: readonly Span[]): readonly boolean[] => {
  const rpm = believed(signals, 'engine-speed');
  return spells.map((span) => {
    if (!rpm) return false;
    const now = meanAt(rpm, offLine, span),
      usual = meanAround(rpm, offLine, signals.timeS, span, 6);
    return now > 2 * usual && now - usual > 2;
  });
};

/** By how much a trim rises in each spell, percent; undefined where it is not logged. */
const trimRises = (
  signals: Signals,
  trim: 'short-term-fuel-trim' | 'short-term-fuel-trim-2',
  spells: readonly Span[],
): readonly number[] | undefined => {
  const values = signals.held(trim);
  return (
    values &&
    spells.map(
      (span) =>
        meanOf(values, { from: Math.floor((span.from + span.to) / 2), to: span.to }) - meanAround(values, reading, signals.timeS, span, 3),
    )
  );
};

/** In which of the spells the pressure over the injector is lower than before and behind. */
const isStarved = (signals: Signals, spells: readonly Span[]): readonly boolean[] => {
  const rail = believed(signals, 'fuel-pressure'),
    manifold = believed(signals, 'manifold-pressure'),
    { kPa } = signals.barometer;
  return spells.map((span) => {
    if (!rail || !manifold) return false;
    const both = { rail, manifold, kPa };
    return meanAt(both, overInjector, span) < 0.95 * meanAround(both, overInjector, signals.timeS, span, 4);
  });
};

/** Greatest number within `withinS` on both sides of each sample; NaN of none. */
const highestWithin = (values: Float64Array, timeS: Float64Array, withinS: number): Float64Array => {
  let from = 0,
    to = 0;
  return values.map((_, i) => {
    while (timeS[i] - timeS[from] > withinS) from++;
    while (to < values.length && timeS[to] - timeS[i] <= withinS) to++;
    return extremes(values, from, to)[1];
  });
};

/** Median of how far values lie off their neighbours' line within so many seconds before a span and behind it. */
const medianAround = (values: Float64Array, timeS: Float64Array, { from, to }: Span, seconds: number): number => {
  let first = from,
    last = to;
  while (first > 0 && timeS[from] - timeS[first - 1] < seconds) first--;
  while (last < values.length && timeS[last] - timeS[to - 1] < seconds) last++;
  const around = new Float64Array(from - first + last - to);
  around.set(offLineIn(values, first, from));
  around.set(offLineIn(values, to, last), from - first);
  return median(around);
};

// What is asked of a sample, of the columns that it is asked of: functions that outlive a session.

const reading = (values: Float64Array, i: number): number => values[i];
const offTarget = ({ lambda, targets }: { readonly lambda: Float64Array; readonly targets: Targets }, i: number): number =>
  lambda[i] - targetAt(targets, i);
const overInjector = (
  { rail, manifold, kPa }: { readonly rail: Float64Array; readonly manifold: Float64Array; readonly kPa: number },
  i: number,
): number => rail[i] + kPa - manifold[i];

const meanOf = (values: Float64Array, span: Span): number => meanAt(values, reading, span);

/** Mean of the numbers in the span; NaN of none. */
const meanAt = <Of>(of: Of, valueAt: (of: Of, i: number) => number, span: Span): number => {
  let sum = 0,
    count = 0;
  for (let i = span.from; i < span.to; i++) {
    const value = valueAt(of, i);
    if (value === value) {
      sum += value;
      count++;
    }
  }
  return count > 0 ? sum / count : NaN;
};

/** Mean of the numbers within so many seconds before a span and behind it; NaN of two or fewer. */
const meanAround = <Of>(of: Of, valueAt: (of: Of, i: number) => number, timeS: Float64Array, span: Span, seconds: number): number => {
  let sum = 0,
    count = 0;
  for (let i = span.from - 1; i >= 0 && timeS[span.from] - timeS[i] < seconds; i--) {
    const value = valueAt(of, i);
    if (value === value) {
      sum += value;
      count++;
    }
  }
  for (let i = span.to; i < timeS.length && timeS[i] - timeS[span.to - 1] < seconds; i++) {
    const value = valueAt(of, i);
    if (value === value) {
      sum += value;
      count++;
    }
  }
  return count > 2 ? sum / count : NaN;
};

/** How far a value lies off the line between its neighbours; NaN where it has not both. */
const offLine = (values: Float64Array, i: number): number =>
  i > 0 && i + 1 < values.length ? Math.abs(values[i] - (values[i - 1] + values[i + 1]) / 2) : NaN;
const offLineIn = (values: Float64Array, from: number, to: number): Float64Array => {
  const off = new Float64Array(to - from);
  for (let k = 0; k < off.length; k++) off[k] = offLine(values, from + k);
  return off;
};

const isAbrupt = (lambda: Float64Array, timeS: Float64Array, span: Span): boolean => {
  const base = lambda[Math.max(0, span.from - 1)];
  let peak = -Infinity;
  for (let i = span.from; i < span.to; i++) if (lambda[i] > peak) peak = lambda[i];
  for (let i = span.from; i < span.to && timeS[i] - timeS[span.from] <= 0.3; i++) if (lambda[i] - base > 0.7 * (peak - base)) return true;
  return false;
};
