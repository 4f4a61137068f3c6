// The air around the car: needed to know what a closed, an open and a boosted manifold is.

import type { Signals } from './signals.js';
import { standingMask } from './standing.js';
import { median } from './statistics.js';

/** Sea level in the standard atmosphere (ISO 2533), where nothing in the log tells. */
const ASSUMED_KPA = 101.325;

/** From a barometer channel, else from the manifold while the engine stands, else assumed. */
export const barometerOf = (signals: Pick<Signals, 'channel' | 'held' | 'timeS'>): Signals['barometer'] => {
  const barometer = signals.channel('barometric-pressure');
  if (barometer) {
    const kPa = median(signals.held('barometric-pressure')!);
    if (kPa >= 55 && kPa <= 108.5) return { kPa, from: 'channel' };
  }
  const rpm = signals.held('engine-speed'), pressure = signals.held('manifold-pressure');
  if (rpm && pressure) {
    const standing: number[] = [], stands = standingMask(rpm, signals.timeS);
    for (let i = 0; i < rpm.length && standing.length < 5000; i++) if (stands[i] === 1 && pressure[i] === pressure[i]) standing.push(pressure[i]);
    const kPa = median(Float64Array.from(standing));
    if (standing.length >= 3 && kPa >= 55 && kPa <= 108.5) return { kPa, from: 'engine-off' };
  }
  return { kPa: ASSUMED_KPA, from: 'assumed' };
};
