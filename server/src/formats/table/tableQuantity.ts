// What the values of a table can be, as `# quantity:` names it, and what the axes can be.

import { convertUnit, toCanonical } from '../../quantities/convert.js';
import { parseUnit, parseUnitOf } from '../../quantities/parseUnit.js';
import { isQuantityId, QUANTITIES, type QuantityId } from '../../quantities/quantity.js';
import { UNITS, type ConversionContext, type Dimension, type Unit } from '../../quantities/units.js';
import { recognise } from '../session/channelNames.js';
import type { Table, TableQuantity } from './table.js';

export interface TableQuantityInfo {
  /** As `# quantity:` writes it, without the unit. */
  readonly title: string;
  readonly dimension: Dimension;
  /** Where the text names none; `said` is whether the assumption needs saying (a multiplier and lambda have no other usual unit). */
  readonly unit: Unit;
  readonly said: boolean;
  /**
   * Values outside are a slip or another quantity; in `unit`. Common practice, no source. Volumetric efficiency as referred to manifold
   * pressure.
   */
  readonly plausible: readonly [low: number, high: number];
}

const info = (title: string, dimension: Dimension, unit: Unit, said: boolean, low: number, high: number): TableQuantityInfo => ({
  title,
  dimension,
  unit,
  said,
  plausible: [low, high],
});

export const TABLE_QUANTITIES: Readonly<Record<TableQuantity, TableQuantityInfo>> = {
  'volumetric-efficiency': info('volumetric efficiency', 'ratio', UNITS['%'], true, 10, 140),
  'fuel-mass': info('fuel mass', 'mass', UNITS.mg, true, 0.1, 1000),
  'injector-pulse-width': info('injector pulse width', 'time', UNITS.ms, true, 0, 40),
  'mass-air-flow': info('mass air flow', 'mass-flow', UNITS['g/s'], true, 0, 2000),
  multiplier: info('multiplier', 'count', UNITS.count, false, 0, 10),
  'target-lambda': info('target lambda', 'mixture', UNITS.lambda, false, 0.5, 2),
  'target-afr': info('target AFR', 'mixture', UNITS.afr, false, 1, 40),
  'ignition-advance': info('ignition advance', 'angle', UNITS.deg, true, -40, 70),
  'manifold-pressure-target': info('manifold pressure target', 'pressure', UNITS.kPa, true, 10, 600),
};

const words = (text: string): string =>
  text
    .toLowerCase()
    .replace(/[\s_-]+/g, ' ')
    .trim();

const TABLE_NAMES: ReadonlyMap<string, TableQuantity> = new Map([
  ...Object.entries(TABLE_QUANTITIES).flatMap(([id, { title }]) => [
    [words(id), id],
    [words(title), id],
  ]),
  ['ve', 'volumetric-efficiency'],
  ['pulse width', 'injector-pulse-width'],
  ['injection time', 'injector-pulse-width'],
  ['maf', 'mass-air-flow'],
  ['air mass flow', 'mass-air-flow'],
  ['correction', 'multiplier'],
  ['factor', 'multiplier'],
  ['lambda target', 'target-lambda'],
  ['lambda', 'target-lambda'],
  ['target phi', 'target-lambda'],
  ['phi', 'target-lambda'],
  ['target equivalence ratio', 'target-lambda'],
  ['equivalence ratio', 'target-lambda'],
  ['afr target', 'target-afr'],
  ['afr', 'target-afr'],
  ['target air fuel ratio', 'target-afr'],
  ['spark advance', 'ignition-advance'],
  ['ignition timing', 'ignition-advance'],
  ['boost target', 'manifold-pressure-target'],
  ['target manifold pressure', 'manifold-pressure-target'],
] as [string, TableQuantity][]);

/** A text such as `engine speed (rpm)` in its parts. The unit is undefined where none stands in brackets. */
export const nameAndUnit = (text: string): { readonly name: string; readonly unitText: string | undefined } => {
  const match = text.length > 200 ? null : /^(.*?)\s*(?:\((.*)\)|\[(.*)\])\s*$/.exec(text);
  return match ? { name: match[1], unitText: (match[2] ?? match[3]).trim() } : { name: text.trim(), unitText: undefined };
};

/** What a head line says, and how much of it was understood. */
export interface Named<Id> {
  readonly quantity: Id | undefined;
  readonly unit: Unit | undefined;
  /** `missing` and `unknown`: the unit in `unit` is an assumption to be said. */
  readonly unitState: 'read' | 'usual' | 'missing' | 'unknown';
  readonly unitText: string;
}

const withUnit = <Id>(
  quantity: Id,
  unitText: string | undefined,
  parse: (text: string) => Unit | undefined,
  usual: Unit,
  said: boolean,
): Named<Id> => {
  const unit = unitText ? parse(unitText) : undefined;
  if (unit) return { quantity, unit, unitState: 'read', unitText: unitText ?? '' };
  return { quantity, unit: usual, unitState: unitText ? 'unknown' : said ? 'missing' : 'usual', unitText: unitText ?? '' };
};

/** The quantity of the values: `volumetric efficiency (%)`, `target AFR (E85)`. */
export const tableQuantityOf = (text: string): Named<TableQuantity> => {
  const { name, unitText } = nameAndUnit(text);
  const plain = words(name);
  // `target AFR E85`: the fuel stands where a unit would.
  const afr = /^(target afr|afr target|afr) (.+)$/.exec(plain);
  const quantity = TABLE_NAMES.get(plain) ?? (afr ? 'target-afr' : undefined);
  if (!quantity)
    return { quantity: undefined, unit: unitText ? parseUnit(unitText) : undefined, unitState: 'unknown', unitText: unitText ?? '' };
  const { dimension, unit, said } = TABLE_QUANTITIES[quantity];
  if (quantity === 'target-afr') {
    return withUnit(
      quantity,
      unitText ?? afr?.[2],
      (fuel) => parseUnitOf(`AFR ${fuel}`, 'mixture') ?? parseUnitOf(fuel, 'mixture'),
      unit,
      said,
    );
  }
  if (quantity === 'multiplier' && unitText !== undefined && /^(x|×|factor|-|1)?$/.test(words(unitText)))
    return withUnit(quantity, undefined, () => undefined, unit, said);
  // The fuel's share of what lambda 1 needs: 1 over lambda (Heywood, ch. 3).
  if (/phi$|equivalence/.test(plain)) return withUnit(quantity, unitText, (text) => parseUnitOf(text, dimension), UNITS.phi, true);
  return withUnit(
    quantity,
    unitText,
    (text) => parseUnitOf(text, dimension) ?? (quantity === 'multiplier' ? parseUnitOf(text, 'ratio') : undefined),
    unit,
    said,
  );
};

/** The quantity of an axis: an id, a title, or any name that a log's header may have. */
export const axisQuantityOf = (text: string): Named<QuantityId> => {
  const { name, unitText } = nameAndUnit(text);
  const id = words(name).replaceAll(' ', '-');
  const quantity = isQuantityId(id) ? id : recognise(name)?.quantity;
  if (!quantity)
    return { quantity: undefined, unit: unitText ? parseUnit(unitText) : undefined, unitState: 'unknown', unitText: unitText ?? '' };
  const usual = UNITS[QUANTITIES[quantity].unit];
  return withUnit(quantity, unitText, (spelled) => parseUnit(spelled, quantity), usual, usual.symbol !== '');
};

/**
 * From a table's values as written to the usual unit of its quantity (λ for both kinds of mixture target). As written where the quantity is
 * not known.
 */
export const tableToCanonical = (table: Pick<Table, 'quantity' | 'unit'>, context: ConversionContext): ((written: number) => number) => {
  const { quantity, unit } = table;
  if (!quantity || !unit) return (written) => written;
  if (quantity === 'target-lambda' || quantity === 'target-afr') return toCanonical('target-lambda', unit, context);
  if (quantity === 'multiplier') return unit.id === '%' ? (written) => written / 100 : (written) => written;
  return convertUnit(unit, TABLE_QUANTITIES[quantity].unit, context, TABLE_QUANTITIES[quantity].dimension);
};
