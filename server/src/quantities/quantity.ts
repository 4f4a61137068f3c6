// What a log or a table can speak of: the canonical quantities, each with its unit and its plausible range.

import type { Dimension, UnitId } from './units.js';

export type QuantityId =
  | 'time'
  | 'engine-speed'
  | 'manifold-pressure'
  | 'barometric-pressure'
  | 'throttle'
  | 'pedal'
  | 'lambda'
  | 'lambda-2'
  | 'target-lambda'
  | 'short-term-fuel-trim'
  | 'long-term-fuel-trim'
  | 'short-term-fuel-trim-2'
  | 'long-term-fuel-trim-2'
  | 'intake-air-temperature'
  | 'coolant-temperature'
  | 'oil-temperature'
  | 'exhaust-gas-temperature'
  | 'fuel-pressure'
  | 'oil-pressure'
  | 'ignition-advance'
  | 'knock-retard'
  | 'injector-pulse-width'
  | 'injector-duty'
  | 'mass-air-flow'
  | 'mass-air-flow-signal'
  | 'vehicle-speed'
  | 'battery-voltage'
  | 'ethanol-content'
  | 'engine-load'
  | 'gear'
  | 'fuel-cut'
  | 'trouble-code';

export interface Quantity {
  readonly id: QuantityId;
  /** As a mechanic says it, lower case. */
  readonly title: string;
  readonly dimension: Dimension;
  /** Unit that values are kept in. */
  readonly unit: UnitId;
  /** Values outside are a wiring fault, a wrong unit or another channel; in the canonical unit. Common practice, no source. */
  readonly plausible: readonly [low: number, high: number];
  /** Between samples: a state keeps its value, a measurement may be interpolated. */
  readonly between: 'interpolate' | 'hold';
}

const q = (
  id: QuantityId,
  title: string,
  dimension: Dimension,
  unit: UnitId,
  low: number,
  high: number,
  between: Quantity['between'] = 'interpolate',
): Quantity => ({ id, title, dimension, unit, plausible: [low, high], between });

const trim = (id: QuantityId, title: string): Quantity => q(id, title, 'ratio', '%', -60, 60, 'hold');

const ALL: readonly Quantity[] = [
  q('time', 'time', 'time', 's', -Infinity, Infinity),
  q('engine-speed', 'engine speed', 'rotation', 'rpm', 0, 18000),
  q('manifold-pressure', 'manifold pressure', 'pressure', 'kPa', 10, 450),
  q('barometric-pressure', 'barometric pressure', 'pressure', 'kPa', 55, 108.5, 'hold'),
  q('throttle', 'throttle', 'ratio', '%', -5, 105),
  q('pedal', 'pedal', 'ratio', '%', -5, 105),
  q('lambda', 'lambda', 'mixture', 'lambda', 0.5, 2.0),
  q('lambda-2', 'lambda, bank 2', 'mixture', 'lambda', 0.5, 2.0),
  q('target-lambda', 'target lambda', 'mixture', 'lambda', 0.5, 2.0, 'hold'),
  trim('short-term-fuel-trim', 'short-term fuel trim'),
  trim('long-term-fuel-trim', 'long-term fuel trim'),
  trim('short-term-fuel-trim-2', 'short-term fuel trim, bank 2'),
  trim('long-term-fuel-trim-2', 'long-term fuel trim, bank 2'),
  q('intake-air-temperature', 'intake air temperature', 'temperature', 'degC', -40, 150),
  q('coolant-temperature', 'coolant temperature', 'temperature', 'degC', -40, 150),
  q('oil-temperature', 'oil temperature', 'temperature', 'degC', -40, 200),
  q('exhaust-gas-temperature', 'exhaust gas temperature', 'temperature', 'degC', -40, 1300),
  q('fuel-pressure', 'fuel pressure', 'pressure', 'kPa-gauge', 0, 25000),
  q('oil-pressure', 'oil pressure', 'pressure', 'kPa-gauge', 0, 1500),
  q('ignition-advance', 'ignition advance', 'angle', 'deg', -40, 70),
  q('knock-retard', 'knock retard', 'angle', 'deg', 0, 40),
  q('injector-pulse-width', 'injector pulse width', 'time', 'ms', 0, 40),
  q('injector-duty', 'injector duty', 'ratio', '%', 0, 150),
  q('mass-air-flow', 'mass air flow', 'mass-flow', 'g/s', 0, 1000),
  q('mass-air-flow-signal', 'mass air flow signal', 'signal', 'V', -0.5, 20000),
  q('vehicle-speed', 'vehicle speed', 'speed', 'km/h', 0, 450),
  q('battery-voltage', 'battery voltage', 'voltage', 'V', 6, 18),
  q('ethanol-content', 'ethanol content', 'ratio', '%', 0, 100),
  q('engine-load', 'engine load', 'ratio', '%', 0, 400),
  q('gear', 'gear', 'count', 'count', -1, 12, 'hold'),
  q('fuel-cut', 'fuel cut', 'flag', 'flag', 0, 1, 'hold'),
  q('trouble-code', 'trouble code', 'code', 'code', -Infinity, Infinity, 'hold'),
];

/** Every quantity by its id. */
export const QUANTITIES = Object.fromEntries(ALL.map((each) => [each.id, each])) as Readonly<Record<QuantityId, Quantity>>;

export const QUANTITY_IDS: readonly QuantityId[] = ALL.map((each) => each.id);

/** Whether a text is the id of a quantity. */
export const isQuantityId = (text: string): text is QuantityId => Object.hasOwn(QUANTITIES, text);
