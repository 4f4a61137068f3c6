// A value in one unit as a value in another. Lambda, AFR and phi turn on a fuel, gauge pressures on the air around the car: the caller
// states both.

import { fuelOf, GASOLINE_SCALE_AFR, type Fuel } from './fuels.js';
import { QUANTITIES, type QuantityId } from './quantity.js';
import { UNITS, type ConversionContext, type Dimension, type Unit, type UnitId } from './units.js';

/** Pressure of the standard atmosphere at sea level (exact by definition): what is assumed, and said, where no barometer is known. */
export const STANDARD_BAROMETER_KPA = 101.325;

/** Sea level and the gasoline scale: for callers that know neither and say so. */
export const STANDARD_CONTEXT: ConversionContext = { barometerKPa: STANDARD_BAROMETER_KPA, stoichAfr: GASOLINE_SCALE_AFR };

/** A conversion that is `linear` says so, for whoever converts a whole column without a call for each number. */
export interface Conversion {
  (value: number): number;
  readonly linear?: Linear;
}
/** value × factor ÷ divisor + offset, reckoned in this order. */
interface Linear {
  readonly factor: number;
  readonly divisor: number;
  readonly offset: number;
}

const linear = (factor: number, divisor: number, offset: number): Conversion =>
  Object.assign((value: number) => (value * factor) / divisor + offset, { linear: { factor, divisor, offset } });
/** What is added to leave even −0 as it is. */
const NOTHING = -0;
const same: Conversion = (value) => value;
const never: Conversion = () => NaN;
const inverse: Conversion = (value) => (value > 0 ? 1 / value : NaN);

/** The scale an `afr` unit is read on: that of the fuel it names, else the context's. */
const scaleOf = (unit: Unit, context: ConversionContext): number =>
  (unit.fuel === undefined ? undefined : fuelOf(unit.fuel)?.stoichAfr) ?? context.stoichAfr;

const toLambda = (unit: Unit, context: ConversionContext): Conversion => {
  if (unit.id === 'phi') return inverse;
  if (unit.id !== 'afr') return same;
  return linear(1, scaleOf(unit, context), NOTHING);
};
const fromLambda = (unit: Unit, context: ConversionContext): Conversion => {
  if (unit.id === 'phi') return inverse;
  if (unit.id !== 'afr') return same;
  return linear(scaleOf(unit, context), 1, NOTHING);
};

/** kPa to add to a reading to make it absolute, and whether it counts downwards. A plain unit counts from `plainIs`. */
const pressureOrigin = (unit: Unit, barometerKPa: number, plainIs: 'absolute' | 'gauge'): { originKPa: number; sign: 1 | -1 } => {
  const reference = unit.reference ?? plainIs;
  return { originKPa: reference === 'absolute' ? 0 : barometerKPa, sign: reference === 'vacuum' ? -1 : 1 };
};

/**
 * value × factor + offset from one linear unit to another. `as` picks the meaning where a unit has two (Hz is a speed and a signal);
 * `plainPressureIs` says what a `kPa` or `psi` without a word is counted from.
 */
const between = (from: Unit, to: Unit, as: Dimension, context: ConversionContext, plainPressureIs: 'absolute' | 'gauge'): Conversion => {
  if (!from.dimensions.includes(as) || !to.dimensions.includes(as)) return never;
  if (as === 'mixture') {
    if (from.id === to.id && from.fuel === to.fuel) return same;
    const first = toLambda(from, context);
    const second = fromLambda(to, context);
    return second === same ? first : (value) => second(first(value));
  }
  if (from.id === to.id && from.reference === to.reference) return same;
  // A signal in Hz and one in V have nothing to do with each other.
  if (as === 'signal' && (from.id === 'Hz' || to.id === 'Hz')) return never;
  let factor = (from.factor ?? NaN) / (to.factor ?? NaN);
  let offset = ((from.offset ?? 0) - (to.offset ?? 0)) / (to.factor ?? NaN);
  if (as === 'pressure') {
    const origin = pressureOrigin(from, context.barometerKPa, plainPressureIs);
    const target = pressureOrigin(to, context.barometerKPa, plainPressureIs);
    factor *= origin.sign * target.sign;
    offset = (target.sign * (origin.originKPa - target.originKPa)) / (to.factor ?? NaN);
  }
  return linear(factor, 1, offset);
};

const plainPressureOf = (quantity: QuantityId): 'absolute' | 'gauge' => (QUANTITIES[quantity].unit === 'kPa-gauge' ? 'gauge' : 'absolute');

/** A signal in Hz is kept in Hz, for no voltage stands for it. */
const staysAsWritten = (quantity: QuantityId, unit: Unit): boolean => QUANTITIES[quantity].dimension === 'signal' && unit.id === 'Hz';

/** Whether a quantity can be measured in a unit at all. */
export const fits = (quantity: QuantityId, unit: Unit): boolean => unit.dimensions.includes(QUANTITIES[quantity].dimension);

/**
 * From values as written in `unit` to the quantity's canonical unit. NaN for every value where the unit does not fit the quantity, and
 * where no such value exists (phi of 0 or less).
 *
 * Fuel and oil pressure are kept as gauge pressure: a plain `kPa`, `psi` or `bar` is gauge as written, which is how the trade quotes
 * them (common practice, no source); only `kPa abs` and the like are converted. An `AFR` that names its fuel is on that fuel's scale,
 * any other on the scale of `context.stoichAfr`.
 */
export const toCanonical = (quantity: QuantityId, unit: Unit, context: ConversionContext): Conversion =>
  staysAsWritten(quantity, unit)
    ? same
    : between(unit, UNITS[QUANTITIES[quantity].unit], QUANTITIES[quantity].dimension, context, plainPressureOf(quantity));

/** The way back: from the quantity's canonical unit to values as written in `unit`. */
export const fromCanonical = (quantity: QuantityId, unit: Unit, context: ConversionContext): Conversion =>
  staysAsWritten(quantity, unit)
    ? same
    : between(UNITS[QUANTITIES[quantity].unit], unit, QUANTITIES[quantity].dimension, context, plainPressureOf(quantity));

/**
 * From one unit to another outside any quantity; a plain pressure is absolute. NaN for every value where the two measure different things.
 * Where they share two dimensions (Hz, V) `as` decides, else the first they share.
 */
export const convertUnit = (from: Unit, to: Unit, context: ConversionContext, as?: Dimension): Conversion => {
  const shared = as ?? from.dimensions.find((dimension) => to.dimensions.includes(dimension));
  return shared === undefined ? never : between(from, to, shared, context, 'absolute');
};

const RELATED: Readonly<Partial<Record<Dimension, readonly UnitId[]>>> = {
  time: ['s', 'ms', 'us'],
  rotation: ['rpm', 'Hz'],
  ratio: ['%', 'fraction'],
  temperature: ['degC', 'degF', 'K'],
  'mass-flow': ['g/s', 'kg/h', 'lb/min', 'lb/h'],
  speed: ['km/h', 'mph', 'm/s'],
  voltage: ['V', 'mV'],
};
const ABSOLUTE_PRESSURES: readonly UnitId[] = ['kPa', 'bar', 'psi', 'inHg'];
const GAUGE_PRESSURES: readonly UnitId[] = ['kPa-gauge', 'bar-gauge', 'psi-gauge'];

/** An AFR unit on the scale of a fuel. */
export const afrUnit = (fuel: Fuel): Unit => ({ ...UNITS.afr, symbol: `AFR (${fuel.name})`, fuel: fuel.name });

const GASOLINE_SCALE: Unit = { ...UNITS.afr, symbol: 'AFR (gasoline scale)', fuel: 'gasoline' };

const relatedUnits = (unit: Unit, absoluteKPa: number, context: ConversionContext, fuel: Fuel | undefined): readonly Unit[] => {
  const dimension = unit.dimensions[0];
  if (dimension === 'mixture')
    return [UNITS.lambda, ...(fuel && fuel.stoichAfr !== GASOLINE_SCALE_AFR ? [afrUnit(fuel)] : []), GASOLINE_SCALE, UNITS.phi];
  if (dimension !== 'pressure') return (RELATED[dimension] ?? [unit.id]).map((id) => UNITS[id]);
  const absolute = ABSOLUTE_PRESSURES.map((id) => UNITS[id]);
  const gauge = GAUGE_PRESSURES.map((id) => UNITS[id]);
  const vacuum = absoluteKPa < context.barometerKPa ? [UNITS['inHg-vacuum']] : [];
  return unit.reference === 'gauge' ? [...gauge, ...vacuum, ...absolute] : [...absolute, ...gauge, ...vacuum];
};

/**
 * A value in every unit that a reader may think in, the usual one first: lambda, AFR of `fuel` (what is in the tank) and on the gasoline
 * scale, phi; kPa, bar, psi, inHg, gauge and vacuum; and so on. `context.stoichAfr` is the scale that the value itself was read on. A fuel
 * with a stoichiometric ratio of its own only (no name that `fuelOf` knows) keeps that ratio.
 */
export const relatedValues = (
  value: number,
  unit: Unit,
  context: ConversionContext,
  fuel?: Fuel,
): readonly { readonly unit: Unit; readonly value: number }[] => {
  const absoluteKPa = unit.dimensions[0] === 'pressure' ? convertUnit(unit, UNITS.kPa, context)(value) : NaN;
  return relatedUnits(unit, absoluteKPa, context, fuel).map((related) => {
    if (fuel && related.fuel === fuel.name && related !== GASOLINE_SCALE)
      return { unit: related, value: toLambda(unit, context)(value) * fuel.stoichAfr };
    return { unit: related, value: convertUnit(unit, related, context, unit.dimensions[0])(value) };
  });
};

/**
 * Mean lambda of parts with equal air: fuel adds, so phi is what averages (harmonic mean). NaN where there are none or one is not above 0.
 */
export const meanLambda = (lambdas: readonly number[]): number =>
  inverse(lambdas.reduce((sum, lambda) => sum + inverse(lambda), 0) / lambdas.length);
