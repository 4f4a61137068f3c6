// The scale that a table of target AFR is on where it names none.

import { GASOLINE_SCALE_AFR, type Fuel } from '../quantities/fuels.js';
import { limitOf } from './limits.js';
import type { Table } from './table.js';
import type { Vehicle } from './vehicle.js';
import { vehicleFuel } from './vehicleFuel.js';

/** What the leanest cell of a target table, its cruise or idle, lies in (lambda); and a table that asks for no more fuel anywhere tells nothing. Common practice, no source. */
const CRUISE = { least: 0.9, most: 1.05 }, ENRICHED = 0.95;

/** The fuel in the tank, where on gasoline's scale even the leanest target is too rich for an engine, and on that fuel's it is a cruise: such a table is no target as it reads. */
export const unnamedScale = ({ quantity, unit, values }: Pick<Table, 'quantity' | 'unit' | 'values'>, vehicle: Pick<Vehicle, 'fuel' | 'limits'>): Fuel | undefined => {
  if (quantity !== 'target-afr' || unit?.id !== 'afr' || (unit.fuel ?? 'gasoline') !== 'gasoline') return undefined;
  const fuel = vehicleFuel(vehicle), { least, most } = leastAndMost(values), cruise = fuel ? most / fuel.stoichAfr : NaN;
  return most / GASOLINE_SCALE_AFR < limitOf('richLambda', vehicle.limits).value && cruise >= CRUISE.least && cruise <= CRUISE.most && least < ENRICHED * most ? fuel : undefined;
};

/** The smallest and the greatest number of a table's cells, blank ones left out; of a large table too many to be arguments of one call. */
export const leastAndMost = (values: Float64Array): { readonly least: number; readonly most: number } => {
  let least = Infinity, most = -Infinity;
  for (let cell = 0; cell < values.length; cell++) {
    if (values[cell] < least) least = values[cell];
    if (values[cell] > most) most = values[cell];
  }
  return { least, most };
};
