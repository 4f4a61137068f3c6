// A promise and what keeps it, for answers that come in parts.

/** A promise to be kept later; whoever does not ask for it does not hear that it was broken. */
export function later<T>(): { readonly promise: Promise<T>; resolve(value: T): void; reject(error: Error): void } {
  let [resolve, reject]: [(value: T) => void, (error: Error) => void] = [() => undefined, () => undefined];
  const promise = new Promise<T>((done, failed) => {
    [resolve, reject] = [done, failed];
  });
  promise.catch(() => undefined);
  return { promise, resolve, reject };
}
