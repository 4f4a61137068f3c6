// Columns in memory that threads share: what one thread found is handed to another as it lies, hundreds of sessions in a moment.

import type { Witness } from '../fueling/solution/tally.js';

type Column = Float64Array | Int32Array;
const isColumn = (part: unknown): part is Column => part instanceof Float64Array || part instanceof Int32Array;

/** Plain data as it is, its columns in one piece of shared memory. */
export function withSharedColumns<T extends object>(data: T): T {
  const memory = new SharedArrayBuffer(roomOf(data));
  let used = 0;
  const share = (part: unknown): unknown => {
    if (isColumn(part)) {
      const column = part instanceof Float64Array ? new Float64Array(memory, used, part.length) : new Int32Array(memory, used, part.length);
      column.set(part);
      used += roomOf(part);
      return column;
    }
    return isRecord(part) ? Object.fromEntries(Object.entries(part).map(([name, each]) => [name, share(each)])) : part;
  };
  return share(data) as T;
}

const isRecord = (part: unknown): part is object => typeof part === 'object' && part !== null && !Array.isArray(part);

/** Bytes, so that whatever comes behind may begin there. */
function roomOf(part: unknown): number {
  if (isColumn(part)) return Math.ceil(part.byteLength / Float64Array.BYTES_PER_ELEMENT) * Float64Array.BYTES_PER_ELEMENT;
  return isRecord(part) ? Object.values(part).reduce<number>((sum, each) => sum + roomOf(each), 0) : 0;
}

const shared = new WeakMap<Witness, Witness>();

/** What a thread has weighed lies there; what an earlier run kept is put there once. */
export function sharedWitness(witness: Witness): Witness {
  const { grid, reference, blocks, timeS, silenced } = witness,
    alone = { grid, reference, blocks, timeS, ...(silenced ? { silenced } : {}) };
  if (timeS.buffer instanceof SharedArrayBuffer) return alone;
  let found = shared.get(witness);
  if (!found) shared.set(witness, (found = withSharedColumns(alone)));
  return found;
}
