// A drawn drive as a logger writes it: which channels, how often, how finely, with which words and units. One healthy recording a seed.

import type { QuantityId } from '../../../server/src/quantities/quantity.js';
import { drawCar, drawSignals } from './drawnSignals.js';
import { drawDriveline, drawRoad, STEP_S } from './drawnRoad.js';
import { seeded } from './random.js';
import type { EngineState, Layout, RecordedChannel, Recording } from './recording.js';

/** A way to write a quantity: words, unit, digits, and the arithmetic from the canonical unit. */
interface Style {
  readonly name: string;
  readonly unit: string;
  readonly decimals: number;
  readonly written?: (canonical: number) => number;
}

const PSI_KPA = 6.894757;
const as = (name: string, unit: string, decimals: number, written?: (canonical: number) => number): Style => ({
  name,
  unit,
  decimals,
  ...(written ? { written } : {}),
});
const percent = (name: string): Style[] => [as(name, '%', 1), as(name, '%', 0), as(name, '%', 2)];
const celsius = (name: string): Style[] => [as(name, '°C', 0), as(name, '°C', 1), as(name, '°F', 0, (c) => c * 1.8 + 32)];

const STYLES: Partial<Record<QuantityId, readonly Style[]>> = {
  'engine-speed': [as('Engine Speed', 'rpm', 0), as('RPM', 'rpm', 0), as('Engine RPM', 'rpm', 1)],
  'manifold-pressure': [
    as('Manifold Pressure', 'kPa', 1),
    as('MAP', 'kPa', 1),
    as('Intake Manifold Pressure', 'kPa', 0),
    as('Manifold Absolute Pressure', 'bar', 3, (p) => p / 100),
    as('MAP', 'psi', 2, (p) => p / PSI_KPA),
  ],
  'barometric-pressure': [as('Barometric Pressure', 'kPa', 0), as('Barometric Pressure', 'kPa', 1)],
  throttle: [...percent('Throttle'), as('Throttle Position', '%', 1)],
  pedal: percent('Pedal'),
  lambda: [
    as('Lambda', 'λ', 3),
    as('Lambda', 'lambda', 3),
    as('Lambda', 'λ', 2),
    as('AFR', 'AFR', 2, (l) => l * 14.7),
    as('AFR', 'AFR', 1, (l) => l * 14.7),
  ],
  'lambda-2': [as('Lambda 2', 'λ', 3)],
  'target-lambda': [as('Target Lambda', 'λ', 3), as('Target Lambda', 'λ', 2)],
  'short-term-fuel-trim': [as('Short Term Fuel Trim', '%', 1), as('Short Term Fuel Trim Bank 1', '%', 2)],
  'long-term-fuel-trim': [as('Long Term Fuel Trim', '%', 1), as('Long Term Fuel Trim Bank 1', '%', 2)],
  'short-term-fuel-trim-2': [as('Short Term Fuel Trim Bank 2', '%', 2)],
  'intake-air-temperature': [...celsius('Intake Air Temperature')],
  'coolant-temperature': [...celsius('Coolant Temperature'), as('Engine Coolant Temperature', '°C', 0)],
  'oil-temperature': celsius('Oil Temperature'),
  'fuel-pressure': [
    as('Fuel Pressure', 'kPa gauge', 0),
    as('Fuel Pressure', 'kPa gauge', 1),
    as('Fuel Pressure', 'psi gauge', 1, (p) => p / PSI_KPA),
    as('Fuel Pressure', 'bar gauge', 2, (p) => p / 100),
  ],
  'oil-pressure': [as('Oil Pressure', 'kPa gauge', 0)],
  'ignition-advance': [as('Ignition Advance', 'deg', 1), as('Ignition Advance', '°', 1), as('Timing Advance', 'deg', 1)],
  'knock-retard': [as('Knock Retard', 'deg', 1), as('Knock Retard', '°', 2)],
  'injector-pulse-width': [as('Injector Pulse Width', 'ms', 2), as('Injector Pulse Width', 'ms', 3)],
  'injector-duty': percent('Injector Duty'),
  'mass-air-flow': [as('Mass Air Flow', 'g/s', 2), as('Mass Air Flow', 'kg/h', 1, (f) => f * 3.6)],
  'vehicle-speed': [as('Vehicle Speed', 'km/h', 0), as('Vehicle Speed', 'km/h', 1), as('Vehicle Speed', 'mph', 0, (v) => v / 1.609344)],
  'battery-voltage': [as('Battery Voltage', 'V', 2), as('Battery Voltage', 'V', 1)],
  'engine-load': percent('Engine Load'),
  gear: [as('Gear', '', 0)],
  'fuel-cut': [as('Fuel Cut', '', 0)],
};

const SLOW_S: Partial<Record<QuantityId, number>> = {
  'intake-air-temperature': 0.5,
  'coolant-temperature': 1,
  'oil-temperature': 1,
  'barometric-pressure': 1,
  'battery-voltage': 0.2,
  'long-term-fuel-trim': 0.5,
  'vehicle-speed': 0.1,
  gear: 0.1,
};

export interface DrawOptions {
  readonly rateHz?: number;
  readonly lengthS?: number;
  readonly needs?: readonly QuantityId[];
  readonly without?: readonly QuantityId[];
  readonly boosted?: boolean;
}

/** A healthy recording: everything about it follows from the seed and the options. */
export const drawDrive = (seed: number, options: DrawOptions = {}): Recording => {
  const random = seeded(seed);
  const rateHz = options.rateHz ?? random.pick([10, 20, 25, 50, 3.5]);
  const lengthS = options.lengthS ?? random.between(300, 900);
  const polled = rateHz < 5;
  const line = drawDriveline(random);
  let car = drawCar(random, line);
  if (options.boosted !== undefined && options.boosted !== car.boostKPa > 0) {
    car = {
      ...car,
      boostKPa: options.boosted ? random.between(45, 130) : 0,
      fullLoadLambda: options.boosted ? random.between(0.79, 0.84) : random.between(0.85, 0.89),
    };
  }
  const road = drawRoad(random, line, lengthS, car.start, car.closedThrottle);

  // sampling instants: a logger's clock jitters a little, polling over OBD a lot
  const jitter = polled ? 0.18 : random.pick([0, 0, 0.03, 0.1]);
  const steps: number[] = [],
    times: number[] = [];
  for (let t = 0; t < lengthS - 0.5;) {
    times.push(Math.round(t * 1000) / 1000);
    steps.push(Math.min(road.rpm.length - 1, Math.round(t / STEP_S)));
    t += Math.max(0.004, (1 + jitter * random.between(-1, 1)) / rateHz);
  }
  const startS = random.chance(0.25) ? Math.round(random.between(5, 4000) * 1000) / 1000 : 0;

  const wanted = new Set<QuantityId>(['engine-speed', 'lambda', ...(options.needs ?? [])]);
  if (random.chance(0.93)) wanted.add('manifold-pressure');
  if (random.chance(0.9)) wanted.add('throttle');
  if (random.chance(0.7)) wanted.add('target-lambda');
  for (const quantity of Object.keys(STYLES) as QuantityId[]) {
    if (
      quantity !== 'target-lambda' &&
      quantity !== 'manifold-pressure' &&
      quantity !== 'throttle' &&
      random.chance(quantity === 'lambda-2' ? 0.15 : 0.5)
    )
      wanted.add(quantity);
  }
  for (const quantity of options.without ?? []) wanted.delete(quantity);
  if (!wanted.has('manifold-pressure') && !wanted.has('throttle')) wanted.add('throttle');

  const signals = drawSignals(random, car, road, wanted);
  const slowStyle = random.pick(['held', 'empty', 'empty']);
  const channels = random.shuffled([...wanted]).map((quantity): RecordedChannel => {
    const style = random.pick(STYLES[quantity] ?? [as(quantity, '', 2)]);
    const whole = signals.get(quantity)!;
    const slowS = SLOW_S[quantity] ?? 0;
    const stepS = Math.max(slowS, 1 / rateHz);
    const values = new Float64Array(times.length);
    let held = NaN,
      next = -1;
    for (let sample = 0; sample < times.length; sample++) {
      const fresh = times[sample] >= next || slowS * rateHz <= 1;
      if (fresh) {
        held = whole[steps[sample]];
        next = times[sample] + slowS - 0.0005;
      }
      values[sample] = fresh || slowStyle === 'held' ? held : NaN;
    }
    return {
      name: style.name,
      unit: style.unit,
      quantity,
      values,
      decimals: style.decimals,
      written: style.written ?? ((value) => value),
      stepS,
    };
  });

  const delimiter = random.pick([',', ',', ';', '\t'] as const);
  const layout: Layout = {
    delimiter,
    decimalComma: delimiter !== ',' && random.chance(0.5),
    time: random.chance(0.8) ? 's' : 'ms',
    brackets: random.chance(0.7) ? '()' : '[]',
  };
  const told = random.chance(0.7);
  return {
    source: `drawn ${rateHz} Hz${car.boostKPa > 0 ? ' boosted' : ''} ${car.start}`,
    seed,
    rateHz,
    timeS: Float64Array.from(times),
    clockS: Float64Array.from(times, (t) => t + startS),
    channels,
    state: steps.map((step): EngineState => road.state[step]),
    truth: new Map([...signals].map(([quantity, whole]) => [quantity, Float64Array.from(steps, (step) => whole[step])])),
    vehicle: {
      engine: told
        ? {
            aspiration: car.boostKPa > 0 ? (car.blower ? 'supercharged' : 'turbocharged') : 'natural',
            revLimitRpm: Math.round(line.limitRpm),
            maxManifoldPressureKPa: Math.round(car.barometerKPa + car.boostKPa + 8),
          }
        : {},
      fuel: { blend: random.pick(['E10', 'E5', 'E0']) },
      lambdaSensor: told ? { range: car.lambdaRange, mount: 'upstream' } : {},
    },
    notes: random.chance(0.5) ? ['logger: bench', `car: drawn ${seed}`] : [],
    layout,
    faults: [],
  };
};
