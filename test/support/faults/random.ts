// Seeded random numbers for planted faults and drawn drives: a run is repeated by its seed, printed with every failure.

export interface Random {
  /** From 0 (inclusive) to 1. */
  next(): number;
  between(low: number, high: number): number;
  /** A whole number, both ends inclusive. */
  whole(low: number, high: number): number;
  chance(probability: number): boolean;
  pick<T>(from: readonly T[]): T;
  /** Standard normal. */
  normal(): number;
  /** In another order; the argument is left as it is. */
  shuffled<T>(from: readonly T[]): T[];
}

/** The mulberry32 generator (public domain, T. Ettinger): 32 bits of state, good enough to draw test cases. */
export const seeded = (seed: number): Random => {
  let state = seed >>> 0,
    spare = NaN;
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
  const between = (low: number, high: number): number => low + (high - low) * next();
  const whole = (low: number, high: number): number => low + Math.floor(next() * (high - low + 1));
  return {
    next,
    between,
    whole,
    chance: (probability) => next() < probability,
    pick: (from) => from[whole(0, from.length - 1)],
    normal: () => {
      if (!Number.isNaN(spare)) {
        const kept = spare;
        spare = NaN;
        return kept;
      }
      const radius = Math.sqrt(-2 * Math.log(1 - next())),
        angle = 2 * Math.PI * next(); // Box and Muller: two at a time
      spare = radius * Math.sin(angle);
      return radius * Math.cos(angle);
    },
    shuffled: (from) => {
      const order = [...from];
      for (let index = order.length - 1; index > 0; index--) {
        const other = whole(0, index);
        [order[index], order[other]] = [order[other], order[index]];
      }
      return order;
    },
  };
};

/** A seed for one of many cases, far from its neighbours'. */
export const seedOf = (seed: number, index: number): number =>
  (Math.imul(seed ^ 0x9e3779b9, 0x85ebca6b) + Math.imul(index + 1, 0xc2b2ae35)) >>> 0;

/** `LEANSPOT_SEED` where it is set, else a new one from the clock. */
export const runSeed = (): number => {
  const fixed = Number(process.env['LEANSPOT_SEED']);
  return Number.isFinite(fixed) && process.env['LEANSPOT_SEED'] ? fixed >>> 0 : Date.now() >>> 0;
};
