// What the steps inside the analysis hand to each other, before there are whole Signals: held columns without their plain faults.

import type { QuantityId } from '../quantities/quantity.js';
import type { Channel, Session } from '../formats/session/session.js';
import type { Vehicle } from '../formats/vehicle/vehicle.js';
import type { Track } from './columns/hold.js';
import type { Signals, Span } from './signals.js';

export interface Readings {
  readonly session: Session;
  readonly vehicle: Vehicle;
  readonly timeS: Float64Array;
  readonly stepS: number;
  readonly recordings: readonly Span[];
  readonly barometer: Signals['barometer'];
  channel(quantity: QuantityId): Channel | undefined;
  track(channel: Channel): Track;
  held(quantity: QuantityId): Float64Array | undefined;
  ageS: Signals['ageS'];
  between: Signals['between'];
  /** Held, with spells that are plainly not the truth (blank, jumped to an end) bridged in a straight line where short, NaN where long. */
  clean(quantity: QuantityId): Float64Array | undefined;
}

/** Fills NaN between two numbers no further apart than `longestS` with a straight line, in place; elsewhere NaN stays. */
export const bridge = (values: Float64Array, timeS: Float64Array, longestS: number): void => {
  let last = -1;
  for (let i = 0; i < values.length; i++) {
    if (values[i] !== values[i]) continue;
    if (last >= 0 && i > last + 1) {
      const spanS = timeS[i] - timeS[last];
      if (spanS <= longestS && spanS > 0) {
        const slope = (values[i] - values[last]) / spanS;
        for (let k = last + 1; k < i; k++) values[k] = values[last] + slope * (timeS[k] - timeS[last]);
      }
    }
    last = i;
  }
};
