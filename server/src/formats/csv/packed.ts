// A column that is kept but seldom looked at, in a quarter of the room: the numbers of a log have few digits, so that whole numbers of 16 or 32 bits and a
// power of ten hold them exactly. What does not fit so stays as it is.

const CHUNK_ROWS = 1 << 16;
const MOST_DECIMALS = 9;
const POWERS = Float64Array.from({ length: MOST_DECIMALS + 1 }, (_, decimals) => 10 ** decimals);

/** Value × `power` of each row, the least of its type for NaN; or, where `power` is 0, the values themselves. */
interface Chunk { readonly power: number; readonly whole: Int16Array | Int32Array | Float64Array }

export class PackedColumn {
  private readonly chunks: Chunk[] = [];
  private readonly open = new Float64Array(CHUNK_ROWS);
  private used = 0;
  private unpacked: WeakRef<Float64Array> | undefined;

  push(values: Float64Array): void {
    for (let from = 0; from < values.length;) {
      const to = Math.min(values.length, from + CHUNK_ROWS - this.used);
      this.open.set(values.subarray(from, to), this.used);
      this.used += to - from;
      from = to;
      if (this.used === CHUNK_ROWS) { this.chunks.push(packed(this.open)); this.used = 0; }
    }
  }

  /** All values, each the same number that was pushed. Kept for as long as somebody holds them. */
  values(): Float64Array {
    const known = this.unpacked?.deref();
    if (known) return known;
    const values = new Float64Array(this.chunks.length * CHUNK_ROWS + this.used);
    this.chunks.forEach((chunk, index) => { unpackInto(values, index * CHUNK_ROWS, chunk); });
    values.set(this.open.subarray(0, this.used), this.chunks.length * CHUNK_ROWS);
    this.unpacked = new WeakRef(values);
    return values;
  }
}

/** Decimals with which every number is a whole number over a power of ten, to the last bit, and the greatest of those; undefined where there are none. */
const wholeOf = (values: Float64Array): { readonly power: number; readonly greatest: number } | undefined => {
  let decimals = 0, greatest = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    if (value !== value) continue;
    // Of −0 the sign would be lost.
    if (value === 0 && 1 / value < 0) return undefined;
    while (Math.round(value * POWERS[decimals]) / POWERS[decimals] !== value) if (++decimals > MOST_DECIMALS) return undefined;
    const size = Math.abs(value);
    if (size > greatest) greatest = size;
  }
  return { power: POWERS[decimals], greatest };
};

const packed = (values: Float64Array): Chunk => {
  const found = wholeOf(values);
  const most = found ? found.greatest * found.power : Infinity;
  if (!found || most >= 2 ** 31 - 1) return { power: 0, whole: values.slice() };
  const { power } = found;
  const whole = most < 2 ** 15 - 1 ? new Int16Array(values.length) : new Int32Array(values.length);
  const missing = missingIn(whole);
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    whole[i] = value === value ? Math.round(value * power) : missing;
    // Digits that a lower power had room for may not fit a higher one.
    if (value === value && whole[i] / power !== value) return { power: 0, whole: values.slice() };
  }
  return { power, whole };
};

const missingIn = (whole: Int16Array | Int32Array): number => (whole instanceof Int16Array ? -(2 ** 15) : -(2 ** 31));

const unpackInto = (values: Float64Array, at: number, { power, whole }: Chunk): void => {
  if (whole instanceof Float64Array) { values.set(whole, at); return; }
  const missing = missingIn(whole);
  for (let i = 0; i < whole.length; i++) values[at + i] = whole[i] === missing ? NaN : whole[i] / power;
};
