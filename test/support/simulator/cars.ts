// The cars that can be simulated: each kind is a range of engines, a seed picks one. All of them are invented.

import { gridOf, type Grid } from './grid.js';
import { randomOf, type Random } from './random.js';

export type CarKind = 'natural' | 'supercharged' | 'turbo' | 'closed-loop' | 'multi-rate' | 'air-flow' | 'e85' | 'two-bank' | 'obd';
export const CAR_KINDS: readonly CarKind[] = [
  'natural',
  'supercharged',
  'turbo',
  'closed-loop',
  'multi-rate',
  'air-flow',
  'e85',
  'two-bank',
  'obd',
];

export interface Car {
  readonly kind: CarKind;
  readonly seed: number;
  readonly name: string;
  readonly displacementL: number;
  readonly cylinders: number;
  readonly banks: 1 | 2;
  readonly idleRpm: number;
  readonly revLimitRpm: number;
  readonly aspiration: 'natural' | 'turbocharged' | 'supercharged';
  /** Most that the blower or the wastegate gives over the air around the car. */
  readonly boostKPa: number;
  /** How a blower's boost grows with engine speed: below 1 one that displaces, towards 2 one that flings. */
  readonly blowerExponent: number;
  readonly barometerKPa: number;
  readonly ambientC: number;
  readonly fuel: {
    readonly blend: string;
    readonly stoichAfr: number;
    readonly densityKgPerM3: number;
    readonly heatMJPerKg: number;
    readonly ethanolPercent: number;
  };
  readonly injector: { readonly flowCcPerMin: number; readonly ratedPressureKPa: number; readonly deadTimeAt14VMs: number };
  readonly throttleDiameterMm: number;
  readonly manifoldVolumeL: number;
  /** What fuels the engine: air filling, or a fuel mass, or a pulse, or the transfer curve of an air flow meter. */
  readonly fuelTableQuantity: 'volumetric-efficiency' | 'fuel-mass' | 'injector-pulse-width' | 'mass-air-flow';
  /** True filling of the cylinders (fraction, against air in the manifold): continuous, known to nobody but the simulator. */
  readonly filling: (speedRpm: number, pressureKPa: number) => number;
  /** True air flow at a signal of the meter (V → g/s), for `mass-air-flow`. */
  readonly airFlowAt: (signalV: number) => number;
  readonly columns: readonly number[];
  readonly rows: readonly number[];
  readonly targetLambda: (speedRpm: number, pressureKPa: number) => number;
  /** Air and injector share of each cylinder, mean 1. */
  readonly cylinderAir: readonly number[];
  readonly cylinderFuel: readonly number[];
  readonly film: { readonly share: number; readonly tauS: number };
  /** Crank angles from the injection to intake valve closing and to exhaust opening. */
  readonly injectionToIntakeDeg: number;
  readonly injectionToExhaustDeg: number;
  /** Ports to sensor, of which `mixedShare` is stirred rather than pushed through. */
  readonly exhaustVolumeL: number;
  readonly mixedShare: number;
  readonly lambdaSensor: {
    readonly lagS: number;
    readonly secondLagS: number;
    readonly latencyS: number;
    readonly range: readonly [number, number];
    readonly whiteNoise: number;
    readonly slowNoise: number;
    readonly quantum: number;
    readonly warmUpS: number;
  };
  readonly ecu: {
    readonly closedLoop: 'none' | 'wideband' | 'switching';
    readonly longTerm: boolean;
    readonly tipInGain: number;
    readonly cutAboveRpm: number;
    readonly cutUntilRpm: number;
    readonly pressureLagS: number;
    /** How much of the fuel film it believes in; 1 is right, 0 is no compensation. */
    readonly filmMatch: number;
    /** Behind an air meter: whether it fuels what the cylinders draw, and not what passes the meter. */
    readonly foreseesFilling?: boolean;
  };
  readonly vehicle: {
    readonly massKg: number;
    readonly dragAreaM2: number;
    readonly rolling: number;
    readonly tyreRadiusM: number;
    readonly gears: readonly number[];
    readonly finalDrive: number;
  };
  readonly log: {
    readonly rateHz: number;
    /** A channel is logged every n-th row, blank between. */
    readonly everyRows: Readonly<Record<string, number>>;
    readonly channels: readonly string[];
    /** Asked one after another and in whole bytes, as a scan of the diagnostic port does. */
    readonly polled: boolean;
  };
}

/** Mean-1 shares that differ by about `spread`. */
const spreadOf = (count: number, spread: number, random: Random): number[] => {
  const raw = Array.from({ length: count }, () => 1 + spread * random.normal());
  const mean = raw.reduce((a, b) => a + b) / count;
  return raw.map((x) => x / mean);
};

/** A smooth filling surface: ram and friction over speed, residual gas over pressure, and two standing waves. */
function fillingOf(random: Random, revLimitRpm: number, aspiration: Car['aspiration']): Car['filling'] {
  const peakAt = random.between(0.6, 0.75),
    width = random.between(0.36, 0.46),
    base = random.between(0.7, 0.76),
    gain = random.between(0.21, 0.26);
  const residual = random.between(0.27, 0.38),
    scaleKPa = random.between(34, 46),
    boostGain = aspiration === 'natural' ? 0 : random.between(0.02, 0.05);
  const wave = random.between(0.008, 0.018),
    waves = random.between(1.6, 2.4),
    phase = random.between(0, 6.28);
  const cross = random.between(0.004, 0.012),
    crossPhase = random.between(0, 6.28);
  return (speedRpm, pressureKPa) => {
    const x = speedRpm / revLimitRpm;
    const overSpeed = base + gain * Math.exp(-(((x - peakAt) / width) ** 2)) + wave * Math.sin(6.2832 * waves * x + phase);
    const overPressure =
      1 - residual * Math.exp(-(Math.max(pressureKPa, 8) - 25) / scaleKPa) + boostGain * Math.tanh((pressureKPa - 100) / 50);
    return overSpeed * overPressure + cross * Math.sin(6.2832 * 1.3 * x + pressureKPa / 28 + crossPhase);
  };
}

const ladder = (from: number, to: number, count: number, roundTo: number, bend = 1): number[] =>
  Array.from({ length: count }, (_, i) => Math.round((from + (to - from) * (i / (count - 1)) ** bend) / roundTo) * roundTo);

const FUELS = {
  // Stoichiometric ratios by mass and densities: usual handbook figures for gasoline with ethanol.
  E10: { blend: 'E10', stoichAfr: 14.0965, densityKgPerM3: 749.9, heatMJPerKg: 41.5, ethanolPercent: 10 },
  E85: { blend: 'E85', stoichAfr: 9.8097, densityKgPerM3: 786.65, heatMJPerKg: 29.2, ethanolPercent: 85 },
};

const BASE_CHANNELS = [
  'engine-speed',
  'manifold-pressure',
  'throttle',
  'lambda',
  'target-lambda',
  'intake-air-temperature',
  'coolant-temperature',
  'ignition-advance',
  'knock-retard',
  'injector-pulse-width',
  'injector-duty',
  'fuel-pressure',
  'vehicle-speed',
  'battery-voltage',
  'gear',
  'fuel-cut',
];
const TRIMS = ['short-term-fuel-trim', 'long-term-fuel-trim'];

/** One car of a kind. The same kind and seed give the same car. `change` overrides what the seed drew. */
export function makeCar(kind: CarKind, seed: number, change: Partial<Car> = {}): Car {
  const random = randomOf(seed).fork(`car ${kind}`);
  const boosted =
    kind === 'supercharged' || kind === 'turbo' || (kind === 'multi-rate' && random.chance(0.5)) || (kind === 'e85' && random.chance(0.7));
  const aspiration: Car['aspiration'] = !boosted
    ? 'natural'
    : kind === 'turbo'
      ? 'turbocharged'
      : kind === 'supercharged' || random.chance(0.5)
        ? 'supercharged'
        : 'turbocharged';
  const cylinders = kind === 'two-bank' ? random.pick([6, 8]) : random.pick([4, 4, 4, 6]);
  const displacementL = Number((cylinders * random.between(0.4, 0.62)).toFixed(3));
  const revLimitRpm = random.pick([6600, 6800, 7000, 7200]);
  const barometerKPa = Number(random.between(94, 102.5).toFixed(1)),
    ambientC = random.between(8, 30);
  const boostKPa = boosted ? random.between(55, 95) : 0;
  const topKPa = Math.ceil((barometerKPa + boostKPa * 1.05) / 5) * 5;
  const fuel = kind === 'e85' ? FUELS.E85 : FUELS.E10;
  const filling = fillingOf(random.fork('filling'), revLimitRpm, aspiration);

  // Injectors so large that full load takes 60 to 80 % duty.
  const topAirMg = ((1.0 * topKPa * 1000 * (displacementL / cylinders)) / 1000 / (287.055 * 313)) * 1e6;
  const cycleMs = 120000 / revLimitRpm;
  const flowCcPerMin =
    Math.round(((topAirMg / (fuel.stoichAfr * 0.82) / (cycleMs * random.between(0.6, 0.78)) / fuel.densityKgPerM3) * 60000) / 10) * 10;

  // An air flow meter whose signal grows with the fourth root of flow (hot-wire law, King 1914, roughly), bent a little.
  const flowAt5VGPerS = displacementL * 70,
    bend = random.between(-0.06, 0.06),
    bendPhase = random.between(0, 6.28);
  const airFlowAt = (v: number): number =>
    flowAt5VGPerS * Math.max(0, (v - 0.35) / 4.65) ** 2.6 * (1 + bend * Math.sin(1.2 * v + bendPhase));

  const isMeter = kind === 'air-flow';
  const columnCount = random.pick([12, 14, 16]),
    rowCount = boosted ? random.pick([12, 14]) : random.pick([9, 10, 12]);
  const columns = isMeter ? ladder(0.8, 4.8, random.pick([25, 29, 33]), 0.001) : ladder(600, revLimitRpm, columnCount, 50);
  const rows = isMeter ? [0] : ladder(25, topKPa, rowCount, 5);

  const rich = boosted ? random.between(0.8, 0.85) : random.between(0.86, 0.9);
  const targetLambda = (_speedRpm: number, pressureKPa: number): number => {
    const from = 75,
      full = boosted ? Math.min(topKPa, 150) : 98;
    const part = Math.max(0, Math.min(1, (pressureKPa - from) / (full - from)));
    return 1 - (1 - rich) * part * part * (3 - 2 * part);
  };

  const everyRows: Record<string, number> =
    kind === 'multi-rate'
      ? {
          throttle: 2,
          lambda: random.pick([2, 3]),
          'target-lambda': 2,
          'intake-air-temperature': 20,
          'coolant-temperature': 50,
          'battery-voltage': 50,
          'vehicle-speed': 5,
          gear: 5,
          'fuel-pressure': 5,
          'ignition-advance': 2,
          'knock-retard': 2,
          'manifold-pressure': random.pick([1, 2]),
        }
      : {};
  const polled = kind === 'obd';
  const channels = polled
    ? [
        'engine-speed',
        'manifold-pressure',
        'throttle',
        ...TRIMS,
        'engine-load',
        'coolant-temperature',
        'intake-air-temperature',
        'ignition-advance',
        'vehicle-speed',
        'battery-voltage',
        'barometric-pressure',
      ]
    : [
        ...BASE_CHANNELS.filter((name) => name !== 'target-lambda' || kind !== 'natural' || random.chance(0.5)),
        ...(kind === 'closed-loop' ? TRIMS : []),
        ...(kind === 'two-bank' ? ['lambda-2'] : []),
        ...(isMeter ? ['mass-air-flow-signal', 'mass-air-flow'] : []),
        ...(kind === 'e85' ? ['ethanol-content'] : []),
        ...(boosted ? ['barometric-pressure', 'exhaust-gas-temperature'] : []),
      ];

  const banks = kind === 'two-bank' ? 2 : 1;
  return {
    kind,
    seed,
    name: `Simulated ${kind} car ${seed}`,
    displacementL,
    cylinders,
    banks,
    idleRpm: random.whole(76, 92) * 10,
    revLimitRpm,
    aspiration,
    boostKPa,
    blowerExponent: random.fork('blower').between(0.7, 1.8),
    barometerKPa,
    ambientC,
    fuel,
    injector: { flowCcPerMin, ratedPressureKPa: 300, deadTimeAt14VMs: random.between(0.75, 1.1) },
    throttleDiameterMm: 26 * Math.sqrt(displacementL) + random.between(24, 30),
    manifoldVolumeL: displacementL * random.between(1.1, 1.9),
    fuelTableQuantity: isMeter ? 'mass-air-flow' : 'volumetric-efficiency',
    filling,
    airFlowAt,
    columns,
    rows,
    targetLambda,
    cylinderAir: spreadOf(cylinders, 0.01, random),
    cylinderFuel: spreadOf(cylinders, 0.012, random),
    film: { share: random.between(0.08, 0.25), tauS: random.between(0.12, 0.4) },
    injectionToIntakeDeg: random.between(260, 330),
    injectionToExhaustDeg: random.between(590, 700),
    exhaustVolumeL: (displacementL * random.between(0.7, 1.4)) / banks,
    mixedShare: random.between(0.15, 0.4),
    lambdaSensor: {
      lagS: random.between(0.03, 0.08),
      secondLagS: random.between(0.004, 0.015),
      latencyS: random.between(0, 0.02),
      range: random.pick([
        [0.65, 1.6],
        [0.68, 1.36],
        [0.65, 1.99],
      ] as const),
      whiteNoise: random.between(0.002, 0.005),
      slowNoise: random.between(0.002, 0.004),
      quantum: random.pick([0.001, 0.001, 0.005, 0.01]),
      warmUpS: random.between(12, 25),
    },
    ecu: {
      closedLoop: polled ? 'switching' : kind === 'closed-loop' ? 'wideband' : 'none',
      longTerm: polled || kind === 'closed-loop',
      tipInGain: random.between(0.0004, 0.0015),
      cutAboveRpm: random.whole(16, 20) * 100,
      cutUntilRpm: random.whole(11, 14) * 100,
      pressureLagS: random.between(0.006, 0.015),
      filmMatch: random.fork('film').between(0.6, 1.05),
    },
    vehicle: {
      massKg: random.between(1000, 1500),
      dragAreaM2: random.between(0.6, 0.75),
      rolling: 0.012,
      tyreRadiusM: random.between(0.29, 0.32),
      gears: [3.4, 2.05, 1.42, 1.09, 0.86],
      finalDrive: random.between(3.7, 4.2),
    },
    log: {
      rateHz: polled ? random.between(3.2, 4) : kind === 'multi-rate' ? 50 : random.pick([20, 25, 25, 50]),
      everyRows,
      channels,
      polled,
    },
    ...change,
  };
}

/** Air in one cylinder (mg) at a filling (fraction), pressure and temperature. */
export const airMgOf = (car: Car, filling: number, pressureKPa: number, temperatureC: number): number =>
  ((filling * pressureKPa * 1000 * car.displacementL) / 1000 / car.cylinders / (287.055 * (temperatureC + 273.15))) * 1e6;

/** Dead time of the injectors by battery voltage, ms. */
export const deadTimeMsOf = (car: Car, batteryV: number): number => car.injector.deadTimeAt14VMs * (14 / Math.max(7, batteryV)) ** 1.6;

/** What an injector passes in a millisecond at its rated pressure, mg. */
export const injectorMgPerMs = (car: Car): number => (car.injector.flowCcPerMin * car.fuel.densityKgPerM3) / 60000;

/** Air temperature that fuel-mass and pulse-width tables are written for. */
export const REFERENCE_TEMPERATURE_C = 25;

/** The table as it should be: the value at each breakpoint with which the engine, held there, runs at its target. */
export function perfectTable(car: Car): Grid {
  return gridOf(car.columns, car.rows, (x, y) => {
    if (car.fuelTableQuantity === 'mass-air-flow') return car.airFlowAt(x);
    const filling = car.filling(x, y);
    if (car.fuelTableQuantity === 'volumetric-efficiency') return 100 * filling;
    const fuelMg = airMgOf(car, filling, y, REFERENCE_TEMPERATURE_C) / (car.fuel.stoichAfr * car.targetLambda(x, y));
    return car.fuelTableQuantity === 'fuel-mass' ? fuelMg : fuelMg / injectorMgPerMs(car) + deadTimeMsOf(car, 14);
  });
}

/** The car's target table, as its engine computer holds it. */
export function targetTableOf(car: Car): Grid {
  const rows = car.rows.length > 1 ? car.rows : ladder(25, 105, 9, 5);
  return gridOf(ladder(800, car.revLimitRpm, 8, 100), rows, (x, y) => Number(car.targetLambda(x, y).toFixed(3)));
}
