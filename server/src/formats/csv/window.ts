// A sliding window over a source: the bytes at hand, topped up chunk by chunk, so that a file of any size needs little memory.

import type { ByteSource } from '../source.js';

const CR = 13;
const LF = 10;
/** Behind the bytes at hand: a line feed, a carriage return's neighbour, a word. */
const SPARE_BYTES = 8;

export class Window {
  /** The bytes at hand are `bytes[0..length)`; a line feed stands behind them, and room for a scanner that looks a word at a time. */
  bytes: Uint8Array;
  length = 0;
  /** Offset of `bytes[0]` in the source. */
  base: number;

  constructor(
    private readonly source: ByteSource,
    start: number,
    private readonly chunkBytes: number,
  ) {
    this.base = start;
    this.bytes = new Uint8Array(Math.min(chunkBytes, Math.max(0, source.size - start)) + SPARE_BYTES);
    this.bytes[0] = LF;
  }

  /** Whether the source's last byte is at hand. */
  get ended(): boolean {
    return this.base + this.length >= this.source.size;
  }

  /** Lets go of the bytes before `keepFrom` and reads one more chunk. */
  refill(keepFrom: number): void {
    this.bytes.copyWithin(0, keepFrom, this.length);
    this.base += keepFrom;
    this.length -= keepFrom;
    const from = this.base + this.length;
    const piece = this.source.read(from, Math.min(from + this.chunkBytes, this.source.size));
    if (this.length + piece.length + SPARE_BYTES > this.bytes.length) {
      const wider = new Uint8Array(Math.max(this.bytes.length * 2, this.length + piece.length + SPARE_BYTES));
      wider.set(this.bytes.subarray(0, this.length));
      this.bytes = wider;
    }
    this.bytes.set(piece, this.length);
    this.length += piece.length;
    this.bytes[this.length] = LF;
  }

  /**
   * Index behind the last whole line from `from` on; `from` where none is whole. A carriage return at the very end waits for what follows
   * it.
   */
  lastLineEnd(from: number): number {
    const { bytes } = this;
    for (let at = this.length - 1; at >= from; at--) {
      if (bytes[at] === LF || (bytes[at] === CR && (at + 1 < this.length || this.ended))) return at + 1;
    }
    return from;
  }
}

/** Index behind the line end of the line that `from` stands in; `to` where the line has none. */
export const nextLine = (bytes: Uint8Array, from: number, to: number): number => {
  for (let at = from; at < to; at++) {
    if (bytes[at] === LF) return at + 1;
    if (bytes[at] === CR) return at + 1 < to && bytes[at + 1] === LF ? at + 2 : at + 1;
  }
  return to;
};

/** How many lines end in a stretch of bytes. */
export const countLines = (bytes: Uint8Array, from: number, to: number): number => {
  let lines = 0;
  for (let at = from; at < to; at++) {
    if (bytes[at] === LF || (bytes[at] === CR && bytes[at + 1] !== LF)) lines++;
  }
  return lines;
};
