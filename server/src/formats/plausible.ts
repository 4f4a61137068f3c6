// The range in which a reading can be true: the vehicle file's own where it sets one, else the quantity's.

import { QUANTITIES, type QuantityId } from '../quantities/quantity.js';
import { HOTTEST_HEAD_C, isOfHead } from './session/headTemperature.js';
import type { Channel } from './session/session.js';
import type { Vehicle } from './vehicle/vehicle.js';

/** In the quantity's canonical unit. */
export interface PlausibleRange {
  readonly low: number;
  readonly high: number;
  readonly from: 'vehicle.json' | 'default';
}

/** The range in force for a car. */
export const plausibleOf = (quantity: QuantityId, { plausible }: Pick<Vehicle, 'plausible'>): PlausibleRange => {
  const own = plausible?.[quantity];
  const [low, high] = own ?? QUANTITIES[quantity].plausible;
  return { low, high, from: own ? 'vehicle.json' : 'default' };
};

/** What a logged reading is held to: a lambda beyond the greatest is a sensor's end, told as such, unless the vehicle file sets a range. */
export const believableOf = (quantity: QuantityId, vehicle: Pick<Vehicle, 'plausible'>): PlausibleRange => {
  const range = plausibleOf(quantity, vehicle);
  return range.from === 'default' && (quantity === 'lambda' || quantity === 'lambda-2') ? { ...range, high: Infinity } : range;
};

/**
 * The same for a column whose least number is `least`. A target of nought is none at all, as some computers log it while the loop is
 * closed; a cylinder head gets hotter than coolant.
 */
export const believableIn = (
  channel: Pick<Channel, 'quantity' | 'quantityFrom' | 'name'>,
  least: number,
  vehicle: Pick<Vehicle, 'plausible'>,
): PlausibleRange => {
  const quantity = channel.quantity!,
    range = believableOf(quantity, vehicle);
  return quantity === 'target-lambda' && least === 0
    ? { ...range, low: 0 }
    : range.from === 'default' && isOfHead(channel)
      ? { ...range, high: HOTTEST_HEAD_C }
      : range;
};

/** Quantities whose range can be set: those that have one. */
export const HAS_RANGE: readonly QuantityId[] = Object.values(QUANTITIES)
  .filter(({ plausible: [low] }) => Number.isFinite(low))
  .map(({ id }) => id);
