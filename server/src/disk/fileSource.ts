// A real file as bytes that are read piece by piece, so that a file larger than memory streams.

import { closeSync, openSync, readSync, statSync } from 'node:fs';
import { BECAME_SHORTER, SourceError, type ByteSource } from '../formats/source.js';

/** Small reads (a hover, a range) are answered from one block of this size. */
const BLOCK_BYTES = 1 << 16;
/** Pieces up to this come in the same memory again: new memory would take longer to get than to fill. */
const PIECE_BYTES = 1 << 20;

/**
 * Whether a regular file holds these bytes and no others: by one block of memory, that of a whole file would take longer to get than to
 * fill.
 */
export function fileHolds(path: string, bytes: Uint8Array): boolean {
  if (statSync(path, { throwIfNoEntry: false })?.isFile() !== true) return false;
  const block = Buffer.allocUnsafe(PIECE_BYTES),
    file = openSync(path, 'r');
  try {
    for (let at = 0; ;) {
      const count = readSync(file, block, 0, PIECE_BYTES, at),
        end = Math.min(at + count, bytes.length);
      if (count === 0) return at === bytes.length;
      if (block.compare(bytes, at, end, 0, count) !== 0) return false;
      at = end;
    }
  } finally {
    closeSync(file);
  }
}

/**
 * Opens a regular file; undefined where there is none. The file is opened anew for each block, so nothing stays
 * locked or leaks. Reads throw where the file is gone or has shrunk meanwhile: a half-read file must not pass for a whole one.
 */
export function fileSource(path: string): ByteSource | undefined {
  const stats = statSync(path, { throwIfNoEntry: false });
  if (!stats?.isFile()) return undefined;
  const { size } = stats;
  let memory = new Uint8Array(0),
    block: Uint8Array = memory,
    blockStart = 0;

  const load = (bytes: Uint8Array, start: number): Uint8Array => {
    const file = openSync(path, 'r');
    try {
      let filled = 0;
      while (filled < bytes.length) {
        const count = readSync(file, bytes, filled, bytes.length - filled, start + filled);
        if (count === 0) throw new SourceError(BECAME_SHORTER, path);
        filled += count;
      }
    } finally {
      closeSync(file);
    }
    return bytes;
  };

  return {
    size,
    read(start, end) {
      const from = Math.max(0, start);
      const to = Math.min(end, size);
      if (to <= from) return new Uint8Array(0);
      if (from < blockStart || to > blockStart + block.length) {
        const length = Math.max(to - from, Math.min(size - from, BLOCK_BYTES));
        if (length > PIECE_BYTES) return load(new Uint8Array(length), from);
        if (memory.length < length) memory = new Uint8Array(length);
        block = memory.subarray(0, 0);
        block = load(memory.subarray(0, length), from);
        blockStart = from;
      }
      return block.subarray(from - blockStart, to - blockStart);
    },
  };
}
