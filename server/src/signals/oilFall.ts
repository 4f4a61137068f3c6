// Oil pressure that falls away at speed: a pickup that draws air. A gear pump gives what its speed asks for, until a valve holds it: at one
// speed and one heat the pressure is the same every time.

import { limitOf } from '../formats/limits.js';
import { onceFor } from './once.js';
import { overLimit, type OverLimit } from './columns/overLimit.js';
import { rangeOfColumn } from './columns/stretches.js';
import type { Signals } from './signals.js';
import { quantileOf, sampleOf } from './columns/statistics.js';

/** Below, a hot engine's oil pressure is low by right, and a bearing carries little. Common practice, no source. */
const LEAST_RPM = 2500;
/** Speeds that a pump gives much the same pressure at, and the readings of them that tell it. */
const BAND_RPM = 500,
  LEAST_IN_BAND = 20;
/** A gauge's own lag passes; a film of oil does not wait much longer. Common practice, no source. */
const LEAST_S = 0.3;
/**
 * A pump of two stages holds at least so much in its lower one, and thin oil when it is hot, at moderate speed, and for more than so small
 * a share of the readings there. Common practice, no source.
 */
const STAGE_KPA = 120,
  STAGED_RPM = 4000,
  STAGE_SHARE = 0.1;
/** Below what any pump's lower stage holds, the best tenth of its speed is held against it: by then the middle may be of a pump that draws air. */
const BEST_SHARE = 0.9;

export interface OilFall {
  readonly spell: OverLimit;
  readonly pressureKPa: number;
  readonly usualKPa: number;
  readonly neededKPa: number;
}

/**
 * Spells in which it stands below both what this engine holds at that speed and what any should, or where no pump's lower stage holds so
 * little, below the latter alone; `peak` is the fall in percent.
 */
export const oilFalls = onceFor((signals: Signals): readonly OilFall[] => {
  // Where a gauge falls to its end the readings are not believed, and are those that matter: nought alone is a loose wire's.
  const pressure = signals.held('oil-pressure'),
    rpm = signals.held('engine-speed');
  if (!pressure || !rpm) return [];
  const { limits } = signals.vehicle,
    perRpm = limitOf('oilPressureKPaPer1000Rpm', limits).value / 1000,
    percent = limitOf('oilPressureFallPercent', limits).value;
  const usual = usualBy(pressure, rpm),
    isKnown = isAlive(signals, pressure),
    fall = new Float64Array(pressure.length).fill(NaN),
    ageS = signals.ageS('oil-pressure');
  for (let i = 0; i < fall.length; i++) {
    if (!(rpm[i] >= LEAST_RPM && pressure[i] > 0 && pressure[i] < perRpm * rpm[i])) continue;
    const speed = slowestNear(i, ageS, rpm, signals.timeS);
    if (!(speed >= LEAST_RPM && pressure[i] < perRpm * speed)) continue;
    const isLow = isKnown && speed >= STAGED_RPM && pressure[i] < STAGE_KPA,
      own = usual(speed, pressure[i]);
    fall[i] = (1 - pressure[i] / (isLow && !(own > perRpm * speed) ? perRpm * speed : own)) * 100;
  }
  return overLimit(signals, fall, percent, { leastS: LEAST_S }).map((spell): OilFall => {
    const at = spell.peakAt,
      speed = slowestNear(at, ageS, rpm, signals.timeS);
    return { spell, pressureKPa: pressure[at], usualKPa: usual(speed, pressure[at]), neededKPa: perRpm * speed };
  });
});

/** A gauge that moves by so much is alive. No source. */
const ALIVE_KPA = 10;

/** Whether the gauge is alive and says its unit: then it may be held against what any engine wants, and not against this log alone. */
const isAlive = ({ channel }: Signals, pressure: Float64Array): boolean => {
  const { least, greatest } = rangeOfColumn(pressure);
  return channel('oil-pressure')?.unitFrom !== 'assumed' && greatest - least >= ALIVE_KPA;
};

/** A pressure that is read seldom may be of a slower moment, up to `ageS` away. */
const slowestNear = (row: number, ageS: number, rpm: Float64Array, timeS: Float64Array): number => {
  let slowest = rpm[row];
  for (let i = row; i >= 0 && timeS[row] - timeS[i] <= ageS; i--) if (rpm[i] < slowest) slowest = rpm[i];
  for (let i = row; i < rpm.length && timeS[i] - timeS[row] <= ageS; i++) if (rpm[i] < slowest) slowest = rpm[i];
  return slowest;
};

/**
 * What is held at a speed by the log itself: the middle of the readings of its band, or its pump's lower stage, and the best of them
 * against a pressure below that; NaN where they are few.
 */
const usualBy = (pressure: Float64Array, rpm: Float64Array): ((atRpm: number, kPa: number) => number) => {
  const bands = new Map<number, number[]>();
  for (let i = 0; i < rpm.length; i++) {
    if (!(rpm[i] >= LEAST_RPM && pressure[i] > 0)) continue;
    const band = Math.floor(rpm[i] / BAND_RPM),
      known = bands.get(band);
    if (known) known.push(pressure[i]);
    else bands.set(band, [pressure[i]]);
  }
  const held = new Map(
    [...bands].map(([band, values]) => {
      const sample = sampleOf(Float64Array.from(values)),
        low = quantileOf(sample, STAGE_SHARE);
      return [
        band,
        values.length < LEAST_IN_BAND
          ? []
          : [band * BAND_RPM < STAGED_RPM && low >= STAGE_KPA ? low : quantileOf(sample, 0.5), quantileOf(sample, BEST_SHARE)],
      ];
    }),
  );
  return (atRpm, kPa) => held.get(Math.floor(atRpm / BAND_RPM))?.[kPa < STAGE_KPA ? 1 : 0] ?? NaN;
};
