// vehicle.json in memory: what is known of the car, with the place of each key for findings.

import type { QuantityId } from '../../quantities/quantity.js';
import type { LimitId } from '../limits.js';
import type { Problem } from '../problem.js';
import type { Range } from '../range.js';

export interface ChannelMapping {
  readonly quantity: QuantityId;
  readonly unit?: string;
  /** Two points (raw, value): value = line through them, in `unit` or the quantity's canonical unit. */
  readonly scale?: readonly [readonly [number, number], readonly [number, number]];
}

export interface SessionGlob {
  readonly files: string;
  readonly loggedWith?: string;
}

/** Two loggers' files of one drive, as paths from the folder: the second's channels are read with the first's, on its clock. */
export interface JoinedFiles {
  readonly first: string;
  readonly second: string;
}

/** As written by the user, types checked; a key of the wrong type is left out and told as a problem. */
export interface Vehicle {
  readonly name?: string;
  readonly engine: {
    readonly displacementL?: number;
    readonly cylinders?: number;
    readonly revLimitRpm?: number;
    readonly aspiration?: 'natural' | 'turbocharged' | 'supercharged';
    readonly maxManifoldPressureKPa?: number;
  };
  readonly fuel: { readonly blend?: string; readonly stoichAfr?: number };
  readonly injectors: {
    readonly flowCcPerMin?: number;
    readonly ratedPressureKPa?: number;
    readonly maxDutyPercent?: number;
    readonly deadTimeMs?: number;
  };
  /** What the road has to move: for wheel power from the road speed. `gearRatios` first gear first. */
  readonly body: {
    readonly massKg?: number;
    readonly dragAreaM2?: number;
    readonly rollingResistance?: number;
    readonly rotatingMassFactor?: number;
    readonly tyreRadiusM?: number;
    readonly gearRatios?: readonly number[];
    readonly finalDrive?: number;
  };
  /** Of the day, for sessions that do not tell it themselves. */
  readonly weather: { readonly pressureKPa?: number; readonly temperatureC?: number; readonly humidityPercent?: number };
  /** What the customer wants of the engine. */
  readonly goal: { readonly wheelPowerKW?: number; readonly fuelGPerKWh?: number };
  readonly lambdaSensor: {
    readonly range?: readonly [number, number];
    readonly mount?: 'upstream' | 'downstream' | 'tailpipe';
    readonly transportDelay?: 'estimate' | number | readonly (readonly [flowGPerS: number, seconds: number])[];
  };
  readonly channels: ReadonlyMap<string, ChannelMapping>;
  /** Headers of columns that are said to be none of the known quantities. */
  readonly others?: readonly string[];
  readonly tables: { readonly fuel?: string; readonly target?: string; readonly [other: string]: string | undefined };
  readonly sessions: readonly SessionGlob[];
  readonly joins: readonly JoinedFiles[];
  readonly limits: Readonly<Partial<Record<LimitId, number>>>;
  /** Ranges in which readings can be true, in canonical units; what is not set has the quantity's own. */
  readonly plausible?: Readonly<Partial<Record<QuantityId, readonly [low: number, high: number]>>>;
}

export interface VehicleDocument {
  readonly kind: 'vehicle';
  readonly vehicle: Vehicle;
  readonly problems: readonly Problem[];
  /** Where a key's value stands, by path (`['tables', 'fuel']`); undefined where it is not written. */
  rangeOf(path: readonly (string | number)[]): Range | undefined;
}

/** What is known of a car of which nothing is written. */
export const EMPTY_VEHICLE: Vehicle = {
  engine: {},
  fuel: {},
  injectors: {},
  body: {},
  weather: {},
  goal: {},
  lambdaSensor: {},
  channels: new Map(),
  tables: {},
  sessions: [],
  joins: [],
  limits: {},
};
