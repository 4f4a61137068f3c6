// Whether a channel shows the unrest of a live sensor. Only against such unrest does a flat spell say anything by itself:
// a log made by hand, smoothed or heavily rounded is flat wherever the engine is.

import type { Track } from './hold.js';

/** A turn back counts as unrest while its steps are at most this share of the channel's span: larger ones are the engine's. */
const SMALL_SHARE = 0.12;
/** Share of all changes that must be small turns back, and how many at least. White noise has two in three, a slow wave hardly any (statistics). */
const LEAST_SHARE = 0.04;
const LEAST_TURNS = 6;
const MOST_READ = 20000;

const known = new WeakMap<Track, boolean>();

/** Whether small changes of the channel turn back often enough to be noise. Read once for each track. */
export const dithers = (track: Track): boolean => {
  let found = known.get(track);
  if (found === undefined) known.set(track, found = read(track));
  return found;
};

const read = ({ values, count, least, greatest }: Track): boolean => {
  const small = SMALL_SHARE * (greatest - least);
  let turns = 0, changes = 0, last = 0;
  for (let k = 1; k < count; k++) {
    const step = values[k] - values[k - 1];
    if (step === 0) continue;
    changes++;
    if (step * last < 0 && Math.abs(step) <= small && Math.abs(last) <= small) turns++;
    last = step;
    if (changes >= MOST_READ) break;
  }
  return turns >= LEAST_TURNS && turns >= LEAST_SHARE * changes;
};
