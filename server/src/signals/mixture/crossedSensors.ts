// Two closed loops that run apart: each fuels its own bank by the other's sensor, so that what one adds the other takes away for, up to the
// ends of both.

import { limitOf } from '../../formats/limits.js';
import { onceFor } from '../once.js';
import { operatingOf } from '../drive/operating.js';
import type { Signals, Span } from '../signals.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { TRIM_BANKS, trimmedPercent } from './trims.js';

/** The trims of bank 1 and bank 2 in the mean, per cent, how long they stood so, and the first and the last of it. */
export interface CrossedSensors extends Span {
  readonly trim: QuantityId;
  readonly percents: readonly [number, number];
  readonly lastsS: number;
}

/**
 * Trims of a bank with one fault come so far, and the other bank's stay; the ends that most computers have are beyond 20 %. Common
 * practice, no source.
 */
const APART_PERCENT = 12,
  AT_END_PERCENT = 18;
/** A loop that works holds its lambda: banks further apart (ln) are not held, of which a sensor is read on either bank. */
const NOT_HELD = 0.08;
const MOST_OF_THE_TIME = 0.6,
  LEAST_S = 30;

/**
 * Undefined where the trims of two banks do not stand at opposite ends for most of a warm drive, or where they do and hold both banks where
 * they are to be.
 */
export const crossedSensors = onceFor((signals: Signals): CrossedSensors | undefined => {
  const { timeS } = signals,
    [first, second] = TRIM_BANKS.map(({ short, long }) => [signals.held(short), signals.held(long)] as const);
  if ((!first[0] && !first[1]) || (!second[0] && !second[1])) return undefined;
  const rpm = signals.held('engine-speed'),
    coolant = signals.held('coolant-temperature'),
    one = signals.held('lambda'),
    other = signals.held('lambda-2'),
    overrun = signals.during('overrun'),
    { load } = operatingOf(signals),
    warmC = limitOf('warmCoolantC', signals.vehicle.limits).value;
  const least = one && other ? APART_PERCENT : AT_END_PERCENT;
  let [allS, lastsS, from, to, way] = [0, 0, -1, -1, 0];
  const sums = [0, 0];
  for (let i = 1; i < timeS.length; i++) {
    const stepS = Math.max(0, Math.min(2, timeS[i] - timeS[i - 1])),
      percents = [trimmedPercent(...first, i), trimmedPercent(...second, i)];
    if (
      (rpm && !(rpm[i] > 400)) ||
      (coolant && !(coolant[i] >= warmC)) ||
      load[i] === 1 ||
      overrun[i] === 1 ||
      !(percents[0] - percents[1] === percents[0] - percents[1])
    )
      continue;
    allS += stepS;
    const sign = Math.sign(percents[0]);
    if (
      !(Math.min(Math.abs(percents[0]), Math.abs(percents[1])) >= least) ||
      percents[0] * percents[1] > 0 ||
      (one && other && !(Math.abs(Math.log(one[i] / other[i])) > NOT_HELD))
    )
      continue;
    if (from < 0) from = i;
    to = i + 1;
    lastsS += stepS;
    way += sign * stepS;
    for (const bank of [0, 1]) sums[bank] += percents[bank] * stepS;
  }
  if (!(lastsS >= LEAST_S && Math.abs(way) >= MOST_OF_THE_TIME * allS)) return undefined;
  return {
    trim: TRIM_BANKS[0][signals.channel(TRIM_BANKS[0].short) ? 'short' : 'long'],
    percents: [sums[0] / lastsS, sums[1] / lastsS],
    lastsS,
    from,
    to,
  };
});
