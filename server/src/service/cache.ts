// What was derived from a file, kept until the file (or whatever else it was derived from) changes.

/** Keeps one value for each name, with the key that it holds for; the least recently used go when the weight is more than `most`. */
export interface Cache<T> {
  /** The value for this key: the kept one, or a new one from `make`. Two who ask at once share one making. A failure is not kept. */
  get(name: string, key: string, make: () => Promise<T>): Promise<T>;
  /** Whether `get` would find the value, or find it being made. */
  has(name: string, key: string): boolean;
  /** What was made last under this name, whatever key it was made for; undefined before the first, and after it was let go. */
  last(name: string): T | undefined;
}

interface Entry<T> {
  readonly key: string;
  readonly value: Promise<T>;
  weight: number;
}

/** `weigh` says what a value costs, in the unit of `most` (default: one each). */
export function createCache<T>(most: number, weigh: (value: T) => number = () => 1): Cache<T> {
  const entries = new Map<string, Entry<T>>();
  const settled = new Map<string, T>();
  let total = 0;

  const drop = (name: string): void => {
    const entry = entries.get(name);
    if (!entry) return;
    total -= entry.weight;
    entries.delete(name);
  };
  const letGo = (name: string): void => {
    drop(name);
    settled.delete(name);
  };

  const trim = (): void => {
    // The newest always stays, whatever it weighs: somebody is about to use it.
    for (const name of entries.keys()) {
      if (total <= most || entries.size === 1) return;
      letGo(name);
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
      const entry: Entry<T> = { key, value: make(), weight: 0 };
      entries.set(name, entry);
      try {
        const value = await entry.value;
        if (entries.get(name) === entry) {
          entry.weight = weigh(value);
          total += entry.weight;
          settled.set(name, value);
          trim();
        }
        return value;
      } catch (error) {
        if (entries.get(name) === entry) drop(name);
        throw error;
      }
    },
    has: (name, key) => entries.get(name)?.key === key,
    last: (name) => settled.get(name),
  };
}
