// Random draws of a test run: the seed is printed, and `LEANSPOT_SEED` repeats it.

import { seeded, type Random } from '../support/faults/random.js';

export interface Draws extends Random {
  readonly seed: number;
}

/** Prints what the draws are for, and the seed. */
export function drawsFor(what: string): Draws {
  const seed = Number(process.env.LEANSPOT_SEED ?? Math.floor(Math.random() * 2 ** 31));
  console.log(`    ${what}: LEANSPOT_SEED=${seed}`);
  return { ...seeded(seed), seed };
}
