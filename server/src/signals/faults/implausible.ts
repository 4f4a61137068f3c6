// Readings that no engine has: values outside any range for long, and whole columns that fit another unit than their header says.

import { limitOf } from '../../formats/limits.js';
import { believableOf, plausibleOf } from '../../formats/plausible.js';
import { fuelOf, GASOLINE_SCALE_AFR } from '../../quantities/fuels.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { UNITS, type Unit } from '../../quantities/units.js';
import { vehicleFuel } from '../../formats/vehicleFuel.js';
import type { Track } from '../hold.js';
import { above, mark } from '../marks.js';
import { loadMask } from '../opening.js';
import type { Readings } from '../readings.js';
import type { EventKind, Fault } from '../signals.js';
import { spansOf, widened, without } from '../spans.js';
import { standingMask } from '../standing.js';
import { BLOCK_ROWS, endOfOutside, extremes, median, numbersOf, quantileOf, sampleBy, sampleOf } from '../statistics.js';

const LEAST_READINGS = 20;
/** A fuel whose ratio lies nearer to gasoline's than this cannot be told from it by a swapped scale (ln of the ratio). */
export const LEAST_SCALE_GAP = 0.12;
/** A column is judged by its unit only when this share of it is what it is. */
const PSI_KPA = 6.894757, INHG_KPA = 3.386389;

/** A unit the numbers may be in after all: canonical value = shown × factor + offset. */
interface Guess { readonly unit: string; readonly factor: number; readonly offset?: number }

/** The whole channel as one fault, where its numbers do not fit its unit; undefined where they do. */
export const wrongUnitOf = (readings: Readings, track: Track): Fault | undefined => {
  const { channel, count, values } = track;
  const { quantity } = channel;
  if (quantity === undefined || count < LEAST_READINGS) return undefined;
  const scale = afrScaleOf(readings, track);
  if (scale) return scale;
  const guess = GUESSERS[quantity]?.(readings, track);
  // The header says so already: then it is something else that is wrong.
  if (!guess || guess.unit === channel.unit?.symbol) return undefined;
  const sample = sampleOf(values.subarray(0, count));
  return {
    kind: 'implausible', channel, shape: 'unit', value: quantileOf(sample, 0.5), from: 0, to: readings.timeS.length,
    data: { looksLike: guess.unit, factor: guess.factor, offset: guess.offset ?? 0, low: quantileOf(sample, 0.005), high: quantileOf(sample, 0.995) },
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
  const { low, high: top } = believableOf(quantity, readings.vehicle), { high, from: rangeFrom } = plausibleOf(quantity, readings.vehicle);
  const found: Fault[] = [];
  if (least >= low && greatest <= top) return found;
  for (let from = 0; from < count;) {
    const end = Math.min(count, from + BLOCK_ROWS), a = nextLasting(values, rows, count, timeS, from, end, low, top, leastS);
    from = a;
    if (a >= end) continue;
    const b = from = endOfOutside(values, a + 1, count, low, top), [least, greatest] = extremes(values, a, b);
    found.push({
      kind: 'implausible', channel, shape: 'range', value: values[a] < low ? least : greatest, from: rows[a], to: rows[b - 1] + 1,
      data: { low, high, rangeFrom, constant: least === greatest ? 1 : 0, startsLog: a === 0 ? 1 : 0 },
    });
  }
  return found;
};

/** The first reading of a spell outside of the range that begins in [from, end) and lasts longer than `leastS`, or a second at the beginning or the end of the log; else the reading to go on at, `end` or behind it. */
const nextLasting = (values: Float64Array, rows: Int32Array, count: number, timeS: Float64Array, from: number, end: number, low: number, top: number, leastS: number): number => {
  let a = from;
  while (a < end) {
    if (!(values[a] < low || values[a] > top)) { a++; continue; }
    let b = a + 1;
    while (b < count && (values[b] < low || values[b] > top)) b++;
    const spanS = timeS[rows[b - 1]] - timeS[rows[a]];
    if (spanS > leastS || ((a === 0 || b === count) && spanS > 1)) return a;
    a = b;
  }
  return a;
};

/** About the rich limit of ignition for gasoline and alcohols alike (Heywood ch. 9, from memory). */
const UNBURNABLE_LAMBDA = 0.65;

type Guesser = (readings: Readings, track: Track) => Guess | undefined;

/** Sorted sample of the values while the engine runs; of all of them without engine speed. */
const whileRunning = (readings: Readings, quantity: QuantityId): Float64Array | undefined => {
  const values = readings.held(quantity), rpm = readings.held('engine-speed');
  return values && sampleOf(values, 0, values.length, rpm && mark(rpm, above(400)));
};

/** What a manifold pressure may be written in, the likeliest first. */
const PRESSURE_UNITS: readonly Unit[] = [
  UNITS.psi, UNITS.bar, UNITS.inHg, UNITS.mbar, UNITS.Pa, UNITS['kPa-gauge'], UNITS['psi-gauge'], UNITS['bar-gauge'], UNITS.kPa,
];

/** Manifold pressure: what it shows with the engine off, closed and open must be what air does, in one unit or another. */
const pressureGuess: Guesser = (readings, track) => {
  const quantity = track.channel.quantity!;
  const all = readings.held(quantity)!;
  const rpm = readings.held('engine-speed'), throttle = readings.held('throttle'), load = readings.held('engine-load');
  const barometer = readings.channel('barometric-pressure') ? median(readings.held('barometric-pressure')!) : NaN;
  const airKPa = barometer > 55 && barometer < 108.5 ? barometer : 101.325;
  const stands = rpm && standingMask(rpm, readings.timeS), standing = stands?.includes(1) ? median(numbersOf(all, 0, all.length, stands)) : NaN;
  const sample = whileRunning(readings, quantity)!;
  if (sample.length < LEAST_READINGS) return undefined;
  const low = quantileOf(sample, 0.03), high = quantileOf(sample, 0.997);
  const wide = quantileOf(sampleOf(throttle ?? load ?? new Float64Array(0)), 0.997) > 60;
  const fits = (factor: number, offset: number): boolean => {
    const lowKPa = low * factor + offset, highKPa = high * factor + offset, standingKPa = standing * factor + offset;
    return lowKPa >= 9 && lowKPa < 0.97 * airKPa && highKPa < 460 && highKPa > (wide ? 0.62 * airKPa : 0.24 * airKPa) && !(Math.abs(standingKPa - airKPa) > 0.12 * airKPa);
  };
  if (fits(1, 0)) return undefined;
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

/** First scale that brings the column's `share` point into a band it is surely in. */
const intoBand = (share: number, low: number, high: number, guesses: readonly Guess[], badBelow = -Infinity, badAbove = Infinity): Guesser => (readings, track) => {
  let sample = whileRunning(readings, track.channel.quantity!) ?? sampleOf(track.values);
  if (sample.length < LEAST_READINGS) sample = sampleOf(track.values.subarray(0, track.count));
  const at = quantileOf(sample, share);
  if (at >= badBelow && at <= badAbove) return undefined;
  return guesses.find(({ factor, offset = 0 }) => at * factor + offset >= low && at * factor + offset <= high);
};

const fahrenheit: Guess = { unit: '°F', factor: 5 / 9, offset: -160 / 9 };
const kelvin: Guess = { unit: 'K', factor: 1, offset: -273.15 };

/** A warm engine's coolant holds 75 to 110 °C; at 150 or more the numbers are another scale's. */
const coolantGuess = intoBand(0.9, 40, 130, [fahrenheit, kelvin], -Infinity, 140);

/** Air that starts as the coolant does in the cold, or never gets below 55 while the coolant is not hot, is read in Fahrenheit. */
const airGuess: Guesser = (readings, track) => {
  const sample = sampleOf(track.values.subarray(0, track.count));
  const low = quantileOf(sample, 0.02), high = quantileOf(sample, 0.98);
  if (low > 200) return kelvin;
  return low > 62 && high < 200 && (low - 32) / 1.8 < 60 && high > low + 3 && low > 75 ? fahrenheit : undefined;
};

const fractionOf = (readings: Readings, track: Track): Guess | undefined => {
  const sample = sampleOf(track.values.subarray(0, track.count));
  const low = quantileOf(sample, 0.005), high = quantileOf(sample, 0.998);
  if (!(low >= -0.05 && high <= 1.1 && high - low > 0.08)) return undefined;
  const rpm = sampleOf(readings.held('engine-speed') ?? new Float64Array(0));
  return quantileOf(rpm, 0.98) - quantileOf(rpm, 0.2) > 700 ? { unit: 'a fraction of 1', factor: 100 } : undefined;
};

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

/** Scales that displays are set to beside gasoline's (stoichiometric air-fuel ratios: chemistry). */
const COMMON_SCALES = [{ name: 'the scale of an ethanol-rich fuel', afr: 9.81 }, { name: 'the scale of ethanol', afr: 9.0 }, { name: 'the scale of methanol', afr: 6.47 }];
/** ln of lambda, about 10 %: half of what parts these scales. */
const REST_WITHIN = 0.1;
const WARM_C = 60;
/** Leaner than this on its own scale no engine pulls: a mixture that is rich at idle and cruise by itself is none on another scale. */
const LEANEST_PULL_LAMBDA = 1.15;

/** A lambda no leaner than a mixture, which ends below `leanest`, its target, and what the engine does meanwhile. */
interface Burning { readonly lambda: Float64Array; readonly leanest: number; readonly target: Float64Array | undefined; readonly rpm: Float64Array | undefined }

/** Free air in fuel cuts weighs on the lean side, at whatever end the sensor has: a mixture lies below it. */
const isMixture = (lambda: number, leanest: number): boolean => lambda < 1.9 && lambda > 0.3 && lambda < leanest;
const burnsAt = ({ lambda, leanest, rpm }: Burning, i: number): boolean => isMixture(lambda[i], leanest) && !(rpm && !(rpm[i] > 400));

/** A reading against what was asked for then, so that a day of full load is no rich scale. */
const againstTarget = (burning: Burning, i: number): number => { const { lambda, target } = burning; return burnsAt(burning, i) && target && target[i] > 0.5 && target[i] < 2 ? lambda[i] / target[i] : NaN; };

type Loaded = Burning & { readonly load: Uint8Array; readonly coolant: Float64Array | undefined };
const atRestOver = (burning: Loaded, i: number): number => {
  const { lambda, target, load, coolant } = burning;
  return load[i] === 0 && burnsAt(burning, i) && !(coolant && coolant[i] < WARM_C) ? lambda[i] / (target && target[i] > 0.5 ? target[i] : 1) : NaN;
};
const underLoad = ({ lambda, leanest, load }: Loaded, i: number): number => (load[i] === 1 && isMixture(lambda[i], leanest) ? lambda[i] : NaN);

/** Middle of lambda over its target (or 1) of a warm engine away from load, and of lambda under it; NaN where that is not known. */
const levelsOf = (readings: Readings, burning: Burning | undefined): { readonly resting: number; readonly loaded: number } => {
  if (!burning) return { resting: NaN, loaded: NaN };
  const all: Loaded = { ...burning, coolant: readings.held('coolant-temperature'), load: loadMask(readings, readings.held) };
  const resting = sampleBy(all.lambda.length, all, atRestOver), loaded = sampleBy(all.lambda.length, all, underLoad);
  return { resting: resting.length >= LEAST_READINGS ? quantileOf(resting, 0.5) : NaN, loaded: loaded.length > 0 ? quantileOf(loaded, 0.5) : NaN };
};

/**
 * An AFR column on the other scale than its header says: shown on the fuel's own scale but read on gasoline's, or the other way round.
 * The mixture of any drive centres near its target (or λ 1); a whole column that centres at the ratio of the two scales is on the other one.
 */
const afrScaleOf = (readings: Readings, track: Track): Fault | undefined => {
  const { channel, count, values } = track;
  if (channel.quantity !== 'lambda' && channel.quantity !== 'lambda-2' || channel.unit?.id !== 'afr') return undefined;
  const fuel = vehicleFuel(readings.vehicle);
  const readAs = channel.unit.fuel === undefined ? GASOLINE_SCALE_AFR : fuelOf(channel.unit.fuel)?.stoichAfr ?? GASOLINE_SCALE_AFR;
  const running = whileRunning(readings, channel.quantity) ?? sampleOf(values.subarray(0, count));
  if (running.length < LEAST_READINGS) return undefined;
  const leanest = track.greatest - 1e-6, below = running.filter((value) => isMixture(value, leanest));
  const lambda = readings.held(channel.quantity), burning = lambda && { lambda, leanest, target: readings.held('target-lambda'), rpm: readings.held('engine-speed') };
  const asked = burning?.target && sampleBy(burning.lambda.length, burning, againstTarget);
  const judged = asked && asked.length >= LEAST_READINGS ? asked : below;
  const atRest = (expected: number): boolean => {
    const { resting, loaded } = levelsOf(readings, burning);
    return Math.abs(Math.log(resting) - expected) < REST_WITHIN && !(loaded / Math.exp(expected) > LEANEST_PULL_LAMBDA);
  };
  const middle = quantileOf(judged, 0.5), high = quantileOf(judged, 0.75), highLambda = quantileOf(below, 0.75);
  const own = fuel ? [{ name: `the scale of ${fuel.name}`, afr: fuel.stoichAfr }, { name: 'the gasoline scale', afr: GASOLINE_SCALE_AFR }] : [];
  for (const { name, afr } of [...own, ...COMMON_SCALES]) {
    const expected = Math.log(afr / readAs);
    if (Math.abs(expected) < LEAST_SCALE_GAP) continue;
    // Nearer to the other scale's stoichiometric point than to this one's, at the middle and at the leaner quarter alike.
    const near = (value: number): boolean => Math.abs(Math.log(value) - expected) < Math.min(0.13, 0.4 * Math.abs(expected));
    // Richer for three quarters of the drive than any engine burns is not a mixture but a label, full load or not.
    const unburnable = expected < 0 && highLambda < UNBURNABLE_LAMBDA && high / Math.exp(expected) > 0.72 && high / Math.exp(expected) < 1.15;
    // Of a fuel that is not in the tank more is asked for: that idle and cruise, where no engine is kept so rich, lie at that scale too.
    if (fuel && !own.some((each) => each.afr === afr) ? !atRest(expected) : !near(middle) && !near(high) && !unburnable) continue;
    if (Math.abs(Math.log(high)) < 0.4 * Math.abs(expected)) continue;
    return {
      kind: 'implausible', channel, shape: 'afr-scale', value: quantileOf(below, 0.5), from: 0, to: readings.timeS.length,
      data: { looksLike: name, readOnAfr: readAs, trueAfr: afr, middle: quantileOf(below, 0.5), factor: readAs / afr },
    };
  }
  return undefined;
};

/**
 * Air that gets in ahead of the sensor (or unmetered at idle): warm idle reads lean nearly throughout while the same sensor under
 * load and at cruise agrees with the target. One fault over each idle spell.
 */
export const airLeakAtIdle = (readings: Readings, track: Track, during: (kind: EventKind) => Uint8Array, taken: Uint8Array): Fault[] => {
  const { channel, rows, values, count } = track;
  const { timeS } = readings;
  const target = readings.held('target-lambda');
  const idle = during('idle'), warmUp = during('warm-up'), overrun = during('overrun'), air = widened(overrun, timeS, 0, 2.5);
  const pressure = readings.clean('manifold-pressure');
  const atIdle: number[] = [], elsewhere: number[] = [];
  const idleFrom = (row: number): boolean => idle[row] === 1 && idle[Math.max(0, row - 1)] === 1 && warmUp[row] === 0;
  for (let k = 0; k < count; k++) {
    const row = rows[k];
    if (taken[row] === 1 || air[row] === 1) continue;
    const aim = target && target[row] > 0.6 && target[row] < 1.3 ? target[row] : 1;
    if (idleFrom(row)) atIdle.push(values[k] - aim);
    else if (idle[row] === 0 && warmUp[row] === 0 && pressure && pressure[row] > 55 && pressure[row] < 0.97 * readings.barometer.kPa && target) elsewhere.push(values[k] - aim);
  }
  const perReadingS = Math.max(track.spacingS, 1e-3);
  if (atIdle.length * perReadingS < LEAST_IDLE_S || elsewhere.length * perReadingS < LEAST_IDLE_S) return [];
  const leak = Float64Array.from(atIdle), rest = Float64Array.from(elsewhere);
  const middle = median(leak), low = quantileOf(sampleOf(leak), 0.2);
  const leakLambda = limitOf('airLeakIdleLambda', readings.vehicle.limits).value, agreesLambda = limitOf('airLeakElsewhereLambda', readings.vehicle.limits).value;
  if (!(middle > leakLambda && low > 0.6 * leakLambda && Math.abs(median(rest)) < agreesLambda && middle - median(rest) > 0.8 * leakLambda)) return [];
  const spans = spansOf(without(idle, warmUp), timeS, { recordings: readings.recordings, leastS: 2 });
  return spans.map((span): Fault => ({ kind: 'implausible', channel, shape: 'air-leak', value: middle, ...span, data: { atIdle: middle, elsewhere: median(rest) } }));
};

/** Idle, and driving, that must be in the log before they are compared, seconds. */
const LEAST_IDLE_S = 6;

const fuelPressureGuess: Guesser = (readings, track) => {
  const middle = quantileOf(whileRunning(readings, 'fuel-pressure') ?? sampleOf(track.values), 0.5);
  const rated = readings.vehicle.injectors.ratedPressureKPa;
  const fits = (kPa: number): boolean => (rated ? kPa > 0.6 * rated && kPa < 2 * rated : kPa > 180 && kPa < 700);
  if (!(middle > 1) || middle > 110 || fits(middle)) return undefined;
  return [{ unit: 'psi', factor: PSI_KPA }, { unit: 'bar', factor: 100 }].find(({ factor }) => fits(middle * factor));
};

const GUESSERS: Readonly<Partial<Record<QuantityId, Guesser>>> = {
  'manifold-pressure': pressureGuess,
  'barometric-pressure': intoBand(0.5, 60, 108.5, [{ unit: 'psi', factor: PSI_KPA }, { unit: 'inHg', factor: INHG_KPA }, { unit: 'bar', factor: 100 }, { unit: 'mbar', factor: 0.1 }, { unit: 'Pa', factor: 0.001 }], 55, 108.5),
  'coolant-temperature': coolantGuess,
  'oil-temperature': intoBand(0.9, 40, 150, [fahrenheit, kelvin], -Infinity, 175),
  'intake-air-temperature': airGuess,
  'throttle': fractionOf,
  'pedal': fractionOf,
  'engine-load': fractionOf,
  'injector-duty': fractionOf,
  'lambda': lambdaGuess,
  'lambda-2': lambdaGuess,
  'engine-speed': intoBand(0.6, 500, 12000, [{ unit: 'krpm', factor: 1000 }, { unit: 'Hz', factor: 60 }, { unit: 'rpm', factor: 1e-3 }], 400, 18000),
  'battery-voltage': intoBand(0.5, 10, 16, [{ unit: 'mV', factor: 1e-3 }, { unit: 'V', factor: 1e3 }], 5, 20),
  'injector-pulse-width': intoBand(0.5, 0.8, 25, [{ unit: 'µs', factor: 1e-3 }, { unit: 's', factor: 1e3 }], 0.2, 45),
  'fuel-pressure': fuelPressureGuess,
};
