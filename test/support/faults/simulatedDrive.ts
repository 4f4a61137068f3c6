// A simulated drive (physics) in the shape that faults are planted in.

import type { QuantityId } from '../../../server/src/quantities/quantity.js';
import {
  CAR_KINDS,
  makeCar,
  perfectTable,
  simulateDrive,
  type Car,
  type CarKind,
  type Drive,
  type DriveOptions,
} from '../simulator/index.js';
import { seeded } from './random.js';
import type { EngineState, RecordedChannel, Recording } from './recording.js';

const HEADERS: Partial<Record<QuantityId, readonly [name: string, unit: string, decimals: number]>> = {
  'engine-speed': ['Engine Speed', 'rpm', 0],
  'manifold-pressure': ['Manifold Pressure', 'kPa', 1],
  'barometric-pressure': ['Barometric Pressure', 'kPa', 1],
  throttle: ['Throttle', '%', 1],
  pedal: ['Pedal', '%', 1],
  lambda: ['Lambda', 'λ', 3],
  'lambda-2': ['Lambda Bank 2', 'λ', 3],
  'target-lambda': ['Target Lambda', 'λ', 3],
  'short-term-fuel-trim': ['Short Term Fuel Trim', '%', 2],
  'long-term-fuel-trim': ['Long Term Fuel Trim', '%', 2],
  'short-term-fuel-trim-2': ['Short Term Fuel Trim Bank 2', '%', 2],
  'long-term-fuel-trim-2': ['Long Term Fuel Trim Bank 2', '%', 2],
  'intake-air-temperature': ['Intake Air Temperature', '°C', 1],
  'coolant-temperature': ['Coolant Temperature', '°C', 1],
  'oil-temperature': ['Oil Temperature', '°C', 1],
  'exhaust-gas-temperature': ['Exhaust Gas Temperature', '°C', 0],
  'fuel-pressure': ['Fuel Pressure', 'kPa gauge', 0],
  'ignition-advance': ['Ignition Advance', 'deg', 1],
  'knock-retard': ['Knock Retard', 'deg', 1],
  'injector-pulse-width': ['Injector Pulse Width', 'ms', 2],
  'injector-duty': ['Injector Duty', '%', 1],
  'mass-air-flow-signal': ['Mass Air Flow Signal', 'V', 3],
  'mass-air-flow': ['Mass Air Flow', 'g/s', 2],
  'vehicle-speed': ['Vehicle Speed', 'km/h', 1],
  'battery-voltage': ['Battery Voltage', 'V', 2],
  'ethanol-content': ['Ethanol Content', '%', 1],
  'engine-load': ['Engine Load', '%', 1],
  gear: ['Gear', '', 0],
  'fuel-cut': ['Fuel Cut', '', 0],
};

const STATES: Readonly<Record<Drive['truth']['events'][number]['kind'], EngineState>> = {
  idle: 'idle',
  cruise: 'cruise',
  pull: 'pull',
  lift: 'cruise',
  'gear-shift': 'shift',
  'tip-in': 'tip-in',
  brake: 'cruise',
  accelerate: 'cruise',
  hold: 'cruise',
  overrun: 'overrun',
  'engine-off': 'off',
  cranking: 'cranking',
  'warm-up': 'warm-up',
};

const statesOf = (drive: Drive): EngineState[] => {
  const state = new Array<EngineState>(drive.timeS.length).fill('cruise');
  const paint = (fromS: number, toS: number, name: EngineState): void => {
    for (let at = 0; at < state.length; at++) if (drive.timeS[at] >= fromS && drive.timeS[at] <= toS) state[at] = name;
  };
  const rank = (kind: string): number =>
    ['overrun', 'gear-shift'].includes(kind) ? 1 : ['engine-off', 'cranking', 'warm-up'].includes(kind) ? 2 : 0;
  for (const event of [...drive.truth.events].sort((a, b) => rank(a.kind) - rank(b.kind))) {
    if (event.kind === 'warm-up') continue; // a temperature, not a thing the driver does
    paint(event.fromS, event.toS, STATES[event.kind]);
  }
  let cutUntilS = -9;
  for (let at = 0; at < state.length; at++) {
    if (drive.truth.cut[at]) {
      state[at] = 'overrun';
      cutUntilS = drive.timeS[at];
    } else if (drive.timeS[at] - cutUntilS < 1.2) state[at] = 'refuelling';
  }
  return state;
};

/** The drive as a recording, with `vehicle.json` as its owner would write it. */
export const fromDrive = (drive: Drive, source: string): Recording => {
  const { car } = drive;
  const channels = [...drive.channels]
    .filter(([quantity]) => quantity in HEADERS)
    .map(([quantity, channel]): RecordedChannel => {
      const [name, unit, decimals] = HEADERS[quantity as QuantityId]!;
      const every = car.log.everyRows[quantity] ?? 1;
      return {
        name,
        unit,
        decimals,
        quantity: quantity as QuantityId,
        values: channel.values,
        written: (value) => value,
        stepS: every / drive.rateHz,
      };
    });
  const { truth } = drive;
  return {
    source,
    seed: drive.seed,
    rateHz: drive.rateHz,
    timeS: drive.timeS,
    clockS: drive.timeS,
    channels,
    state: statesOf(drive),
    truth: new Map<QuantityId, Float64Array>([
      ['engine-speed', truth.speedRpm],
      ['manifold-pressure', truth.pressureKPa],
      ['coolant-temperature', truth.coolantC],
      ['barometric-pressure', new Float64Array(drive.timeS.length).fill(car.barometerKPa)],
      ['target-lambda', Float64Array.from(drive.timeS, (_, at) => car.targetLambda(truth.speedRpm[at], truth.pressureKPa[at]))],
    ]),
    vehicle: {
      engine: {
        displacementL: car.displacementL,
        cylinders: car.cylinders,
        revLimitRpm: car.revLimitRpm,
        aspiration: car.aspiration,
        ...(car.aspiration === 'natural' ? {} : { maxManifoldPressureKPa: Math.ceil((car.barometerKPa + car.boostKPa * 1.1) / 5) * 5 }),
      },
      fuel: { blend: car.fuel.blend },
      lambdaSensor: { range: car.lambdaSensor.range, mount: 'upstream' },
    },
    notes: [],
    layout: { delimiter: ',', decimalComma: false, time: 's', brackets: '()' },
    faults: [],
  };
};

/** A healthy simulated recording: the engine computer runs the perfect table. */
export const simulateHealthy = (seed: number, change: Partial<DriveOptions> & { kind?: CarKind } = {}): Recording => {
  const random = seeded(seed),
    kind = change.kind ?? random.pick(CAR_KINDS);
  const car: Car = makeCar(kind, seed);
  const drive = simulateDrive({
    car,
    seed,
    minutes: random.between(5, 9),
    fuelTable: perfectTable(car),
    start: random.pick(['warm', 'warm', 'tepid', 'cold']),
    driver: random.pick(['street', 'track', 'mixed']),
    ...(kind === 'obd' || kind === 'multi-rate' ? {} : { rateHz: random.pick([10, 20, 25, 50]) }),
    ...change,
  });
  return fromDrive(drive, `simulated ${kind} ${drive.rateHz.toFixed(1)} Hz`);
};
