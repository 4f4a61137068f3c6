// Columns that last no longer than one weighing, in one piece of memory that the next uses again: made anew for every session, they cost
// the collector of garbage and the system's memory as much as the reckoning.

/** Enough for some tens of minutes of a usual log; what goes beyond is made for itself. */
const ROOM_BYTES = 24 << 20;

let memory: ArrayBuffer | undefined;
let used = 0;
let inside = 0;

/** Does work whose columns go when it ends: what it gives holds none that `roomFor` made. */
export const inRoom = <T>(work: () => T): T => {
  const before = used;
  inside++;
  try {
    return work();
  } finally {
    used = before;
    inside--;
  }
};

/**
 * A column of so many numbers, whatever stands in them: every one is to be written before it is read. Within `inRoom` it goes with the
 * work, elsewhere it is one's own.
 */
export const roomFor = (length: number): Float64Array => {
  if (inside === 0 || used + length * Float64Array.BYTES_PER_ELEMENT > ROOM_BYTES) return new Float64Array(length);
  const column = new Float64Array((memory ??= new ArrayBuffer(ROOM_BYTES)), used, length);
  used += column.byteLength;
  return column;
};

/** A copy, likewise. */
export const copyOf = (values: Float64Array): Float64Array => {
  const copy = roomFor(values.length);
  copy.set(values);
  return copy;
};
