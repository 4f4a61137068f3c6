// Service 01 of SAE J1979 / ISO 15031-5: what each identifier's bytes mean, as a table.

import type { QuantityId } from '../../quantities/quantity.js';
import type { UnitId } from '../../quantities/units.js';

/** What an identifier's full range can be set to by the identifiers 4F and 50. */
export type Ranged = 'lambda' | 'sensorVoltage' | 'sensorCurrent' | 'manifoldPressure' | 'massAirFlow';

/** One number in an identifier's data. */
export interface Reading {
  readonly name: string;
  readonly quantity?: QuantityId;
  /** Unit that `decode` gives; `unitText` where no unit of ours is meant. */
  readonly unit?: UnitId;
  readonly unitText?: string;
  /** Counted from vacuum, where the quantity is usually quoted as gauge. */
  readonly absolute?: true;
  /** First data byte and how many: most significant first. */
  readonly from: number;
  readonly bytes: number;
  /** Raw number → value in the unit; NaN where the bytes say that there is none. */
  readonly decode: (raw: number) => number;
  /** Grows with a range that the controller sets. */
  readonly ranged?: Ranged;
}

export interface Identifier {
  readonly bytes: number;
  readonly readings: readonly Reading[];
}

const reading = (
  name: string,
  unit: UnitId | '',
  from: number,
  bytes: number,
  decode: (raw: number) => number,
  more: Partial<Reading> = {},
): Reading => ({ name, ...(unit === '' ? {} : { unit }), from, bytes, decode, ...more });
const one = (
  name: string,
  unit: UnitId | '',
  bytes: number,
  decode: (raw: number) => number,
  quantity?: QuantityId,
  more: Partial<Reading> = {},
): Identifier => ({ bytes, readings: [reading(name, unit, 0, bytes, decode, quantity ? { ...more, quantity } : more)] });

const plain = (raw: number): number => raw;
const percent = (raw: number): number => (raw * 100) / 255;
const trimPercent = (raw: number): number => ((raw - 128) * 100) / 128;
const celsius = (raw: number): number => raw - 40;
const catalystC = (raw: number): number => raw / 10 - 40;
const lambda = (raw: number): number => (raw * 2) / 65536;
const torquePercent = (raw: number): number => raw - 125;

const narrowband: Identifier = {
  bytes: 2,
  readings: [
    reading('Oxygen sensor voltage', 'V', 0, 1, (raw) => raw / 200),
    reading('Oxygen sensor trim', '%', 1, 1, (raw) => (raw === 0xff ? NaN : trimPercent(raw))),
  ],
};
const widebandByVoltage: Identifier = {
  bytes: 4,
  readings: [
    reading('Lambda', 'lambda', 0, 2, lambda, { quantity: 'lambda', ranged: 'lambda' }),
    reading('Wideband voltage', 'V', 2, 2, (raw) => (raw * 8) / 65536, { ranged: 'sensorVoltage' }),
  ],
};
const widebandByCurrent: Identifier = {
  bytes: 4,
  readings: [
    reading('Lambda by pump current', 'lambda', 0, 2, lambda, { quantity: 'lambda', ranged: 'lambda' }),
    reading('Wideband pump current', '', 2, 2, (raw) => raw / 256 - 128, { unitText: 'mA', ranged: 'sensorCurrent' }),
  ],
};
const eight = (first: number, identifier: Identifier): [number, Identifier][] =>
  Array.from({ length: 8 }, (_, index) => [first + index, identifier]);

/** Identifiers that are read, by number. Scalings: SAE J1979 / ISO 15031-5. */
export const IDENTIFIERS: ReadonlyMap<number, Identifier> = new Map<number, Identifier>([
  [
    0x01,
    {
      bytes: 4,
      readings: [
        reading('Malfunction lamp', 'flag', 0, 1, (raw) => raw >> 7),
        reading('Stored trouble codes', 'count', 0, 1, (raw) => raw & 127),
      ],
    },
  ],
  [0x03, { bytes: 2, readings: [reading('Fuel system status', '', 0, 1, plain), reading('Fuel system 2 status', '', 1, 1, plain)] }],
  [0x04, one('Calculated load', '%', 1, percent, 'engine-load')],
  [0x05, one('Coolant temperature', 'degC', 1, celsius, 'coolant-temperature')],
  [0x06, one('Short-term fuel trim', '%', 1, trimPercent, 'short-term-fuel-trim')],
  [0x07, one('Long-term fuel trim', '%', 1, trimPercent, 'long-term-fuel-trim')],
  [0x08, one('Short-term fuel trim bank 2', '%', 1, trimPercent, 'short-term-fuel-trim-2')],
  [0x09, one('Long-term fuel trim bank 2', '%', 1, trimPercent, 'long-term-fuel-trim-2')],
  [0x0a, one('Fuel pressure', 'kPa-gauge', 1, (raw) => 3 * raw, 'fuel-pressure')],
  [0x0b, one('Manifold pressure', 'kPa', 1, plain, 'manifold-pressure', { ranged: 'manifoldPressure' })],
  [0x0c, one('Engine speed', 'rpm', 2, (raw) => raw / 4, 'engine-speed')],
  [0x0d, one('Vehicle speed', 'km/h', 1, plain, 'vehicle-speed')],
  [0x0e, one('Ignition advance', 'deg', 1, (raw) => raw / 2 - 64, 'ignition-advance')],
  [0x0f, one('Intake air temperature', 'degC', 1, celsius, 'intake-air-temperature')],
  [0x10, one('Mass air flow', 'g/s', 2, (raw) => raw / 100, 'mass-air-flow', { ranged: 'massAirFlow' })],
  [0x11, one('Throttle position', '%', 1, percent, 'throttle')],
  ...eight(0x14, narrowband),
  [0x1f, one('Time since engine start', 's', 2, plain)],
  [0x21, one('Distance with lamp on', '', 2, plain, undefined, { unitText: 'km' })],
  // Counted from the manifold, not from the air around the car: no gauge pressure.
  [0x22, one('Fuel rail pressure above manifold', '', 2, (raw) => raw * 0.079, undefined, { unitText: 'kPa' })],
  [0x23, one('Fuel rail pressure', 'kPa-gauge', 2, (raw) => raw * 10, 'fuel-pressure')],
  ...eight(0x24, widebandByVoltage),
  [0x33, one('Barometric pressure', 'kPa', 1, plain, 'barometric-pressure')],
  ...eight(0x34, widebandByCurrent),
  [0x3c, one('Catalyst temperature B1S1', 'degC', 2, catalystC)],
  [0x3d, one('Catalyst temperature B2S1', 'degC', 2, catalystC)],
  [0x3e, one('Catalyst temperature B1S2', 'degC', 2, catalystC)],
  [0x3f, one('Catalyst temperature B2S2', 'degC', 2, catalystC)],
  [0x42, one('Control module voltage', 'V', 2, (raw) => raw / 1000, 'battery-voltage')],
  [0x43, one('Absolute load', '%', 2, percent, 'engine-load')],
  [0x44, one('Target lambda', 'lambda', 2, lambda, 'target-lambda', { ranged: 'lambda' })],
  [0x45, one('Relative throttle position', '%', 1, percent, 'throttle')],
  [0x46, one('Ambient temperature', 'degC', 1, celsius)],
  [0x47, one('Throttle position B', '%', 1, percent, 'throttle')],
  [0x49, one('Pedal position D', '%', 1, percent, 'pedal')],
  [0x4a, one('Pedal position E', '%', 1, percent, 'pedal')],
  [0x4c, one('Commanded throttle', '%', 1, percent)],
  [0x51, one('Fuel type', '', 1, plain)],
  [0x52, one('Ethanol content', '%', 1, percent, 'ethanol-content')],
  [0x59, one('Fuel rail absolute pressure', 'kPa', 2, (raw) => raw * 10, 'fuel-pressure', { absolute: true })],
  [0x5a, one('Relative pedal position', '%', 1, percent, 'pedal')],
  [0x5c, one('Oil temperature', 'degC', 1, celsius, 'oil-temperature')],
  [0x5e, one('Fuel rate', '', 2, (raw) => raw / 20, undefined, { unitText: 'L/h' })],
  [0x61, one('Driver demand torque', '%', 1, torquePercent)],
  [0x62, one('Engine torque', '%', 1, torquePercent)],
  [0x63, one('Reference torque', '', 2, plain, undefined, { unitText: 'N m' })],
]);

/** Sizes of the identifiers that are passed over, so that what stands behind them in one answer is found. */
const OTHER_SIZES: ReadonlyMap<number, number> = new Map([
  ...[0x00, 0x20, 0x40, 0x60, 0x80, 0xa0, 0xc0, 0x41, 0x4f, 0x50].map((identifier) => [identifier, 4] as const),
  ...[0x12, 0x13, 0x1c, 0x1d, 0x1e, 0x2c, 0x2d, 0x2e, 0x2f, 0x30, 0x48, 0x4b, 0x5b, 0x5f].map((identifier) => [identifier, 1] as const),
  ...[0x02, 0x31, 0x32, 0x4d, 0x4e, 0x53, 0x54, 0x55, 0x56, 0x57, 0x58, 0x5d].map((identifier) => [identifier, 2] as const),
]);

export const MAXIMA = 0x4f;
export const MAXIMUM_AIR_FLOW = 0x50;
/** Sensors present: by two banks of four (13) or four banks of two (1D). */
export const SENSORS_TWO_BANKS = 0x13;
export const SENSORS_FOUR_BANKS = 0x1d;

/** Default top of each range, in the unit that 4F or 50 sets it in. */
export const DEFAULT_TOP: Readonly<Record<Ranged, number>> = {
  lambda: 2,
  sensorVoltage: 8,
  sensorCurrent: 128,
  manifoldPressure: 255,
  massAirFlow: 655.35,
};

/** Tops of ranges as an answer to 4F or 50 sets them; zero leaves the default and is not told. */
export const topsOf = (identifier: number, data: Uint8Array, at: number): Partial<Record<Ranged, number>> => {
  const tops: Partial<Record<Ranged, number>> = {};
  const set = (ranged: Ranged, top: number): void => {
    if (top > 0) tops[ranged] = top;
  };
  if (identifier === MAXIMA) {
    set('lambda', data[at]);
    set('sensorVoltage', data[at + 1]);
    set('sensorCurrent', data[at + 2]);
    set('manifoldPressure', data[at + 3] * 10);
  } else if (identifier === MAXIMUM_AIR_FLOW) set('massAirFlow', data[at] * 10);
  return tops;
};

/** Identifiers that a controller answers to, from the answer to 00, 20, 40, …: the top bit of the first byte is the next identifier. */
export const supportedIdentifiers = (asked: number, data: Uint8Array, at: number): number[] =>
  Array.from({ length: 32 }, (_, bit) => bit)
    .filter((bit) => data[at + (bit >> 3)] & (0x80 >> (bit & 7)))
    .map((bit) => asked + 1 + bit);

export interface SensorPlace {
  readonly bank: number;
  readonly sensor: number;
}

/** The oxygen sensor that an identifier of 14–1B, 24–2B or 34–3B speaks of; undefined for any other. */
export const sensorPlaceOf = (identifier: number, fourBanks: boolean): SensorPlace | undefined => {
  const first = [0x14, 0x24, 0x34].find((each) => identifier >= each && identifier < each + 8);
  if (first === undefined) return undefined;
  const index = identifier - first;
  const perBank = fourBanks ? 2 : 4;
  return { bank: 1 + Math.floor(index / perBank), sensor: 1 + (index % perBank) };
};

/** Name and quantity of a reading where its sensor is known. A sensor behind the catalyst, or of a third bank, is no `lambda`. */
export const nameReading = (
  identifier: number,
  { name, quantity }: Reading,
  fourBanks: boolean,
): { readonly name: string; readonly quantity: QuantityId | undefined } => {
  const place = sensorPlaceOf(identifier, fourBanks);
  if (!place) return { name, quantity };
  return {
    name: `${name} B${place.bank}S${place.sensor}`,
    quantity: quantity !== 'lambda' || place.sensor > 1 || place.bank > 2 ? undefined : place.bank === 1 ? 'lambda' : 'lambda-2',
  };
};

/** Identifiers 06–09 carry a byte each for two banks where the car has more than two; the second is passed over. */
const mayBeWide = (identifier: number): boolean => identifier >= 0x06 && identifier <= 0x09;

/**
 * Walks an answer to service 01 (`payload[0]` is 41): `each` is called with every identifier and the payload byte where its data begin.
 * An answer may hold several identifiers. Undefined where it was read to its end, else the identifier that nothing more is known behind.
 */
export const walkAnswer = (payload: Uint8Array, length: number, each: (identifier: number, at: number) => void): number | undefined => {
  for (let at = 1; at < length;) {
    const identifier = payload[at++];
    const bytes = IDENTIFIERS.get(identifier)?.bytes ?? OTHER_SIZES.get(identifier);
    if (bytes === undefined || at + bytes > length) return identifier;
    each(identifier, at);
    at += mayBeWide(identifier) && length === 4 ? 2 : bytes;
  }
  return undefined;
};

/** The raw number of a reading whose identifier's data begin at `at`. */
export const rawOf = (payload: Uint8Array, at: number, { from, bytes }: Reading): number => {
  let raw = 0;
  for (let index = 0; index < bytes; index++) raw = raw * 256 + payload[at + from + index];
  return raw;
};
