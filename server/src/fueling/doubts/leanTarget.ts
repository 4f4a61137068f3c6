// Whether a target asks for too little fuel at its load: what `target-unsafe` says of a target table, and what no correction may lean an
// engine toward.

import { fuelOf, isBurntOtherwise as isOfOtherFuel } from '../../quantities/fuels.js';
import { limitOf, type LimitId, type LimitInForce } from '../../formats/limits.js';
import type { Table } from '../../formats/table/table.js';
import type { Vehicle } from '../../formats/vehicle/vehicle.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';

/** By the tank, else by the fuel that a target table's AFR is of. */
export const isBurntOtherwise = (vehicle: Pick<Vehicle, 'fuel'> | undefined, target: Table | undefined): boolean => {
  const burnt = (vehicle && vehicleFuel(vehicle)) ?? (target?.unit?.fuel === undefined ? undefined : fuelOf(target.unit.fuel));
  return burnt !== undefined && isOfOtherFuel(burnt);
};

/** Manifold pressure (kPa), or where none is known the throttle (%). */
export interface Load {
  readonly kPa?: number;
  readonly throttlePercent?: number;
}

export interface LeanTarget {
  readonly kind: 'lean-full-load' | 'lean-under-load';
  readonly beyond: number;
  readonly limit: LimitInForce;
}

/** The limit that a target lambda is above at a load; undefined where it is above none, or the load is not known. */
export const leanTarget = (
  lambda: number,
  { kPa, throttlePercent }: Load,
  set: Readonly<Partial<Record<LimitId, number>>>,
): LeanTarget | undefined => {
  const isFull = kPa !== undefined && kPa >= limitOf('targetFullLoadPressureKPa', set).value;
  const isLoaded =
    isFull ||
    (kPa !== undefined
      ? kPa >= limitOf('loadManifoldPressureKPa', set).value
      : throttlePercent !== undefined && throttlePercent >= limitOf('loadThrottlePercent', set).value);
  const limit = limitOf(isFull ? 'targetFullLoadLambda' : 'targetUnderLoadLambda', set);
  return isLoaded && lambda > limit.value
    ? { kind: isFull ? 'lean-full-load' : 'lean-under-load', beyond: lambda - limit.value, limit }
    : undefined;
};
