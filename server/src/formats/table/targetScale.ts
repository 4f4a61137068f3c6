// The scale that a table of target AFR is on where it names none.

import { fuelOf, GASOLINE_SCALE_AFR, type Fuel } from '../../quantities/fuels.js';
import { limitOf } from '../limits.js';
import type { Table } from './table.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import { vehicleFuel } from '../vehicle/vehicleFuel.js';

/**
 * A fuel is told from gasoline's scale by its plateau where it asks for so much more air, by so near a number, in such a share of the
 * cells. Common practice, no source.
 */
const LEANER_BY = 1.02,
  PLATEAU_WITHIN = 0.006,
  PLATEAU_SHARE = 0.2;

/**
 * The fuel in the tank, where a table that names none stands for a good part at that fuel's own stoichiometric ratio, nowhere at
 * gasoline's, and is the richer for being read so: LPG's 15.7 is its λ 1, and would be λ 1.07 on gasoline's scale. Of a fuel that asks for
 * less air gasoline's scale is the richer reading, and stands.
 */
export const plateauScale = (
  { quantity, unit, values }: Pick<Table, 'quantity' | 'unit' | 'values'>,
  vehicle: Pick<Vehicle, 'fuel'> | undefined,
): Fuel | undefined => {
  if (!vehicle || quantity !== 'target-afr' || unit?.id !== 'afr' || unit.fuel !== undefined) return undefined;
  const fuel = vehicleFuel(vehicle);
  if (!fuel || fuel.stoichAfr < LEANER_BY * GASOLINE_SCALE_AFR) return undefined;
  const standsAt = (afr: number): number =>
    values.reduce((count, value) => (Math.abs(value / afr - 1) < PLATEAU_WITHIN ? count + 1 : count), 0);
  return standsAt(fuel.stoichAfr) >= PLATEAU_SHARE * values.length && standsAt(GASOLINE_SCALE_AFR) === 0 ? fuel : undefined;
};

/**
 * The stoichiometric ratio that a table of target AFR counts by: of the fuel that it names, of the tank's where it stands at that, else
 * gasoline's.
 */
export const scaleAfr = (table: Pick<Table, 'quantity' | 'unit' | 'values'>, vehicle: Pick<Vehicle, 'fuel'> | undefined): number =>
  (table.unit?.fuel === undefined ? plateauScale(table, vehicle)?.stoichAfr : fuelOf(table.unit.fuel)?.stoichAfr) ?? GASOLINE_SCALE_AFR;

/**
 * What the leanest cell of a target table, its cruise or idle, lies in (lambda); and a table that asks for no more fuel anywhere tells
 * nothing. Common practice, no source.
 */
const CRUISE = { least: 0.9, most: 1.05 },
  ENRICHED = 0.95;

/**
 * The fuel in the tank, where on gasoline's scale even the leanest target is too rich for an engine, and on that fuel's it is a cruise:
 * such a table is no target as it reads.
 */
export const unnamedScale = (
  { quantity, unit, values }: Pick<Table, 'quantity' | 'unit' | 'values'>,
  vehicle: Pick<Vehicle, 'fuel' | 'limits'>,
): Fuel | undefined => {
  if (quantity !== 'target-afr' || unit?.id !== 'afr' || (unit.fuel ?? 'gasoline') !== 'gasoline') return undefined;
  const fuel = vehicleFuel(vehicle),
    { least, most } = leastAndMost(values),
    cruise = fuel ? most / fuel.stoichAfr : NaN;
  return most / GASOLINE_SCALE_AFR < limitOf('richLambda', vehicle.limits).value &&
    cruise >= CRUISE.least &&
    cruise <= CRUISE.most &&
    least < ENRICHED * most
    ? fuel
    : undefined;
};

/** The smallest and the greatest number of a table's cells, blank ones left out; of a large table too many to be arguments of one call. */
export const leastAndMost = (values: Float64Array): { readonly least: number; readonly most: number } => {
  let least = Infinity,
    most = -Infinity;
  for (let cell = 0; cell < values.length; cell++) {
    if (values[cell] < least) least = values[cell];
    if (values[cell] > most) most = values[cell];
  }
  return { least, most };
};
