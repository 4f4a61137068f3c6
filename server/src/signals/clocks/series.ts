// One channel's readings by its own clock, and the forms in which two of them are held against each other.

import type { Channel } from '../../formats/session/session.js';
import { median } from '../columns/statistics.js';

/** Readings without blanks, times (seconds) rising strictly. */
export interface Series {
  readonly timeS: Float64Array;
  readonly values: Float64Array;
  /** Usual distance of readings, seconds. */
  readonly stepS: number;
}

/** Over a hole longer than this, and than three steps, nothing is interpolated. */
const LONGEST_BRIDGE_S = 1.5;

/** `timeS`: of the channel's samples. Readings whose time does not run on are left out. */
export function seriesOf({ values, filled }: Pick<Channel, 'values' | 'filled'>, timeS: Float64Array): Series {
  const times = new Float64Array(filled);
  const kept = new Float64Array(filled);
  let count = 0;
  for (let at = 0; at < values.length; at++) {
    if (!Number.isFinite(values[at]) || (count > 0 && !(timeS[at] > times[count - 1])) || count >= filled) continue;
    times[count] = timeS[at];
    kept[count++] = values[at];
  }
  const steps = new Float64Array(Math.max(0, count - 1));
  for (let at = 0; at < steps.length; at++) steps[at] = times[at + 1] - times[at];
  return { timeS: times.subarray(0, count), values: kept.subarray(0, count), stepS: median(steps) || 0 };
}

/** The value at a time, between readings on a straight line; NaN outside and in long holes. Asked in rising order it costs nothing. */
export function readerOf({ timeS, values, stepS }: Series): (atS: number) => number {
  const bridgeS = Math.max(LONGEST_BRIDGE_S, 3 * stepS);
  const last = timeS.length - 1;
  let at = 0;
  return (atS) => {
    if (!(last > 0 && atS >= timeS[0] && atS <= timeS[last])) return NaN;
    if (atS < timeS[at] || atS > timeS[at + 1]) {
      let [low, high] = atS > timeS[at] && at + 2 <= last && atS <= timeS[at + 2] ? [at + 1, at + 2] : [0, last];
      while (high - low > 1) {
        const middle = (low + high) >> 1;
        if (timeS[middle] <= atS) low = middle;
        else high = middle;
      }
      at = Math.min(low, last - 1);
    }
    const spanS = timeS[at + 1] - timeS[at];
    return spanS > bridgeS ? NaN : values[at] + ((values[at + 1] - values[at]) * (atS - timeS[at])) / spanS;
  };
}

/** On an even grid from the first reading on, averaged over `widthS`, NaN in holes. */
export function onGrid(series: Series, stepS: number, widthS: number): Float64Array {
  const { timeS } = series;
  const count = timeS.length < 2 ? 0 : Math.floor((timeS[timeS.length - 1] - timeS[0]) / stepS) + 1;
  const read = readerOf(series);
  return averaged(
    Float64Array.from({ length: count }, (_, at) => read(timeS[0] + at * stepS)),
    Math.max(1, Math.round(widthS / stepS)),
  );
}

/** Each value's mean over `width` values round it; NaN where one is missing. */
function averaged(values: Float64Array, width: number): Float64Array {
  const half = width >> 1;
  if (half === 0) return values;
  const result = new Float64Array(values.length).fill(NaN);
  let [sum, missing] = [0, 0];
  const take = (at: number, sign: 1 | -1): void => {
    if (at < 0 || at >= values.length) return;
    if (Number.isNaN(values[at])) missing += sign;
    else sum += sign * values[at];
  };
  for (let at = 0; at < half; at++) take(at, 1);
  for (let at = 0; at < values.length; at++) {
    take(at + half, 1);
    take(at - half - 1, -1);
    if (missing === 0) result[at] = sum / (Math.min(values.length - 1, at + half) - Math.max(0, at - half) + 1);
  }
  return result;
}

/** Leaps count no more than this many times the usual change. */
const MOST_CHANGE = 4;

/** Change from step to step, 0 in holes, leaps cut down: what a match is told by whatever the level. */
export function changesOf(values: Float64Array): Float64Array {
  const changes = new Float64Array(values.length);
  let [sum, count] = [0, 0];
  for (let at = 1; at + 1 < values.length; at++) {
    const change = values[at + 1] - values[at - 1];
    if (Number.isNaN(change)) continue;
    changes[at] = change;
    sum += change * change;
    count++;
  }
  const most = MOST_CHANGE * Math.sqrt(sum / Math.max(1, count));
  return changes.map((change) => Math.max(-most, Math.min(most, change)));
}
