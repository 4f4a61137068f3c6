// A log that is being written: what was read of it is not read again. Reading goes on behind the last line end, as long as the file has
// only grown.

import type { ReadOptions } from './assemble.js';
import type { RowsSoFar } from '../csv/readRows.js';
import { readSessionBy, type ReadWay } from './readSession.js';
import type { Session } from './session.js';
import { checksumOf, type ByteSource } from '../source.js';

/**
 * A longer log is read whole. What is kept of one takes as much room as its columns, up to twice its text; of a very long one they are
 * packed, and shared with the session.
 */
const MOST_BYTES = 1 << 30;
/** How columns are kept is settled when a log is read whole: one that is longer than this and has doubled since is read whole again. */
const SETTLED_BYTES = 48 << 20;

export interface SessionFollower {
  /** The session as `readSession` reads it. */
  read(source: ByteSource, options: ReadOptions): Session;
  /** Bytes that the last reading found read already. */
  readonly skippedBytes: number;
}

interface Seen {
  readonly soFar: RowsSoFar;
  /** Its size when it was read whole. */ readonly wholeBytes: number;
  readonly options: string;
  /** Of the bytes read so far: a file that was written anew has another. */ readonly checksum: number;
}

/** `way`: as of `readSessionBy`. */
export function followSession(way?: ReadWay): SessionFollower {
  let seen: Seen | undefined,
    skippedBytes = 0;
  return {
    get skippedBytes() {
      return skippedBytes;
    },
    read(source, options) {
      // While it reads, what it yields to may ask for the same file.
      const before = seen;
      seen = undefined;
      const from =
        before &&
        source.size <= Math.min(MOST_BYTES, Math.max(SETTLED_BYTES, 2 * before.wholeBytes)) &&
        before.options === keyOf(options) &&
        hasGrown(source, before)
          ? before.soFar
          : undefined;
      skippedBytes = from?.offset ?? 0;
      let kept: RowsSoFar | undefined;
      const session = readSessionBy(
        source,
        options,
        way,
        source.size > MOST_BYTES
          ? undefined
          : {
              ...(from ? { from } : {}),
              keep: (soFar) => {
                kept = soFar;
              },
            },
      );
      if (kept)
        seen = {
          soFar: kept,
          wholeBytes: from ? before!.wholeBytes : source.size,
          options: keyOf(options),
          checksum: checksumOf(source, kept.offset),
        };
      return session;
    },
  };
}

const keyOf = ({ vehicle }: ReadOptions): string => JSON.stringify(vehicle && { ...vehicle, channels: [...vehicle.channels] });

const hasGrown = (source: ByteSource, { soFar, checksum }: Seen): boolean =>
  source.size >= soFar.offset && checksumOf(source, soFar.offset) === checksum;
