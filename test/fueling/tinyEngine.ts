// A small engine for the evidence tests: mass balances stepped at 250 Hz, exhaust parcels that travel, a sensor with a lag. It shares no
// equation with server/src/fueling: there rows are shifted and solved for, here fuel is metered, stored, burnt and carried.

import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import type { Channel, Session } from '../../server/src/formats/session/session.js';
import { Shelf } from '../../server/src/formats/shelf.js';
import type { Table } from '../../server/src/formats/table/table.js';
import { QUANTITIES, type QuantityId } from '../../server/src/quantities/quantity.js';
import { UNITS } from '../../server/src/quantities/units.js';
import { analyse } from '../../server/src/signals/analyse.js';
import type { Signals } from '../../server/src/signals/signals.js';

/** Repeatable random numbers (mulberry32, public domain). */
export const randomFrom = (seed: number): (() => number) => {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
};
export const normalFrom =
  (random: () => number): (() => number) =>
  () =>
    Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());

export interface Car {
  readonly kind: 'natural' | 'boosted' | 'closed-loop' | 'multi-rate' | 'mass-air-flow' | 'trims-only';
  readonly seed: number;
  readonly minutes?: number;
  readonly rateHz?: number;
  readonly noise?: number;
  /** Share of a change of fuel that the intake wall keeps, and the time it keeps it. */
  readonly film?: number;
  readonly gasG?: number;
  readonly lagS?: number;
  readonly cycles?: number;
  readonly fuelCut?: boolean;
  /** Standard deviation of ln(true / table), smooth and from cell to cell. */
  readonly wrong?: number;
  readonly jitter?: number;
  /** The target is read in every so-manieth row, the rest blank. */
  readonly targetEvery?: number;
  /** Share of the rows in which a channel repeats its last value, each as chance has it: its reader had not come by. */
  readonly repeated?: number;
  /**
   * What the fuel pump delivers against no pressure, g/s; absent: enough. It delivers none against `PUMP_STALL_KPA`, and straight between.
   */
  readonly pumpGPerS?: number;
  /** Volts by which the ground of the sensor's wire is off, on a scale of `LAMBDA_A_VOLT`. */
  readonly groundV?: number;
  /**
   * Every few seconds the throttle shuts for a change of gear while the engine is fuelled on; the film leaves the wall by so many times
   * faster at a low pressure.
   */
  readonly shiftsDraw?: number;
  /**
   * Share of fuel that is added for a throttle thrown open, by how far it opens; taken back evenly over so many engine cycles. No channel
   * tells of it.
   */
  readonly tipIn?: number;
  /** On a brake: the throttle is stepped every so many seconds, and the manifold follows soon. */
  readonly stepsS?: number;
  /** The engine's own filling runs smoothly between breakpoints instead of straight. */
  readonly curved?: boolean;
}

export interface Drive {
  readonly signals: Signals;
  readonly vehicle: Vehicle;
  readonly table: Table;
  /** What each cell should hold. */
  readonly truth: Float64Array;
  /** True whole delay (with the lag), and the exhaust flow, at each logged row. */
  readonly delayS: Float64Array;
  readonly flowGPerS: Float64Array;
}

const DISPLACEMENT_L = 2;
const RAIL_KPA = 300,
  PUMP_STALL_KPA = 600;
const TIP_IN_CYCLES = 8;
const LAMBDA_A_VOLT = 0.136;

/**
 * Share of the fuel asked for that injectors pass while the pump holds less than the regulator's pressure: they pass with the root of it
 * (Bernoulli), the pump the less the higher it is, and what the one delivers the other passes.
 */
export const passedShare = (wantedGPerS: number, pumpGPerS: number): number => {
  // wanted s = pump (1 - s² rail / stall), s the root of pressure over the regulator's.
  const a = (pumpGPerS * RAIL_KPA) / PUMP_STALL_KPA;
  return Math.min(1, (-wantedGPerS + Math.sqrt(wantedGPerS ** 2 + 4 * a * pumpGPerS)) / (2 * a));
};

export interface Maps {
  readonly rpm: number[];
  readonly load: number[];
  readonly truth: number[];
  readonly table: number[];
}

/** The engine's true filling and a table that is off from it. */
export const mapsOf = (car: Car): Maps => {
  const random = randomFrom(car.seed * 7919 + 11);
  const normal = normalFrom(random);
  if (car.kind === 'mass-air-flow') {
    const load = [0];
    const rpm = Array.from({ length: 24 }, (_, i) => 0.8 + i * 0.175);
    const truth = rpm.map((volts) => 1.2 + 2.2 * volts ** 2.9);
    const [a, b] = [random() * 6, random() * 3];
    const table = truth.map(
      (value, i) => value / Math.exp((car.wrong ?? 0.05) * Math.sin(rpm[i] * (0.8 + b / 3) + a) + (car.jitter ?? 0.01) * normal()),
    );
    return { rpm, load, truth, table };
  }
  const boosted = car.kind === 'boosted';
  const rpm = Array.from({ length: 14 }, (_, i) => 700 + i * 500);
  const load = Array.from({ length: 14 }, (_, i) => (boosted ? 25 + i * 14 : 22 + i * 6.5));
  const [p1, p2, p3, p4] = [random() * 6, random() * 6, random() * 6, random() * 6];
  const truth: number[] = [];
  const table: number[] = [];
  for (const kPa of load) {
    for (const speed of rpm) {
      const x = (speed - 700) / 6500;
      const y = kPa / (boosted ? 210 : 107);
      const value = 58 + 30 * y + 18 * Math.exp(-(((x - 0.6) / 0.3) ** 2)) - 6 * x * y;
      truth.push(value);
      const off =
        (car.wrong ?? 0.06) * (Math.sin(4 * x + p1) * Math.cos(3 * y + p2) + 0.6 * Math.sin(7 * y + p3 + 2 * x)) +
        (car.jitter ?? 0.012) * normal() +
        0.02 * Math.cos(p4);
      table.push(value / Math.exp(off));
    }
  }
  return { rpm, load, truth, table };
};

export const tableText = (car: Car, maps: Maps, values: readonly number[]): string => {
  const width = maps.rpm.length;
  if (car.kind === 'mass-air-flow') {
    return `# quantity: mass air flow (g/s)\n# columns: mass air flow signal (V)\n,${maps.rpm.map((v) => v.toFixed(3)).join(',')}\n0,${values.map((v) => v.toFixed(4)).join(',')}\n`;
  }
  return (
    [
      `# quantity: volumetric efficiency (%)`,
      `# columns: engine speed (rpm)`,
      `# rows: manifold pressure (kPa)`,
      `,${maps.rpm.join(',')}`,
      ...maps.load.map(
        (kPa, row) =>
          `${kPa},${values
            .slice(row * width, (row + 1) * width)
            .map((v) => v.toFixed(3))
            .join(',')}`,
      ),
    ].join('\n') + '\n'
  );
};

/** Reads a map as an engine controller does: straight between four corners, held at the edges. */
const readMap = (maps: Maps, values: readonly number[], x: number, y: number): number => {
  const bracket = (axis: number[], value: number): [number, number] => {
    if (axis.length < 2 || value <= axis[0]) return [0, 0];
    let i = 0;
    while (i < axis.length - 2 && axis[i + 1] < value) i++;
    return [i, Math.min(1, (value - axis[i]) / (axis[i + 1] - axis[i]))];
  };
  const [i, u] = bracket(maps.rpm, x);
  const [j, v] = bracket(maps.load, y);
  const n = maps.rpm.length;
  const get = (r: number, c: number): number => values[Math.min(r, maps.load.length - 1) * n + Math.min(c, n - 1)];
  return get(j, i) * (1 - u) * (1 - v) + get(j, i + 1) * u * (1 - v) + get(j + 1, i) * (1 - u) * v + get(j + 1, i + 1) * u * v;
};

/** Drives the car. `values`: the table in the engine computer, when not the first one. */
export const drive = (car: Car, values?: readonly number[], driveSeed = 0): Drive => {
  const random = randomFrom(car.seed * 104729 + driveSeed * 31 + 5);
  const normal = normalFrom(random);
  const maps = mapsOf(car);
  const inEcu = values ?? maps.table;
  const boosted = car.kind === 'boosted';
  const maf = car.kind === 'mass-air-flow';
  const closedLoop = car.kind === 'closed-loop' || car.kind === 'trims-only';
  const dt = 0.004;
  const rateHz = car.rateHz ?? 25;
  const endS = (car.minutes ?? 10) * 60;
  const gasG = car.gasG ?? 0.35 + 0.7 * random();
  const lagS = car.lagS ?? 0.03 + 0.06 * random();
  const cycles = car.cycles ?? 0.85 + 0.3 * random();
  const filmShare = car.film ?? 0.12;
  const filmS = 0.3;
  const noise = car.noise ?? 0.006;
  const cutCar = car.fuelCut ?? true;

  let [rpm, kPa, film, seen, time] = [900, 40, 0, 1, 0];
  let [short, long, drift] = [0, 0, 0];
  let [rpmGoal, kPaGoal, untilS, ramp] = [900, 38, 4, 300];
  let inPull = false;
  let [opened, added, takenBack] = [0, 0, 0];
  const arriving: { atS: number; phi: number }[] = [];
  let arrived = 0;
  let phiAtSensor = 1;
  const columns: Record<string, number[]> = {
    time: [],
    rpm: [],
    kPa: [],
    lambda: [],
    target: [],
    short: [],
    long: [],
    throttle: [],
    cut: [],
    flow: [],
    delay: [],
    volts: [],
    coolant: [],
  };
  let nextLogS = 0;

  while (time < endS) {
    if (time > untilS) {
      const dice = random();
      inPull = false;
      if (car.stepsS !== undefined)
        [rpmGoal, kPaGoal, untilS, ramp] = [
          dice < 0.1 ? 1500 + 3000 * random() : rpmGoal,
          30 + (boosted ? 90 : 65) * random(),
          time + car.stepsS * (0.6 + 0.8 * random()),
          300,
        ];
      else if (dice < 0.1) [rpmGoal, kPaGoal, untilS, ramp] = [850, 34 + 4 * random(), time + 3 + 6 * random(), 900];
      else if (dice < 0.24) {
        rpm = Math.max(rpm, 1500);
        [rpmGoal, kPaGoal, untilS, ramp, inPull] = [
          5000 + 1800 * random(),
          boosted ? 130 + 70 * random() : 92 + 8 * random(),
          time + 5 + 4 * random(),
          500 + 500 * random(),
          true,
        ];
      } else if (dice < 0.36) [rpmGoal, kPaGoal, untilS, ramp] = [1200 + 800 * random(), 24, time + 1.5 + 2 * random(), 700];
      else
        [rpmGoal, kPaGoal, untilS, ramp] = [
          1300 + 3000 * random(),
          35 + (boosted ? 70 : 55) * random(),
          time + 3 + 9 * random(),
          250 + 400 * random(),
        ];
    }
    rpm += Math.max(-ramp * dt, Math.min(ramp * dt, rpmGoal - rpm)) + 14 * normal() * Math.sqrt(dt);
    drift += (-drift * dt) / 1.5 + 3.2 * normal() * Math.sqrt(dt);
    const shifts = car.shiftsDraw !== undefined && kPaGoal > 50 && time % 4 < 0.5;
    const goal = shifts ? 20 : Math.max(22, kPaGoal + drift);
    kPa += ((goal - kPa) * dt) / (inPull && boosted && kPa > 95 ? 0.6 : shifts || car.stepsS !== undefined ? 0.08 : 0.18);
    const cut = cutCar && kPaGoal < 25 && kPa < 30 && rpm > 1400;

    const filling = maf ? 55 + (25 * kPa) / 100 : readMap(maps, maps.truth, rpm, kPa);
    const airG = (((filling / 100) * kPa * DISPLACEMENT_L) / 4 / (287.05 * 313)) * 1000;
    const airGPerS = (airG * 4 * rpm) / 120;
    let volts = 0;
    if (maf) {
      let i = 0;
      while (i < maps.truth.length - 2 && maps.truth[i + 1] < airGPerS) i++;
      volts = maps.rpm[i] + ((maps.rpm[i + 1] - maps.rpm[i]) * (airGPerS - maps.truth[i])) / (maps.truth[i + 1] - maps.truth[i]);
    }
    const target = closedLoop && kPa < 80 ? 1 : kPa > 120 ? 0.8 : kPa > 85 ? 0.87 : 1 - 0.04 * Math.max(0, Math.min(1, (kPa - 60) / 25));
    const believedG = maf ? (readMap(maps, inEcu, volts, 0) * 120) / rpm / 4 : (airG / filling) * readMap(maps, inEcu, rpm, kPa);
    const throttle = Math.max(0, Math.min(100, kPaGoal < 25 ? 0 : kPaGoal - 15 + drift / 3));
    const asked = ((car.tipIn ?? 0) * (throttle - opened)) / 100;
    if (asked > 0.005) [added, takenBack] = [Math.min(0.6, added + asked), Math.min(0.6, added + asked) / TIP_IN_CYCLES];
    added = Math.max(0, added - (takenBack * dt * rpm) / 120);
    opened = throttle;
    const loop = closedLoop && kPa < 80 && !cut && rpm > 600;
    const wantedG =
      (1 + added) *
      (believedG / 14.7 / target) *
      (1 + (closedLoop ? short + long : 0)) *
      (1 + (closedLoop ? short * long : 0) / (1 + short + long));
    const injectedG = cut ? 0 : car.pumpGPerS === undefined ? wantedG : wantedG * passedShare((wantedG * 4 * rpm) / 120, car.pumpGPerS);
    // The wall takes a share and gives it back slowly; the controller makes up for most of it.
    const cycleShare = (dt * rpm) / 120;
    const intoFilm = filmShare * injectedG * cycleShare;
    const outOfFilm = ((film * dt) / filmS) * (kPa < 35 ? (car.shiftsDraw ?? 1) : 1);
    film += intoFilm - outOfFilm;
    const burnt = injectedG - filmShare * injectedG + outOfFilm / cycleShare;
    const phi = (burnt * 14.7) / airG;

    const exhaustGPerS = airGPerS * 1.07;
    const deadS = (cycles * 120) / rpm + gasG / exhaustGPerS;
    arriving.push({ atS: time + deadS, phi });
    while (arrived < arriving.length && arriving[arrived].atS <= time) phiAtSensor = arriving[arrived++].phi;
    seen += (phiAtSensor - seen) * (1 - Math.exp(-dt / lagS));

    const lambdaSeen = Math.min(1.6, 1 / Math.max(seen, 0.05)) + noise * normal() * 0.9;
    if (loop) {
      const error = 1 - 1 / lambdaSeen;
      short = Math.max(-0.25, Math.min(0.25, short + dt * (0.06 * Math.sign(error) * Math.min(1, Math.abs(error) / 0.01))));
      long += dt * 0.01 * short;
    } else if (closedLoop) short *= 1 - dt / 0.3;

    if (time >= nextLogS) {
      nextLogS += 1 / rateHz;
      const push = (name: string, value: number): void => {
        columns[name].push(value);
      };
      push('time', time);
      push('rpm', Math.round(rpm + 3 * normal()));
      push('kPa', Math.round(10 * (kPa + 0.25 * normal())) / 10);
      push('lambda', Math.round(1000 * Math.min(1.6, lambdaSeen + LAMBDA_A_VOLT * (car.groundV ?? 0))) / 1000);
      push('target', target);
      push('short', 100 * short);
      push('long', 100 * long);
      push('throttle', throttle);
      push('cut', cut ? 1 : 0);
      push('flow', exhaustGPerS);
      push('delay', deadS + lagS);
      push('volts', volts);
      push('coolant', 90);
    }
    time += dt;
  }

  const list: [string, QuantityId][] = [
    ['rpm', 'engine-speed'],
    ['throttle', 'throttle'],
    ['coolant', 'coolant-temperature'],
  ];
  if (car.kind !== 'trims-only') list.push(['lambda', 'lambda'], ['target', 'target-lambda']);
  list.push(maf ? ['volts', 'mass-air-flow-signal'] : ['kPa', 'manifold-pressure']);
  if (closedLoop) list.push(['short', 'short-term-fuel-trim'], ['long', 'long-term-fuel-trim']);
  if (car.seed % 2) list.push(['cut', 'fuel-cut']);
  if (car.kind === 'multi-rate') {
    columns.kPa = columns.kPa.map((v, i) => (i % 2 ? NaN : v));
    columns.lambda = columns.lambda.map((v, i) => (i % 3 === 1 ? v : NaN));
    columns.coolant = columns.coolant.map((v, i) => (i % 50 ? NaN : v));
  }
  const { targetEvery = 1, repeated = 0 } = car;
  if (repeated > 0)
    for (const [name] of list)
      for (let row = 1; row < columns.time.length; row++) if (random() < repeated) columns[name][row] = columns[name][row - 1];
  columns.target = columns.target.map((v, i) => (i % targetEvery ? NaN : v));
  const session = sessionOf(
    columns.time,
    list.map(([name, quantity]) => ({ quantity, values: Float64Array.from(columns[name]) })),
  );
  const vehicle: Vehicle = { ...EMPTY_VEHICLE, engine: { displacementL: DISPLACEMENT_L, cylinders: 4 } };
  return {
    signals: analyse(session, vehicle),
    vehicle,
    table: readTable(tableText(car, maps, inEcu)),
    truth: Float64Array.from(maps.truth),
    delayS: Float64Array.from(columns.delay),
    flowGPerS: Float64Array.from(columns.flow),
  };
};

/** A session in memory, without a text behind it. */
export const sessionOf = (timeS: ArrayLike<number>, list: readonly { quantity: QuantityId; values: Float64Array }[]): Session => {
  const nowhere = { start: { line: 0, character: 0 }, end: { line: 0, character: 0 } };
  const channels: Channel[] = list.map(({ quantity, values }, index) => ({
    index,
    name: quantity,
    header: quantity,
    headerRange: nowhere,
    quantity,
    unit: UNITS[QUANTITIES[quantity].unit],
    quantityFrom: 'name',
    unitFrom: 'header',
    values,
    filled: values.reduce((sum, value) => sum + (Number.isNaN(value) ? 0 : 1), 0),
    toCanonical: (written) => written,
  }));
  const times = Float64Array.from(timeS);
  return {
    kind: 'session',
    samples: times.length,
    timeS: times,
    time: { kind: 'column', spread: false, medianStepS: times.length > 1 ? (times[times.length - 1] - times[0]) / (times.length - 1) : 0 },
    recordingStarts: [0],
    channels,
    shelf: new Shelf(),
    notes: [],
    codes: [],
    metadata: new Map(),
    ignored: [],
    problems: [],
    headerRange: nowhere,
    places: {
      cellRange: () => nowhere,
      spanRange: () => nowhere,
      cellText: () => '',
      lineOf: (sample) => sample + 1,
      sampleAt: (line) => line - 1,
      channelAt: () => undefined,
    },
    form: 'wide',
    encoding: 'utf-8',
    delimiter: ',',
    decimalComma: false,
  };
};
