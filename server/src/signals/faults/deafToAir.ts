// A lambda sensor that has gone cold in mid-drive (its heater, its fuse): it reads one mixture with hardly any unrest, through overruns
// whose air it used to show and whatever else the engine does.

import type { Track } from '../columns/hold.js';
import { above, below, keep, mark } from '../columns/marks.js';
import { openingOf } from '../drive/opening.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';
import { extremes, median, placeIn } from '../columns/statistics.js';
import { spansOf } from '../columns/spans.js';
import { nextBeyond } from '../columns/stretches.js';

/** A closed throttle well above idle, for so long; a reading is looked at from so much later on. Orders of magnitude, no source. */
const CLOSED_PERCENT = 3,
  TURNING_RPM = 1800,
  CLOSED_S = 2,
  LATE_S = 1;
/** A sensor shows air from this lambda on, and is still where it moves by less than that. */
const SHOWS_LAMBDA = 1.2,
  STILL_LAMBDA = 0.03;
/** Overruns whose air it showed, and such on end that it did not: a computer may keep its fuel on now and then. */
const LEAST_SHOWN = 3,
  LEAST_DEAF = 3;
/** How long a heated cell takes to cool in exhaust gas. */
const COOLS_S = 20;
/** Opened so far meanwhile, an engine has asked for another mixture, or at least disturbed the one that it has. */
const OPENED_PERCENT = 60;

/** Spells of a bank. */
export const deafToAir = (readings: Readings, { channel, rows, values, count }: Track): Fault[] => {
  const { timeS, recordings } = readings,
    { from: openedBy, percent } = openingOf(readings),
    rpm = readings.clean('engine-speed');
  if (!rpm || (openedBy !== 'throttle' && openedBy !== 'pedal')) return [];
  const overruns = spansOf(keep(mark(percent, below(CLOSED_PERCENT)), rpm, above(TURNING_RPM)), timeS, {
    recordings,
    leastS: CLOSED_S,
  }).flatMap(({ from, to }) => {
    let late = from;
    while (late < to && timeS[late] < timeS[from] + LATE_S) late++;
    const [a, b] = [placeIn(rows, late, count), placeIn(rows, to, count)],
      shows = nextBeyond(values, a, b, -Infinity, SHOWS_LAMBDA) < b;
    return a < b ? [{ a, b, shows, deaf: !shows && spreadOf(values, a, b) < STILL_LAMBDA }] : [];
  });
  if (overruns.filter(({ shows }) => shows).length < LEAST_SHOWN) return [];
  const found: Fault[] = [];
  for (let first = 0, last; first < overruns.length; first = last + 1) {
    last = first;
    while (overruns[first].deaf && overruns[last + 1]?.deaf) last++;
    if (last + 1 - first < LEAST_DEAF) continue;
    let { a } = overruns[first],
      { b } = overruns[last];
    const [low, high] = extremes(values, a, b),
      [, opened] = extremes(percent, rows[a], rows[b - 1] + 1);
    if (high - low >= STILL_LAMBDA || !(opened >= OPENED_PERCENT)) continue;
    const level = median(values.subarray(a, b)),
      isStill = (k: number): boolean => values[k] >= low && values[k] <= high;
    while (a > 0 && isStill(a - 1)) a--;
    // Before it was cold it cooled, and read a mixture on its way to that one: it was last known to live when it showed air.
    const livedTo =
        overruns
          .slice(0, first)
          .filter(({ shows }) => shows)
          .at(-1)?.b ?? 0,
      coolsFromS = timeS[rows[a]] - COOLS_S;
    while (a > livedTo && timeS[rows[a - 1]] >= coolsFromS && timeS[rows[a - 1]] <= timeS[rows[a]]) a--;
    while (b < count && isStill(b)) b++;
    found.push({
      kind: 'stuck',
      channel,
      shape: 'frozen',
      value: level,
      from: rows[a],
      to: b < count ? rows[b] : rows[b - 1] + 1,
      data: {},
    });
  }
  return found;
};

const spreadOf = (values: Float64Array, from: number, to: number): number => {
  const [low, high] = extremes(values, from, to);
  return high - low;
};
