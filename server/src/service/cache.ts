// What was derived from a file, kept until the file (or whatever else it was derived from) changes.

/** Keeps one value for each name, with the key that it holds for; the least recently used go when the weight is more than `most`. */
export interface Cache<T> {
  /** The value for this key: the kept one, or a new one from `make`. Two who ask at once share one making. A failure is not kept. */
  get(name: string, key: string, make: () => Promise<T>): Promise<T>;
  forget(name: string): void;
}

/** `weigh` says what a value costs, in the unit of `most` (default: one each). */
export function createCache<T>(most: number, weigh: (value: T) => number = () => 1): Cache<T> {
  const entries = new Map<string, { key: string; value: Promise<T>; weight: number }>();
  let total = 0;

  const drop = (name: string): void => {
    const entry = entries.get(name);
    if (!entry) return;
    total -= entry.weight;
    entries.delete(name);
  };

  const trim = (): void => {
    // The newest always stays, whatever it weighs: somebody is about to use it.
    for (const name of entries.keys()) {
      if (total <= most || entries.size === 1) return;
      drop(name);
    }
  };

  return {
    async get(name, key, make) {
      const kept = entries.get(name);
      if (kept?.key === key) {
        entries.delete(name);
        entries.set(name, kept);
        return kept.value;
      }
      drop(name);
      const entry = { key, value: make(), weight: 0 };
      entries.set(name, entry);
      try {
        const value = await entry.value;
        if (entries.get(name) === entry) {
          entry.weight = weigh(value);
          total += entry.weight;
          trim();
        }
        return value;
      } catch (error) {
        if (entries.get(name) === entry) drop(name);
        throw error;
      }
    },
    forget: drop,
  };
}
