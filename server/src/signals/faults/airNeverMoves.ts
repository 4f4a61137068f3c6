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

/** No air cools or warms so far so fast. Order of magnitude, no source. */
const LEAP_C = 15,
  LEAP_S = 3;

/**
 * Intake air at the cold end of its sensor while the engine runs: where the reading leapt there or away, or from first to last where the
 * engine was warm, if that is logged, and had not stood in frost. What is `taken` is told as another fault.
 */
export const airAtColdEnd = (readings: Readings, { channel, rows, values, count, least }: Track, taken: Uint8Array): Fault[] => {
  const { timeS } = readings,
    rpm = readings.clean('engine-speed'),
    found: Fault[] = [];
  if (!(least <= COLD_END_C) || !rpm) return [];
  const leaps = (inside: number, k: number, step: 1 | -1): boolean => {
    for (; k >= 0 && k < count && Math.abs(timeS[rows[k]] - timeS[rows[inside]]) <= LEAP_S; k += step)
      if (values[k] - values[inside] >= LEAP_C) return true;
    return false;
  };
  for (let a = 0, b; a < count; a = b) {
    for (b = a + 1; b < count && values[b] <= COLD_END_C && Math.abs(values[b] - values[a]) <= NOISE_C;) b++;
    if (values[a] > COLD_END_C || taken[rows[a]] === 1) continue;
    let ranS = 0;
    for (let i = Math.max(1, rows[a]); i <= rows[b - 1]; i++) if (rpm[i] > 500) ranS += Math.max(0, Math.min(2, timeS[i] - timeS[i - 1]));
    // How long it stands comes first: beside many short spells the rows around each are many.
    if (
      ranS >= limitOf('stuckS', readings.vehicle.limits).value &&
      (a === 0 && b === count ? isWarm(readings) : leaps(a, a - 1, -1) || leaps(b - 1, b, 1))
    )
      found.push({ kind: 'stuck', channel, shape: 'open-circuit', value: values[a], from: rows[a], to: rows[b - 1] + 1, data: {} });
  }
  return found;
};

/** Whether the engine got warm and had not stood in frost, as far as that is logged. */
const isWarm = ({ clean }: Readings): boolean => {
  const heat = clean('coolant-temperature') ?? clean('oil-temperature');
  return (
    !(heat && !(rangeOfColumn(heat).greatest >= WARM_ENGINE_C)) &&
    !(['coolant-temperature', 'oil-temperature'] as const).some((other) => {
      const held = clean(other);
      return held && rangeOfColumn(held).least < FROST_C;
    })
  );
};

/** The column of intake air that is such a one. */
export const deadAir = (signals: Signals): Channel | undefined => {
  const channel = signals.channel('intake-air-temperature');
  return channel &&
    rangeOfColumn(channel.values).least <= COLD_END_C &&
    signals.faultsOf(channel, 'stuck').some(({ shape }) => shape === 'open-circuit')
    ? channel
    : undefined;
};
