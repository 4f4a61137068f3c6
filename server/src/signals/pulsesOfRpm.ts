// An engine speed that counts twice the pulses it is scaled for, or half of them: a pickup on a wasted spark, or on a camshaft. Every
// reading then lies in another column of the table.

import { onceBy } from './once.js';
import type { Signals } from './signals.js';
import { quantileOf, sampleOf } from './columns/statistics.js';

export interface PulsesOfRpm {
  readonly kind: 'twice' | 'half';
  /** Shown over true. */ readonly factor: number;
  readonly slowRpm: number;
}

/** Wheels that turn as the engine does: faster than this, in gear, few clutches slip. */
const DRIVEN_KMH = 25,
  LEAST_READINGS = 200;
/**
 * Ratios, tyre and road speed together are good to this; half of the readings in the middle lie as near to each other. Common practice, no
 * source.
 */
const WITHIN = 0.06;
/** What the slow end of a running engine is then shown as: an idle of 650 to 1100 rpm, twice or half. Common practice, no source. */
const SLOW_END: Readonly<Record<'twice' | 'half', readonly [low: number, high: number]>> = { twice: [1300, 2400], half: [300, 560] };

/**
 * Told by the gear, the road's speed and what vehicle.json says of gearbox and tyre, and by the idle: one of them alone may have another
 * reason.
 */
export const pulsesOfRpm = onceBy(
  ({ held }) => held,
  (signals: Pick<Signals, 'vehicle' | 'held'>): PulsesOfRpm | undefined => {
    const { gearRatios, finalDrive, tyreRadiusM } = signals.vehicle.body;
    if (!gearRatios || !finalDrive || !tyreRadiusM) return undefined;
    const rpm = signals.held('engine-speed'),
      kmh = signals.held('vehicle-speed'),
      gear = signals.held('gear');
    if (!rpm || !kmh || !gear) return undefined;
    const shown: number[] = [];
    for (let i = 0; i < rpm.length; i++) {
      const ratio = gearRatios[gear[i] - 1];
      if (kmh[i] > DRIVEN_KMH && ratio > 0 && rpm[i] > 0)
        shown.push(rpm[i] / ((kmh[i] / 3.6 / (2 * Math.PI * tyreRadiusM)) * 60 * ratio * finalDrive));
    }
    if (shown.length < LEAST_READINGS) return undefined;
    const sample = sampleOf(Float64Array.from(shown)),
      middle = quantileOf(sample, 0.5),
      slow = quantileOf(sampleOf(rpm.filter((value) => value > 0)), 0.03);
    const isSteady = quantileOf(sample, 0.75) / quantileOf(sample, 0.25) < 1 + 2 * WITHIN;
    const kind = (['twice', 'half'] as const).find(
      (each) => Math.abs(middle / (each === 'twice' ? 2 : 0.5) - 1) < WITHIN && slow >= SLOW_END[each][0] && slow <= SLOW_END[each][1],
    );
    return kind && isSteady ? { kind, factor: kind === 'twice' ? 2 : 0.5, slowRpm: slow } : undefined;
  },
);
