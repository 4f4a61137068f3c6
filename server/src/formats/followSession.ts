// A log that is being written: what was read of it is not read again. Reading goes on behind the last line end, as long as the file has only grown.

import type { ReadOptions } from './assemble.js';
import type { RowsSoFar } from './csv/readRows.js';
import { readSessionBy, type ReadWay } from './readSession.js';
import type { Session } from './session.js';
import { bytesSource, sameBytes, type ByteSource } from './source.js';

/** Of what was read so many stretches of so many bytes are looked at again, the first and the last among them: a file that was written anew differs there. */
const STRETCHES = 9, STRETCH_BYTES = 1 << 16;
/** A longer log is read whole: what is kept of it takes as much room as its columns, about twice its text. */
const MOST_BYTES = 48 << 20;

export interface SessionFollower {
  /** The session as `readSession` reads it. */
  read(source: ByteSource, options: ReadOptions): Session;
  /** Bytes that the last reading found read already. */
  readonly skippedBytes: number;
}

interface Seen { readonly soFar: RowsSoFar; readonly options: string; readonly stretches: readonly { readonly at: number; readonly bytes: Uint8Array }[] }

/** `way`: as of `readSessionBy`. */
export function followSession(way?: ReadWay): SessionFollower {
  let seen: Seen | undefined, skippedBytes = 0;
  return {
    get skippedBytes() { return skippedBytes; },
    read(source, options) {
      const from = seen && source.size <= MOST_BYTES && seen.options === keyOf(options) && hasGrown(source, seen) ? seen.soFar : undefined;
      seen = undefined;
      skippedBytes = from?.offset ?? 0;
      let kept: RowsSoFar | undefined;
      const session = readSessionBy(source, options, way, source.size > MOST_BYTES ? undefined : { ...(from ? { from } : {}), keep: (soFar) => { kept = soFar; } });
      if (kept) seen = { soFar: kept, options: keyOf(options), stretches: stretchesOf(source, kept.offset) };
      return session;
    },
  };
}

const keyOf = ({ vehicle }: ReadOptions): string => JSON.stringify(vehicle && { ...vehicle, channels: [...vehicle.channels] });

const stretchesOf = (source: ByteSource, size: number): Seen['stretches'] => {
  const last = Math.max(0, size - STRETCH_BYTES);
  return Array.from({ length: STRETCHES }, (_, index) => Math.floor((last * index) / (STRETCHES - 1))).map((at) => ({ at, bytes: new Uint8Array(source.read(at, Math.min(at + STRETCH_BYTES, size))) }));
};

const hasGrown = (source: ByteSource, { soFar, stretches }: Seen): boolean =>
  source.size >= soFar.offset && stretches.every(({ at, bytes }) => sameBytes(bytesSource(bytes), bytesSource(source.read(at, at + bytes.length))));
