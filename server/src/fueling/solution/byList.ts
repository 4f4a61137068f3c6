// What is made of a list of sessions is kept while the same ones are asked about: at each key in a table they are.

export const sameList = <T>(a: readonly T[], b: readonly T[]): boolean => a.length === b.length && a.every((each, at) => each === b[at]);

/** Made once for a list, of which the last is kept by its first session. */
export function keptByList<E extends object, T>(make: (list: readonly E[]) => T): (list: readonly E[]) => T {
  const kept = new WeakMap<E, { readonly list: readonly E[]; readonly made: T }>();
  return (list) => {
    if (list.length === 0) return make(list);
    const known = kept.get(list[0]);
    if (known && sameList(known.list, list)) return known.made;
    const made = make(list);
    kept.set(list[0], { list, made });
    return made;
  };
}
