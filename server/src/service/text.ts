// Small texts (tables, vehicle files) out of bytes, by the same rules as a session's.

import type { ByteSource } from '../formats/source.js';

/** A table or vehicle file longer than this is something else by that name; only its start is read, and the readers say what is wrong. */
const MOST_BYTES = 32 << 20;

/** UTF-8 or UTF-16 with its mark, UTF-8 without, else Windows-1252. */
export function textOf(source: ByteSource): string {
  const bytes = source.read(0, Math.min(source.size, MOST_BYTES));
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return new TextDecoder('utf-16le').decode(bytes);
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return new TextDecoder('utf-16be').decode(bytes);
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}
