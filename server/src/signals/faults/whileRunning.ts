// What a channel shows of a running engine.

import type { QuantityId } from '../../quantities/quantity.js';
import { above, mark } from '../columns/marks.js';
import type { Readings } from '../readings.js';
import { sampleOf } from '../columns/statistics.js';

/** Sorted sample of the values while the engine runs; of all of them without engine speed. */
export const whileRunning = (readings: Readings, quantity: QuantityId): Float64Array | undefined => {
  const values = readings.held(quantity),
    rpm = readings.held('engine-speed');
  return values && sampleOf(values, 0, values.length, rpm && mark(rpm, above(400)));
};
