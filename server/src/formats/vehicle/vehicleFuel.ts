// What is in the tank, as the vehicle file says it.

import { fuelOf, type Fuel } from '../../quantities/fuels.js';
import type { Vehicle } from './vehicle.js';

/**
 * The vehicle's fuel; a stoichiometric ratio of its own stands before that of the blend. Undefined where the file says nothing of it:
 * whoever assumes one says so.
 */
export const vehicleFuel = ({ fuel: { blend, stoichAfr } }: Pick<Vehicle, 'fuel'>): Fuel | undefined => {
  const named = blend === undefined ? undefined : fuelOf(blend);
  if (stoichAfr === undefined) return named;
  return named ? { ...named, stoichAfr } : { name: `fuel of ${stoichAfr} : 1`, stoichAfr };
};
