// A whole vehicle folder from simulated drives: vehicle file, tables, sessions, as texts by path.

import type { Car } from './cars.js';
import { toTableCsv, type Grid } from './grid.js';
import { toSessionCsv, type Dialect } from './sessionCsv.js';
import type { Drive } from './simulateDrive.js';

export interface VehicleFiles {
  readonly [path: string]: string;
}

const COLUMN = { other: 'engine speed (rpm)', 'mass-air-flow': 'mass air flow signal (V)' };
const QUANTITY = {
  'volumetric-efficiency': 'volumetric efficiency (%)',
  'fuel-mass': 'fuel mass (mg)',
  'injector-pulse-width': 'injector pulse width (ms)',
  'mass-air-flow': 'mass air flow (g/s)',
};
const DIGITS = { 'volumetric-efficiency': 1, 'fuel-mass': 1, 'injector-pulse-width': 3, 'mass-air-flow': 3 };

/** A car's fuel table as text. */
export const fuelTableText = (car: Car, grid: Grid, notes: readonly string[] = []): string =>
  toTableCsv(grid, {
    quantity: QUANTITY[car.fuelTableQuantity],
    columns: car.fuelTableQuantity === 'mass-air-flow' ? COLUMN['mass-air-flow'] : COLUMN.other,
    ...(car.fuelTableQuantity === 'mass-air-flow' ? {} : { rows: 'manifold pressure (kPa)' }),
    notes,
    digits: DIGITS[car.fuelTableQuantity],
  });

export const targetTableText = (grid: Grid, notes: readonly string[] = []): string =>
  toTableCsv(grid, { quantity: 'target lambda', columns: COLUMN.other, rows: 'manifold pressure (kPa)', notes, digits: 3 });

/** `vehicle.json` for a car, as a person would fill it in: nothing that only the simulator knows. */
export function vehicleText(car: Car, change: Record<string, unknown> = {}): string {
  return `${JSON.stringify(
    {
      name: car.name,
      engine: {
        displacementL: car.displacementL,
        cylinders: car.cylinders,
        revLimitRpm: car.revLimitRpm,
        aspiration: car.aspiration,
        ...(car.aspiration === 'natural' ? {} : { maxManifoldPressureKPa: Math.ceil((car.barometerKPa + car.boostKPa * 1.1) / 5) * 5 }),
      },
      fuel: { blend: car.fuel.blend },
      injectors: {
        flowCcPerMin: car.injector.flowCcPerMin,
        ratedPressureKPa: car.injector.ratedPressureKPa,
        maxDutyPercent: 85,
        ...(car.fuelTableQuantity === 'injector-pulse-width' ? { deadTimeMs: Number(car.injector.deadTimeAt14VMs.toFixed(3)) } : {}),
      },
      lambdaSensor: { range: car.lambdaSensor.range, mount: 'upstream', transportDelay: 'estimate' },
      tables: { fuel: 'tables/fuel.table.csv', target: 'tables/target.table.csv' },
      sessions: ['sessions/*.session.csv'],
      ...change,
    },
    null,
    2,
  )}\n`;
}

/** Files of a vehicle folder; all drives were logged with the table of the first. */
export function vehicleFolder(drives: readonly Drive[], dialect: Partial<Dialect> = {}): VehicleFiles {
  const { car, truth } = drives[0];
  return {
    'vehicle.json': vehicleText(car),
    'tables/fuel.table.csv': fuelTableText(car, truth.fuelTable),
    'tables/target.table.csv': targetTableText(truth.targetTable),
    ...Object.fromEntries(drives.map((drive, i) => [`sessions/drive-${i + 1}.session.csv`, toSessionCsv(drive, dialect)])),
  };
}
