// What is dear to find is found where somebody asks, and once.

export const once = <T>(make: () => T): (() => T) => {
  let made: { readonly value: T } | undefined;
  return () => (made ??= { value: make() }).value;
};

/** The same for each of many keys, for as long as the key lives. */
export const onceFor = <K extends object, T>(make: (key: K) => T): ((key: K) => T) => {
  const known = new WeakMap<K, { readonly value: T }>();
  return (key) => {
    let found = known.get(key);
    if (!found) known.set(key, found = { value: make(key) });
    return found.value;
  };
};
