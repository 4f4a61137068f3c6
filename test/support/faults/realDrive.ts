// Real drives as a ground for planted faults, where the folder of open recordings is present; nothing of it is kept in the project.

import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import type { QuantityId } from '../../../server/src/quantities/quantity.js';
import type { EngineState, RecordedChannel, Recording } from './recording.js';

/** `LEANSPOT_DRIVES`, else the shared folder beside the checkout. */
export const drivesFolder = (): string | undefined => {
  const folder = process.env['LEANSPOT_DRIVES'] ?? resolve(import.meta.dirname, '../../../../shared/data/obd-drives');
  return existsSync(folder) ? folder : undefined;
};

/** Columns that the files fill with living values, under clean names; what is known stuck or unanswered in them is left out. */
const COLUMNS: Readonly<Record<string, readonly [quantity: QuantityId, name: string, unit: string, decimals: number]>> = {
  ENGINE_RPM: ['engine-speed', 'Engine Speed', 'rpm', 0],
  VEHICLE_SPEED: ['vehicle-speed', 'Vehicle Speed', 'km/h', 0],
  THROTTLE: ['throttle', 'Throttle', '%', 2],
  ENGINE_LOAD: ['engine-load', 'Engine Load', '%', 2],
  COOLANT_TEMPERATURE: ['coolant-temperature', 'Coolant Temperature', '°C', 0],
  LONG_TERM_FUEL_TRIM_BANK_1: ['long-term-fuel-trim', 'Long Term Fuel Trim', '%', 2],
  SHORT_TERM_FUEL_TRIM_BANK_1: ['short-term-fuel-trim', 'Short Term Fuel Trim', '%', 2],
  INTAKE_MANIFOLD_PRESSURE: ['manifold-pressure', 'Manifold Pressure', 'kPa', 0],
  ABSOLUTE_BAROMETRIC_PRESSURE: ['barometric-pressure', 'Barometric Pressure', 'kPa', 0],
  INTAKE_AIR_TEMP: ['intake-air-temperature', 'Intake Air Temperature', '°C', 0],
  TIMING_ADVANCE: ['ignition-advance', 'Ignition Advance', 'deg', 1],
  CONTROL_MODULE_VOLTAGE: ['battery-voltage', 'Battery Voltage', 'V', 3],
};

const readDrive = (path: string, label: string, seed: number): Recording => {
  const [head, ...rows] = readFileSync(path, 'latin1')
    .split(/\r?\n/)
    .filter((line) => line !== '')
    .map((line) => line.split(',').map((cell) => cell.trim()));
  const names = head.map((name) => name.replace(/\s*\(.*$/, ''));
  const whole = rows.filter((row) => row.length >= names.length);
  const second = whole.map((row) => Number(row[0]));
  // whole seconds that repeat are spread over the time to the next one
  const timeS = new Float64Array(whole.length);
  for (let from = 0; from < whole.length;) {
    let to = from;
    while (to < whole.length && second[to] === second[from]) to += 1;
    const nextS =
      to < whole.length && second[to] > second[from]
        ? Math.min(second[to], second[from] + (to - from) / 2)
        : second[from] + (to - from) / 3.7;
    for (let at = from; at < to; at++)
      timeS[at] =
        from === 0
          ? (at - to) / 3.7 + second[to < whole.length ? to : from]
          : second[from] + ((nextS - second[from]) * (at - from)) / (to - from);
    from = to;
  }
  const firstS = timeS[0];
  const clean = timeS.map((t) => Math.round((t - firstS) * 1000) / 1000);
  const channels = Object.entries(COLUMNS)
    .filter(([column]) => names.includes(column))
    .map(([column, [quantity, name, unit, decimals]]): RecordedChannel => {
      const at = names.indexOf(column);
      return {
        name,
        unit,
        decimals,
        quantity,
        values: Float64Array.from(whole, (row) => Number(row[at])),
        written: (value) => value,
        stepS: 1 / 3.7,
      };
    });
  const of = (quantity: QuantityId): Float64Array => channels.find((channel) => channel.quantity === quantity)!.values;
  const rpm = of('engine-speed'),
    speed = of('vehicle-speed'),
    map = of('manifold-pressure');
  const state = Array.from(rpm, (value, at): EngineState =>
    value < 100
      ? 'off'
      : value < 450
        ? 'cranking'
        : speed[at] < 2 && value < 1100
          ? 'idle'
          : map[at] > 88
            ? 'pull'
            : map[at] < 28 && value > 1300
              ? 'overrun'
              : 'cruise',
  );
  return {
    source: `real ${label}`,
    seed,
    rateHz: 3.7,
    timeS: clean,
    clockS: clean,
    channels,
    state,
    truth: new Map(channels.map((channel) => [channel.quantity, channel.values])),
    vehicle: { engine: { aspiration: 'natural' } },
    notes: [],
    layout: { delimiter: ',', decimalComma: false, time: 's', brackets: '()' },
    faults: [],
  };
};

/** Every real drive there is; empty where the folder is not present. */
export const realDrives = (): Recording[] => {
  const folder = drivesFolder();
  return folder
    ? readdirSync(folder)
        .filter((name) => name.endsWith('.csv'))
        .sort()
        .map((name, index) => readDrive(join(folder, name), name.replace('.csv', ''), index))
    : [];
};
