// What is dear to find is found where somebody asks, and once.

export const once = <T>(make: () => T): (() => T) => {
  let made: { readonly value: T } | undefined;
  return () => (made ??= { value: make() }).value;
};

/** The same for each of many objects, by a key that may be shared (the parts of one analysis by a member), for as long as the key lives. */
export const onceBy = <K, T>(keyOf: (of: K) => object, make: (of: K) => T): ((of: K) => T) => {
  const known = new WeakMap<object, { readonly value: T }>();
  return (of) => {
    const key = keyOf(of);
    let found = known.get(key);
    if (!found) known.set(key, (found = { value: make(of) }));
    return found.value;
  };
};

/** The same, each object its own key. */
export const onceFor = <K extends object, T>(make: (key: K) => T): ((key: K) => T) => onceBy((key) => key, make);
