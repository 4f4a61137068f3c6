// From header texts to what each column is: name, quantity, unit, and how each of them is known.

import type { HeaderCell, Layout } from './header.js';
import type { Vehicle, ChannelMapping } from '../vehicle/vehicle.js';
import type { Channel } from './session.js';
import type { Range } from '../range.js';
import { QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import { parseUnit } from '../../quantities/parseUnit.js';
import { UNITS, type Unit } from '../../quantities/units.js';
import { impliedReference, impliedUnit, recognise, recogniseByUnit } from './channelNames.js';

export interface ColumnPlan {
  readonly column: number;
  readonly name: string;
  readonly header: string;
  readonly headerRange: Range;
  readonly quantity: QuantityId | undefined;
  readonly quantityFrom: Channel['quantityFrom'];
  readonly unit: Unit | undefined;
  readonly unitFrom: Channel['unitFrom'];
  /** Linear scale that the vehicle file gives, from the number as written to `unit`. */
  readonly scale?: { readonly factor: number; readonly offset: number };
  /** The unit as written; empty where none is. */
  readonly unitText: string;
  /** `missing`: none is written. `unknown`: nobody knows it. `unfit`: it measures something else, so the quantity is not believed. */
  readonly unitTrouble: 'none' | 'missing' | 'unknown' | 'unfit';
}

/** Bracketed words that belong to the name, not to a unit. */
const QUALIFIER =
  /^(?:(?:bank|sensor|cyl(?:inder)?|b|s|ch|channel|pid|gear)?\s*#?\d+(?:\s*[,/ ]?\s*(?:s|sensor)\s*\d+)?|bank.*|sensor.*|actual|measured|target|desired|commanded|raw|filtered|smoothed|front|rear|left|right|upstream|downstream|pre|post|pre.?cat|post.?cat|tailpipe|wideband|narrowband|gps|obd.*|ecu|ecm|calculated|calc|main|total|since start|elapsed|relative|intake|exhaust|engine|coolant|oil|overrun|iat|ect|clt|map|maf|tps|rpm sensor|[a-e])$/i;

interface HeaderParts {
  readonly name: string;
  readonly unitText: string | undefined;
}

/** `Engine Speed (rpm)` → name and unit. The unit is undefined where no brackets are written, empty where they hold nothing. */
export const splitHeader = (text: string): HeaderParts => {
  const match = /^(.*?)\s*(?:\(([^()]*(?:\([^()]*\)[^()]*)*)\)|\[([^[\]]*)\])\s*$/s.exec(text);
  if (!match) return { name: text.trim(), unitText: undefined };
  const inside = (match[2] ?? match[3]).trim();
  const name = match[1].trim();
  if (name === '') return { name: inside, unitText: undefined };
  if (QUALIFIER.test(inside) && parseUnit(inside) === undefined) {
    const rest = splitHeader(name);
    return { name: `${rest.name} ${inside}`, unitText: rest.unitText };
  }
  return { name, unitText: inside };
};

/** A unit that stands behind the name without brackets (`MAP_kPa`, `Boost psi`), where what is left names a quantity that has it. */
const trailingUnit = (name: string): { readonly name: string; readonly unit: Unit; readonly unitText: string } | undefined => {
  const parts = /^(.+?)[\s_,.:-]+(\S{1,8}|\S{1,6}[\s_]\S{1,8})$/.exec(name);
  if (!parts) return undefined;
  const rest = recognise(parts[1]);
  const unit = rest && parseUnit(parts[2].replace(/_/g, ' '), rest.quantity);
  return unit && { name: parts[1], unit, unitText: parts[2] };
};

/** A plain pressure unit with what the name says that it is counted from. */
const withReference = (unit: Unit, quantity: QuantityId, name: string): Unit => {
  if (QUANTITIES[quantity].dimension !== 'pressure' || unit.reference !== undefined) return unit;
  const reference = impliedReference(name);
  if (reference === undefined) return unit;
  // Fuel and oil pressure are quoted as gauge anyway; the other pressures as absolute.
  if ((reference === 'gauge') === (QUANTITIES[quantity].unit === 'kPa-gauge')) return unit;
  const known = (UNITS as Readonly<Record<string, Unit | undefined>>)[`${unit.id}-${reference}`];
  return known ?? { ...unit, symbol: `${unit.symbol} ${reference}`, reference };
};

/** The unit assumed where none is known: the quantity's own, counted as the name says. */
const assumedUnit = (quantity: QuantityId, name: string): Unit => withReference(UNITS[QUANTITIES[quantity].unit], quantity, name);

/** What stands in a unit's place where there is none: the usual sign of a number by itself. */
const NO_UNIT = /^[-–—]$/;

/** The line through a mapping's two points, raw number → value; undefined where it has none or they stand above each other. */
export const scaleOf = (mapping: ChannelMapping): ColumnPlan['scale'] => {
  if (!mapping.scale) return undefined;
  const [[rawA, valueA], [rawB, valueB]] = mapping.scale;
  const factor = (valueB - valueA) / (rawB - rawA);
  return Number.isFinite(factor) ? { factor, offset: valueA - rawA * factor } : undefined;
};

/** What one column is, from its header, the text of the units row under it and what the vehicle file says of the header. */
export const planColumn = (
  cell: HeaderCell,
  column: number,
  rowUnit: string | undefined,
  mapping: ChannelMapping | 'other' | undefined,
  rowUnitFrom: 'units-row' | 'column' = 'units-row',
): ColumnPlan => {
  const parts = splitHeader(cell.text);
  const base = { column, header: cell.text, headerRange: cell.range };
  const unitText = (parts.unitText ?? '').replace(NO_UNIT, '');
  const rowText = (rowUnit?.trim() ?? '').replace(NO_UNIT, '');
  if (mapping === 'other') {
    const text = unitText || rowText,
      unit = text === '' ? undefined : parseUnit(text);
    return {
      ...base,
      name: parts.name,
      quantity: undefined,
      quantityFrom: 'vehicle',
      unit,
      unitFrom: unit ? (unitText ? 'header' : rowUnitFrom) : 'none',
      unitText: text,
      unitTrouble: 'none',
    };
  }
  if (mapping) {
    const scale = scaleOf(mapping);
    const written = mapping.unit ?? (scale ? undefined : unitText || rowText || undefined);
    const unit = written === undefined ? undefined : parseUnit(written, mapping.quantity);
    const known = unit ?? (scale ? UNITS[QUANTITIES[mapping.quantity].unit] : impliedUnit(parts.name, mapping.quantity));
    return {
      ...base,
      name: parts.name,
      quantity: mapping.quantity,
      quantityFrom: 'vehicle',
      scale,
      unitText: written ?? '',
      unit: known ?? assumedUnit(mapping.quantity, parts.name),
      unitFrom: mapping.unit !== undefined || scale ? 'vehicle' : known ? 'header' : 'assumed',
      unitTrouble: known ? 'none' : written ? 'unknown' : 'missing',
    };
  }
  // The header's own words first; `AFR (E85)` and the like say a fuel in the brackets.
  const whole = parts.unitText ? impliedUnit(`${parts.name} ${parts.unitText}`, 'lambda') : undefined;
  const bare = parts.unitText === undefined && rowText === '' ? trailingUnit(parts.name) : undefined;
  const name = bare?.name ?? parts.name;
  const recognised = recognise(name);
  const text = unitText || rowText;
  const from = unitText !== '' || bare ? 'header' : rowUnitFrom;
  const anyUnit = bare?.unit ?? (text === '' ? undefined : parseUnit(text));
  if (!recognised) {
    const byUnit = anyUnit && recogniseByUnit(name, anyUnit);
    return {
      ...base,
      name,
      quantity: byUnit,
      quantityFrom: byUnit ? 'name' : 'none',
      unit: anyUnit,
      unitFrom: anyUnit ? from : 'none',
      unitText: text,
      unitTrouble: 'none',
    };
  }
  const { quantity } = recognised;
  const common = { ...base, name, quantity, quantityFrom: recognised.from, unitText: text };
  const mixture = QUANTITIES[quantity].dimension === 'mixture' && whole?.id === 'afr' ? whole : undefined;
  const written = bare?.unit ?? (text === '' ? undefined : parseUnit(text, quantity)) ?? mixture;
  if (written) {
    const named = written.id === 'afr' && written.fuel === undefined ? impliedUnit(name, quantity) : undefined;
    const unit = named?.id === 'afr' ? named : withReference(written, quantity, name);
    return { ...common, unit, unitFrom: from, unitTrouble: 'none' };
  }
  if (anyUnit) {
    const other = recogniseByUnit(name, anyUnit);
    if (other) return { ...common, quantity: other, unit: anyUnit, unitFrom: from, unitTrouble: 'none' };
    return { ...common, quantity: undefined, quantityFrom: 'none', unit: anyUnit, unitFrom: from, unitTrouble: 'unfit' };
  }
  const implied = impliedUnit(name, quantity);
  if (
    implied &&
    (text === '' || implied.dimensions[0] === 'count' || implied.dimensions[0] === 'flag' || implied.dimensions[0] === 'code')
  ) {
    return { ...common, unit: implied, unitFrom: 'header', unitTrouble: 'none' };
  }
  return { ...common, unit: implied ?? assumedUnit(quantity, name), unitFrom: 'assumed', unitTrouble: text === '' ? 'missing' : 'unknown' };
};

/** What the vehicle file says of a column. */
export const mappingOf = (vehicle: Vehicle | undefined, header: string): ChannelMapping | 'other' | undefined =>
  vehicle?.channels.get(header) ?? (vehicle?.others?.includes(header) ? 'other' : undefined);

/** Whether a column in per cent has a name that says nothing, and nobody else says what it is: it may be a fuel trim. */
export const isUnreadShare = ({ quantity, quantityFrom, unit }: Pick<Channel, 'quantity' | 'quantityFrom' | 'unit'>): boolean =>
  quantity === undefined && quantityFrom === 'none' && unit?.id === '%';

/** What every column of a wide session is. */
export const planColumns = (layout: Layout, vehicle: Vehicle | undefined): ColumnPlan[] => {
  const plans = layout.header.map((cell, column) =>
    planColumn(cell, column, layout.unitsRow?.[column], layout.headless ? undefined : mappingOf(vehicle, cell.text)),
  );
  if (plans.some((plan) => plan.quantity === 'time' || /^date$/i.test(plan.name))) return plans;
  const clock = plans.find(
    (plan) =>
      plan.quantity === undefined && plan.unit?.dimensions[0] === 'time' && rises(layout.firstRows.map((row) => row[plan.column] ?? '')),
  );
  return plans.map((plan) => (plan === clock ? { ...plan, quantity: 'time', quantityFrom: 'guess' } : plan));
};

const LEAST_RISES = 3;

/** Whether the texts are numbers that never fall and mostly rise, as only a clock's do. */
const rises = (texts: readonly string[]): boolean => {
  const values = texts.filter((text) => text !== '').map((text) => Number(text.replace(',', '.')));
  let risen = 0;
  for (let at = 1; at < values.length; at++) {
    if (!(values[at] >= values[at - 1])) return false;
    if (values[at] > values[at - 1]) risen++;
  }
  return risen >= LEAST_RISES && risen * 2 > values.length;
};
