// The one way in for data: bytes that can be read piece by piece, from a file, an editor's text or a test.

/** Bytes at rest. Reads are synchronous; whoever makes one over slow storage runs the reader on a worker. */
export interface ByteSource {
  readonly size: number;
  /** Bytes from `start` (inclusive) to `end` (exclusive, cut to `size`). May be a view that the caller must not keep or change. */
  read(start: number, end: number): Uint8Array;
}

/** A source over bytes in memory. */
export const bytesSource = (bytes: Uint8Array): ByteSource => ({
  size: bytes.length,
  read: (start, end) => bytes.subarray(start, end),
});

/** A source over text, as UTF-8. */
export const textSource = (text: string): ByteSource => bytesSource(utf8(text));

/** A text as UTF-8. Of a long one whose characters are nearly all plain it takes half the time to take that for granted first. */
export function utf8(text: string): Uint8Array {
  const encoder = new TextEncoder();
  if (text.length < LONG_TEXT) return encoder.encode(text);
  const bytes = new Uint8Array(text.length + SPARE),
    { read, written } = encoder.encodeInto(text, bytes);
  return read === text.length ? bytes.subarray(0, written) : encoder.encode(text);
}

const LONG_TEXT = 1 << 20,
  SPARE = 1 << 16;

/** Whether two sources hold the same, read until they differ. */
export function sameBytes(a: ByteSource, b: ByteSource): boolean {
  if (a.size !== b.size) return false;
  for (let from = 0; from < a.size; from += LONG_TEXT) {
    const [these, those] = [a.read(from, from + LONG_TEXT), b.read(from, from + LONG_TEXT)];
    if (!sameWords(these, those)) return false;
  }
  return true;
}

/** Four bytes at a time; the last ones overlap. */
function sameWords(a: Uint8Array, b: Uint8Array): boolean {
  if (a.length < 4) return a.every((byte, at) => byte === b[at]);
  const [these, those] = [a, b].map((each) => new DataView(each.buffer, each.byteOffset, each.byteLength)),
    last = a.length - 4;
  for (let at = 0; at < last; at += 4) if (these.getInt32(at) !== those.getInt32(at)) return false;
  return these.getInt32(last) === those.getInt32(last);
}

/**
 * A number that is all but surely another where any of the first `size` bytes is: each word changes it, and all its bits (multiply and
 * shift, as in MurmurHash3).
 */
export function checksumOf(source: ByteSource, size: number): number {
  let sum = size | 0;
  for (let from = 0; from < size; from += LONG_TEXT) {
    const bytes = source.read(from, Math.min(from + LONG_TEXT, size)),
      view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength),
      whole = bytes.length & ~3;
    for (let at = 0; at < whole; at += 4) {
      sum = Math.imul(sum ^ view.getInt32(at), 0x85ebca6b);
      sum ^= sum >>> 13;
    }
    for (let at = whole; at < bytes.length; at++) sum = Math.imul(sum ^ bytes[at], 0xc2b2ae35);
  }
  return sum;
}

/** Codes of a `SourceError`. */
export const WENT_AWAY = 'WENT-AWAY';
export const BECAME_SHORTER = 'BECAME-SHORTER';

/** A file that changed under the reader's hands: no fault of the program. `path` is its path or address. */
export class SourceError extends Error {
  constructor(
    readonly code: typeof WENT_AWAY | typeof BECAME_SHORTER,
    readonly path: string,
  ) {
    super(`${path} ${code === WENT_AWAY ? 'went away meanwhile' : 'became shorter while it was read'}`);
  }
}
