// Fuel trims that stand far to one side for most of a warm drive: the engine computer makes up for fuel or air that it reckons wrong, and
// at full load, in open loop, it does not.

import { limitOf } from '../../formats/limits.js';
import { operatingOf } from '../drive/operating.js';
import type { Signals, Span } from '../signals.js';
import { median, quantileOf, sampleBy } from '../columns/statistics.js';
import { TRIM_BANKS, trimmedPercent, type TrimBank } from './trims.js';
import { faultsByChannel } from '../faults/byChannel.js';
import type { QuantityId } from '../../quantities/quantity.js';

/** Most of the time, and how long a drive must be for it: a long-term trim takes minutes. Common practice, no source. */
const MOST_OF_THE_TIME = 0.7,
  LEAST_S = 120;

/**
 * Per cent of fuel that the trims of a bank add, in the middle and over the middle four fifths; where the first and the last of it stand.
 */
export interface StandingTrims extends Span {
  readonly trim: QuantityId;
  readonly percent: number;
  readonly low: number;
  readonly high: number;
}

/** The bank that stands furthest off; undefined where none does, or where idle alone is told to be the cause. */
export const standingTrims = (signals: Signals): StandingTrims | undefined => {
  const least = limitOf('trimsStandPercent', signals.vehicle.limits).value;
  const found = TRIM_BANKS.flatMap((bank) => standing(signals, bank, least)).sort((a, b) => Math.abs(b.percent) - Math.abs(a.percent));
  return found.length > 0 && ![...faultsByChannel(signals, 'implausible').values()].flat().some(({ shape }) => shape === 'air-leak')
    ? found[0]
    : undefined;
};

/** The trims without what cannot be one: on another scale, or out of range. One at its stop is as far off as it can tell. */
const plausible = (signals: Signals, id: QuantityId): Float64Array | undefined => {
  const channel = signals.channel(id),
    held = channel && signals.held(id),
    faults = channel ? signals.faultsOf(channel, 'implausible') : [];
  if (!held || faults.length === 0) return held;
  const values = held.slice();
  for (const { from, to } of faults) values.fill(NaN, from, to);
  return values;
};

const standing = (signals: Signals, bank: TrimBank, least: number): StandingTrims[] => {
  const { timeS } = signals,
    [short, long] = [bank.short, bank.long].map((id) => plausible(signals, id)),
    rpm = signals.held('engine-speed'),
    coolant = signals.held('coolant-temperature');
  if ((!short && !long) || !rpm) return [];
  const { load } = operatingOf(signals),
    overrun = signals.during('overrun'),
    warmC = limitOf('warmCoolantC', signals.vehicle.limits).value;
  const drive: Drive = { short, long, rpm, load, overrun, coolant, warmC };
  const sample = sampleBy(timeS.length, drive, percentAt),
    middle = median(sample),
    nearer = quantileOf(sample, middle > 0 ? 1 - MOST_OF_THE_TIME : MOST_OF_THE_TIME);
  if (!(nearer * Math.sign(middle) >= least)) return [];
  let from = -1,
    to = -1,
    lastsS = 0;
  for (let i = 0; i < timeS.length; i++) {
    const percent = percentAt(drive, i);
    if (percent !== percent) continue;
    if (i > 0) lastsS += Math.min(2, Math.max(0, timeS[i] - timeS[i - 1]));
    if (from < 0) from = i;
    to = i + 1;
  }
  return lastsS >= LEAST_S
    ? [
        {
          trim: signals.channel(bank.short) ? bank.short : bank.long,
          percent: middle,
          low: quantileOf(sample, 0.1),
          high: quantileOf(sample, 0.9),
          from,
          to,
        },
      ]
    : [];
};

interface Drive {
  readonly short: Float64Array | undefined;
  readonly long: Float64Array | undefined;
  readonly rpm: Float64Array;
  readonly load: Uint8Array;
  readonly overrun: Uint8Array;
  readonly coolant: Float64Array | undefined;
  readonly warmC: number;
}

/** Per cent at a row of the warm drive, NaN elsewhere: at full load the loop is open and its short-term trim rests at nought. */
const percentAt = ({ short, long, rpm, load, overrun, coolant, warmC }: Drive, row: number): number =>
  !(rpm[row] > 400) || load[row] === 1 || overrun[row] === 1 || (coolant && !(coolant[row] >= warmC))
    ? NaN
    : trimmedPercent(short, long, row);
