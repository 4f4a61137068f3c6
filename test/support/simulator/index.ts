// The simulator's front: cars, drives with their truth, and their texts.

export { CAR_KINDS, airMgOf, makeCar, perfectTable, targetTableOf, type Car, type CarKind } from './cars.js';
export type { DriverStyle } from './driver.js';
export { gridOf, plantErrors, read, shares, toTableCsv, type ErrorBump, type Grid } from './grid.js';
export { randomOf, runSeed, type Random } from './random.js';
export { simulateDrive, type Drive, type DriveOptions, type LoggedChannel, type Truth } from './simulateDrive.js';
export { PLAIN, toSessionCsv, type Dialect } from './sessionCsv.js';
export { delayAtFlow, seconds } from './truth.js';
export { vehicleFolder, type VehicleFiles } from './vehicleFolder.js';
