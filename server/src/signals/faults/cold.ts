// A lambda sensor that is not awake yet: from the engine's start it stands still, at an end or anywhere, until it begins to move.

import { plausibleOf } from '../../formats/plausible.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { dithers } from '../columns/dither.js';
import type { Track } from '../columns/hold.js';
import type { Readings } from '../readings.js';
import type { EventKind, Fault } from '../signals.js';
import { extremes, placeIn, quantileOf, sampleBy, sampleOf } from '../columns/statistics.js';

/** Less is no warm-up but the sensor's own delay. */
const LEAST_S = 1.5;
/** Beyond this it is not cold but dead: stuck.ts tells it. */
const LONGEST_S = 180;
const AIR_FROM = 1.12;

export const coldSpellsOf = (readings: Readings, track: Track, during: (kind: EventKind) => Uint8Array): Fault[] => {
  const { timeS, recordings } = readings;
  const { rows, values, count, channel } = track;
  if (count < 20) return [];
  const rpm = readings.clean('engine-speed');
  const overrun = during('overrun');
  const sample = sampleOf(values.subarray(0, count));
  const [least, greatest] = extremes(sample);
  const usualLow = quantileOf(sample, 0.1),
    usualHigh = quantileOf(sample, 0.75);
  const { low, high } = plausibleOf(channel.quantity ?? 'lambda', readings.vehicle);
  const found: Fault[] = [];
  for (const start of startsOf(rpm, recordings)) {
    const a = placeIn(rows, start.from, count);
    if (a >= count || rows[a] >= start.to || timeS[rows[a]] - timeS[start.from] > 5) continue;
    // A log that begins in a fuel cut shows air; an engine that flares up at its start does not.
    if (overrun[rows[a]] === 1 && recordings.some(({ from }) => from === start.from)) continue;
    const first = values[a];
    // Not awake is one of: a value that cannot be, an end of the scale, or one that stands perfectly still.
    const strange = (value: number): boolean =>
      value < low || value > high || (value >= greatest - 0.003 && value > 1.15) || (value <= least + 0.003 && value < 0.75);
    const stillWithin = 0.004 * Math.max(1, Math.abs(first));
    const asleep = (value: number): boolean => Math.abs(value - first) <= stillWithin || (strange(first) && strange(value));
    const endWhere = (isThere: (value: number) => boolean): number => {
      let end = a + 1;
      while (end < count && rows[end] < start.to && isThere(values[end])) end++;
      return end;
    };
    const lastsS = (end: number): number => timeS[rows[Math.min(end, count - 1)]] - timeS[start.from];
    // A value that stands perfectly still for longer than the channel ever does else, or one about which it stays for longer.
    const still = strange(first) ? a : endWhere((value) => value === first),
      isStill = still - a >= 4 && lastsS(still) >= 2.5 * longestFlatS(readings, track, still);
    const b = isStill ? still : endWhere(asleep),
      movedS = lastsS(b);
    if (b >= count || rows[b] >= start.to || movedS < LEAST_S || movedS > LONGEST_S || b - a < 4) continue;
    if (!strange(first) && !dithers(track)) continue;
    // A usual value that stands still may simply be quantised: it must be rarer than the channel's own steadiness.
    const isUsual = first >= usualLow - stillWithin && first <= usualHigh + stillWithin;
    if (
      !strange(first) &&
      !isStill &&
      isUsual &&
      movedS < longestFlatS(readings, track, b, (value) => Math.abs(value - first) <= stillWithin) * 2.5 &&
      !targetLeft(readings, channel.quantity, first, rows[a], rows[b])
    )
      continue;
    // On its way from an end to the truth it is not to be believed either.
    let settled = b;
    if (strange(first)) {
      const limitS = timeS[rows[b]] + 10;
      while (
        settled < count &&
        timeS[rows[settled]] < limitS &&
        (first > 1.1 ? values[settled] > 1.15 : values[settled] < Math.min(0.75, usualLow))
      )
        settled++;
      if (timeS[rows[Math.min(settled, count - 1)]] >= limitS) settled = b;
    }
    found.push({
      kind: 'cold',
      channel,
      shape: strange(first) ? 'end' : 'still',
      value: first,
      from: rows[a],
      to: rows[Math.min(settled, count - 1)],
      data: { awakeAfterS: movedS },
    });
  }
  return found;
};

const LEFT_LAMBDA = 0.08,
  LEFT_S = 0.5;

/**
 * Whether the target, times what the channel reads of it later (an engine may be lean by a tenth throughout), stood well off the value for
 * half a second: a living sensor follows.
 */
const targetLeft = ({ timeS, held }: Readings, quantity: QuantityId | undefined, value: number, from: number, to: number): boolean => {
  const target = held('target-lambda'),
    lambda = quantity && held(quantity);
  if (!target || !lambda) return false;
  const usual = quantileOf(sampleBy(target.length, { target, lambda, to }, shareLater), 0.5) || 1;
  let leftS = 0;
  for (let i = from + 1; i < to; i++)
    if (target[i] > 0.5 && Math.abs(usual * target[i] - value) > LEFT_LAMBDA) leftS += Math.min(timeS[i] - timeS[i - 1], 0.5);
  return leftS >= LEFT_S;
};

const shareLater = (
  { target, lambda, to }: { readonly target: Float64Array; readonly lambda: Float64Array; readonly to: number },
  i: number,
): number => (i >= to && target[i] > 0.5 ? lambda[i] / target[i] : NaN);

/** Where a sensor may wake: the start of each recording, and each start of the engine within it, to the recording's end. */
const startsOf = (rpm: Float64Array | undefined, recordings: Readings['recordings']): { from: number; to: number }[] => {
  const starts: { from: number; to: number }[] = [];
  for (const { from, to } of recordings) {
    if (!rpm) {
      starts.push({ from, to });
      continue;
    }
    let first = from;
    while (first < to && !(rpm[first] > 420)) first++;
    if (first < to) starts.push({ from: first, to });
  }
  return starts;
};

/**
 * Longest time that the channel keeps one value elsewhere, or is about so (`isThere`), but for two spells that may be faults themselves:
 * how steady it is by nature.
 */
const longestFlatS = (readings: Readings, track: Track, from: number, isThere?: (value: number) => boolean): number => {
  const { timeS } = readings;
  const { rows, values, count } = track;
  let firstS = 0,
    secondS = 0,
    thirdS = 0;
  for (let a = from; a < count;) {
    let b = a + 1;
    while (b < count && (isThere ? isThere(values[a]) && isThere(values[b]) : values[b] === values[a])) b++;
    // Free air in a fuel cut is flat at the sensor's end: that says nothing of how steady it reads.
    if (b < count && values[a] < AIR_FROM && values[a] > track.least && values[a] < track.greatest) {
      const flatS = timeS[rows[b - 1]] - timeS[rows[a]];
      if (flatS > firstS) [firstS, secondS, thirdS] = [flatS, firstS, secondS];
      else if (flatS > secondS) [secondS, thirdS] = [flatS, secondS];
      else if (flatS > thirdS) thirdS = flatS;
    }
    a = b;
  }
  return thirdS;
};
