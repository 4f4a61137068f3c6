// A channel whose cells stay empty for longer than it is usually silent.

import { limitOf } from '../../formats/limits.js';
import type { Channel, Session } from '../../formats/session/session.js';
import type { Track } from '../columns/hold.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';

/** A blank counts from this many times the channel's own long spacing. */
const BLANK_SPACINGS = 1.7;
/** A channel silent at the start or end of a recording for so long is told. */
const SILENT_S = 3;

/** Blank spells of one channel, inside a recording and at its ends. */
export const blanks = (readings: Readings, track: Track): Fault[] => {
  const { timeS, recordings } = readings;
  const { rows, count, channel } = track;
  const leastS = limitOf('dropoutS', readings.vehicle.limits).value;
  const found: Fault[] = [];
  // The air around the car changes so slowly that a logger may ask for it once.
  if (count === timeS.length || channel.quantity === 'barometric-pressure') return found;
  const add = (from: number, to: number): void => {
    if (to > from) found.push({ kind: 'dropout', channel, shape: 'blank', value: NaN, from, to, data: {} });
  };
  // The last recording that has begun at a reading: a log of many short ones is walked through once.
  let begun = 0;
  for (let k = 1; k < count; k++) {
    const gapRows = rows[k] - rows[k - 1];
    if (gapRows <= BLANK_SPACINGS * track.longSpacingRows) continue;
    const gapS = writtenS(readings, rows[k - 1], rows[k]);
    if (gapS <= BLANK_SPACINGS * track.longSpacingS || gapS - track.spacingS < leastS) continue;
    // The first missing reading is due one usual spacing behind the last one; a hole in the whole log is not the channel's.
    const due = Math.min(rows[k] - 1, rows[k - 1] + Math.max(1, Math.round(track.spacingRows)));
    while (recordings[begun + 1] && recordings[begun + 1].from <= rows[k]) begun++;
    if (recordings[begun].from > rows[k - 1]) continue;
    add(due, rows[k]);
  }
  const joined = readings.session.joined !== undefined || readings.session.metadata.has('joined'),
    near = Math.ceil(2 * track.longSpacingRows);
  const span = spanOfJoined(readings.session),
    apartS = 2 * track.longSpacingS;
  const silentS = Math.max(SILENT_S, 5 * track.longSpacingS);
  let next = 0;
  for (const recording of recordings) {
    const of = next;
    while (next < count && rows[next] < recording.to) next++;
    if (of === next) continue;
    const first = rows[of],
      last = rows[next - 1];
    // The second of two joined loggers began later, or ended before, with all its channels; where it has one alone, its own span tells.
    const whole = (isFilled: (channel: Channel) => number, row: number): boolean =>
      joined &&
      (span?.some((endS) => Math.abs(timeS[row] - endS) <= apartS) ||
        readings.session.channels.some((each) => each !== channel && each.filled < timeS.length && Math.abs(isFilled(each) - row) <= near));
    if (timeS[first] - timeS[recording.from] > silentS && !whole(firstFilled, first)) add(recording.from, first);
    if (timeS[recording.to - 1] - timeS[last] > silentS && !whole(lastFilled, last)) add(last + 1, recording.to);
  }
  return found;
};

/** When the second of two joined loggers began and ended, seconds; undefined where nothing tells. */
const spanOfJoined = ({ joined, metadata }: Session): readonly number[] | undefined => {
  if (joined && 'spanS' in joined) return joined.spanS;
  const written = /^(-?[\d.]+) to (-?[\d.]+) s$/.exec(metadata.get('joined span') ?? '');
  return written ? [Number(written[1]), Number(written[2])] : undefined;
};

const firstFilled = ({ values }: Channel): number => values.findIndex((value) => value === value);
const lastFilled = ({ values }: Channel): number => {
  let row = values.length - 1;
  while (row >= 0 && values[row] !== values[row]) row--;
  return row;
};

/** Seconds from one row to another without the holes between them, in which nothing at all was written. */
const writtenS = ({ timeS, stepS }: Readings, from: number, to: number): number => {
  // Some loggers write their rows in bursts: then the mean tells of the usual step, not the median.
  const mostS = 3 * Math.max(stepS, (timeS[timeS.length - 1] - timeS[0]) / (timeS.length - 1));
  let lastsS = 0;
  for (let i = from + 1; i <= to; i++) lastsS += Math.min(timeS[i] - timeS[i - 1], mostS);
  return lastsS;
};
