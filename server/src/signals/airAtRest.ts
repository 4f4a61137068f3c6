// The manifold of an engine that stands against the barometer beside it: they are one air, so where they differ one of the two sensors is
// wrong.

import type { Channel } from '../formats/session/session.js';
import { believed } from './drive/operating.js';
import type { Signals, Span } from './signals.js';
import { spansOf } from './columns/spans.js';
import { standingMask } from './drive/standing.js';
import { quantileOf } from './columns/statistics.js';
import { isAnyAbove } from './columns/stretches.js';

export interface AirAtRest extends Span {
  readonly channel: Channel;
  readonly barometer: Channel;
  readonly manifoldKPa: number;
  readonly airKPa: number;
}

/** What two good sensors of one air may differ by, each good to one or two per cent of its scale (common practice, no source). */
const APART_SHARE = 0.06;
/** A manifold that is still filling behind its throttle stands below the air: so long it takes at most. */
const FILLED_AFTER_S = 5;
const LEAST_READINGS = 5,
  LEAST_S = 0.5;
/** Of a car that stands too; one that rolls on may have lost its engine speed alone. */
const STANDS_KMH = 3;

/** Of the longest stand; undefined where they agree, or the log holds no stand or no barometer. */
export const airAtRest = (signals: Signals): AirAtRest | undefined => {
  const { timeS } = signals;
  const channel = signals.channel('manifold-pressure'),
    barometer = signals.channel('barometric-pressure'),
    rpm = signals.held('engine-speed'),
    pressure = believed(signals, 'manifold-pressure'),
    air = believed(signals, 'barometric-pressure');
  if (!channel || !barometer || !rpm || !pressure || !air) return undefined;
  const kmh = signals.held('vehicle-speed'),
    isRolling = ({ from, to }: Span): boolean => kmh !== undefined && isAnyAbove(STANDS_KMH, kmh, from, to);
  const lastingS = ({ from, to }: Span): number => timeS[to - 1] - timeS[from];
  const stands = spansOf(standingMask(rpm, timeS), timeS, { bridgeS: 0, recordings: signals.recordings }).filter(
    (span) => !isRolling(span),
  );
  const longest = stands.reduce<Span | undefined>((best, span) => (!best || lastingS(span) > lastingS(best) ? span : best), undefined);
  if (!longest || lastingS(longest) < LEAST_S) return undefined;
  const read = pressure.subarray(longest.from, longest.to).filter((each) => each === each),
    manifoldKPa = quantileOf(read, 0.5);
  // The air of that place: a road goes up and down.
  const kPa = quantileOf(
    air.subarray(longest.from, longest.to).filter((each) => each === each),
    0.5,
  );
  const isHigh = manifoldKPa > kPa * (1 + APART_SHARE),
    isLow = quantileOf(read, 1) < kPa * (1 - APART_SHARE) && lastingS(longest) >= FILLED_AFTER_S;
  // What breathes moves the pressure: an engine whose speed alone is lost.
  const isStill = quantileOf(read, 0.75) - quantileOf(read, 0.25) < (APART_SHARE / 2) * kPa;
  return read.length >= LEAST_READINGS && isStill && (isHigh || isLow)
    ? { ...longest, channel, barometer, manifoldKPa, airKPa: kPa }
    : undefined;
};
