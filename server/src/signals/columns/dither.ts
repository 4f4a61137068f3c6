// Whether a channel shows the unrest of a live sensor. Only against such unrest does a flat spell say anything by itself:
// a log made by hand, smoothed or heavily rounded is flat wherever the engine is.

import type { Track } from './hold.js';
import { onceFor } from '../once.js';
import { quantileOf, sampleOf } from './statistics.js';

/** A turn back counts as unrest while its steps are at most this share of the channel's span: larger ones are the engine's. */
const SMALL_SHARE = 0.12;
/**
 * Share of all changes that must be small turns back, and how many at least. White noise has two in three, a slow wave hardly any
 * (statistics).
 */
const LEAST_SHARE = 0.04;
const LEAST_TURNS = 6;
const MOST_READ = 20000;

/** Whether small changes of the channel turn back often enough to be noise. Read once for each track. */
export const dithers = onceFor((track: Track) => read(track));

const read = ({ values, count, least, greatest }: Track): boolean => {
  const small = SMALL_SHARE * (greatest - least),
    enough = Math.max(LEAST_TURNS, LEAST_SHARE * Math.min(count, MOST_READ));
  let turns = 0,
    changes = 0,
    last = 0;
  for (let k = 1; k < count; k++) {
    const step = values[k] - values[k - 1];
    if (step === 0) continue;
    changes++;
    if (step * last < 0 && Math.abs(step) <= small && Math.abs(last) <= small && ++turns >= enough) return true;
    last = step;
    if (changes >= MOST_READ) break;
  }
  return turns >= LEAST_TURNS && turns >= LEAST_SHARE * changes;
};

/** Share of the smallest changes that give the measure of a small one, and how many times that a small one may be. */
const SMALLEST_SHARE = 0.1,
  SMALL_TIMES = 4.5;
/**
 * Of two small changes on end, noise turns back in two of three and a random walk in one of two (statistics); what turns back in fewer than
 * this share is smooth.
 */
const SMOOTH_BELOW = 0.33;
const LEAST_PAIRS = 30;

/** Whether the channel moves without noise, as what is computed or filtered does: at rest it is flat. Read once for each track. */
export const isSmooth = onceFor((track: Track) => readSmooth(track));

const readSmooth = ({ values, count }: Track): boolean => {
  const steps = new Float64Array(Math.min(count, MOST_READ));
  let changes = 0;
  for (let k = 1; k < count && changes < steps.length; k++)
    if (values[k] !== values[k - 1] && values[k] === values[k] && values[k - 1] === values[k - 1])
      steps[changes++] = values[k] - values[k - 1];
  if (changes < LEAST_PAIRS) return false;
  const sizes = new Float64Array(changes);
  for (let k = 0; k < changes; k++) sizes[k] = Math.abs(steps[k]);
  const small = SMALL_TIMES * quantileOf(sampleOf(sizes), SMALLEST_SHARE);
  let pairs = 0,
    turns = 0;
  for (let k = 1; k < changes; k++) {
    if (Math.abs(steps[k]) > small || Math.abs(steps[k - 1]) > small) continue;
    pairs++;
    if (steps[k] * steps[k - 1] < 0) turns++;
  }
  return pairs >= LEAST_PAIRS && turns < SMOOTH_BELOW * pairs;
};

/** Whether so many of the first readings differ from both neighbours that no more need be read: a living channel's do. */
const hasSingles = (values: Float64Array, most: number): boolean => {
  let singles = 0;
  for (let k = 1; k + 1 < most; k++)
    if (values[k] !== values[k - 1] && values[k] !== values[k + 1] && ++singles > SHORTER_SHARE * most) return true;
  return false;
};

/**
 * Readings that a logger holds each value for until it asks again: the length that hardly any run of equal readings is shorter than; 1
 * where each row is a reading. Found once for each track.
 */
export const heldForOf = onceFor((track: Track) => readHeld(track));

/** How often a channel really speaks, seconds: a value may be so old where it stands. */
export const updateS = (track: Track): number => track.spacingS * heldForOf(track);

/** Share of the runs that may be shorter. */
const SHORTER_SHARE = 0.05;

const readHeld = ({ values, count }: Track): number => {
  const most = Math.min(count, MOST_READ);
  if (hasSingles(values, most)) return 1;
  const lengths = new Float64Array(most);
  let runs = 0;
  for (let from = 0, k = 1; k <= count && runs < lengths.length; k++)
    if (k === count || values[k] !== values[k - 1]) {
      lengths[runs++] = k - from;
      from = k;
    }
  return runs < LEAST_PAIRS ? 1 : quantileOf(lengths.subarray(0, runs), SHORTER_SHARE);
};
