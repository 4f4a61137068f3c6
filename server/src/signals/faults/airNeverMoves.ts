// Intake air that keeps one digit through a whole drive: a sensor that is stuck, by which the computer reckons the fuel of every cell.

import { limitOf } from '../../formats/limits.js';
import type { Track } from '../hold.js';
import type { Readings } from '../readings.js';
import type { Fault } from '../signals.js';
import { extremes } from '../statistics.js';
import { STANDING_KMH } from './atOneSpeed.js';

/** What a drive must hold for the air in the intake to have changed by a digit: a standstill, road speed, and the engine's own heat moving. Common practice, no source. */
const AIR_STANDS_S = 10, AIR_RUSHES_KMH = 60, HEAT_MOVED_C = 2;

/** Intake air that keeps one digit from first to last over minutes at a standstill and at speed, while another temperature moves. */
export const airNeverMoves = (readings: Readings, { channel, rows, values, count }: Track): Fault[] => {
  const { timeS } = readings, kmh = readings.clean('vehicle-speed'), rpm = readings.clean('engine-speed');
  if (!kmh || !rpm || timeS[rows[count - 1]] - timeS[rows[0]] < limitOf('coldCoolantStillS', readings.vehicle.limits).value) return [];
  let stoodS = 0, rushedS = 0;
  for (let i = 1; i < kmh.length; i++) {
    const stepS = Math.min(2, timeS[i] - timeS[i - 1]);
    if (!(rpm[i] > 500) || !(stepS > 0)) continue;
    if (kmh[i] < STANDING_KMH) stoodS += stepS;
    else if (kmh[i] > AIR_RUSHES_KMH) rushedS += stepS;
  }
  const heats = (['coolant-temperature', 'oil-temperature', 'exhaust-gas-temperature'] as const).some((other) => {
    const held = readings.clean(other), [low, high] = held ? extremes(held) : [NaN, NaN];
    return high - low >= HEAT_MOVED_C;
  });
  return heats && stoodS >= AIR_STANDS_S && rushedS >= AIR_STANDS_S ? [{ kind: 'stuck', channel, shape: 'never-moves', value: values[0], from: rows[0], to: rows[count - 1] + 1, data: {} }] : [];
};
