// Columns that grow while rows come in, with the place of each row: its byte offset, and its line as long as lines don't simply count on.

import { stays } from '../stays.js';
import { PackedColumn } from './packed.js';
import { RowOffsets } from './rowOffsets.js';

const BLOCK_ROWS = 256;

/** How a column is kept; of one that is not, only how many of its cells are numbers. */
export type Keeping = 'whole' | 'packed' | 'not';

/** Rows are gathered in a small block, row by row, and turned into columns a block at a time: that keeps the writes near each other. */
export class Columns {
  samples = 0;
  readonly blockRows = BLOCK_ROWS;
  readonly block: Float64Array;
  readonly filled: number[];
  private columns: (Float64Array | PackedColumn | undefined)[];
  private offsets: RowOffsets;
  /** Of the columns that are kept whole. */
  private capacity: number;
  private flushed = 0;
  /** From sample `changeSamples[i]` on, line = sample + `changeShifts[i]`. */
  readonly changeSamples: number[] = [];
  readonly changeShifts: number[] = [];
  private shift = Number.NaN;

  constructor(
    readonly width: number,
    expectedRows: number,
    keeping: (column: number) => Keeping = () => 'whole',
  ) {
    this.capacity = Math.max(BLOCK_ROWS, Math.ceil(expectedRows));
    this.block = new Float64Array(BLOCK_ROWS * width);
    this.filled = new Array<number>(width).fill(0);
    this.columns = Array.from({ length: width }, (_, column) => {
      const how = keeping(column);
      return how === 'whole' ? new Float64Array(this.capacity) : how === 'packed' ? new PackedColumn() : undefined;
    });
    this.offsets = new RowOffsets(this.capacity);
  }

  /** Where the next row's values go in `block`. */
  get rowAt(): number {
    return (this.samples - this.flushed) * this.width;
  }

  /** Takes the row written at `rowAt`. */
  push(offset: number, line: number): void {
    if (this.samples === this.capacity) this.grow();
    this.offsets.set(this.samples, offset);
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
   * Takes rows from `line` on, each in a line of its own: row r of column c at `values[c × stride + r]`, the row's byte at `base +
   * starts[r]`, and how many cells of each column are blank.
   */
  pushRows(
    count: number,
    line: number,
    starts: Uint32Array,
    base: number,
    values: Float64Array,
    stride: number,
    blanks: Uint32Array,
  ): void {
    this.flush();
    const { samples } = this;
    while (samples + count > this.capacity) this.grow();
    for (let column = 0; column < this.width; column++) {
      const kept = this.columns[column];
      if (kept) {
        const own = values.subarray(column * stride, column * stride + count);
        if (kept instanceof PackedColumn) kept.push(own);
        else kept.set(own, samples);
      }
      this.filled[column] += count - blanks[column];
    }
    for (let row = 0; row < count; row++) this.offsets.set(samples + row, base + starts[row]);
    this.atLine(line);
    this.samples = this.flushed = samples + count;
  }

  private grow(): void {
    this.capacity = Math.ceil(this.capacity * 1.5);
    this.columns = this.columns.map((column) => {
      if (!(column instanceof Float64Array)) return column;
      const wider = new Float64Array(this.capacity);
      wider.set(column);
      return wider;
    });
  }

  private flush(): void {
    const { block, width, flushed } = this;
    const rows = this.samples - flushed;
    for (let column = 0; column < width; column++) {
      const kept = this.columns[column],
        isWhole = kept instanceof Float64Array;
      const values = isWhole ? kept : new Float64Array(rows),
        to = isWhole ? flushed : 0;
      let filled = 0;
      for (let row = 0, from = column; row < rows; row++, from += width) {
        const value = block[from];
        values[to + row] = value;
        if (value === value) filled++;
      }
      if (kept instanceof PackedColumn) kept.push(values);
      this.filled[column] += filled;
    }
    this.flushed = this.samples;
  }

  /** Of a very long session only the clock is. */
  private get isWhole(): boolean {
    return !this.columns.some((column) => column instanceof PackedColumn);
  }

  /** A copy that goes its own way. */
  fork(): Columns {
    const { block, filled, columns, offsets, changeSamples, changeShifts } = this;
    return Object.assign(Object.create(Columns.prototype) as Columns, this, structuredClone({ filled, changeSamples, changeShifts }), {
      block: block.slice(),
      columns: columns.map((column) => (column instanceof PackedColumn ? column.fork() : column?.slice())),
      offsets: offsets.fork(),
    });
  }

  /** The finished columns, cut to the rows there are, none where it is not kept, and the byte offset of each row. */
  finish(): { readonly columns: (Float64Array | PackedColumn | undefined)[]; readonly offsets: RowOffsets } {
    this.flush();
    // Where the others are packed, the room behind the clock counts too.
    const { samples, offsets } = this,
      spare = this.capacity > samples * (this.isWhole ? 1.25 : 1) + BLOCK_ROWS;
    offsets.cut(samples);
    return {
      columns: this.columns.map((column) => {
        if (column instanceof PackedColumn) column.finish();
        return column instanceof Float64Array ? (spare ? column.slice(0, samples) : column.subarray(0, samples)) : column;
      }),
      offsets,
    };
  }
}

stays(new Columns(0, 0));
