// Columns that grow while rows come in, with the place of each row: its byte offset, and its line as long as lines don't simply count on.

import { PackedColumn } from './packed.js';

const BLOCK_ROWS = 256;

/** Rows are gathered in a small block, row by row, and turned into columns a block at a time: that keeps the writes near each other. */
export class Columns {
  samples = 0;
  readonly blockRows = BLOCK_ROWS;
  readonly block: Float64Array;
  readonly filled: number[];
  private columns: Float64Array[];
  private offsets: Float64Array | Uint32Array;
  private flushed = 0;
  /** From sample `changeSamples[i]` on, line = sample + `changeShifts[i]`. */
  readonly changeSamples: number[] = [];
  readonly changeShifts: number[] = [];
  private shift = Number.NaN;
  private readonly packed: readonly (PackedColumn | undefined)[];

  /** `packs` tells the columns that are kept packed. */
  constructor(readonly width: number, expectedRows: number, private readonly sourceBytes: number, packs: (column: number) => boolean = () => false) {
    const capacity = Math.max(BLOCK_ROWS, Math.ceil(expectedRows));
    this.block = new Float64Array(BLOCK_ROWS * width);
    this.filled = new Array<number>(width).fill(0);
    this.packed = Array.from({ length: width }, (_, column) => (packs(column) ? new PackedColumn() : undefined));
    this.columns = this.packed.map((packed) => new Float64Array(packed ? 0 : capacity));
    this.offsets = this.newOffsets(capacity);
  }

  private newOffsets(capacity: number): Float64Array | Uint32Array {
    return this.sourceBytes < 2 ** 32 ? new Uint32Array(capacity) : new Float64Array(capacity);
  }

  /** Where the next row's values go in `block`. */
  get rowAt(): number { return (this.samples - this.flushed) * this.width; }

  /** Takes the row written at `rowAt`. */
  push(offset: number, line: number): void {
    if (this.samples === this.offsets.length) this.grow();
    this.offsets[this.samples] = offset;
    this.atLine(line);
    this.samples++;
    if (this.samples - this.flushed === BLOCK_ROWS) this.flush();
  }

  /** The next row stands in a line. */
  private atLine(line: number): void {
    if (line - this.samples === this.shift) return;
    this.shift = line - this.samples;
    this.changeSamples.push(this.samples);
    this.changeShifts.push(this.shift);
  }

  /**
   * Takes rows from `line` on, each in a line of its own: row r of column c at `values[c × stride + r]`, the row's byte at `base + starts[r]`, and how many cells
   * of each column are blank.
   */
  pushRows(count: number, line: number, starts: Uint32Array, base: number, values: Float64Array, stride: number, blanks: Uint32Array): void {
    this.flush();
    const { samples } = this;
    while (samples + count > this.offsets.length) this.grow();
    for (let column = 0; column < this.width; column++) {
      const own = values.subarray(column * stride, column * stride + count), packed = this.packed[column];
      if (packed) packed.push(own); else this.columns[column].set(own, samples);
      this.filled[column] += count - blanks[column];
    }
    for (let row = 0; row < count; row++) this.offsets[samples + row] = base + starts[row];
    this.atLine(line);
    this.samples = this.flushed = samples + count;
  }

  private grow(): void {
    const capacity = Math.ceil(this.offsets.length * 1.5);
    const offsets = this.newOffsets(capacity);
    offsets.set(this.offsets);
    this.offsets = offsets;
    this.columns = this.columns.map((column, index) => { if (this.packed[index]) return column; const wider = new Float64Array(capacity); wider.set(column); return wider; });
  }

  private flush(): void {
    const { block, width, flushed } = this;
    const rows = this.samples - flushed;
    for (let column = 0; column < width; column++) {
      const packed = this.packed[column];
      const values = packed ? new Float64Array(rows) : this.columns[column], to = packed ? 0 : flushed;
      let filled = 0;
      for (let row = 0, from = column; row < rows; row++, from += width) {
        const value = block[from];
        values[to + row] = value;
        if (value === value) filled++;
      }
      packed?.push(values);
      this.filled[column] += filled;
    }
    this.flushed = this.samples;
  }

  /** A copy that goes its own way. */
  fork(): Columns {
    const { block, filled, columns, offsets, packed, changeSamples, changeShifts } = this;
    return Object.assign(Object.create(Columns.prototype) as Columns, this, structuredClone({ filled, changeSamples, changeShifts }),
      { block: block.slice(), columns: columns.map((column) => column.slice()), offsets: offsets.slice(), packed: packed.map((each) => each?.fork()) });
  }

  /** The finished columns, cut to the rows there are, and the byte offset of each row. */
  finish(): { readonly columns: (Float64Array | PackedColumn)[]; readonly offsets: Float64Array | Uint32Array } {
    this.flush();
    for (const packed of this.packed) packed?.finish();
    const spare = this.offsets.length > this.samples * 1.25 + BLOCK_ROWS;
    const cut = <T extends Float64Array | Uint32Array>(array: T): T => (spare ? array.slice(0, this.samples) : array.subarray(0, this.samples)) as T;
    return { columns: this.columns.map((column, index) => this.packed[index] ?? cut(column)), offsets: cut(this.offsets) };
  }
}
