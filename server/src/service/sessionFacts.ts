// What a report says of one session beside its findings: its peaks, its trouble codes, and each pull with numbers and curves. Plain data,
// asked of the thread that reads the session.

import { isOfCylinder } from '../formats/session/channelNames.js';
import { isOfHead } from '../formats/session/headTemperature.js';
import type { Table } from '../formats/table/table.js';
import type { MisfireSpell } from '../signals/mixture/misfire.js';
import { mixtureOf, type MixtureSpell } from '../findings/mixture.js';
import { lastingS } from '../findings/spell.js';
import { dutyOf } from '../signals/distress.js';
import { checkFirstOf, troubleCodeOf } from '../findings/troubleCodes.js';
import { QUANTITIES, type QuantityId } from '../quantities/quantity.js';
import { believed, operatingOf } from '../signals/drive/operating.js';
import { decimate, POINTS_PER_BUCKET, pyramidOf } from '../signals/columns/pyramid.js';
import type { Pull, Signals, Span } from '../signals/signals.js';
import { extremes } from '../signals/columns/statistics.js';
import { worstOf } from '../signals/columns/worstOf.js';
import { pullFacts, type PullFacts } from './editor/pullFacts.js';

/** A curve over a pull: seconds from its start, in canonical units; NaN breaks it. */
export interface PullCurves {
  readonly timeS: readonly number[];
  readonly rpm: readonly number[];
  readonly lambda?: readonly number[];
  readonly lambda2?: readonly number[];
  readonly target?: readonly number[];
  readonly pressureKPa?: readonly number[];
  readonly sparkDeg?: readonly number[];
}

/** `target` is NaN where a reading is too rich whatever was asked for. */
export interface PullSpell {
  readonly lambda: number;
  readonly target: number;
  readonly lastsS: number;
}

/** `lastsS`: so long of it within the pull; `dead`: told as an error. */
export interface PullMiss extends Pick<MisfireSpell, 'lambda' | 'reference' | 'referenceIs' | 'dead'> {
  readonly lastsS: number;
}

export interface PullReport {
  /** From 1, as the outline counts them. */
  readonly number: number;
  readonly pull: Pull;
  readonly fromS: number;
  readonly toS: number;
  readonly worstS?: number;
  /** Line of the worst reading, from 0. */
  readonly worstLine?: number;
  /** As the findings tell it: lean or rich under load in this pull, the worst spell of either. */
  readonly lean: 'error' | 'warning' | undefined;
  readonly leanSpell?: PullSpell;
  readonly richSpell?: PullSpell;
  /** A cylinder that seems to miss in this pull: no lean spell, the bank's reading is of its air. */
  readonly missSpell?: PullMiss;
  readonly curves: PullCurves;
  readonly facts: PullFacts;
}

/** Peaks over a whole session, of believed readings; undefined where nothing tells. */
export interface Peaks {
  readonly dutyPercent?: number;
  readonly fuelPressureDropPercent?: number;
  readonly knockRetardDeg?: number;
  readonly intakeAirC?: number;
  readonly coolantC?: number;
  readonly oilC?: number;
  readonly rpm?: number;
  readonly manifoldPressureKPa?: number;
}

export interface SessionFacts {
  readonly notes: readonly (readonly [key: string, value: string])[];
  readonly startIso?: string;
  readonly samples: number;
  readonly durationS: number;
  readonly channels: number;
  /** Quantities that matter and are not logged, in words. */
  readonly notLogged: readonly string[];
  readonly ignored: readonly string[];
  readonly pulls: readonly PullReport[];
  readonly peaks: Peaks;
  readonly codes: readonly { readonly code: string; readonly state?: string; readonly says: string; readonly checkFirst: string }[];
}

/** What a tuner wants in a log of a tuned engine; told where it is not there. */
const WANTED: readonly QuantityId[] = [
  'engine-speed',
  'manifold-pressure',
  'lambda',
  'throttle',
  'ignition-advance',
  'knock-retard',
  'injector-duty',
  'fuel-pressure',
  'intake-air-temperature',
  'coolant-temperature',
  'oil-temperature',
  'oil-pressure',
  'vehicle-speed',
];

export function sessionFacts(signals: Signals, fuelTable: Table | undefined): SessionFacts {
  const { session, timeS } = signals;
  const notLogged = WANTED.filter(
    (quantity) => !signals.channel(quantity) && !(quantity === 'injector-duty' && signals.channel('injector-pulse-width')),
  ).map((quantity) => QUANTITIES[quantity].title);
  if (!signals.targetLambda) notLogged.push('target lambda (neither logged nor in a target table)');
  const pulls = signals.pulls.map((pull, index) => pullReport(signals, pull, index + 1, fuelTable));
  return {
    notes: [...session.metadata],
    ...(session.time.startIso === undefined ? {} : { startIso: session.time.startIso }),
    samples: session.samples,
    durationS: session.samples > 1 ? timeS[session.samples - 1] - timeS[0] : 0,
    channels: session.channels.length,
    notLogged,
    ignored: session.ignored,
    pulls,
    peaks: peaksOf(signals, pulls),
    codes: codesOf(signals),
  };
}

function pullReport(signals: Signals, read: Pull, number: number, fuelTable: Table | undefined): PullReport {
  const { timeS, session } = signals,
    { lean, rich, misfire } = mixtureOf(signals);
  const isWithin = ({ from, to }: Span): boolean => from < read.to && read.from < to;
  const within = (spells: readonly MixtureSpell[]): MixtureSpell[] =>
    spells.filter(isWithin).sort((a, b) => Number(b.error) - Number(a.error) || b.byLambda - a.byLambda);
  const told = ({ lambda, target, ...spell }: MixtureSpell): PullSpell => ({ lambda, target, lastsS: lastingS(signals, spell) });
  const [leanest] = within(lean);
  // What a second gauge or one cylinder's alone sees is the pull's worst, as it is told.
  const pull =
      leanest && (leanest.notBy || isOfCylinder(leanest.channel))
        ? { ...read, worstLambda: leanest.lambda, worstTargetLambda: leanest.target, worstAt: leanest.worstAt }
        : read,
    { worstAt } = pull,
    [richest] = within(rich),
    [missed] = misfire
      .filter(isWithin)
      .map((spell) => missIn(signals, read, spell))
      .sort((a, b) => Number(b.dead) - Number(a.dead) || b.lastsS - a.lastsS);
  return {
    number,
    pull,
    fromS: timeS[pull.from],
    toS: timeS[pull.to - 1],
    ...(worstAt === undefined ? {} : { worstS: timeS[worstAt], worstLine: session.places.lineOf(worstAt) }),
    lean: leanest && (leanest.error ? 'error' : 'warning'),
    ...(leanest ? { leanSpell: told(leanest) } : {}),
    ...(richest ? { richSpell: told(richest) } : {}),
    ...(missed ? { missSpell: missed } : {}),
    curves: curvesOf(signals, pull),
    facts: pullFacts(signals, pull, fuelTable),
  };
}

/**
 * What of a misfire lies in the pull: means of the readings that were surely fuelled under load; of the whole spell where there is none.
 */
function missIn(signals: Signals, pull: Pull, spell: MisfireSpell): PullMiss {
  const from = Math.max(spell.from, pull.from),
    to = Math.min(spell.to, pull.to),
    { readsLoad } = operatingOf(signals);
  const mean = (values: Float64Array | undefined): number => {
    let sum = 0,
      count = 0;
    for (let i = from; values && i < to; i++)
      if (readsLoad[i] === 1 && values[i] === values[i]) {
        sum += values[i];
        count++;
      }
    return sum / count;
  };
  const { referenceIs, dead } = spell,
    own = mean(believed(signals, spell.channel.quantity!));
  const other = mean(
    referenceIs === 'target'
      ? signals.targetLambda?.values
      : believed(signals, spell.channel.quantity === 'lambda' ? 'lambda-2' : 'lambda'),
  );
  const isKnown = !Number.isNaN(own + other);
  return {
    lambda: isKnown ? own : spell.lambda,
    reference: isKnown ? other : spell.reference,
    referenceIs,
    dead,
    lastsS: lastingS(signals, { from, to }),
  };
}

/** Lambda comes late: so much behind the pull is drawn as well. */
const BEHIND_S = 0.3;
const MOST_POINTS = 160;

/** Believed readings alone; a long pull is drawn by the lowest and highest of each stretch. */
function curvesOf(signals: Signals, { from, to }: Pull): PullCurves {
  const { timeS } = signals;
  let end = to;
  while (end < timeS.length && timeS[end] - timeS[to - 1] <= BEHIND_S) end++;
  const count = end - from,
    buckets = Math.floor(MOST_POINTS / POINTS_PER_BUCKET);
  const edges = count > MOST_POINTS ? Int32Array.from({ length: buckets + 1 }, (_, k) => Math.round((k * count) / buckets)) : undefined;
  const thinned = (values: Float64Array): number[] => Array.from(edges ? decimate(pyramidOf(values), edges) : values);
  const column = (values: Float64Array | undefined): number[] | undefined => {
    const part = values?.subarray(from, end);
    return part?.some((value) => value === value) ? thinned(part) : undefined;
  };
  const seconds = timeS.slice(from, end).map((value) => value - timeS[from]);
  const spread =
    edges &&
    Float64Array.from({ length: buckets * POINTS_PER_BUCKET }, (_, k) => {
      const bucket = Math.floor(k / POINTS_PER_BUCKET);
      return (
        seconds[edges[bucket]] +
        ((seconds[edges[bucket + 1] - 1] - seconds[edges[bucket]]) * (k % POINTS_PER_BUCKET)) / (POINTS_PER_BUCKET - 1)
      );
    });
  const lambda = column(believed(signals, 'lambda')),
    lambda2 = column(believed(signals, 'lambda-2')),
    target = column(signals.targetLambda?.values);
  const pressureKPa = column(believed(signals, 'manifold-pressure')),
    sparkDeg = column(believed(signals, 'ignition-advance'));
  return {
    timeS: Array.from(spread ?? seconds),
    rpm: column(believed(signals, 'engine-speed')) ?? [],
    ...(lambda && { lambda }),
    ...(lambda2 && { lambda2 }),
    ...(target && { target }),
    ...(pressureKPa && { pressureKPa }),
    ...(sparkDeg && { sparkDeg }),
  };
}

function peaksOf(signals: Signals, pulls: readonly PullReport[]): Peaks {
  const highest = (values: Float64Array | undefined): number | undefined => {
    const high = values ? extremes(values)[1] : NaN;
    return Number.isFinite(high) ? high : undefined;
  };
  const inPulls = (quantity: QuantityId): number | undefined => {
    const values = believed(signals, quantity);
    return values && highest(Float64Array.from(signals.pulls, ({ from, to }) => extremes(values, from, to)[1]).filter(Number.isFinite));
  };
  const of = (quantity: QuantityId): number | undefined => highest(believed(signals, quantity));
  const drops = pulls.flatMap(({ pull }) => pull.fuelPressureDropPercent ?? []);
  const coolant = signals.channel('coolant-temperature');
  const all: Record<keyof Peaks, number | undefined> = {
    dutyPercent: highest(dutyOf(signals)?.values),
    fuelPressureDropPercent: drops.length > 0 ? Math.max(...drops) : undefined,
    knockRetardDeg: highest(worstOf(signals, 'knock-retard')?.values),
    intakeAirC: inPulls('intake-air-temperature'),
    coolantC: coolant && !isOfHead(coolant) ? of('coolant-temperature') : undefined,
    oilC: of('oil-temperature'),
    rpm: of('engine-speed'),
    manifoldPressureKPa: of('manifold-pressure'),
  };
  return Object.fromEntries(Object.entries(all).filter(([, value]) => value !== undefined));
}

function codesOf({ session }: Signals): SessionFacts['codes'] {
  const seen = new Set<string>();
  return session.codes.flatMap(({ text, state }) => {
    const code = troubleCodeOf(text);
    const key = `${code?.code ?? text} ${state ?? ''}`;
    if (seen.has(key)) return [];
    seen.add(key);
    return [
      {
        code: code?.code ?? text,
        ...(state ? { state } : {}),
        says: code
          ? (code.says ??
            `${code.area}; ${code.definedBy === 'manufacturer' ? "the maker's own code, see the maker's documents" : 'a standard code'}`)
          : 'not a trouble code as SAE J2012 writes them',
        checkFirst: code ? checkFirstOf(code) : '',
      },
    ];
  });
}
