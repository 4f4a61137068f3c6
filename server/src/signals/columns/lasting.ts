// Where a channel keeps one value: nearly all that is asked of equal readings is asked of those that last, and of a living channel these
// are few.

import { limitOf } from '../../formats/limits.js';
import type { Shelf } from '../../formats/shelf.js';
import type { Track } from './hold.js';
import type { Readings } from '../readings.js';
import { BLOCK_ROWS, endOfEqual, nextRepeat, startOfEqual } from './statistics.js';

/**
 * How far apart a channel may be looked at so that no run of equal readings that lasts is passed over: two looks on end meet each, but for
 * those over a step of the clock that is longer than usual. `holes` are the readings before such steps.
 */
interface Pace {
  readonly stride: number;
  readonly holes: Int32Array;
}

/** A longer step than so many usual ones is a hole. */
const HOLE_SPACINGS = 1.25;
/** What times round off. */
const ROUNDED = 1 - 1e-9;

/** By the rows: channels without blanks share theirs. */
const paces = new WeakMap<Int32Array, Pace & { readonly leastS: number }>();

const paceOf = ({ rows, count, spacingS }: Pick<Track, 'rows' | 'count' | 'spacingS'>, timeS: Float64Array, leastS: number): Pace => {
  const known = paces.get(rows);
  if (known?.leastS === leastS) return known;
  // Between two looks that both fall into a run lie `stride` steps, and no more than 2 × stride − 1 hold neither.
  const stride = Math.floor(((ROUNDED * leastS) / (HOLE_SPACINGS * spacingS) + 1) / 2),
    fits = stride > 1 && Number.isFinite(stride);
  const pace = {
    stride: fits ? stride : 1,
    holes: holesOf(rows, count, timeS, fits ? HOLE_SPACINGS * spacingS : ROUNDED * leastS),
    leastS,
  };
  paces.set(rows, pace);
  return pace;
};

/** The readings before each step of `holeS` or more. */
const holesOf = (rows: Int32Array, count: number, timeS: Float64Array, holeS: number): Int32Array => {
  let holes = new Int32Array(FEW),
    size = 0,
    lastS = timeS[rows[0]];
  for (let k = 1; k < count; k++) {
    const nowS = timeS[rows[k]];
    if (nowS - lastS >= holeS) {
      if (size === holes.length) holes = widerOf(holes);
      holes[size++] = k - 1;
    }
    lastS = nowS;
  }
  return holes.slice(0, size);
};

/**
 * The first reading of each run of equal ones that lasts `leastS` or longer, to the reading behind it (the last run: to its own last
 * reading).
 */
const findLasting = (track: Pick<Track, 'values' | 'rows' | 'count' | 'spacingS'>, timeS: Float64Array, leastS: number): Int32Array => {
  const { values, rows, count } = track;
  if (count === 0) return new Int32Array(0);
  const { stride, holes } = paceOf(track, timeS, leastS),
    found: Found = { at: stride, hole: 0, behind: 0, starts: new Int32Array(FEW), size: 0 };
  while (found.at < count || found.hole < holes.length)
    findLastingIn(found, Math.min(count, found.at + BLOCK_ROWS), values, rows, count, timeS, leastS, stride, holes);
  return found.starts.slice(0, found.size);
};

/** What has been found, the next look, the next hole, and the reading behind the last run. */
interface Found {
  at: number;
  hole: number;
  behind: number;
  starts: Int32Array;
  size: number;
}

/** By itself: runs that last are rare, and what is compiled before the first of them would be thrown away by it. */
const takeStart = (found: Found, from: number): void => {
  if (found.size === found.starts.length) found.starts = widerOf(found.starts);
  found.starts[found.size++] = from;
};

/** The looks from the next one on, below `to`. */
const findLastingIn = (
  found: Found,
  to: number,
  values: Float64Array,
  rows: Int32Array,
  count: number,
  timeS: Float64Array,
  leastS: number,
  stride: number,
  holes: Int32Array,
): void => {
  let { at, hole, behind } = found;
  for (;;) {
    const next = nextRepeat(values, at, to, stride),
      here = hole < holes.length && holes[hole] < next ? holes[hole++] : next;
    if (here === next && next >= to) {
      at = next;
      break;
    }
    if (here >= behind) {
      const from = startOfEqual(values, here);
      behind = endOfEqual(values, here, count);
      if (timeS[rows[behind < count ? behind : count - 1]] - timeS[rows[from]] >= leastS) takeStart(found, from);
    }
    at = here < next ? next : Math.max(next + stride, Math.ceil(behind / stride) * stride);
  }
  found.at = at;
  found.hole = hole;
  found.behind = behind;
};

const FEW = 256;

/** A column twice as long with the same beginning. */
export const widerOf = (column: Int32Array) => {
  const wider = new Int32Array(2 * column.length);
  wider.set(column);
  return wider;
};

const keys = new WeakMap<Track, object>();

/**
 * The first readings of the runs of equal ones that last long enough for any fault of standing still, or of leaping away and back, in their
 * order.
 */
export const lastingRuns = (
  { vehicle: { limits }, timeS, session: { shelf } }: Pick<Readings, 'vehicle' | 'timeS'> & { readonly session: { readonly shelf: Shelf } },
  track: Track,
): Int32Array => {
  let key = keys.get(track);
  if (!key) keys.set(track, (key = {}));
  return shelf.get(key, () =>
    findLasting(track, timeS, Math.min(...(['dropoutS', 'stuckS', 'stillWhileDrivenS'] as const).map((id) => limitOf(id, limits).value))),
  );
};
