// Where each row begins in its source: a start for every few rows and the steps from it, in little more than two bytes a row.

/** Rows that share a start, a power of two: of 2 KB each their steps still fit. */
const SHARED_BITS = 5,
  SHARED = 1 << SHARED_BITS;

export class RowOffsets {
  private starts: Float64Array;
  /** In two bytes each as long as they fit. */
  private steps: Uint16Array | Float64Array;

  constructor(expectedRows: number) {
    this.steps = new Uint16Array(Math.max(SHARED, Math.ceil(expectedRows)));
    this.starts = new Float64Array(startsFor(this.steps.length));
  }

  /** The byte at which a row begins. */
  at(row: number): number {
    return this.starts[row >> SHARED_BITS] + this.steps[row];
  }

  /** Rows come one behind the other. */
  set(row: number, offset: number): void {
    if (row === this.steps.length) this.resize(Math.ceil(row * 1.5));
    if ((row & (SHARED - 1)) === 0) this.starts[row >> SHARED_BITS] = offset;
    const step = offset - this.starts[row >> SHARED_BITS];
    if (step > 0xffff && this.steps instanceof Uint16Array) this.steps = Float64Array.from(this.steps);
    this.steps[row] = step;
  }

  /** Lets go of the room behind so many rows. */
  cut(rows: number): void {
    if (this.steps.length > rows) this.resize(rows);
  }

  /** A copy that goes its own way. */
  fork(): RowOffsets {
    return Object.assign(Object.create(RowOffsets.prototype) as RowOffsets, { starts: this.starts.slice(), steps: this.steps.slice() });
  }

  private resize(rows: number): void {
    this.steps = resized(this.steps, rows);
    this.starts = resized(this.starts, startsFor(rows));
  }
}

const startsFor = (rows: number): number => Math.ceil(rows / SHARED);

const resized = <T extends Uint16Array | Float64Array>(array: T, length: number): T => {
  if (array.length >= length) return array.slice(0, length) as T;
  const longer = new (array.constructor as new (length: number) => T)(length);
  longer.set(array);
  return longer;
};
