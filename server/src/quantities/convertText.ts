// One value and two unit names typed by a person, in every related unit or as one clear line of what is wrong.

import { convertUnit, relatedValues, STANDARD_BAROMETER_KPA } from './convert.js';
import { FUEL_NAMES, fuelOf, GASOLINE_SCALE_AFR, type Fuel } from './fuels.js';
import { formatNumber } from './format.js';
import { parseUnit } from './parseUnit.js';
import { UNITS, type ConversionContext, type Unit } from './units.js';

export interface ConvertRequest {
  /** As typed; a decimal comma is read. */
  readonly value: string;
  readonly unit: string;
  /** Name or blend of the fuel that AFR values are for. */
  readonly fuel?: string;
  /** Only this unit. */
  readonly to?: string;
  readonly barometerKPa?: number;
}

export type ConvertAnswer =
  | {
      readonly ok: true;
      readonly value: number;
      readonly unit: Unit;
      readonly values: readonly { readonly unit: Unit; readonly value: number }[];
      readonly notes: readonly string[];
    }
  | { readonly ok: false; readonly error: string };

const no = (error: string): ConvertAnswer => ({ ok: false, error });
const UNIT_EXAMPLES =
  'lambda, AFR, "AFR E85", phi, kPa, bar, psi, "psi gauge", inHg, °C, °F, K, rpm, g/s, kg/h, lb/min, lb/h, cc/min, km/h, mph, ms, V';

/** On the fuel's scale where the unit names none: what `AFR` means beside a stated fuel. */
const onScaleOf = (unit: Unit, fuel: Fuel | undefined): Unit =>
  unit.id === 'afr' && unit.fuel === undefined && fuel ? { ...unit, symbol: `AFR (${fuel.name})`, fuel: fuel.name } : unit;

/** Less than this below a perfect vacuum is the rounding of a gauge reading or of the air assumed around it. */
const VACUUM_ROUNDING_KPA = 0.1;

/** Why no such value exists, as one line; undefined where it can. */
const impossibleText = (value: number, unit: Unit, context: ConversionContext): string | undefined => {
  switch (unit.dimensions[0]) {
    case 'mixture':
      return value > 0 ? undefined : `${unit.symbol} ${value} is not possible: a mixture's ratio is above 0.`;
    case 'temperature': {
      const lowest = unit.id === 'K' ? '0 K' : unit.id === 'degF' ? '-459.67 °F' : '-273.15 °C';
      return convertUnit(unit, UNITS.K, context)(value) >= -1e-9
        ? undefined
        : `${value} ${unit.symbol} is below absolute zero (${lowest}).`;
    }
    case 'pressure': {
      const absoluteKPa = convertUnit(unit, UNITS.kPa, context)(value);
      const isCounted = unit.reference === 'gauge' || unit.reference === 'vacuum';
      if (absoluteKPa >= (isCounted ? -VACUUM_ROUNDING_KPA : 0)) return undefined;
      return isCounted
        ? `${value} ${unit.symbol} is less than a perfect vacuum, with ${formatNumber(context.barometerKPa, 1)} kPa of air around.`
        : `${value} ${unit.symbol} is not possible: an absolute pressure is not below 0. For a gauge reading say "${unit.id} gauge".`;
    }
    default:
      return undefined;
  }
};

/** A flow of fuel where a volume comes in: cc/min itself, or a mass flow that is asked for as one. lb/h is what injectors are sold by. */
const isInjectorFlow = (unit: Unit, target: Unit | undefined, fuel: Fuel | undefined): boolean => {
  const isMass = unit.dimensions[0] === 'mass-flow';
  if (unit.id === 'cc/min') return target === undefined || target.id === 'cc/min' || target.dimensions[0] === 'mass-flow';
  return isMass && (target ? target.id === 'cc/min' : unit.id === 'lb/h' || fuel !== undefined);
};

/** Injector flow as a volume and as a mass: g/s = cc/min × density in g/cm³ / 60. Without a fuel gasoline's is taken and said. */
const injectorFlow = (value: number, unit: Unit, target: Unit | undefined, fuel: Fuel | undefined): ConvertAnswer => {
  if (value < 0) return no(`${value} ${unit.symbol} is not possible: a flow is not below 0.`);
  const gasoline = fuelOf('gasoline');
  if (fuel && fuel.densityKgPerM3 === undefined)
    return no(
      `No liquid density of ${fuel.name} is known, so ${unit.symbol} cannot be turned into ${unit.id === 'cc/min' ? 'a mass' : 'a volume'}.`,
    );
  const densityKgPerM3 = fuel?.densityKgPerM3 ?? gasoline?.densityKgPerM3 ?? NaN;
  const gPerSOfCcPerMin = densityKgPerM3 / 1000 / 60;
  const gPerS = unit.id === 'cc/min' ? value * gPerSOfCcPerMin : value * (unit.factor ?? NaN);
  const valueIn = (each: Unit): number =>
    each.id === unit.id ? value : each.id === 'cc/min' ? gPerS / gPerSOfCcPerMin : gPerS / (each.factor ?? NaN);
  const units = target ? [target] : [UNITS['cc/min'], UNITS['lb/h'], UNITS['g/s'], UNITS['kg/h'], UNITS['lb/min']];
  const density = `${formatNumber(densityKgPerM3, 0)} kg/m³`;
  return {
    ok: true,
    value,
    unit,
    values: units.map((each) => ({ unit: each, value: valueIn(each) })),
    notes: [fuel ? `With the density of ${fuel.name}, ${density}.` : `Density assumed: gasoline, ${density}. For another fuel say --fuel.`],
  };
};

/**
 * One value in every related unit, or in `to` alone. `AFR` without a fuel in its name is on the scale of `fuel` where one is stated, else
 * on the gasoline scale. `notes` say every assumption that the answer rests on. Never throws: `error` is one line for the user.
 */
export const convertText = (request: ConvertRequest): ConvertAnswer => {
  const typed = request.value.trim();
  // 6,500: thousands to one reader, six and a half to another. A leading zero can only be a decimal comma.
  if (/^[+-]?[1-9]\d{0,2},\d{3}$/.test(typed))
    return no(`"${typed}" can be read two ways: write ${typed.replace(',', '')} or ${String(Number(typed.replace(',', '.')))}.`);
  const text = typed.replace(',', '.');
  const value = text === '' ? NaN : Number(text);
  if (!Number.isFinite(value)) return no(`"${request.value.slice(0, 40)}" is not a number.`);
  // Beyond, another unit's number may be none.
  if (Math.abs(value) > 1e300) return no(`"${request.value.slice(0, 40)}" is too great a number.`);
  const fuel = request.fuel === undefined ? undefined : fuelOf(request.fuel);
  if (request.fuel !== undefined && !fuel)
    return no(`The fuel "${request.fuel.slice(0, 40)}" is not known. Known are E0 to E100, M0 to M100, ${FUEL_NAMES.join(', ')}.`);
  const written = parseUnit(request.unit);
  if (!written) return no(`The unit "${request.unit.slice(0, 40)}" is not known. Known are for example ${UNIT_EXAMPLES}.`);
  const unit = onScaleOf(written, fuel);
  const target = request.to === undefined ? undefined : parseUnit(request.to);
  if (request.to !== undefined && !target)
    return no(`The unit "${request.to.slice(0, 40)}" is not known. Known are for example ${UNIT_EXAMPLES}.`);

  const barometerKPa = request.barometerKPa ?? STANDARD_BAROMETER_KPA;
  const context = { barometerKPa, stoichAfr: GASOLINE_SCALE_AFR };
  const impossible = impossibleText(value, unit, context);
  if (impossible !== undefined) return no(impossible);
  if (isInjectorFlow(unit, target, fuel)) return injectorFlow(value, unit, target, fuel);
  const values = target
    ? [{ unit: onScaleOf(target, fuel), value: convertUnit(unit, onScaleOf(target, fuel), context)(value) }]
    : relatedValues(value, unit, context, fuel);
  if (target && !unit.dimensions.some((dimension) => target.dimensions.includes(dimension))) {
    return no(`${written.symbol} cannot be turned into ${target.symbol}: they measure different things.`);
  }
  if (values.some((each) => !Number.isFinite(each.value))) return no(`${request.value} ${written.symbol} has no such value.`);

  const notes: string[] = [];
  if (written.id === 'afr' && written.fuel === undefined) {
    notes.push(
      fuel
        ? `Read as an AFR of ${fuel.name} (stoichiometric ${formatNumber(fuel.stoichAfr, 2)}). For a number off a display on the gasoline scale say "AFR gasoline".`
        : `Read on the gasoline scale (stoichiometric ${GASOLINE_SCALE_AFR}).`,
    );
  } else if (target?.id === 'afr' && target.fuel === undefined && !fuel)
    notes.push(`On the gasoline scale (stoichiometric ${GASOLINE_SCALE_AFR}).`);
  const counted = [unit, ...values.map((each) => each.unit)].some((each) => each.reference === 'gauge' || each.reference === 'vacuum');
  if (counted)
    notes.push(
      `Gauge pressures with ${formatNumber(barometerKPa, 1)} kPa of air around${request.barometerKPa === undefined ? ', assumed (sea level)' : ''}.`,
    );
  return { ok: true, value, unit, values, notes };
};
