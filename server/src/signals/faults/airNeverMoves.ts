// Intake air that keeps one digit through a whole drive, or the cold end of its sensor: no reading, and the computer reckons the fuel of
// every cell by it.

import { limitOf } from '../../formats/limits.js';
import type { Channel } from '../../formats/session/session.js';
import type { Track } from '../columns/hold.js';
import type { Readings } from '../readings.js';
import type { Fault, Signals } from '../signals.js';
import { extremes } from '../columns/statistics.js';
import { rangeOfColumn } from '../columns/stretches.js';
import { STANDING_KMH } from './atOneSpeed.js';

/**
 * What a drive must hold for the air in the intake to have changed by a digit: a standstill, road speed, and the engine's own heat moving.
 * Common practice, no source.
 */
const AIR_STANDS_S = 10,
  AIR_RUSHES_KMH = 60,
  HEAT_MOVED_C = 2;

/** Intake air that keeps one digit from first to last over minutes at a standstill and at speed, while another temperature moves. */
export const airNeverMoves = (readings: Readings, { channel, rows, values, count }: Track): Fault[] => {
  const { timeS } = readings,
    kmh = readings.clean('vehicle-speed'),
    rpm = readings.clean('engine-speed');
  if (!kmh || !rpm || timeS[rows[count - 1]] - timeS[rows[0]] < limitOf('coldCoolantStillS', readings.vehicle.limits).value) return [];
  let stoodS = 0,
    rushedS = 0;
  for (let i = 1; i < kmh.length; i++) {
    const stepS = Math.min(2, timeS[i] - timeS[i - 1]);
    if (!(rpm[i] > 500) || !(stepS > 0)) continue;
    if (kmh[i] < STANDING_KMH) stoodS += stepS;
    else if (kmh[i] > AIR_RUSHES_KMH) rushedS += stepS;
  }
  const heats = (['coolant-temperature', 'oil-temperature', 'exhaust-gas-temperature'] as const).some((other) => {
    const held = readings.clean(other),
      [low, high] = held ? extremes(held) : [NaN, NaN];
    return high - low >= HEAT_MOVED_C;
  });
  return heats && stoodS >= AIR_STANDS_S && rushedS >= AIR_STANDS_S
    ? [{ kind: 'stuck', channel, shape: 'never-moves', value: values[0], from: rows[0], to: rows[count - 1] + 1, data: {} }]
    : [];
};

/**
 * A thermistor with an open wire reads the cold end of its scale: SAE J1979 PID 0F begins at −40 °C. What a logger's rounding and noise add
 * is taken in.
 */
const COLD_END_C = -38,
  NOISE_C = 1.5;
/** Beside an engine so hot hardly any air stays so cold for a whole drive, and at one digit. Common practice, no source. */
const WARM_ENGINE_C = 40;

/**
 * An engine that was so cold has stood in air that may be so cold: the least that coolant or oil shows of a drive that begins cold. Common
 * practice, no source.
 */
const FROST_C = -15;

/**
 * Intake air at the cold end of its sensor from first to last while the engine ran, and was warm where that is logged, and had not stood in
 * frost.
 */
export const airAtColdEnd = (readings: Readings, { channel, rows, values, count, least, greatest }: Track): Fault[] => {
  if (!(greatest <= COLD_END_C && greatest - least <= NOISE_C)) return [];
  const { timeS } = readings,
    rpm = readings.clean('engine-speed'),
    heat = readings.clean('coolant-temperature') ?? readings.clean('oil-temperature');
  if (!rpm || (heat && !(rangeOfColumn(heat).greatest >= WARM_ENGINE_C))) return [];
  if (
    (['coolant-temperature', 'oil-temperature'] as const).some((other) => {
      const held = readings.clean(other);
      return held && rangeOfColumn(held).least < FROST_C;
    })
  )
    return [];
  let ranS = 0;
  for (let i = 1; i < rpm.length; i++) if (rpm[i] > 500) ranS += Math.max(0, Math.min(2, timeS[i] - timeS[i - 1]));
  return ranS >= limitOf('stuckS', readings.vehicle.limits).value
    ? [{ kind: 'stuck', channel, shape: 'open-circuit', value: values[0], from: rows[0], to: rows[count - 1] + 1, data: {} }]
    : [];
};

/** The column of intake air that is such a one. */
export const deadAir = (signals: Signals): Channel | undefined => {
  const channel = signals.channel('intake-air-temperature'),
    held = channel && signals.held('intake-air-temperature');
  return channel &&
    held &&
    rangeOfColumn(held).greatest <= COLD_END_C &&
    signals.faultsOf(channel, 'stuck').some(({ shape }) => shape === 'open-circuit')
    ? channel
    : undefined;
};
