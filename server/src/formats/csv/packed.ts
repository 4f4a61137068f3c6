// A column in an eighth to a quarter of the room: the numbers of a log have few digits, so that of some thousand rows each is so many steps of one power of ten
// above the smallest, which one or two bytes hold exactly. What does not fit so stays as it is.

/** A temperature moves little in so many rows, and a clock's steps fit two bytes. */
const CHUNK_ROWS = 1 << 14;
const MOST_DECIMALS = 9;
const POWERS = Float64Array.from({ length: MOST_DECIMALS + 1 }, (_, decimals) => 10 ** decimals);
/** Codes of what is no step, and that of the smallest value. */
const MISSING = 0, MINUS_ZERO = 1, LEAST = 2;
/** Of so few different values each is made once. */
const MOST_IN_TABLE = CHUNK_ROWS / 4;

/** Value = (`least` + code − `LEAST`) / `power`, of `sizes` codes; or, where `power` is 0, the values themselves. */
interface Chunk { readonly power: number; readonly least: number; readonly sizes: number; readonly codes: Uint8Array | Uint16Array | Uint32Array | Float64Array }

/** A column that is made when it is asked for. */
export interface Unpackable {
  /** All values, converted where that is asked for. A new array each time. */
  values(convert?: (value: number) => number): Float64Array;
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
      if (this.used === CHUNK_ROWS) { this.chunks.push(packed(this.open!)); this.used = 0; }
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

  /** Each the same number that was pushed. */
  values(convert?: (value: number) => number): Float64Array {
    const values = new Float64Array((this.chunks.length - 1) * CHUNK_ROWS + this.used);
    this.chunks.forEach((chunk, index) => { unpackInto(values, index * CHUNK_ROWS, chunk, convert); });
    return values;
  }
}

/** The column's values in an array. */
export const unpacked = (column: Float64Array | Unpackable): Float64Array => (column instanceof Float64Array ? column : column.values());

/** Whole numbers below are exact, and so are the steps between them: what is a whole number over one power of ten to the last bit is so over every higher one too. */
const MOST_WHOLE = 2 ** 50;

const packed = (values: Float64Array): Chunk => {
  const found = wholeOf(values);
  if (!found) return { power: 0, least: 0, sizes: 0, codes: values.slice() };
  const { power, least, sizes } = found;
  const codes = sizes <= 2 ** 8 ? new Uint8Array(values.length) : sizes <= 2 ** 16 ? new Uint16Array(values.length) : new Uint32Array(values.length);
  intoSteps(values, power, least - LEAST, codes);
  return { power, least, sizes, codes };
};

/** Power of ten over which every number is a whole number, to the last bit, the least of those and how many codes they take; undefined where there is none, or they take too much. */
const wholeOf = (values: Float64Array): Pick<Chunk, 'power' | 'least' | 'sizes'> | undefined => {
  let decimals = 0, power = 1, smallest = Infinity, greatest = -Infinity;
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    if (value !== value) continue;
    while (Math.round(value * power) / power !== value) { if (++decimals > MOST_DECIMALS) return undefined; power = POWERS[decimals]; }
    if (value < smallest) smallest = value;
    if (value > greatest) greatest = value;
  }
  if (!(smallest <= greatest)) return { power, least: 0, sizes: LEAST };
  const least = Math.round(smallest * power), most = Math.round(greatest * power), sizes = LEAST + 1 + most - least;
  return least > -MOST_WHOLE && most < MOST_WHOLE && sizes < 2 ** 32 ? { power, least, sizes } : undefined;
};

// The loops below are functions of their own, which are compiled once and stay so.

const intoSteps = (values: Float64Array, power: number, from: number, codes: Uint8Array | Uint16Array | Uint32Array): void => {
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    if (value === 0) codes[i] = 1 / value < 0 ? MINUS_ZERO : -from;
    else codes[i] = value === value ? Math.round(value * power) - from : MISSING;
  }
};

const unpackInto = (values: Float64Array, at: number, { power, least, sizes, codes }: Chunk, convert: ((value: number) => number) | undefined): void => {
  if (power !== 0 && sizes <= MOST_IN_TABLE) {
    const table = new Float64Array(sizes);
    for (let code = 0; code < sizes; code++) table[code] = (least + code - LEAST) / power;
    table[MISSING] = NaN;
    table[MINUS_ZERO] = -0;
    if (convert) convertAll(table, convert);
    fromTable(values, at, codes, table);
    return;
  }
  if (power === 0) values.set(codes, at);
  else fromSteps(values, at, codes, least - LEAST, power);
  if (convert) convertAll(values.subarray(at, at + codes.length), convert);
};

const fromTable = (values: Float64Array, at: number, codes: ArrayLike<number>, table: Float64Array): void => {
  for (let i = 0; i < codes.length; i++) values[at + i] = table[codes[i]];
};

const fromSteps = (values: Float64Array, at: number, codes: ArrayLike<number>, from: number, power: number): void => {
  for (let i = 0; i < codes.length; i++) { const code = codes[i]; values[at + i] = code >= LEAST ? (from + code) / power : code === MISSING ? NaN : -0; }
};

/** Converts the numbers in place. */
export const convertAll = (values: Float64Array, convert: (value: number) => number): void => {
  for (let i = 0; i < values.length; i++) values[i] = convert(values[i]);
};
