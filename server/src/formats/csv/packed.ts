// A column in an eighth of the room or so: the numbers of a log have few digits, so that of some thousand rows each is so many steps of one
// power of ten above the smallest, which some bits hold exactly. What does not fit so stays as it is.

import type { Conversion } from '../../quantities/convert.js';

/** A temperature moves little in so many rows. */
const CHUNK_ROWS = 1 << 14;
const MOST_DECIMALS = 9;
const POWERS = Float64Array.from({ length: MOST_DECIMALS + 1 }, (_, decimals) => 10 ** decimals);
/** Codes of what is no step, and that of the smallest value. */
const MISSING = 0,
  MINUS_ZERO = 1,
  LEAST = 2;
/** Of so few different values each is made once. */
const MOST_IN_TABLE = CHUNK_ROWS / 4;

/** Value = (`least` + code − `LEAST`) / `power`, of `sizes` codes in `bits` each, one behind the other. */
interface Steps {
  readonly rows: number;
  readonly power: number;
  readonly least: number;
  readonly sizes: number;
  readonly bits: number;
  readonly codes: DataView;
}

/** Steps, or the values themselves. */
type Chunk = Steps | Float64Array;

/** A column that is made when it is asked for. */
export interface Unpackable {
  /** Of all values, unpacked. */
  readonly bytes: number;
  /** All values, converted where that is asked for. A new array each time. */
  values(convert?: Conversion): Float64Array;
}

export class PackedColumn implements Unpackable {
  private readonly chunks: Chunk[] = [];
  private open: Float64Array | undefined = new Float64Array(CHUNK_ROWS);
  private used = 0;

  push(values: Float64Array): void {
    for (let from = 0; from < values.length;) {
      const to = Math.min(values.length, from + CHUNK_ROWS - this.used);
      this.open!.set(values.subarray(from, to), this.used);
      this.used += to - from;
      from = to;
      if (this.used === CHUNK_ROWS) {
        this.chunks.push(packed(this.open!));
        this.used = 0;
      }
    }
  }

  /** One that goes its own way from here: what is packed is shared. */
  fork(): PackedColumn {
    const other = new PackedColumn();
    for (const chunk of this.chunks) other.chunks.push(chunk);
    [other.open, other.used] = [this.open?.slice(), this.used];
    return other;
  }

  /** Nothing is pushed behind it. */
  finish(): void {
    this.chunks.push(packed(this.open!.subarray(0, this.used)));
    this.open = undefined;
  }

  get bytes(): number {
    return 8 * ((this.chunks.length - 1) * CHUNK_ROWS + this.used);
  }

  /** Each the same number that was pushed. */
  values(convert?: Conversion): Float64Array {
    const values = new Float64Array(this.bytes / 8);
    this.chunks.forEach((chunk, index) => {
      unpackInto(values, index * CHUNK_ROWS, chunk, convert);
    });
    return values;
  }
}

/** The column's values in an array. */
export const unpacked = (column: Float64Array | Unpackable): Float64Array => (column instanceof Float64Array ? column : column.values());

/**
 * Whole numbers below are exact, and so are the steps between them: what is a whole number over one power of ten to the last bit is so over
 * every higher one too.
 */
const MOST_WHOLE = 2 ** 50;

/** So many lie within four bytes wherever they begin; of more all four are taken. */
const MOST_BITS = 24,
  ALL_BITS = 32;

const packed = (values: Float64Array): Chunk => {
  const found = wholeOf(values);
  if (!found) return values.slice();
  const { power, least, sizes } = found,
    needed = Math.ceil(Math.log2(sizes)),
    bits = needed > MOST_BITS ? ALL_BITS : needed;
  const codes = new DataView(new ArrayBuffer(Math.ceil((values.length * bits) / 8) + 4));
  intoSteps(values, power, least - LEAST, bits, codes);
  return { rows: values.length, power, least, sizes, bits, codes };
};

/**
 * Power of ten over which every number is a whole number, to the last bit, the least of those and how many codes they take; undefined where
 * there is none, or they take too much.
 */
const wholeOf = (values: Float64Array): Pick<Steps, 'power' | 'least' | 'sizes'> | undefined => {
  let decimals = 0,
    power = 1,
    smallest = Infinity,
    greatest = -Infinity;
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    if (value !== value) continue;
    while (Math.round(value * power) / power !== value) {
      if (++decimals > MOST_DECIMALS) return undefined;
      power = POWERS[decimals];
    }
    if (value < smallest) smallest = value;
    if (value > greatest) greatest = value;
  }
  if (!(smallest <= greatest)) return { power, least: 0, sizes: LEAST };
  const least = Math.round(smallest * power),
    most = Math.round(greatest * power),
    sizes = LEAST + 1 + most - least;
  return least > -MOST_WHOLE && most < MOST_WHOLE && sizes < 2 ** 32 ? { power, least, sizes } : undefined;
};

// The loops below are functions of their own, which are compiled once and stay so.

const intoSteps = (values: Float64Array, power: number, from: number, bits: number, codes: DataView): void => {
  // Bits that are not written yet, fewer than eight.
  let held = 0,
    count = 0,
    at = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    const code = value === 0 ? (1 / value < 0 ? MINUS_ZERO : -from) : value === value ? Math.round(value * power) - from : MISSING;
    held |= code << count;
    codes.setInt32(at, held, true);
    count += bits;
    at += count >> 3;
    held = bits === ALL_BITS ? 0 : held >>> (count & ~7);
    count &= 7;
  }
};

const unpackInto = (values: Float64Array, at: number, chunk: Chunk, convert: ((value: number) => number) | undefined): void => {
  if (chunk instanceof Float64Array) {
    values.set(chunk, at);
    if (convert) convertAll(values.subarray(at, at + chunk.length), convert);
    return;
  }
  const { rows, power, least, sizes, bits, codes } = chunk;
  if (sizes <= MOST_IN_TABLE) {
    const table = new Float64Array(sizes);
    for (let code = 0; code < sizes; code++) table[code] = (least + code - LEAST) / power;
    table[MISSING] = NaN;
    table[MINUS_ZERO] = -0;
    if (convert) convertAll(table, convert);
    fromTable(values, at, rows, bits, codes, table);
    return;
  }
  fromSteps(values, at, rows, bits, codes, least - LEAST, power);
  if (convert) convertAll(values.subarray(at, at + rows), convert);
};

const fromTable = (values: Float64Array, at: number, rows: number, bits: number, codes: DataView, table: Float64Array): void => {
  const above = 32 - bits;
  for (let i = 0, bit = 0; i < rows; i++, bit += bits)
    values[at + i] = table[((codes.getInt32(bit >> 3, true) >>> (bit & 7)) << above) >>> above];
};

const fromSteps = (values: Float64Array, at: number, rows: number, bits: number, codes: DataView, from: number, power: number): void => {
  const above = 32 - bits;
  for (let i = 0, bit = 0; i < rows; i++, bit += bits) {
    const code = ((codes.getInt32(bit >> 3, true) >>> (bit & 7)) << above) >>> above;
    values[at + i] = code >= LEAST ? (from + code) / power : code === MISSING ? NaN : -0;
  }
};

/** Converts the numbers in place. */
export const convertAll = (values: Float64Array, convert: Conversion): void => {
  if (!convert.linear) {
    for (let i = 0; i < values.length; i++) values[i] = convert(values[i]);
    return;
  }
  const { factor, divisor, offset } = convert.linear;
  for (let i = 0; i < values.length; i++) values[i] = (values[i] * factor) / divisor + offset;
};
