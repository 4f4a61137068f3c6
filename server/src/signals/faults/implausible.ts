// Readings that no engine has: values outside any range for long, and whole columns that fit another unit than their header says.

import { limitOf } from '../../formats/limits.js';
import { isOfHead } from '../../formats/session/headTemperature.js';
import { believableIn, plausibleOf } from '../../formats/plausible.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { UNITS, type Unit } from '../../quantities/units.js';
import type { Track } from '../columns/hold.js';
import type { Readings } from '../readings.js';
import type { EventKind, Fault } from '../signals.js';
import { above, below, keep, mark } from '../columns/marks.js';
import { endOfMarks, nextMark, spansOf, widened, without } from '../columns/spans.js';
import { standingMask } from '../drive/standing.js';
import { TRIM_BANKS } from '../mixture/trims.js';
import { BLOCK_ROWS, endOfOutside, extremes, median, numbersOf, placeIn, quantileOf, sampleOf } from '../columns/statistics.js';
import { tensOfRpm } from './tensOfRpm.js';
import { afrScaleOf } from './afrScale.js';
import { burntCutOf } from './burntCut.js';
import { copiedTargetOf } from './copiedTarget.js';
import { noMixtureOf } from './noMixture.js';
import { risesWithFuelOf } from './risesWithFuel.js';
import { turnedThrottleOf } from './turnedThrottle.js';
import { whileRunning } from './whileRunning.js';

const LEAST_READINGS = 20;
/** A column is judged by its unit only when this share of it is what it is. */
const PSI_KPA = 6.894757,
  INHG_KPA = 3.386389;

/** A unit the numbers may be in after all: canonical value = shown × factor + offset. */
interface Guess {
  readonly unit: string;
  readonly factor: number;
  readonly offset?: number;
}

/** The whole channel as one fault, where its numbers do not fit its unit; undefined where they do. */
export const wrongUnitOf = (readings: Readings, track: Track): Fault | undefined => {
  const { channel, count, values } = track;
  const { quantity } = channel;
  if (quantity === undefined || count < LEAST_READINGS) return undefined;
  const scale =
    copiedTargetOf(readings, channel) ??
    risesWithFuelOf(readings, track) ??
    burntCutOf(readings, channel) ??
    turnedThrottleOf(readings, channel) ??
    afrScaleOf(readings, track);
  if (scale) return scale;
  const guess = GUESSERS[quantity]?.(readings, track);
  // The header says so already: then it is something else that is wrong.
  if (!guess || guess.unit === channel.unit?.symbol) return noMixtureOf(readings, track);
  const sample = sampleOf(values.subarray(0, count));
  return {
    kind: 'implausible',
    channel,
    shape: 'unit',
    value: quantileOf(sample, 0.5),
    from: 0,
    to: readings.timeS.length,
    data: {
      looksLike: guess.unit,
      factor: guess.factor,
      offset: guess.offset ?? 0,
      low: quantileOf(sample, 0.005),
      high: quantileOf(sample, 0.995),
    },
  };
};

/** Values outside the quantity's plausible range that last too long for a dropout. */
export const outOfRangeOf = (readings: Readings, track: Track, leastS: number): Fault[] => {
  const { channel, rows, values, count } = track;
  const { quantity } = channel;
  if (quantity === undefined || quantity === 'time' || quantity === 'trouble-code' || count < 3) return [];
  const { timeS } = readings;
  // A target that was asked for and never answered reads 0 throughout: stuck.ts tells it.
  const { least, greatest } = track;
  if (quantity === 'target-lambda' && least === greatest) return [];
  // Some loggers write retard as a negative number.
  if (quantity === 'knock-retard' && greatest <= 0) return [];
  const { low, high: top } = believableIn(channel, least, readings.vehicle),
    { high, from: rangeFrom } = plausibleOf(quantity, readings.vehicle);
  const found: Fault[] = [];
  if (least >= low && greatest <= top) return found;
  for (let from = 0; from < count;) {
    const end = Math.min(count, from + BLOCK_ROWS),
      a = nextLasting(values, rows, count, timeS, from, end, low, top, leastS);
    from = a;
    if (a >= end) continue;
    const b = (from = endOfOutside(values, a + 1, count, low, top)),
      [least, greatest] = extremes(values, a, b);
    found.push({
      kind: 'implausible',
      channel,
      shape: 'range',
      value: values[a] < low ? least : greatest,
      from: rows[a],
      to: rows[b - 1] + 1,
      data: { low, high, rangeFrom, constant: least === greatest ? 1 : 0, startsLog: a === 0 ? 1 : 0 },
    });
  }
  return found;
};

/**
 * The first reading of a spell outside of the range that begins in [from, end) and lasts longer than `leastS`, or a second at the beginning
 * or the end of the log; else the reading to go on at, `end` or behind it.
 */
const nextLasting = (
  values: Float64Array,
  rows: Int32Array,
  count: number,
  timeS: Float64Array,
  from: number,
  end: number,
  low: number,
  top: number,
  leastS: number,
): number => {
  let a = from;
  while (a < end) {
    if (!(values[a] < low || values[a] > top)) {
      a++;
      continue;
    }
    let b = a + 1;
    while (b < count && (values[b] < low || values[b] > top)) b++;
    const spanS = timeS[rows[b - 1]] - timeS[rows[a]];
    if (spanS > leastS || ((a === 0 || b === count) && spanS > 1)) return a;
    a = b;
  }
  return a;
};

type Guesser = (readings: Readings, track: Track) => Guess | undefined;

/** What a manifold pressure may be written in, the likeliest first. */
const PRESSURE_UNITS: readonly Unit[] = [
  UNITS.psi,
  UNITS.bar,
  UNITS.inHg,
  UNITS.mbar,
  UNITS.Pa,
  UNITS['kPa-gauge'],
  UNITS['psi-gauge'],
  UNITS['bar-gauge'],
  UNITS.kPa,
];

/** Manifold pressure: what it shows with the engine off, closed and open must be what air does, in one unit or another. */
const pressureGuess: Guesser = (readings, track) => {
  const quantity = track.channel.quantity!;
  const all = readings.held(quantity)!;
  const rpm = readings.held('engine-speed'),
    throttle = readings.held('throttle'),
    load = readings.held('engine-load');
  const barometer = readings.channel('barometric-pressure') ? median(readings.held('barometric-pressure')!) : NaN;
  const airKPa = barometer > 55 && barometer < 108.5 ? barometer : 101.325;
  const stands = rpm && standingMask(rpm, readings.timeS),
    standing = stands?.includes(1) ? median(numbersOf(all, 0, all.length, stands)) : NaN;
  const sample = whileRunning(readings, quantity)!;
  if (sample.length < LEAST_READINGS) return undefined;
  const low = quantileOf(sample, 0.03),
    high = quantileOf(sample, 0.997);
  const opened = sampleOf(throttle ?? load ?? new Float64Array(0)),
    wide = quantileOf(opened, 0.997) > 60;
  // From a closed throttle to a wide one a manifold fills by a quarter of an atmosphere and more (idle 25 to 65 kPa; common practice, no
  // source).
  const leastRiseKPa = wide && quantileOf(opened, 0.03) < 20 ? 0.25 * airKPa : 0;
  const fits = (factor: number, offset: number): boolean => {
    const lowKPa = low * factor + offset,
      highKPa = high * factor + offset,
      standingKPa = standing * factor + offset;
    return (
      lowKPa >= 9 &&
      lowKPa < 0.97 * airKPa &&
      highKPa < 460 &&
      highKPa > (wide ? 0.62 * airKPa : 0.24 * airKPa) &&
      highKPa - lowKPa > leastRiseKPa &&
      !(Math.abs(standingKPa - airKPa) > 0.12 * airKPa)
    );
  };
  // Wide open a manifold holds the air's pressure: then a deep vacuum on a closed throttle is no other unit, but of an engine of three bars.
  const endsAtAir =
    wide &&
    low > 0 &&
    high - low > 0.25 * airKPa &&
    Math.abs(high - airKPa) < 0.1 * airKPa &&
    !(Math.abs(standing - airKPa) > 0.12 * airKPa) &&
    !((readings.vehicle.engine.maxManifoldPressureKPa ?? 0) > 2 * airKPa);
  if (fits(1, 0) || endsAtAir) return undefined;
  // It is the number as written that may be in another unit: the header's conversion is taken back first.
  const headers: Unit = track.channel.unit ?? UNITS.kPa;
  const isGauge = headers.reference === 'gauge' || headers.reference === 'vacuum';
  const headersFactor = (headers.factor ?? 1) * (headers.reference === 'vacuum' ? -1 : 1);
  const family = (unit: Unit): boolean => unit.factor === headers.factor;
  const guesses = [...PRESSURE_UNITS.filter(family), ...PRESSURE_UNITS.filter((unit) => !family(unit))]
    .filter((unit) => !family(unit) || (unit.reference === 'gauge') !== isGauge)
    .map((unit): Guess => {
      const factor = (unit.factor ?? 1) / headersFactor;
      return { unit: unit.symbol, factor, offset: (unit.reference === 'gauge' ? airKPa : 0) - (isGauge ? airKPa : 0) * factor };
    });
  return guesses.find(({ factor, offset = 0 }) => fits(factor, offset));
};

const NONE = new Float64Array(0);

/** First scale that brings the column's `share` point into a band it is surely in. */
const intoBand =
  (share: number, low: number, high: number, guesses: readonly Guess[], badBelow = -Infinity, badAbove = Infinity): Guesser =>
  (readings, track) => {
    const { quantity } = track.channel;
    // A second column of a quantity is judged by its own numbers.
    let sample = readings.channel(quantity!) === track.channel ? whileRunning(readings, quantity!)! : NONE;
    if (sample.length < LEAST_READINGS) sample = sampleOf(track.values.subarray(0, track.count));
    const at = quantileOf(sample, share);
    if (at >= badBelow && at <= badAbove) return undefined;
    return guesses.find(({ factor, offset = 0 }) => at * factor + offset >= low && at * factor + offset <= high);
  };

const fahrenheit: Guess = { unit: '°F', factor: 5 / 9, offset: -160 / 9 };
const kelvin: Guess = { unit: 'K', factor: 1, offset: -273.15 };

/** A warm engine's coolant holds 75 to 110 °C; at 150 or more the numbers are another scale's. */
const coolantGuess = intoBand(0.9, 40, 130, [fahrenheit, kelvin], -Infinity, 140);

/** A head that air cools: at 250 in whatever unit it is no °C. */
const headGuess = intoBand(0.9, 40, 230, [fahrenheit, kelvin], -Infinity, 250);

/** Air that starts as the coolant does in the cold, or never gets below 55 while the coolant is not hot, is read in Fahrenheit. */
const airGuess: Guesser = (readings, track) => {
  const sample = sampleOf(track.values.subarray(0, track.count));
  const low = quantileOf(sample, 0.02),
    high = quantileOf(sample, 0.98);
  if (low > 200) return kelvin;
  return low > 62 && high < 200 && (low - 32) / 1.8 < 60 && high > low + 3 && low > 75 ? fahrenheit : undefined;
};

const fractionOf = (readings: Readings, track: Track): Guess | undefined => {
  const sample = sampleOf(track.values.subarray(0, track.count));
  const low = quantileOf(sample, 0.005),
    high = quantileOf(sample, 0.998);
  if (!(low >= -0.05 && high <= 1.1 && high - low > 0.08)) return undefined;
  const rpm = sampleOf(readings.held('engine-speed') ?? new Float64Array(0));
  return quantileOf(rpm, 0.98) - quantileOf(rpm, 0.2) > 700 ? { unit: 'a fraction of 1', factor: 100 } : undefined;
};

/**
 * Trims about 1 or about 100: a factor on the fuel, or per cent of all of it. In per cent of what is added a short-term trim swings about
 * nought, and stands there in open loop.
 */
const trimGuess =
  (short: QuantityId): Guesser =>
  (readings, track) => {
    const swings = track.channel.quantity === short,
      channel = readings.channel(short);
    // A long-term trim may stand near 1 % for long: the short-term one tells the scale of both.
    // By itself it shows that it stands about 100: nobody adds as much.
    const alone = !swings && !channel,
      swinging = swings || !channel ? track : readings.track(channel);
    const sample = sampleOf(swinging.values.subarray(0, swinging.count)),
      low = quantileOf(sample, 0.005),
      high = quantileOf(sample, 0.995),
      rpm = sampleOf(readings.held('engine-speed') ?? new Float64Array(0));
    const whole = (alone ? [100] : [1, 100]).find(
      (one) =>
        low > 0.6 * one &&
        high < 1.5 * one &&
        (alone || (low < 1.02 * one && high > 0.98 * one)) &&
        // A loop that has nothing to do swings little; a header that says per cent is believed then.
        (high - low > 0.02 * one || one > 1 || swinging.channel.unitFrom === 'assumed'),
    );
    if (!whole || !(quantileOf(rpm, 0.98) - quantileOf(rpm, 0.2) > 700)) return undefined;
    // What was not answered at first reads 0.
    const answered = track.values.subarray(0, track.count).filter((value) => value !== 0),
      [least, greatest] = extremes(answered);
    return answered.length > ANSWERED_SHARE * track.count && least > 0.5 * whole && greatest < 1.6 * whole
      ? { unit: whole === 1 ? 'a factor on the fuel' : 'per cent of all fuel', factor: 100 / whole, offset: -100 }
      : undefined;
  };

/** Of a trim's readings, where its scale is to be told: of a loop that is open now and then more of them are nought. */
const ANSWERED_SHARE = 0.99;

const lambdaGuess: Guesser = (_readings, track) => {
  const { unit } = track.channel;
  const sample = sampleOf(track.values.subarray(0, track.count));
  const middle = quantileOf(sample, 0.5);
  // A drive that is mostly fuel cut shows a lambda sensor's lean end most: its burning moments tell the scale.
  if (middle > 5.5 && middle < 25 && quantileOf(sample, 0.05) > 2.5) return { unit: 'AFR', factor: 1 / 14.7 };
  // A lambda number under an AFR header is divided once too often.
  if (unit?.id === 'afr' && middle > 0.03 && middle < 0.13) return { unit: 'λ', factor: 14.7 };
  return undefined;
};

/**
 * Air that gets in ahead of the sensor (or unmetered at idle): warm idle reads lean nearly throughout while the same sensor under
 * load and at cruise agrees with the target. One fault over each idle spell.
 */
export const airLeakAtIdle = (
  readings: Readings,
  track: Track,
  during: (kind: EventKind) => Uint8Array,
  taken: Uint8Array,
  target: Float64Array | undefined,
): Fault[] => {
  const { channel } = track;
  const { timeS } = readings;
  const idle = during('idle'),
    pressure = readings.clean('manifold-pressure');
  if (!pressure || !target || !idle.includes(1)) return [];
  const warmUp = during('warm-up'),
    air = widened(during('overrun'), timeS, 0, 2.5),
    airKPa = readings.barometer.kPa;
  const perReadingS = Math.max(track.spacingS, 1e-3),
    isLong = (readings: Float64Array): boolean => readings.length * perReadingS >= LEAST_IDLE_S;
  const leak = offTarget(track, target, withoutFirst(without(idle, warmUp, taken, air), idle)),
    middle = median(leak),
    leakLambda = limitOf('airLeakIdleLambda', readings.vehicle.limits).value;
  // Most engines idle at their target: what they read elsewhere need not be known.
  if (!(isLong(leak) && middle > leakLambda && quantileOf(sampleOf(leak), 0.2) > 0.6 * leakLambda)) return [];
  const open = keep(mark(pressure, above(55)), pressure, below(0.97 * airKPa)),
    elsewhere = offTarget(track, target, without(open, idle, warmUp, taken, air)),
    rest = median(elsewhere);
  if (!(
    isLong(elsewhere) &&
    Math.abs(rest) < limitOf('airLeakElsewhereLambda', readings.vehicle.limits).value &&
    middle - rest > 0.8 * leakLambda
  ))
    return [];
  const spans = spansOf(without(idle, warmUp), timeS, { recordings: readings.recordings, leastS: 2 });
  return spans.map((span): Fault => ({
    kind: 'implausible',
    channel,
    shape: 'air-leak',
    value: middle,
    ...span,
    data: { atIdle: middle, elsewhere: rest },
  }));
};

/** The mask without the first row of each spell: its reading is still of what was before; that of the log is not. */
const withoutFirst = (mask: Uint8Array, spells: Uint8Array): Uint8Array => {
  for (let from = nextMark(spells, 1); from < spells.length; from = nextMark(spells, endOfMarks(spells, from)))
    if (spells[from - 1] !== 1) mask[from] = 0;
  return mask;
};

/** How far the readings of marked rows lie off their target. */
const offTarget = ({ rows, values, count }: Track, target: Float64Array, mask: Uint8Array): Float64Array => {
  const off: number[] = [];
  for (let from = nextMark(mask, 0); from < mask.length;) {
    const to = endOfMarks(mask, from);
    for (let k = placeIn(rows, from, count); k < count && rows[k] < to; k++) off.push(values[k] - aimOf(target[rows[k]]));
    from = nextMark(mask, to);
  }
  return Float64Array.from(off);
};

const aimOf = (target: number): number => (target > 0.6 && target < 1.3 ? target : 1);

/** Idle, and driving, that must be in the log before they are compared, seconds. */
const LEAST_IDLE_S = 6;

const fuelPressureGuess: Guesser = (readings, track) => {
  const middle = quantileOf(whileRunning(readings, 'fuel-pressure') ?? sampleOf(track.values), 0.5);
  const rated = readings.vehicle.injectors.ratedPressureKPa;
  const fits = (kPa: number): boolean => (rated ? kPa > 0.6 * rated && kPa < 2 * rated : kPa > 180 && kPa < 700);
  if (!(middle > 1) || middle > 110 || fits(middle)) return undefined;
  return [
    { unit: 'psi', factor: PSI_KPA },
    { unit: 'bar', factor: 100 },
  ].find(({ factor }) => fits(middle * factor));
};

const speedGuess = intoBand(
  0.6,
  500,
  12000,
  [
    { unit: 'krpm', factor: 1000 },
    { unit: 'Hz', factor: 60 },
    { unit: 'rpm', factor: 1e-3 },
  ],
  400,
  18000,
);

const GUESSERS: Readonly<Partial<Record<QuantityId, Guesser>>> = {
  'manifold-pressure': pressureGuess,
  'barometric-pressure': intoBand(
    0.5,
    60,
    108.5,
    [
      { unit: 'psi', factor: PSI_KPA },
      { unit: 'inHg', factor: INHG_KPA },
      { unit: 'bar', factor: 100 },
      { unit: 'mbar', factor: 0.1 },
      { unit: 'Pa', factor: 0.001 },
    ],
    55,
    108.5,
  ),
  'coolant-temperature': (readings, track) => (isOfHead(track.channel) ? headGuess : coolantGuess)(readings, track),
  'oil-temperature': intoBand(0.9, 40, 150, [fahrenheit, kelvin], -Infinity, 175),
  'intake-air-temperature': airGuess,
  throttle: fractionOf,
  pedal: fractionOf,
  'engine-load': fractionOf,
  'injector-duty': fractionOf,
  lambda: lambdaGuess,
  'lambda-2': lambdaGuess,
  'engine-speed': (readings, track) => speedGuess(readings, track) ?? tensOfRpm(readings, track),
  'battery-voltage': intoBand(
    0.5,
    10,
    16,
    [
      { unit: 'mV', factor: 1e-3 },
      { unit: 'V', factor: 1e3 },
    ],
    5,
    20,
  ),
  'injector-pulse-width': intoBand(
    0.5,
    0.8,
    25,
    [
      { unit: 'µs', factor: 1e-3 },
      { unit: 's', factor: 1e3 },
    ],
    0.2,
    45,
  ),
  'fuel-pressure': fuelPressureGuess,
  ...Object.fromEntries(
    TRIM_BANKS.flatMap(({ short, long }) => [
      [short, trimGuess(short)],
      [long, trimGuess(short)],
    ]),
  ),
};
