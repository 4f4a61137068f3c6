// Chance that can be repeated: every simulated drive follows from one seed, printed with whatever it shows.

export interface Random {
  /** Even in [0, 1). */
  next(): number;
  /** Even in [low, high). */
  between(low: number, high: number): number;
  /** Whole number, both ends included. */
  whole(low: number, high: number): number;
  /** Normal with mean 0 and deviation 1 (Box and Muller 1958). */
  normal(): number;
  pick<T>(items: readonly T[]): T;
  chance(probability: number): boolean;
  /** An independent stream of its own, so that one part's draws do not shift another's. */
  fork(label: string): Random;
}

/** 32-bit hash of a text (FNV-1a). */
const hash = (text: string): number => {
  let h = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) h = Math.imul(h ^ text.charCodeAt(i), 0x01000193);
  return h >>> 0;
};

/** A small generator (a Weyl sequence through a 32-bit mixer); good enough for noise, not for secrets. */
export function randomOf(seed: number): Random {
  let state = seed >>> 0;
  let spare: number | undefined;
  const next = (): number => {
    state = (state + 0x9e3779b9) >>> 0;
    let z = state;
    z = Math.imul(z ^ (z >>> 16), 0x21f0aaad);
    z = Math.imul(z ^ (z >>> 15), 0x735a2d97);
    return ((z ^ (z >>> 15)) >>> 0) / 4294967296;
  };
  for (let i = 0; i < 8; i++) next();
  const between = (low: number, high: number): number => low + (high - low) * next();
  return {
    next,
    between,
    whole: (low, high) => Math.floor(between(low, high + 1)),
    normal() {
      if (spare !== undefined) {
        const value = spare;
        spare = undefined;
        return value;
      }
      const radius = Math.sqrt(-2 * Math.log(1 - next())),
        angle = 2 * Math.PI * next();
      spare = radius * Math.sin(angle);
      return radius * Math.cos(angle);
    },
    pick: (items) => items[Math.floor(next() * items.length)],
    chance: (probability) => next() < probability,
    fork: (label) => randomOf(hash(`${seed}/${label}`)),
  };
}

/** The seed of this run: `LEANSPOT_SEED` where it is set, else a new one. Say it wherever its results are shown. */
export const runSeed = (): number => {
  const fixed = Number(process.env.LEANSPOT_SEED ?? '');
  return process.env.LEANSPOT_SEED && Number.isFinite(fixed) ? fixed >>> 0 : Math.floor(Math.random() * 4294967296);
};
