// The same rows of plain numbers as plain.ts reads, by its compiled twin (server/kernel/plainRows.ts), which is some times as fast. Where
// no compiled code may run or sixteen bytes at a time are not known, and for rows that hold anything else, plain.ts reads on.

import { PLAIN_ROWS_CODE } from './plainRowsCode.js';
import type { Rows } from './rows.js';

/** What is needed of WebAssembly, which every place that the core runs in has. */
interface Kernel {
  readonly memory: { readonly buffer: ArrayBuffer; grow(pages: number): number };
  readonly behind: { readonly value: number };
  read(
    from: number,
    to: number,
    out: number,
    stride: number,
    starts: number,
    blanks: number,
    points: number,
    ends: number,
    width: number,
    most: number,
    delimiter: number,
    comma: number,
  ): number;
}
declare const WebAssembly: {
  readonly Module: new (code: Uint8Array) => unknown;
  readonly Instance: new (module: unknown) => { readonly exports: unknown };
};

const PAGE_BYTES = 65_536;
/** The kernel's own constants lie below. */
const FIRST = PAGE_BYTES;
/**
 * Rows that are read at a time, and the room between two columns of them: no power of two, so that the columns do not crowd one place of
 * the cache.
 */
const MOST_ROWS = 1024,
  STRIDE = MOST_ROWS + 8;
/** After rows that it left it is asked for few, since whatever it looked at behind the next such row it will look at again. */
const FEW_ROWS = 16,
  ROWS_AT_A_TIME = 128;
/** Bytes behind those taken that it may look at. */
const SPARE_BYTES = 72;
const MOST_COLUMNS = 512;
const MOST_BYTES = 8 << 20;
/**
 * A file whose rows are mostly something else is better read by plain.ts alone: after so many tries, unless they gave so many rows each.
 */
const TRIES = 64,
  LEAST_ROWS = 8;

let shared: { readonly kernel: Kernel | undefined } | undefined;

/** The kernel, made once; undefined where code may not be compiled. */
const kernelOf = (): Kernel | undefined => {
  if (shared) return shared.kernel;
  try {
    const code = Uint8Array.from(PLAIN_ROWS_CODE.match(/../g)!, (byte) => parseInt(byte, 16));
    shared = { kernel: new WebAssembly.Instance(new WebAssembly.Module(code)).exports as Kernel };
  } catch {
    shared = { kernel: undefined };
  }
  return shared.kernel;
};

export class PlainKernel {
  private tries = 0;
  private taken = 0;
  private from = 0;
  private to = 0;
  private base = 0;

  private constructor(
    private readonly kernel: Kernel,
    private readonly rows: Rows,
  ) {}

  /** Undefined where it cannot help with these rows. */
  static for(rows: Rows): PlainKernel | undefined {
    const { width } = rows.columns;
    // A name of digits may be longer than the numbers that plain.ts takes for such.
    const kernel = width <= MOST_COLUMNS && rows.writtenWidth >= width && !rows.kinds.includes('name') ? kernelOf() : undefined;
    return kernel && new PlainKernel(kernel, rows);
  }

  /** Where in the kernel's memory what lies; columns first. */
  private get places(): {
    readonly starts: number;
    readonly blanks: number;
    readonly points: number;
    readonly ends: number;
    readonly input: number;
  } {
    const { width } = this.rows.columns;
    const starts = FIRST + width * STRIDE * 8,
      blanks = starts + (MOST_ROWS + 2) * 4,
      points = blanks + width * 4,
      ends = points + width * 4;
    return { starts, blanks, points, ends, input: ends + (ROWS_AT_A_TIME * width + 400) * 4 };
  }

  /** Takes the lines of `bytes[from..to)`, of which `read` will read; `base` is the offset of `bytes[0]` in the source. */
  take(bytes: Uint8Array, from: number, to: number, base: number): void {
    this.from = from;
    this.to = to - from <= MOST_BYTES ? to : from;
    this.base = base;
    if (this.isIdle) return;
    const { memory } = this.kernel,
      { points, input } = this.places;
    const missing = input + (to - from) + SPARE_BYTES - memory.buffer.byteLength;
    if (missing > 0) memory.grow(Math.ceil(missing / PAGE_BYTES));
    new Uint8Array(memory.buffer, input, to - from).set(bytes.subarray(from, to));
    new Int32Array(memory.buffer, points, this.rows.columns.width).fill(-1);
  }

  /** Whether it leaves everything to the scanner: this file is not its kind, or these lines are too long. */
  get isIdle(): boolean {
    return (this.tries >= TRIES && this.taken < LEAST_ROWS * this.tries) || this.to === this.from;
  }

  /** Reads rows from `at` on, an index of the bytes taken; the index of the first line that it leaves. */
  read(at: number): number {
    const { kernel, rows } = this,
      { starts, blanks, points, ends, input } = this.places;
    const {
      delimiter,
      comma,
      columns: { width },
    } = rows;
    if (at >= this.to || this.isIdle) return at;
    this.tries++;
    const { buffer } = kernel.memory;
    const toColumns = input - this.from;
    for (let most = FEW_ROWS; ; most = Math.min(4 * most, MOST_ROWS)) {
      const blank = new Uint32Array(buffer, blanks, width).fill(0);
      const count = kernel.read(
        toColumns + at,
        toColumns + this.to,
        FIRST,
        STRIDE * 8,
        starts,
        blanks,
        points,
        ends,
        width,
        most,
        delimiter,
        comma,
      );
      if (count > 0)
        rows.plainRows(
          count,
          new Uint32Array(buffer, starts, count),
          this.base - toColumns + 1,
          new Float64Array(buffer, FIRST, width * STRIDE),
          STRIDE,
          blank,
        );
      at = kernel.behind.value - toColumns;
      this.taken += count;
      if (count < most) return at;
    }
  }
}
