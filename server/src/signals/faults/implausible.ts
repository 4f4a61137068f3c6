// Readings that no engine has: values outside any range for long, and whole columns that fit another unit than their header says.

import { QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import type { Track } from '../hold.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';
import { extremes, median, quantileOf, sortedSample } from '../statistics.js';

const LEAST_READINGS = 20;
/** A column is judged by its unit only when this share of it is what it is. */
const PSI_KPA = 6.894757, INHG_KPA = 3.386389;

/** A unit the numbers may be in after all: canonical value = shown × factor + offset. */
interface Guess { readonly unit: string; readonly factor: number; readonly offset?: number }

/** The whole channel as one fault, where its numbers do not fit its unit; undefined where they do. */
export const wrongUnitOf = (readings: Readings, track: Track): Fault | undefined => {
  const { channel, count, values } = track;
  const { quantity } = channel;
  if (quantity === undefined || count < LEAST_READINGS) return undefined;
  const guess = GUESSERS[quantity]?.(readings, track);
  if (!guess) return undefined;
  const sorted = sortedSample(values.subarray(0, count));
  return {
    kind: 'implausible', channel, shape: 'unit', value: quantileOf(sorted, 0.5), from: 0, to: readings.timeS.length,
    data: { looksLike: guess.unit, factor: guess.factor, offset: guess.offset ?? 0, low: quantileOf(sorted, 0.005), high: quantileOf(sorted, 0.995) },
  };
};

/** Values outside the quantity's plausible range that last too long for a dropout. */
export const outOfRangeOf = (readings: Readings, track: Track, leastS: number): Fault[] => {
  const { channel, rows, values, count } = track;
  const { quantity } = channel;
  if (quantity === undefined || quantity === 'time' || quantity === 'trouble-code' || count < 3) return [];
  const { timeS } = readings;
  // A target that was asked for and never answered reads 0 throughout: stuck.ts tells it.
  const [least, greatest] = extremes(values, 0, count);
  if (quantity === 'target-lambda' && least === greatest) return [];
  // Some loggers write retard as a negative number.
  if (quantity === 'knock-retard' && greatest <= 0) return [];
  const lambda = quantity === 'lambda' || quantity === 'lambda-2';
  const [low, high] = QUANTITIES[quantity].plausible;
  const found: Fault[] = [];
  for (let a = 0; a < count;) {
    if (!(values[a] < low || (values[a] > high && !lambda))) { a++; continue; }
    let b = a + 1;
    while (b < count && (values[b] < low || (values[b] > high && !lambda))) b++;
    const atEdge = a === 0 || b === count;
    const spanS = timeS[rows[b - 1]] - timeS[rows[a]];
    if (spanS > leastS || (atEdge && spanS > 1)) {
      const [least, greatest] = extremes(values, a, b);
      found.push({
        kind: 'implausible', channel, shape: 'range', value: values[a] < low ? least : greatest, from: rows[a], to: rows[b - 1] + 1,
        data: { low, high, constant: least === greatest ? 1 : 0, startsLog: a === 0 ? 1 : 0 },
      });
    }
    a = b;
  }
  return found;
};

type Guesser = (readings: Readings, track: Track) => Guess | undefined;

/** Values while the engine runs; all of them without engine speed. */
const whileRunning = (readings: Readings, quantity: QuantityId): Float64Array | undefined => {
  const values = readings.held(quantity), rpm = readings.held('engine-speed');
  if (!values) return undefined;
  return rpm ? values.map((value, i) => (rpm[i] > 400 ? value : NaN)) : values;
};

/** Manifold pressure: what it shows with the engine off, closed and open must be what air does, in one unit or another. */
const pressureGuess: Guesser = (readings, track) => {
  const quantity = track.channel.quantity!;
  const all = readings.held(quantity)!;
  const rpm = readings.held('engine-speed'), throttle = readings.held('throttle'), load = readings.held('engine-load');
  const barometer = readings.channel('barometric-pressure') ? median(readings.held('barometric-pressure')!) : NaN;
  const airKPa = barometer > 55 && barometer < 108.5 ? barometer : 101.325;
  const standing = rpm ? median(all.filter((_, i) => rpm[i] === 0)) : NaN;
  const running = whileRunning(readings, quantity)!;
  const sorted = sortedSample(running);
  if (sorted.length < LEAST_READINGS) return undefined;
  const low = quantileOf(sorted, 0.03), high = quantileOf(sorted, 0.997);
  const wide = quantileOf(sortedSample(throttle ?? load ?? new Float64Array(0)), 0.997) > 60;
  const fits = (factor: number, offset: number): boolean => {
    const lowKPa = low * factor + offset, highKPa = high * factor + offset, standingKPa = standing * factor + offset;
    return lowKPa >= 9 && lowKPa < 0.97 * airKPa && highKPa < 460 && highKPa > (wide ? 0.62 * airKPa : 0.24 * airKPa) && !(Math.abs(standingKPa - airKPa) > 0.12 * airKPa);
  };
  if (fits(1, 0)) return undefined;
  const guesses: Guess[] = [
    { unit: 'psi', factor: PSI_KPA }, { unit: 'bar', factor: 100 }, { unit: 'inHg', factor: INHG_KPA },
    { unit: 'mbar', factor: 0.1 }, { unit: 'Pa', factor: 0.001 },
    { unit: 'kPa gauge', factor: 1, offset: airKPa }, { unit: 'psi gauge', factor: PSI_KPA, offset: airKPa }, { unit: 'bar gauge', factor: 100, offset: airKPa },
    { unit: 'kPa', factor: 1 / PSI_KPA }, { unit: 'kPa', factor: 1 / 100 },
  ];
  return guesses.find(({ factor, offset = 0 }) => fits(factor, offset));
};

/** First scale that brings the column's `share` point into a band it is surely in. */
const intoBand = (share: number, low: number, high: number, guesses: readonly Guess[], badBelow = -Infinity, badAbove = Infinity): Guesser => (readings, track) => {
  const values = whileRunning(readings, track.channel.quantity!) ?? track.values;
  let sorted = sortedSample(values);
  if (sorted.length < LEAST_READINGS) sorted = sortedSample(track.values.subarray(0, track.count));
  const at = quantileOf(sorted, share);
  if (at >= badBelow && at <= badAbove) return undefined;
  return guesses.find(({ factor, offset = 0 }) => at * factor + offset >= low && at * factor + offset <= high);
};

const fahrenheit: Guess = { unit: '°F', factor: 5 / 9, offset: -160 / 9 };
const kelvin: Guess = { unit: 'K', factor: 1, offset: -273.15 };

/** A warm engine's coolant holds 75 to 110 °C; at 150 or more the numbers are another scale's. */
const coolantGuess = intoBand(0.9, 40, 130, [fahrenheit, kelvin], -Infinity, 140);

/** Air that starts as the coolant does in the cold, or never gets below 55 while the coolant is not hot, is read in Fahrenheit. */
const airGuess: Guesser = (readings, track) => {
  const sorted = sortedSample(track.values.subarray(0, track.count));
  const low = quantileOf(sorted, 0.02), high = quantileOf(sorted, 0.98);
  if (low > 200) return kelvin;
  return low > 62 && high < 200 && (low - 32) / 1.8 < 60 && high > low + 3 && low > 75 ? fahrenheit : undefined;
};

const fractionOf = (readings: Readings, track: Track): Guess | undefined => {
  const sorted = sortedSample(track.values.subarray(0, track.count));
  const low = quantileOf(sorted, 0.005), high = quantileOf(sorted, 0.998);
  const rpm = readings.held('engine-speed');
  const moves = rpm ? quantileOf(sortedSample(rpm), 0.98) - quantileOf(sortedSample(rpm), 0.2) > 700 : false;
  return moves && low >= -0.05 && high <= 1.1 && high - low > 0.08 ? { unit: 'a fraction of 1', factor: 100 } : undefined;
};

const lambdaGuess: Guesser = (_readings, track) => {
  const { unit } = track.channel;
  const sorted = sortedSample(track.values.subarray(0, track.count));
  const middle = quantileOf(sorted, 0.5);
  if (middle > 5.5 && middle < 25) return { unit: 'AFR', factor: 1 / 14.7 };
  // A lambda number under an AFR header is divided once too often.
  if (unit?.id === 'afr' && middle > 0.03 && middle < 0.13) return { unit: 'λ', factor: 14.7 };
  return undefined;
};

const fuelPressureGuess: Guesser = (readings, track) => {
  const running = whileRunning(readings, 'fuel-pressure') ?? track.values;
  const middle = quantileOf(sortedSample(running), 0.5);
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
