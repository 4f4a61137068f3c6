// Of two pressures of the air that an engine breathes the one ahead of the throttle never falls below the air around: the manifold's, by
// which an engine is fuelled, does.

import type { Channel } from '../../formats/session/session.js';
import { quantileOf, sampleOf } from '../columns/statistics.js';

/** Open, a throttle takes little of the pressure; nearly closed it takes most. Common practice, no source. */
const SAME_SHARE = 0.12,
  THROTTLED_SHARE = 0.75;
const LEAST_MANIFOLD_KPA = 10;

/** Whether a pressure is that ahead of a throttle behind which the other one is: as high at its top, and far above it at its least. */
export const isAheadOfThrottle = (known: Channel, other: Channel): boolean => {
  if (known.quantity !== 'manifold-pressure') return false;
  const [[low, high], [lowBehind, highBehind]] = [known, other].map(({ values }) => {
    const sample = sampleOf(values);
    return [quantileOf(sample, 0.1), quantileOf(sample, 0.98)];
  });
  return lowBehind > LEAST_MANIFOLD_KPA && lowBehind < THROTTLED_SHARE * low && Math.abs(highBehind - high) < SAME_SHARE * high;
};
