// The rev limiter that vehicle.json tells, and whether the engine ran through it: then it is not there, and nothing is left out as its
// work.

import { loadMask } from './opening.js';
import { onceBy } from '../once.js';
import { pulsesOfRpm } from '../pulsesOfRpm.js';
import type { Signals, Span } from '../signals.js';
import { rangeOfColumn } from '../columns/stretches.js';

/**
 * A limiter takes the torque within a turn or two: no engine rises this far through it, for so long, without falling back (mechanics:
 * without torque no speed is gained; the figures are common practice, no source).
 */
const THROUGH_RPM = 120,
  THROUGH_S = 0.25;
/** So often must the speed have been read anew meanwhile, and so small a fall is unrest. */
const LEAST_RISES = 2,
  UNREST_SHARE = 0.01;
/** A limiter that caught the engine holds it so near, so soon. Common practice, no source. */
const CAUGHT_S = 0.5,
  HELD_SHARE = 0.97;
/** Faster than this no engine gains speed under load: a leap of the reading. */
const MOST_RPM_PER_S = 8000;

type Driven = Pick<Signals, 'timeS' | 'vehicle' | 'held' | 'barometer'>;
export interface RunThrough extends Span {
  readonly peakRpm: number;
  readonly limitRpm: number;
}

/** The stretch under load that rose furthest through the stated limiter; undefined where none did, or none is stated. */
export const runThrough = onceBy(
  ({ held }) => held,
  (signals: Driven): RunThrough | undefined => find(signals),
);

/**
 * Where the limiter cuts, rpm: undefined where none is stated, one that this drive disproves, or the engine speed is another than it says.
 */
export const limiterRpm = (signals: Driven): number | undefined =>
  runThrough(signals) || pulsesOfRpm(signals) ? undefined : signals.vehicle.engine.revLimitRpm;

const find = (signals: Driven): RunThrough | undefined => {
  const {
    timeS,
    held,
    vehicle: {
      engine: { revLimitRpm: limitRpm },
    },
  } = signals;
  const rpm = held('engine-speed');
  if (!rpm || limitRpm === undefined || !(rangeOfColumn(rpm).greatest > limitRpm)) return undefined;
  let load: Uint8Array | undefined, furthest: RunThrough | undefined;
  /** Whether speed is back just under the limit soon behind a peak, still under load: an overshoot that a limiter caught. */
  const heldBehind = (peakAt: number): boolean => {
    for (let k = peakAt + 1; k < rpm.length && timeS[k] - timeS[peakAt] <= CAUGHT_S && load![k] === 1; k++)
      if (rpm[k] <= limitRpm && rpm[k] > HELD_SHARE * limitRpm) return true;
    return false;
  };
  for (let i = 1; i < rpm.length; i++) {
    // It rises from below: what stands above it at once has leapt there, or was dragged.
    if (!(rpm[i] > limitRpm && rpm[i - 1] <= limitRpm)) continue;
    load ??= loadMask(signals, held);
    let to = i,
      peakRpm = rpm[i - 1],
      peakAt = i,
      rises = 0;
    for (; to < rpm.length && rpm[to] > limitRpm && load[to] === 1 && rpm[to] > (1 - UNREST_SHARE) * peakRpm; to++) {
      const stepS = timeS[to] - timeS[to - 1];
      if (!(stepS > 0 && stepS < 1.5) || rpm[to] - rpm[to - 1] > MOST_RPM_PER_S * stepS) break;
      if (rpm[to] > peakRpm) {
        peakRpm = rpm[to];
        peakAt = to;
        rises++;
      }
    }
    if (
      rises >= LEAST_RISES &&
      peakRpm > limitRpm + THROUGH_RPM &&
      timeS[peakAt] - timeS[i] >= THROUGH_S &&
      !heldBehind(peakAt) &&
      !(furthest && furthest.peakRpm >= peakRpm)
    )
      furthest = { from: i, to, peakRpm, limitRpm };
    i = Math.max(i, to - 1);
  }
  return furthest;
};
