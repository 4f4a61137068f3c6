// A lambda column that only tells rich from lean (a switching sensor, or a gauge's output that plays one) beside one that measures: under
// load it stands at its rich end, which is far leaner than the engine.

import { isOfCylinder } from '../../formats/session/channelNames.js';
import type { Channel, Session } from '../../formats/session/session.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { onceFor } from '../once.js';
import { quantileOf, sampleOf } from '../columns/statistics.js';

export interface NarrowLambda {
  readonly narrow: Channel;
  /** The one that everything goes by instead. */
  readonly wide: Channel;
  /** The ends between which the narrow one stands. */
  readonly low: number;
  readonly high: number;
}

/** λ: what tells rich from lean does it about 1, and shows no mixture of full load and no air. Common practice, no source. */
const LEAST_LOW = 0.85,
  MOST_HIGH = 1.15;
/** λ: the other one goes so far beyond both ends, and the narrow one stands so near to its own meanwhile. */
const BEYOND = 0.05,
  AT_END = 0.002;
/**
 * On either side: so many readings, and such a share of them at the end (the two see a change at different moments). Common practice, no
 * source.
 */
const LEAST_READINGS = 40,
  LEAST_SHARE = 0.8;

/** Told by air, in which a sensor that measures leaves for its lean end; a rich mixture, where there is one, must not speak against it. */
export const standsAtEnds = (narrow: Channel, wide: Channel): NarrowLambda | undefined => {
  const shown = sampleOf(narrow.values),
    low = quantileOf(shown, 0.005),
    high = quantileOf(shown, 0.995);
  if (!(low >= LEAST_LOW && low < 1 && high > 1 && high <= MOST_HIGH)) return undefined;
  const rich = { all: 0, atEnd: 0 },
    lean = { all: 0, atEnd: 0 };
  let last = NaN;
  for (let row = 0; row < wide.values.length; row++) {
    const value = wide.values[row];
    if (narrow.values[row] > 0) last = narrow.values[row];
    const side = value > 0 && value < low - BEYOND ? rich : value > high + BEYOND ? lean : undefined;
    if (!side || last !== last) continue;
    side.all++;
    if (Math.abs(last - (side === rich ? low : high)) <= AT_END) side.atEnd++;
  }
  const stands = ({ all, atEnd }: typeof rich): boolean => atEnd >= LEAST_SHARE * all;
  return lean.all >= LEAST_READINGS && stands(lean) && (rich.all < LEAST_READINGS || stands(rich))
    ? { narrow, wide, low, high }
    : undefined;
};

/** By bank, where the first lambda column of it tells rich from lean alone and another one measures. */
export const narrowLambdas = onceFor((session: Session): ReadonlyMap<QuantityId, NarrowLambda> => {
  const found = new Map<QuantityId, NarrowLambda>();
  for (const quantity of ['lambda', 'lambda-2'] as const) {
    const [first, ...others] = session.channels.filter(
      (channel) => channel.quantity === quantity && channel.filled > 0 && !isOfCylinder(channel),
    );
    for (const other of others) {
      const narrow = found.has(quantity) ? undefined : standsAtEnds(first, other);
      if (narrow) found.set(quantity, narrow);
    }
  }
  return found;
});
