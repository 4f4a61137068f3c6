// The fuel trims of a bank: what the computer adds at once, on top of what it has learnt to add.

import type { QuantityId } from '../../quantities/quantity.js';

export interface TrimBank {
  readonly short: QuantityId;
  readonly long: QuantityId;
}

export const TRIM_BANKS: readonly TrimBank[] = [
  { short: 'short-term-fuel-trim', long: 'long-term-fuel-trim' },
  { short: 'short-term-fuel-trim-2', long: 'long-term-fuel-trim-2' },
];

/** Per cent of fuel that both add at a row, of columns in per cent; one that is not logged adds nothing. */
export const trimmedPercent = (short: Float64Array | undefined, long: Float64Array | undefined, row: number): number =>
  100 * ((1 + (short ? short[row] : 0) / 100) * (1 + (long ? long[row] : 0) / 100) - 1);
