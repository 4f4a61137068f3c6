// A column as whole numbers over one power of ten, in half the room of its values, which are made when somebody asks: of a log's channels many are never asked for, and memory that is
// touched first takes longer than it takes to read what goes there. A column whose numbers are not all written with so many decimals is kept as its values.

import { convertAll, type Unpackable } from './packed.js';

/** Steps of no number and of a zero with a minus, as the kernel writes them (server/kernel/plainRows.ts). */
const BLANK = -(2 ** 31), MINUS_ZERO = BLANK + 1;
/** Decimals of a column whose values are kept, and of one without numbers. */
const AS_VALUES = -1, UNKNOWN = -2;
const MOST_DECIMALS = 7;

export class StepsColumn implements Unpackable {
  /** Of its steps; negative where rows are to come as values. */
  decimals = UNKNOWN;
  private kept: Int32Array | Float64Array;

  constructor(capacity: number) { this.kept = new Int32Array(capacity); }

  get bytes(): number { return 8 * this.kept.length; }

  /** Rows that come as steps, each of `decimals`. */
  setSteps(steps: Int32Array, at: number): void { this.kept.set(steps, at); }

  /** Rows that come as values. The first ones may be the beginning of steps, of `decimals` where these are known. */
  setValues(values: Float64Array, at: number, decimals = AS_VALUES): void {
    if (this.decimals === UNKNOWN) {
      // Blanks are steps of any size.
      if (values.every((value) => value !== value)) { (this.kept as Int32Array).fill(BLANK, at, at + values.length); return; }
      this.decimals = decimals <= MOST_DECIMALS ? decimals : AS_VALUES;
    }
    if (this.decimals >= 0 && stepsInto(this.kept as Int32Array, at, values, 10 ** this.decimals)) return;
    this.beValues();
    this.kept.set(values, at);
  }

  /** What was kept as steps, and all that comes, is values. */
  beValues(): void {
    if (this.kept instanceof Int32Array) this.kept = valuesOf(this.kept, 10 ** Math.max(0, this.decimals));
    this.decimals = AS_VALUES;
  }

  resize(rows: number): void {
    const { kept } = this;
    this.kept = rows <= kept.length ? kept.slice(0, rows) : longer(kept, rows);
  }

  /** A copy that goes its own way. */
  fork(): StepsColumn { return Object.assign(Object.create(StepsColumn.prototype) as StepsColumn, this, { kept: this.kept.slice() }); }

  /** No rows come behind so many. */
  finish(rows: number, spare: boolean): void { this.kept = spare ? this.kept.slice(0, rows) : this.kept.subarray(0, rows); }

  /** Made once, and to be converted once. */
  values(convert?: (value: number) => number): Float64Array {
    this.beValues();
    if (convert) convertAll(this.kept as Float64Array, convert);
    return this.kept as Float64Array;
  }
}

const longer = (kept: Int32Array | Float64Array, rows: number): Int32Array | Float64Array => {
  const wider = kept instanceof Int32Array ? new Int32Array(rows) : new Float64Array(rows);
  wider.set(kept);
  return wider;
};

/** Whether all values are steps; what is written where they are not is nothing. */
const stepsInto = (steps: Int32Array, at: number, values: Float64Array, power: number): boolean => {
  for (let i = 0; i < values.length; i++) {
    const value = values[i], step = Math.round(value * power);
    if (value !== value) steps[at + i] = BLANK;
    else if (value === 0) steps[at + i] = 1 / value < 0 ? MINUS_ZERO : 0;
    else if (step / power === value && Math.abs(step) < 2e9) steps[at + i] = step;
    else return false;
  }
  return true;
};

const valuesOf = (steps: Int32Array, power: number): Float64Array => {
  const values = new Float64Array(steps.length);
  for (let i = 0; i < steps.length; i++) { const step = steps[i]; values[i] = step > MINUS_ZERO ? step / power : step === BLANK ? NaN : -0; }
  return values;
};
