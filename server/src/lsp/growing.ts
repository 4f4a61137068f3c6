// Files that keep changing, such as a log that is being written: each is read again, but for a share of the time only.

/** The most of the time that goes into reading one such file again. No source. */
const SHARE = 0.1;

/** How long a file is left alone that took so long, ms. */
export const leftFor = (tookMs: number): number => tookMs * (1 / SHARE - 1);

export interface Growing {
  /** How long a file with this stamp is left as it was found, ms: 0 for one that is as it was, or has changed for the first time. */
  waitMs(uri: string, stamp: string | undefined): number;
  /** It was read with this stamp, in so many ms. */
  wasRead(uri: string, stamp: string | undefined, tookMs: number): void;
}

export function createGrowing(nowMs: () => number = Date.now): Growing {
  const seen = new Map<
    string,
    { readonly stamp: string | undefined; readonly tookMs: number; readonly endedMs: number; readonly hasChanged: boolean }
  >();
  return {
    waitMs(uri, stamp) {
      const last = seen.get(uri);
      return !last?.hasChanged || last.stamp === stamp ? 0 : Math.max(0, last.endedMs + leftFor(last.tookMs) - nowMs());
    },
    wasRead(uri, stamp, tookMs) {
      const last = seen.get(uri);
      // Found as it was it was not read.
      if (last?.stamp !== stamp || !last) seen.set(uri, { stamp, tookMs, endedMs: nowMs(), hasChanged: last !== undefined });
    },
  };
}
