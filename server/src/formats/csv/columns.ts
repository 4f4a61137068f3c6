// Columns that grow while rows come in, with the place of each row: its byte offset, and its line as long as lines don't simply count on.

import { stays } from '../stays.js';
import { PackedColumn } from './packed.js';
import { RowOffsets } from './rowOffsets.js';
import { StepsColumn } from './steps.js';

const BLOCK_ROWS = 256;

/** How a column is kept: as values, as whole numbers that become values when they are asked for, as fewer bits; of one that is not, only how many of its cells are numbers. */
export type Keeping = 'whole' | 'steps' | 'packed' | 'not';

type Kept = Float64Array | StepsColumn | PackedColumn | undefined;

/**
 * Rows of numbers, each in a line of its own: row r of column c at `values[c × stride + r]` or, where its `scales` are not negative, at `steps[2 × c × stride + r]` as a whole number of so
 * many decimals; the row's byte at `base + starts[r]`, how many cells of each column are blank, and where in eight bytes the point of a number of each stands (-1 where there is none).
 */
export interface PlainRows {
  readonly count: number;
  readonly starts: Uint32Array;
  readonly base: number;
  readonly values: Float64Array;
  readonly steps: Int32Array;
  readonly stride: number;
  readonly blanks: Uint32Array;
  readonly points: Int32Array;
  readonly scales: Int32Array;
}

/** Rows are gathered in a small block, row by row, and turned into columns a block at a time: that keeps the writes near each other. */
export class Columns {
  samples = 0;
  readonly blockRows = BLOCK_ROWS;
  readonly block: Float64Array;
  readonly filled: number[];
  private columns: Kept[];
  private offsets: RowOffsets;
  /** Of the columns that are kept whole. */
  private capacity: number;
  private flushed = 0;
  /** From sample `changeSamples[i]` on, line = sample + `changeShifts[i]`. */
  readonly changeSamples: number[] = [];
  readonly changeShifts: number[] = [];
  private shift = Number.NaN;

  constructor(readonly width: number, expectedRows: number, keeping: (column: number) => Keeping = () => 'whole') {
    this.capacity = Math.max(BLOCK_ROWS, Math.ceil(expectedRows));
    this.block = new Float64Array(BLOCK_ROWS * width);
    this.filled = new Array<number>(width).fill(0);
    this.columns = Array.from({ length: width }, (_, column) => { const how = keeping(column); return how === 'whole' ? new Float64Array(this.capacity) : how === 'steps' ? new StepsColumn(this.capacity) : how === 'packed' ? new PackedColumn() : undefined; });
    this.offsets = new RowOffsets(this.capacity);
  }

  /** Where the next row's values go in `block`. */
  get rowAt(): number { return (this.samples - this.flushed) * this.width; }

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

  /** The decimals of each column's steps, as long as it is kept as such; negative else. For the rows that are pushed next. */
  scalesInto(scales: Int32Array): void {
    this.flush();
    for (let column = 0; column < this.width; column++) { const kept = this.columns[column]; scales[column] = kept instanceof StepsColumn ? kept.decimals : -1; }
  }

  /** Takes rows from `line` on. */
  pushRows({ count, starts, base, values, steps, stride, blanks, points, scales }: PlainRows, line: number): void {
    this.flush();
    const { samples } = this;
    while (samples + count > this.capacity) this.grow();
    for (let column = 0; column < this.width; column++) {
      const kept = this.columns[column];
      if (kept) {
        const at = column * stride, own = values.subarray(at, at + count);
        if (kept instanceof PackedColumn) kept.push(own);
        else if (kept instanceof Float64Array) kept.set(own, samples);
        else if (scales[column] >= 0) kept.setSteps(steps.subarray(2 * at, 2 * at + count), samples);
        else {
          // What is written in other ways too is not looked at again for each.
          if (kept.decimals >= 0) kept.beValues();
          kept.setValues(own, samples, points[column] < 0 ? 0 : 7 - points[column]);
        }
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
      if (column instanceof StepsColumn) column.resize(this.capacity);
      if (!(column instanceof Float64Array)) return column;
      const wider = new Float64Array(this.capacity);
      wider.set(column);
      return wider;
    });
  }

  private flush(): void {
    const { block, width, flushed } = this;
    const rows = this.samples - flushed;
    if (rows === 0) return;
    for (let column = 0; column < width; column++) {
      const kept = this.columns[column], isWhole = kept instanceof Float64Array;
      const values = isWhole ? kept : new Float64Array(rows), to = isWhole ? flushed : 0;
      let filled = 0;
      for (let row = 0, from = column; row < rows; row++, from += width) {
        const value = block[from];
        values[to + row] = value;
        if (value === value) filled++;
      }
      if (kept instanceof PackedColumn) kept.push(values);
      else if (kept instanceof StepsColumn) kept.setValues(values, flushed);
      this.filled[column] += filled;
    }
    this.flushed = this.samples;
  }

  /** Of a very long session only the clock is. */
  private get isWhole(): boolean { return this.columns.every((column) => column instanceof Float64Array || column instanceof StepsColumn); }

  /** A copy that goes its own way. */
  fork(): Columns {
    const { block, filled, columns, offsets, changeSamples, changeShifts } = this;
    return Object.assign(Object.create(Columns.prototype) as Columns, this, structuredClone({ filled, changeSamples, changeShifts }),
      { block: block.slice(), columns: columns.map((column) => (column instanceof Float64Array ? column.slice() : column?.fork())), offsets: offsets.fork() });
  }

  /** The finished columns, cut to the rows there are, none where it is not kept, and the byte offset of each row. */
  finish(): { readonly columns: Kept[]; readonly offsets: RowOffsets } {
    this.flush();
    // Where the others are packed, the room behind the clock counts too.
    const { samples, offsets } = this, spare = this.capacity > samples * (this.isWhole ? 1.25 : 1) + BLOCK_ROWS;
    offsets.cut(samples);
    return {
      columns: this.columns.map((column) => {
        if (column instanceof PackedColumn) column.finish();
        if (column instanceof StepsColumn) column.finish(samples, spare);
        return column instanceof Float64Array ? (spare ? column.slice(0, samples) : column.subarray(0, samples)) : column;
      }),
      offsets,
    };
  }
}

stays(new Columns(0, 0));
