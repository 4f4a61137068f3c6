// Channels slower than the log that repeat their last value until the next: which rows are new, and the line between them. Taken row by
// row, a repeated value would be half a period old on the whole, and the delay too long or too short by as much.

import { quantileOf, quantisedStep, sampleOf } from '../../signals/columns/statistics.js';
import { onceFor } from '../../signals/once.js';
import { GAP_S } from './gasPassed.js';
import { copyOf, roomFor } from '../room.js';

/**
 * A channel that is new in every row changes from one row to the next now and then, however still; so few at most of a repeated one's
 * changes follow so soon.
 */
const STRAY_SHARE = 0.02;
const LEAST_CHANGES = 50;
/**
 * A repeated channel stays blank until it is first read, and where its reader lost it; one that is blank more often than this is blank
 * between its new values.
 */
const BLANK_SHARE = 0.1;

/**
 * Rows at which a channel is new, where it repeats its last value at a rhythm of its own; undefined where every row, or every filled one,
 * is new. Found once for each column.
 */
export const freshRows = onceFor((values: Float64Array): Int32Array | undefined => findFresh(values));

const findFresh = (values: Float64Array): Int32Array | undefined => {
  if (isOftenNew(values)) return undefined;
  const rows = new Int32Array(values.length);
  const count = changesIn(values, rows),
    gaps = count - 1;
  if (gaps < LEAST_CHANGES) return undefined;
  const sample = sampleOf(gapsBetween(rows, count));
  const period = quantileOf(sample, STRAY_SHARE);
  // What changes seldom is a switch or a thermometer: its moments tell no rhythm.
  if (period < 2 || quantileOf(sample, 0.5) > 2 * period) return undefined;
  // A value that stays may have been read anew: a long run counts as new once a period.
  const fresh: number[] = [];
  for (let at = 0; at < count; at++) {
    const row = rows[at],
      next = at + 1 < count ? rows[at + 1] : values.length;
    for (let each = row; each + period <= next + 1 || each === row; each += Math.ceil(period))
      if (values[each] === values[each]) fresh.push(each);
  }
  return new Int32Array(fresh);
};

/**
 * The same, of a channel without such a rhythm: read slower than the rows yet more than half as often too, or whenever its reader came by.
 * It leaps, stays, and leaps again. One that is new in every row stays so by chance, about half as often as it creeps by a digit there, up
 * or down; and one that a foot or a stop holds stays for longer than a reader's chance has it, by how often it is new at once.
 */
export const freshRowsOfMost = onceFor((values: Float64Array): Int32Array | undefined => freshRows(values) ?? freshByStays(values));

const freshByStays = (values: Float64Array): Int32Array | undefined => {
  const leap = LEAP_DIGITS * quantisedStep(values),
    stays = roomFor(values.length),
    { stayed, passed, crept } = staysIn(values, leap, stays);
  if (stayed < Math.max(LEAST_CHANGES, STAYS_SHARE * passed, BY_CHANCE * crept)) return undefined;
  const sample = sampleOf(stays.subarray(0, stayed)),
    usual = quantileOf(sample, 0.5),
    longest = 2 * quantileOf(sample, 1 - STRAY_SHARE);
  if (usual > Math.min(LONGEST_USUAL, 2 * (2 + stayed / passed))) return undefined;
  // What stays far longer than nearly all, or creeps on by a digit, was read anew meanwhile: by changes alone, a digit would be seen to
  // come when its first half has.
  const fresh: number[] = [],
    rows = new Int32Array(values.length),
    count = changesIn(values, rows);
  for (let at = 0; at < count; at++) {
    fresh.push(rows[at]);
    const next = at + 1 < count ? rows[at + 1] : values.length;
    for (let row = rows[at] + (next < values.length && leaps(values, next, leap) ? longest : usual); row < next; row += usual)
      if (values[row] === values[row]) fresh.push(row);
  }
  return new Int32Array(fresh);
};

const leaps = (values: Float64Array, row: number, leap: number): boolean => Math.abs(values[row] - values[row - 1]) > leap;

/**
 * For how many rows a column stays between two leaps: how many times for more than one (`stays` takes for how many), and for one alone; and
 * how often it creeps there instead. None where more than a few rows have no value.
 */
const staysIn = (
  values: Float64Array,
  leap: number,
  stays: Float64Array,
): { readonly stayed: number; readonly passed: number; readonly crept: number } => {
  let stayed = 0,
    passed = 0,
    crept = 0,
    blanksLeft = BLANK_SHARE * values.length;
  // The last change, how long what went before it stayed, and whether it and the one before are leaps.
  let last = -1,
    gapBefore = 0,
    here = false,
    before = false;
  for (let row = 1; row < values.length; row++) {
    const value = values[row];
    if (value !== value) {
      if (--blanksLeft < 0) return { stayed: 0, passed: 0, crept: 0 };
    } else if (value !== values[row - 1]) {
      const next = leaps(values, row, leap),
        gap = last < 0 ? 0 : row - last;
      // What stayed before the first change is not known.
      if (gapBefore > 0 && next) {
        if (!here) crept += gap === 1 && gapBefore === 1 && before ? 1 : 0;
        else if (gap > 1) stays[stayed++] = gap;
        else passed++;
      }
      before = here;
      here = next;
      gapBefore = gap;
      last = row;
    }
  }
  return { stayed, passed, crept };
};

/**
 * So many must stay, in terms of those that pass at once, and more than so many times as creep; usual are no more rows than a reader leaves
 * that comes by once in ten. Orders of magnitude, no source.
 */
const STAYS_SHARE = 0.1;
const BY_CHANCE = 2;
const LONGEST_USUAL = 8;
const LEAP_DIGITS = 1.5;

/**
 * Between its readings the course of a repeated channel is not seen: by how much what moved is early or late on the line (standard
 * deviation), seconds; nought where every row is new.
 */
export const unseenS = (fresh: Int32Array | undefined, timeS: Float64Array): number => {
  let [sum, cubes] = [0, 0];
  for (let at = 1; fresh && at < fresh.length; at++) {
    const gapS = timeS[fresh[at]] - timeS[fresh[at - 1]];
    if (!(gapS >= 0 && gapS < GAP_S)) continue;
    sum += gapS;
    cubes += gapS ** 3;
  }
  return sum > 0 ? Math.sqrt(cubes / sum / 12) : 0;
};

/** Whether more than a few values are new right behind another: of a channel that lives the first rows tell. */
const isOftenNew = (values: Float64Array): boolean => {
  const few = STRAY_SHARE * values.length;
  let onEnd = 0;
  for (let row = 2; row < values.length; row++) {
    const value = values[row],
      before = values[row - 1];
    if (value === value && before === before && value !== before && before !== values[row - 2] && ++onEnd > few) return true;
  }
  return false;
};

/** Rows at which the value is another than before, and how many; 0 where more than a few have none. */
const changesIn = (values: Float64Array, rows: Int32Array): number => {
  let count = 0,
    blanksLeft = BLANK_SHARE * values.length;
  for (let row = 1; row < values.length; row++) {
    if (values[row] !== values[row]) {
      if (--blanksLeft < 0) return 0;
    } else if (values[row] !== values[row - 1]) rows[count++] = row;
  }
  return count;
};

const gapsBetween = (rows: Int32Array, count: number): Float64Array => {
  const gaps = roomFor(count - 1);
  for (let at = 1; at < count; at++) gaps[at - 1] = rows[at] - rows[at - 1];
  return gaps;
};

/**
 * The line between a repeated channel's new values, none to or from nought, where a pulse is off, nor over blanks; the column itself where
 * nothing is repeated.
 */
export const betweenFresh = (values: Float64Array, timeS: Float64Array): Float64Array => {
  const fresh = freshRowsOfMost(values);
  if (!fresh) return values;
  const line = copyOf(values);
  for (let at = 0; at + 1 < fresh.length; at++) {
    const [from, to] = [fresh[at], fresh[at + 1]];
    if (values[from] === 0 || values[to] === 0 || Number.isNaN(values[to - 1])) continue;
    for (let row = from + 1; row < to; row++)
      line[row] = values[from] + ((values[to] - values[from]) * (timeS[row] - timeS[from])) / (timeS[to] - timeS[from]);
  }
  return line;
};

/**
 * The same for a target or a trim, which `values` holds over its blanks: it moved somewhere between the last of its own readings and the
 * next. `own`: as it was read.
 */
export const betweenReadings = (values: Float64Array, own: Float64Array, timeS: Float64Array): Float64Array => {
  const line = copyOf(values);
  for (let row = 0, from = -1; row < line.length; row++) {
    if (own[row] !== own[row]) continue;
    for (let each = from + 1; from >= 0 && each < row && values[row - 1] === values[from]; each++)
      line[each] += ((values[row] - values[from]) * (timeS[each] - timeS[from])) / (timeS[row] - timeS[from]);
    from = row;
  }
  return line;
};

/** A switch's readings, each on to the middle between it and the next: it was thrown somewhere between them. */
export const nearestReading = (values: Float64Array, own: Float64Array, timeS: Float64Array): Float64Array => {
  const nearest = copyOf(values);
  for (let row = 0, from = -1; row < nearest.length; row++) {
    if (own[row] !== own[row]) continue;
    for (let each = row - 1; from >= 0 && each > from && 2 * timeS[each] >= timeS[from] + timeS[row]; each--) nearest[each] = values[row];
    from = row;
  }
  return nearest;
};

/**
 * By how much (ln) what is asked must move from one row to the next for a pulse to follow; by how many of its digits, were the whole pulse
 * to (no more than half of it is dead time); and how many such rows tell.
 */
const MOVES = 0.01;
const MOVES_DIGITS = 2;
const LEAST_MOVES = 20;

/**
 * Whether a pulse is one cylinder's, new once an engine cycle: it stays, row for row, where what is asked moves, for as long as a cycle
 * lasts. `lnAsked`: ln of the fuel asked for. False where no cycle takes in two rows, and nothing tells.
 */
export const isOncePerCycle = (pulse: Float64Array, lnAsked: Float64Array, timeS: Float64Array, rpm: Float64Array): boolean => {
  const leastStep = MOVES_DIGITS * quantisedStep(pulse);
  let moves = 0,
    expected = 0,
    stays = 0;
  for (let row = 1; row < pulse.length; row++) {
    const cycles = ((timeS[row] - timeS[row - 1]) * rpm[row]) / 120;
    const move = Math.abs(lnAsked[row] - lnAsked[row - 1]);
    if (!(cycles > 0 && cycles < 0.5 && pulse[row] > 0 && pulse[row - 1] > 0 && move > MOVES && move * pulse[row] > leastStep)) continue;
    moves++;
    expected += 1 - cycles;
    if (pulse[row] === pulse[row - 1]) stays++;
  }
  return moves >= LEAST_MOVES && stays > expected / 2;
};

/**
 * What all cylinders get, where `pulse` is one cylinder's: the others get theirs meanwhile, on the line to its next. Taken row by row it
 * would be half a cycle old on the whole. None is drawn to or from nought, nor where no engine turns (a speed that dropped out).
 */
export const betweenCycles = (pulse: Float64Array, timeS: Float64Array, rpm: Float64Array): Float64Array => {
  const line = copyOf(pulse);
  for (let row = 1, from = 0; row < pulse.length; row++) {
    if (pulse[row] === pulse[row - 1]) continue;
    const first = from,
      step = pulse[row] - pulse[row - 1],
      stepS = timeS[row] - timeS[row - 1],
      cycleS = 120 / rpm[row];
    from = row;
    if (!(pulse[row] > 0 && pulse[row - 1] > 0 && rpm[row] > 0)) continue;
    // It was new somewhere between two rows, and the last one a cycle before, however long it had stayed.
    const lastS = timeS[row] - stepS / 2 - cycleS;
    if (cycleS < stepS) line[row - 1] += (step * cycleS) / 2 / stepS;
    else for (let each = row - 1; each >= first && timeS[each] > lastS; each--) line[each] += (step * (timeS[each] - lastS)) / cycleS;
  }
  return line;
};
