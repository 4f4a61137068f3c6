// How a logger writes each quantity: canonical unit, the step it counts in, and the bytes of a diagnostic scan (SAE J1979 service 01
// scalings).

interface Dial {
  readonly unit: string;
  readonly step: number;
  readonly digits: number;
  readonly byteStep?: number;
  readonly byteRange?: readonly [number, number];
}

const DIALS: Readonly<Record<string, Dial>> = {
  'engine-speed': { unit: 'rpm', step: 1, digits: 0, byteStep: 0.25 },
  'manifold-pressure': { unit: 'kPa', step: 0.1, digits: 1, byteStep: 1, byteRange: [0, 255] },
  'barometric-pressure': { unit: 'kPa', step: 0.1, digits: 1, byteStep: 1, byteRange: [0, 255] },
  throttle: { unit: '%', step: 0.1, digits: 1, byteStep: 100 / 255, byteRange: [0, 100] },
  pedal: { unit: '%', step: 0.1, digits: 1, byteStep: 100 / 255, byteRange: [0, 100] },
  lambda: { unit: 'lambda', step: 0.001, digits: 3 },
  'lambda-2': { unit: 'lambda', step: 0.001, digits: 3 },
  'target-lambda': { unit: 'lambda', step: 0.001, digits: 3 },
  'short-term-fuel-trim': { unit: '%', step: 0.1, digits: 1, byteStep: 100 / 128, byteRange: [-100, 99.21875] },
  'long-term-fuel-trim': { unit: '%', step: 0.1, digits: 1, byteStep: 100 / 128, byteRange: [-100, 99.21875] },
  'intake-air-temperature': { unit: 'degC', step: 0.5, digits: 1, byteStep: 1, byteRange: [-40, 215] },
  'coolant-temperature': { unit: 'degC', step: 0.5, digits: 1, byteStep: 1, byteRange: [-40, 215] },
  'exhaust-gas-temperature': { unit: 'degC', step: 1, digits: 0 },
  'fuel-pressure': { unit: 'kPa-gauge', step: 1, digits: 0, byteStep: 3, byteRange: [0, 765] },
  'ignition-advance': { unit: 'deg', step: 0.1, digits: 1, byteStep: 0.5, byteRange: [-64, 63.5] },
  'knock-retard': { unit: 'deg', step: 0.1, digits: 1 },
  'injector-pulse-width': { unit: 'ms', step: 0.01, digits: 2 },
  'injector-duty': { unit: '%', step: 0.1, digits: 1 },
  'mass-air-flow-signal': { unit: 'V', step: 0.001, digits: 3 },
  'mass-air-flow': { unit: 'g/s', step: 0.01, digits: 2, byteStep: 0.01 },
  'vehicle-speed': { unit: 'km/h', step: 0.1, digits: 1, byteStep: 1, byteRange: [0, 255] },
  'battery-voltage': { unit: 'V', step: 0.01, digits: 2, byteStep: 0.001 },
  'ethanol-content': { unit: '%', step: 0.5, digits: 1, byteStep: 100 / 255, byteRange: [0, 100] },
  'engine-load': { unit: '%', step: 0.1, digits: 1, byteStep: 100 / 255 },
  gear: { unit: 'count', step: 1, digits: 0 },
  'fuel-cut': { unit: 'flag', step: 1, digits: 0 },
};

/** Unit, step and digits of a quantity; trims of bank 2 are as those of bank 1. */
export const dialScale = (name: string): Dial => DIALS[name] ?? DIALS[name.replace(/-2$/, '')] ?? { unit: '', step: 0.001, digits: 3 };

/** A value as the logger counts it. */
export function loggedValue(name: string, value: number, inBytes: boolean): number {
  const dial = dialScale(name),
    step = inBytes ? (dial.byteStep ?? dial.step) : dial.step;
  const counted = Math.round(value / step) * step;
  const kept = inBytes && dial.byteRange ? Math.max(dial.byteRange[0], Math.min(dial.byteRange[1], counted)) : counted;
  return Number(kept.toFixed(inBytes ? 6 : dial.digits));
}
