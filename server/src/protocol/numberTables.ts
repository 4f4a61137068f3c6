// Columns of numbers over a shared first column, packed into bytes for the way from the service to the screen.

/** Rising x (seconds or rpm) and the columns over it; NaN breaks a line. */
export interface NumberTable {
  readonly x: Float64Array;
  readonly columns: readonly Float32Array[];
}

export interface TableShape {
  readonly rows: number;
  readonly columns: number;
}

/** `Data` is base64 text on the way through JSON, bytes from the editor to its view. */
export interface PackedTables<Data> {
  readonly shapes: readonly TableShape[];
  readonly data: Data;
}

const bytesOf = ({ rows, columns }: TableShape): number => rows * 8 + rows * columns * 4;

/** All tables one after the other: x as 64-bit, each column as 32-bit floats, little-endian as every machine of today has them. */
export function packTables(tables: readonly NumberTable[]): PackedTables<Uint8Array> {
  const shapes = tables.map(({ x, columns }) => ({ rows: x.length, columns: columns.length }));
  const data = new Uint8Array(shapes.reduce((sum, shape) => sum + bytesOf(shape), 0));
  let at = 0;
  const put = ({ buffer, byteOffset, byteLength }: Float64Array | Float32Array): void => {
    data.set(new Uint8Array(buffer, byteOffset, byteLength), at);
    at += byteLength;
  };
  for (const { x, columns } of tables) {
    put(x);
    columns.forEach(put);
  }
  return { shapes, data };
}

/** The way back; undefined where the bytes are fewer than the shapes say. */
export function unpackTables({ shapes, data }: PackedTables<Uint8Array>): NumberTable[] | undefined {
  if (shapes.reduce((sum, shape) => sum + bytesOf(shape), 0) !== data.byteLength) return undefined;
  let at = 0;
  // A copy each: the bytes may begin at any address, numbers may not. (Node's buffers have a `slice` of their own that does not copy.)
  const next = (length: number): ArrayBuffer => Uint8Array.prototype.slice.call(data, at, (at += length)).buffer as ArrayBuffer;
  return shapes.map(({ rows, columns }) => ({
    x: new Float64Array(next(rows * 8)),
    columns: Array.from({ length: columns }, () => new Float32Array(next(rows * 4))),
  }));
}
