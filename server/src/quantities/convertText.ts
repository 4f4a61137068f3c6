// One value and two unit names typed by a person, in every related unit or as one clear line of what is wrong.

import { convertUnit, relatedValues, STANDARD_BAROMETER_KPA } from './convert.js';
import { FUEL_NAMES, fuelOf, GASOLINE_SCALE_AFR, type Fuel } from './fuels.js';
import { formatNumber } from './format.js';
import { parseUnit } from './parseUnit.js';
import type { Unit } from './units.js';

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
  | { readonly ok: true; readonly value: number; readonly unit: Unit; readonly values: readonly { readonly unit: Unit; readonly value: number }[]; readonly notes: readonly string[] }
  | { readonly ok: false; readonly error: string };

const no = (error: string): ConvertAnswer => ({ ok: false, error });
const UNIT_EXAMPLES = 'lambda, AFR, "AFR E85", phi, kPa, bar, psi, "psi gauge", inHg, °C, °F, K, rpm, g/s, kg/h, lb/min, km/h, mph, ms, V';

/** On the fuel's scale where the unit names none: what `AFR` means beside a stated fuel. */
const onScaleOf = (unit: Unit, fuel: Fuel | undefined): Unit =>
  (unit.id === 'afr' && unit.fuel === undefined && fuel ? { ...unit, symbol: `AFR (${fuel.name})`, fuel: fuel.name } : unit);

/**
 * One value in every related unit, or in `to` alone. `AFR` without a fuel in its name is on the scale of `fuel` where one is stated, else on the
 * gasoline scale. `notes` say every assumption that the answer rests on. Never throws: `error` is one line for the user.
 */
export const convertText = (request: ConvertRequest): ConvertAnswer => {
  const text = request.value.trim().replace(',', '.');
  const value = text === '' ? NaN : Number(text);
  if (!Number.isFinite(value)) return no(`"${request.value.slice(0, 40)}" is not a number.`);
  const fuel = request.fuel === undefined ? undefined : fuelOf(request.fuel);
  if (request.fuel !== undefined && !fuel) return no(`The fuel "${request.fuel.slice(0, 40)}" is not known. Known are E0 to E100, M0 to M100, ${FUEL_NAMES.join(', ')}.`);
  const written = parseUnit(request.unit);
  if (!written) return no(`The unit "${request.unit.slice(0, 40)}" is not known. Known are for example ${UNIT_EXAMPLES}.`);
  const unit = onScaleOf(written, fuel);
  const target = request.to === undefined ? undefined : parseUnit(request.to);
  if (request.to !== undefined && !target) return no(`The unit "${request.to.slice(0, 40)}" is not known. Known are for example ${UNIT_EXAMPLES}.`);

  const barometerKPa = request.barometerKPa ?? STANDARD_BAROMETER_KPA;
  const context = { barometerKPa, stoichAfr: GASOLINE_SCALE_AFR };
  const values = target
    ? [{ unit: onScaleOf(target, fuel), value: convertUnit(unit, onScaleOf(target, fuel), context)(value) }]
    : relatedValues(value, unit, context, fuel);
  if (target && !unit.dimensions.some((dimension) => target.dimensions.includes(dimension))) {
    return no(`${written.symbol} cannot be turned into ${target.symbol}: they measure different things.`);
  }
  if (values.every((each) => each.unit.id === unit.id || !Number.isFinite(each.value)) && values.some((each) => !Number.isFinite(each.value))) return no(`${request.value} ${written.symbol} has no such value.`);

  const notes: string[] = [];
  if (written.id === 'afr' && written.fuel === undefined) {
    notes.push(fuel
      ? `Read as an AFR of ${fuel.name} (stoichiometric ${formatNumber(fuel.stoichAfr, 2)}). For a number off a display on the gasoline scale say "AFR gasoline".`
      : `Read on the gasoline scale (stoichiometric ${GASOLINE_SCALE_AFR}).`);
  } else if (target?.id === 'afr' && target.fuel === undefined && !fuel) notes.push(`On the gasoline scale (stoichiometric ${GASOLINE_SCALE_AFR}).`);
  const counted = [unit, ...values.map((each) => each.unit)].some((each) => each.reference === 'gauge' || each.reference === 'vacuum');
  if (counted) notes.push(`Gauge pressures with ${formatNumber(barometerKPa, 1)} kPa of air around${request.barometerKPa === undefined ? ', assumed (sea level)' : ''}.`);
  return { ok: true, value, unit, values, notes };
};
