// The UTF-8 of a text that mostly grows, in memory that threads share: what comes is written behind what was there, which nobody copies or
// is sent again.

/** A browser's worker has no threads to share with, and browsers neither write UTF-8 to what is shared nor read it there. */
const memoryOf = (length: number): SharedArrayBuffer | ArrayBuffer =>
  'importScripts' in globalThis ? new ArrayBuffer(length) : new SharedArrayBuffer(length);

/** Room for more, as a share of a text, and at least so many bytes. */
const ROOM_SHARE = 1 / 8,
  LEAST_ROOM = 1 << 16;
/** Bytes that a character takes at most. */
const MOST_PER_CHARACTER = 3;

const encoder = new TextEncoder();

/** Bytes and, behind them, a text: where they lie, if the memory that they begin in has room, which is nobody else's then. */
export function withMore(bytes: Uint8Array, text: string): Uint8Array {
  const more = written(bytes, text);
  if (more) return more;
  for (const each of [1, MOST_PER_CHARACTER]) {
    const length = bytes.length + each * text.length,
      wider = new Uint8Array(memoryOf(length + Math.max(LEAST_ROOM, Math.ceil(ROOM_SHARE * length))));
    wider.set(bytes);
    const all = written(wider.subarray(0, bytes.length), text);
    if (all) return all;
  }
  throw new RangeError('UTF-8 takes no more than three bytes a character');
}

function written(bytes: Uint8Array, text: string): Uint8Array | undefined {
  const { read, written: count } = encoder.encodeInto(text, new Uint8Array(bytes.buffer, bytes.byteOffset + bytes.length));
  return read === text.length ? new Uint8Array(bytes.buffer, bytes.byteOffset, bytes.length + count) : undefined;
}
