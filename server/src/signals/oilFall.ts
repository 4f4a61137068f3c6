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

/** At the spell's peak; `usualKPa` is NaN where the log does not tell. */
export interface OilFall {
  readonly spell: OverLimit;
  readonly pressureKPa: number;
  readonly usualKPa: number;
  readonly neededKPa: number;
  /** It fell by the limit below what is usual for long enough, or what is usual is not known. */
  readonly isLost: boolean;
  /** The log never holds what a pump's lower stage does. */
  readonly isUsual: boolean;
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
    isToBelieve = isKnown(signals, pressure),
    fall = new Float64Array(pressure.length).fill(NaN),
    ownFall = fall.slice(),
    ageS = signals.ageS('oil-pressure');
  const speedAt = (row: number): number => slowestNear(row, ageS, rpm, signals.timeS),
    usualAt = (row: number): number => usual(speedAt(row), pressure[row]);
  for (let i = 0; i < fall.length; i++) {
    if (!(rpm[i] >= LEAST_RPM && pressure[i] > 0 && pressure[i] < perRpm * rpm[i])) continue;
    const speed = speedAt(i);
    if (!(speed >= LEAST_RPM && pressure[i] < perRpm * speed)) continue;
    const isLow = isToBelieve && speed >= STAGED_RPM && pressure[i] < STAGE_KPA,
      own = usual(speed, pressure[i]);
    ownFall[i] = (1 - pressure[i] / own) * 100;
    fall[i] = isLow && !(own > perRpm * speed) ? (1 - pressure[i] / (perRpm * speed)) * 100 : ownFall[i];
  }
  // Each lies in one of the spells.
  const falls = overLimit(signals, ownFall, percent, { leastS: LEAST_S });
  let next = 0;
  return overLimit(signals, fall, percent, { leastS: LEAST_S }).map((low): OilFall => {
    let own: OverLimit | undefined;
    for (; next < falls.length && falls[next].from < low.to; next++) if (!(own && own.peak >= falls[next].peak)) own = falls[next];
    const at = own?.peakAt ?? (usualAt(low.peakAt) > 0 ? low.peakAt : firstIn(low, (row) => fall[row] > 0 && usualAt(row) < STAGE_KPA)),
      usualKPa = usualAt(at),
      isLost = own !== undefined || !(usualKPa > 0);
    return {
      spell: { ...low, peak: fall[at], peakAt: at },
      pressureKPa: pressure[at],
      usualKPa,
      neededKPa: perRpm * speedAt(at),
      isLost,
      isUsual: !isLost && usualKPa < STAGE_KPA,
    };
  });
});

/** A gauge that moves by so much is alive. No source. */
const ALIVE_KPA = 10;

/** The log may tell what is usual at another speed than the worst's: the first such sample, else the peak. */
const firstIn = ({ from, to, peakAt }: OverLimit, is: (row: number) => boolean): number => {
  for (let row = from; row < to; row++) if (is(row)) return row;
  return peakAt;
};

/** Whether the gauge is alive and says its unit: then it may be held against what any engine wants, and not against this log alone. */
const isKnown = ({ channel }: Signals, pressure: Float64Array): boolean => {
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
