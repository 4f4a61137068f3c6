// One drive, stepped through time: driver, car, air, fuel, combustion, exhaust, sensors, log. Returns what a logger would have, and the
// truth behind it.
// Physics of its own kind: nothing here is shared with the code that its recordings judge.

import { airMgOf, deadTimeMsOf, injectorMgPerMs, makeCar, perfectTable, targetTableOf, type Car, type CarKind } from './cars.js';
import { airPathOf } from './airPath.js';
import { driverOf, type DriveEvent, type DriverStyle } from './driver.js';
import { engineComputerOf, type Inputs } from './engineComputer.js';
import { exhaustOf, lambdaSensorOf } from './exhaust.js';
import { plantErrors, type Grid } from './grid.js';
import { dialScale, loggedValue } from './logging.js';
import { randomOf } from './random.js';

export interface DriveOptions {
  readonly car: Car | CarKind;
  readonly seed: number;
  readonly minutes: number;
  readonly rateHz?: number;
  /** What the engine computer fuels by. Default: the perfect table with errors planted by the seed. */
  readonly fuelTable?: Grid;
  readonly targetTable?: Grid;
  readonly driver?: DriverStyle;
  /** `warm` (default): running and warm. `cold`: engine off, cranked, warmed up. `tepid`: running, at 50 to 65 °C. */
  readonly start?: 'warm' | 'tepid' | 'cold';
  readonly fuelCut?: boolean;
  /** Real changes to the engine by time, for faults that are in the car and not in the log: factors on fuel delivered and air, °C added. */
  readonly trouble?: (
    timeS: number,
    state: { speedRpm: number; pressureKPa: number; dutyPercent: number },
  ) =>
    | {
        readonly fuelFactor?: number;
        readonly fuelPressureFactor?: number;
        readonly knockRetardDeg?: number;
        readonly chargeC?: number;
        readonly coolantC?: number;
        /** Cylinder that does not fire (its fuel and air leave unburned). */
        readonly misfiring?: number | undefined;
        /** Outside air drawn into the exhaust before the sensor, as a share of the exhaust flow. */
        readonly exhaustLeak?: number;
      }
    | undefined;
}

export interface LoggedChannel {
  readonly unit: string;
  readonly values: Float64Array;
}

export type TruthEventKind = DriveEvent['kind'] | 'overrun' | 'engine-off' | 'cranking' | 'warm-up';

export interface Truth {
  /** The table that the engine computer ran, the table it should have run, and their ratio by cell (row by row). */
  readonly fuelTable: Grid;
  readonly perfectTable: Grid;
  readonly factor: Float64Array;
  readonly targetTable: Grid;
  /** λ of the mixture fuelled at each sample (no delay; Infinity while cut), mean of all cylinders. */
  readonly mixtureLambda: Float64Array;
  /** λ at the sensor without noise, ends and steps. */
  readonly sensorLambda: Float64Array;
  /** Age of what the sensor shows, its own lag included, and the part up to the gas at the sensor. */
  readonly delayS: Float64Array;
  readonly gasDelayS: Float64Array;
  /** Air through the engine, g/s. */
  readonly airFlowGPerS: Float64Array;
  readonly speedRpm: Float64Array;
  readonly pressureKPa: Float64Array;
  readonly meterV: Float64Array;
  readonly torqueNm: Float64Array;
  /** Fuel cut by the engine computer, and anything beyond table, target and trims in the fuel. */
  readonly cut: Uint8Array;
  readonly enriched: Uint8Array;
  readonly coolantC: Float64Array;
  readonly sensorReadyAtS: number;
  readonly events: readonly { readonly kind: TruthEventKind; readonly fromS: number; readonly toS: number; readonly gear: number }[];
}

export interface Drive {
  readonly car: Car;
  readonly seed: number;
  readonly rateHz: number;
  readonly timeS: Float64Array;
  /** By canonical quantity id, in the canonical unit; NaN where the logger wrote nothing in that row. */
  readonly channels: Map<string, LoggedChannel>;
  readonly truth: Truth;
}

const STEP_S = 0.002,
  TASK_EVERY = 5;

/** Simulates a drive. The same options give the same numbers to the last bit. */
export function simulateDrive(options: DriveOptions): Drive {
  const { seed, minutes, start = 'warm', trouble } = options;
  const car = typeof options.car === 'string' ? makeCar(options.car, seed) : options.car;
  const random = randomOf(seed).fork('drive');
  const noise = random.fork('noise');
  const perfect = perfectTable(car);
  const fuelTable =
    options.fuelTable ??
    plantErrors(perfect, randomOf(seed).fork('errors'), {
      digits: car.fuelTableQuantity === 'mass-air-flow' || car.fuelTableQuantity === 'injector-pulse-width' ? 3 : 1,
    });
  const targetTable = options.targetTable ?? targetTableOf(car);
  const rateHz = options.rateHz ?? car.log.rateHz;

  const cold = start === 'cold',
    offUntilS = cold ? random.between(2, 6) : 0,
    crankUntilS = cold ? offUntilS + random.between(0.7, 1.6) : 0;
  const readyAtS = cold ? offUntilS - random.between(-1, 2) + car.lambdaSensor.warmUpS : 0;
  let coolantC = cold ? car.ambientC + random.between(0, 5) : start === 'tepid' ? random.between(50, 65) : random.between(84, 90);
  const thermostatC = random.between(86, 91);

  const air = airPathOf(car, { pressureKPa: cold ? car.barometerKPa : 40, chargeC: car.ambientC + (cold ? 2 : 12) });
  const exhausts = Array.from({ length: car.banks }, () => exhaustOf(car, 0));
  const sensors = exhausts.map((_, i) => lambdaSensorOf(car, random.fork(`sensor ${i}`), readyAtS));
  const computer = engineComputerOf(car, fuelTable, targetTable, random.fork('computer'), { fuelCut: options.fuelCut ?? true });
  const driver = driverOf(options.driver ?? 'mixed', car, random.fork('driver'), STEP_S);
  const { controls, seen } = driver;

  const { gears, finalDrive, tyreRadiusM, massKg, dragAreaM2, rolling } = car.vehicle;
  const radPerRpm = Math.PI / 30,
    engineInertia = 0.06 + 0.05 * car.displacementL,
    clutchNmPerRad = 25,
    clutchNm = 220 * car.displacementL + 150;
  let speedRpm = cold ? 0 : car.idleRpm,
    speedMps = 0,
    angleDeg = 0,
    throttlePercent = 0,
    batteryV = cold ? 12.5 : 14.1,
    burnedPhi = 1;
  let engineFlowGPerS = cold ? 0 : 3,
    startedAtS = cold ? Infinity : -600,
    fuelPressureKPa = cold ? 0 : 300,
    pressureNoise = 0,
    exhaustC = cold ? car.ambientC : 500;

  // Per cylinder: the film on the port wall, and the charge on its way from injection to intake to exhaust (angles are constant, so first
  // in, first out).
  const filmMg = new Float64Array(car.cylinders),
    spacingDeg = 720 / car.cylinders;
  let nextInjectionDeg = spacingDeg,
    injections = 0;
  interface Charge {
    cylinder: number;
    dueDeg: number;
    fuelledS: number;
    injectedMg: number;
    airMg: number;
    phi: number;
  }
  const toIntake: Charge[] = [],
    toExhaust: Charge[] = [];
  const mixture: { fuelledS: number; phi: number }[] = [];

  const inputs: Inputs = {
    timeS: 0,
    speedRpm: 0,
    pressureKPa: 0,
    meterV: 0.35,
    throttlePercent: 0,
    pedalPercent: 0,
    chargeC: air.chargeC,
    coolantC,
    batteryV,
    lambda: 1,
    lambdaReady: false,
    sinceStartS: 1e9,
  };
  const signalAt = meterSignal(car);

  const rows = Math.floor(minutes * 60 * rateHz),
    names = car.log.channels;
  const timeS = new Float64Array(rows),
    column = (): Float64Array => new Float64Array(rows);
  const values = new Map(names.map((name) => [name, new Float64Array(rows).fill(NaN)]));
  const truth = {
    sensorLambda: column(),
    delayS: column(),
    gasDelayS: column(),
    airFlowGPerS: column(),
    speedRpm: column(),
    pressureKPa: column(),
    meterV: column(),
    torqueNm: column(),
    cut: new Uint8Array(rows),
    enriched: new Uint8Array(rows),
    coolantC: column(),
  };
  let row = 0,
    polledUpTo = 0,
    rowStartS = 0,
    rowEndS = car.log.polled ? 1 / rateHz : 0;
  const pollNoise = random.fork('poll');
  const pending = new Float64Array(names.length).fill(NaN);
  const spans: { kind: TruthEventKind; fromS: number; toS: number; gear: number }[] = [];
  let cutSinceS = NaN;

  for (let step = 0; row < rows; step++) {
    const now = step * STEP_S,
      running = speedRpm > 80 && now > crankUntilS;
    const wrong = trouble?.(now, { speedRpm, pressureKPa: air.pressureKPa, dutyPercent: computer.dutyPercent });

    // Driver.
    seen.timeS = now;
    seen.speedRpm = speedRpm;
    seen.speedMps = speedMps;
    if (now > startedAtS + 2) driver.script.next();
    throttlePercent += (STEP_S / (STEP_S + 0.045)) * (controls.pedalPercent - throttlePercent);
    if (now > startedAtS && speedRpm < 600 && controls.dynoRpm === undefined) controls.clutch = 0; // nobody lets it stall
    if (throttlePercent < 0.02) throttlePercent = 0;

    // Air.
    air.step(STEP_S, { throttlePercent, idleAreaMm2: computer.idleAreaMm2, speedRpm, engineFlowGPerS });
    const chargeC = air.chargeC + (wrong?.chargeC ?? 0);
    const cylinderAirMg = airMgOf(car, car.filling(Math.max(300, speedRpm), air.pressureKPa), air.pressureKPa, chargeC);
    engineFlowGPerS = (cylinderAirMg * 1e-3 * car.cylinders * speedRpm) / 120;

    // Torque and motion.
    const burned = burnedPhi < 0.55 ? 0 : Math.min(1, burnedPhi),
      misfiring = wrong?.misfiring !== undefined ? 1 - 1 / car.cylinders : 1;
    const indicatedNm =
      ((((cylinderAirMg * 1e-6 * car.cylinders) / car.fuel.stoichAfr) * burned * car.fuel.heatMJPerKg * 1e6 * 0.345) / (4 * Math.PI)) *
      misfiring *
      (1 - 0.0006 * Math.max(0, 24 - computer.advanceDeg) ** 1.5);
    const x = speedRpm / 6000,
      frictionNm =
        ((1.15 + 0.15 * x + 0.75 * x * x + 0.6 * Math.max(0, (70 - coolantC) / 70)) * 1e5 * car.displacementL * 1e-3) / (4 * Math.PI);
    const pumpingNm = ((car.barometerKPa * 1.03 - air.pressureKPa) * 1e3 * car.displacementL * 1e-3) / (4 * Math.PI);
    let torqueNm = (running ? indicatedNm : 0) - (speedRpm > 5 ? frictionNm + Math.max(-40, pumpingNm) : 0);
    if (cold && now > offUntilS && startedAtS === Infinity) torqueNm += 30 + 60 * car.displacementL * Math.max(0, 1 - speedRpm / 240);
    if (controls.dynoRpm !== undefined) {
      speedRpm += (STEP_S / (STEP_S + 0.08)) * (controls.dynoRpm + 4 * Math.sin(now * 7) - speedRpm);
      speedMps = ((speedRpm * radPerRpm) / (gears[controls.gear - 1] * finalDrive)) * tyreRadiusM;
    } else {
      const ratio = controls.gear > 0 ? gears[controls.gear - 1] * finalDrive : 0;
      const slipRad = speedRpm * radPerRpm - (speedMps / tyreRadiusM) * ratio,
        most = clutchNm * controls.clutch;
      const clutchTorqueNm = ratio > 0 ? Math.max(-most, Math.min(most, clutchNmPerRad * slipRad)) : 0;
      speedRpm = Math.max(0, speedRpm + (((torqueNm - clutchTorqueNm) / engineInertia) * STEP_S) / radPerRpm);
      const resistN =
        speedMps > 0.05
          ? massKg * 9.80665 * (rolling + controls.gradePercent / 100) + 0.6 * dragAreaM2 * speedMps ** 2 + massKg * controls.brakeMps2
          : 0;
      const rotating = 1.03 + 0.004 * ratio; // wheels and shafts turn too
      speedMps = Math.max(0, speedMps + (((clutchTorqueNm * ratio * 0.92) / tyreRadiusM - resistN) / (massKg * rotating)) * STEP_S);
    }
    if (now < offUntilS) speedRpm = 0;
    if (running && speedRpm > 450 && startedAtS === Infinity) startedAtS = now;

    // Slow things.
    const heat = running ? 0.35 + engineFlowGPerS / 25 : 0;
    coolantC += STEP_S * (heat * 0.25 - (coolantC > thermostatC ? (coolantC - thermostatC) * 0.4 : 0) - (coolantC - car.ambientC) * 0.0006);
    batteryV +=
      (STEP_S / (STEP_S + 0.3)) * ((now < offUntilS ? 12.4 : now < startedAtS ? 10.4 : 14.1 - 0.25 * (speedRpm < 900 ? 1 : 0)) - batteryV);
    exhaustC += (STEP_S / (STEP_S + 3)) * (exhausts[0].gasC * (running ? 1 : 0.3) - exhaustC);
    fuelPressureKPa +=
      (STEP_S / (STEP_S + 0.08)) *
      ((now > offUntilS - 1.5 ? 300 + (air.pressureKPa - car.barometerKPa) : 0) * (wrong?.fuelPressureFactor ?? 1) - fuelPressureKPa);

    // Engine computer.
    pressureNoise = pressureNoise * 0.9 + 0.1 * noise.normal();
    inputs.timeS = now;
    inputs.speedRpm = speedRpm;
    inputs.throttlePercent = throttlePercent;
    inputs.pedalPercent = controls.pedalPercent;
    inputs.chargeC = chargeC;
    inputs.coolantC = coolantC + (wrong?.coolantC ?? 0);
    inputs.batteryV = batteryV;
    inputs.pressureKPa = air.pressureKPa + pressureNoise * (0.8 + (speedRpm > 200 ? Math.min(1.2, 900 / speedRpm) : 0)); // the sensor sees the intake strokes too
    if (car.fuelTableQuantity === 'mass-air-flow') inputs.meterV = signalAt(Math.max(0.02, air.throttleFlowGPerS)) + 0.004 * noise.normal();
    inputs.lambda = (sensors[0].lambda + sensors[car.banks - 1].lambda) / 2;
    inputs.lambdaReady = now > readyAtS;
    inputs.sinceStartS = Math.max(0, now - startedAtS);
    computer.sense(STEP_S, inputs);
    if (step % TASK_EVERY === 0) {
      computer.task(inputs);
      if (computer.cut && Number.isNaN(cutSinceS)) cutSinceS = now;
      if (!computer.cut && !Number.isNaN(cutSinceS)) {
        spans.push({ kind: 'overrun', fromS: cutSinceS, toS: now, gear: controls.gear });
        cutSinceS = NaN;
      }
    }

    // Cylinders, by crank angle.
    angleDeg += speedRpm * 6 * STEP_S;
    while (nextInjectionDeg <= angleDeg) {
      const cylinder = injections++ % car.cylinders;
      const { fuelMg, pulseMs } = computer.inject(inputs);
      const overInjectorKPa = Math.max(0, fuelPressureKPa - (air.pressureKPa - car.barometerKPa));
      const injectedMg =
        fuelMg === 0
          ? 0
          : Math.max(0, pulseMs - deadTimeMsOf(car, batteryV)) *
            injectorMgPerMs(car) *
            Math.sqrt(overInjectorKPa / car.injector.ratedPressureKPa) *
            car.cylinderFuel[cylinder] *
            (wrong?.fuelFactor ?? 1);
      toIntake.push({ cylinder, dueDeg: nextInjectionDeg + car.injectionToIntakeDeg, fuelledS: now, injectedMg, airMg: 0, phi: 0 });
      nextInjectionDeg += spacingDeg;
    }
    while (toIntake.length && toIntake[0].dueDeg <= angleDeg) {
      const charge = toIntake.shift()!,
        { cylinder } = charge,
        coldPart = Math.max(0, Math.min(1, (65 - coolantC) / 60));
      const cycleS = 120 / Math.max(150, speedRpm),
        share = car.film.share + 0.3 * coldPart,
        tauS = car.film.tauS * (1 + 2.5 * coldPart);
      const fromFilmMg = filmMg[cylinder] * (1 - Math.exp(-cycleS / tauS));
      filmMg[cylinder] += share * charge.injectedMg - fromFilmMg;
      const vapourMg = ((1 - share) * charge.injectedMg + fromFilmMg) * (1 - 0.14 * coldPart);
      charge.airMg = cylinderAirMg * car.cylinderAir[cylinder] * (1 + 0.006 * noise.normal());
      charge.phi = (vapourMg * car.fuel.stoichAfr) / charge.airMg;
      burnedPhi += 0.5 * (charge.phi - burnedPhi);
      mixture.push({ fuelledS: charge.fuelledS, phi: charge.phi });
      charge.dueDeg += car.injectionToExhaustDeg - car.injectionToIntakeDeg;
      toExhaust.push(charge);
    }
    while (toExhaust.length && toExhaust[0].dueDeg <= angleDeg) {
      const charge = toExhaust.shift()!,
        bank = charge.cylinder % car.banks;
      // What a cell can burn off at its surface counts as burned; fuel that passed a dead cylinder mostly does not reach it.
      const phi = charge.cylinder === wrong?.misfiring ? 0.15 * charge.phi : charge.phi;
      exhausts[bank].push(
        charge.airMg + (charge.phi * charge.airMg) / car.fuel.stoichAfr,
        phi / (1 + (wrong?.exhaustLeak ?? 0)),
        charge.fuelledS,
      );
    }
    for (let bank = 0; bank < car.banks; bank++) {
      exhausts[bank].step(STEP_S, engineFlowGPerS);
      sensors[bank].step(STEP_S, now, exhausts[bank]);
    }

    // Logger.
    const reading = (name: string): number => {
      switch (name) {
        case 'engine-speed':
          return computer.speedRpm < 30 ? 0 : computer.speedRpm + noise.normal() * 2;
        case 'manifold-pressure':
          return computer.pressureKPa;
        case 'barometric-pressure':
          return car.barometerKPa;
        case 'throttle':
          return throttlePercent;
        case 'pedal':
          return controls.pedalPercent;
        case 'lambda':
          return sensors[0].lambda;
        case 'lambda-2':
          return sensors[car.banks - 1].lambda;
        case 'target-lambda':
          return computer.targetLambda;
        case 'short-term-fuel-trim':
        case 'short-term-fuel-trim-2':
          return 100 * computer.shortTrim;
        case 'long-term-fuel-trim':
        case 'long-term-fuel-trim-2':
          return 100 * computer.longTrim;
        case 'intake-air-temperature':
          return computer.chargeC;
        case 'coolant-temperature':
          return inputs.coolantC;
        case 'exhaust-gas-temperature':
          return exhaustC;
        case 'fuel-pressure':
          return Math.max(0, fuelPressureKPa + (fuelPressureKPa > 5 ? 1.5 * noise.normal() : 0));
        case 'ignition-advance':
          return computer.advanceDeg - (wrong?.knockRetardDeg ?? 0);
        case 'knock-retard':
          return computer.knockRetardDeg + (wrong?.knockRetardDeg ?? 0);
        case 'injector-pulse-width':
          return computer.pulseMs;
        case 'injector-duty':
          return computer.dutyPercent;
        case 'mass-air-flow-signal':
          return computer.meterV;
        case 'mass-air-flow':
          return car.fuelTableQuantity === 'mass-air-flow' ? computer.meterGPerS : engineFlowGPerS;
        case 'vehicle-speed':
          return speedMps * 3.6;
        case 'battery-voltage':
          return batteryV + 0.03 * noise.normal();
        case 'ethanol-content':
          return car.fuel.ethanolPercent;
        case 'engine-load':
          return (100 * cylinderAirMg) / (((1.184 * car.displacementL) / car.cylinders) * 1000);
        case 'gear':
          return controls.gear;
        case 'fuel-cut':
          return computer.cut ? 1 : 0;
        default:
          throw new Error(`no such channel to log: ${name}`);
      }
    };
    if (car.log.polled) {
      while (polledUpTo < names.length && now >= rowStartS + ((polledUpTo + 0.5) / names.length) * (rowEndS - rowStartS)) {
        pending[polledUpTo] = reading(names[polledUpTo]);
        polledUpTo++;
      }
    }
    if (now >= rowEndS && (!car.log.polled || polledUpTo === names.length)) {
      timeS[row] = car.log.polled ? now : row / rateHz;
      names.forEach((name, i) => {
        const every = car.log.everyRows[name] ?? 1;
        if ((row + i) % every === 0)
          values.get(name)![row] = loggedValue(name, car.log.polled ? pending[i] : reading(name), car.log.polled);
      });
      truth.sensorLambda[row] = sensors[0].cleanLambda;
      truth.delayS[row] = sensors[0].delayS;
      truth.gasDelayS[row] = sensors[0].gasDelayS;
      truth.airFlowGPerS[row] = engineFlowGPerS;
      truth.speedRpm[row] = speedRpm;
      truth.pressureKPa[row] = air.pressureKPa;
      truth.meterV[row] = inputs.meterV;
      truth.torqueNm[row] = torqueNm;
      truth.cut[row] = computer.cut ? 1 : 0;
      truth.enriched[row] = computer.enriched ? 1 : 0;
      truth.coolantC[row] = coolantC;
      row++;
      polledUpTo = 0;
      rowStartS = now;
      rowEndS = car.log.polled ? now + (1 + 0.06 * pollNoise.normal()) / rateHz : row / rateHz;
    }
  }

  const endS = timeS[rows - 1];
  if (cold) {
    spans.push({ kind: 'engine-off', fromS: 0, toS: offUntilS, gear: 0 }, { kind: 'cranking', fromS: offUntilS, toS: startedAtS, gear: 0 });
    const warmRow = truth.coolantC.findIndex((c) => c > 68);
    spans.push({ kind: 'warm-up', fromS: startedAtS, toS: warmRow < 0 ? endS : timeS[warmRow], gear: 0 });
  }
  if (!Number.isNaN(cutSinceS)) spans.push({ kind: 'overrun', fromS: cutSinceS, toS: endS, gear: controls.gear });
  return {
    car,
    seed,
    rateHz,
    timeS,
    channels: new Map(names.map((name) => [name, { unit: dialScale(name).unit, values: values.get(name)! }])),
    truth: {
      fuelTable,
      perfectTable: perfect,
      factor: perfect.values.map((value, i) => value / fuelTable.values[i]),
      targetTable,
      mixtureLambda: mixtureAt(mixture, timeS, car.cylinders),
      ...truth,
      sensorReadyAtS: readyAtS,
      events: [...driver.events, ...spans].sort((a, b) => a.fromS - b.fromS),
    },
  };
}

/** λ of the charges fuelled about each moment: one of each cylinder, φ averaged. */
function mixtureAt(mixture: readonly { fuelledS: number; phi: number }[], timeS: Float64Array, cylinders: number): Float64Array {
  let at = 0;
  return timeS.map((now) => {
    while (at + 1 < mixture.length && mixture[at + 1].fuelledS <= now) at++;
    const from = Math.max(0, at - (cylinders >> 1) + 1),
      part = mixture.slice(from, from + cylinders);
    if (part.length === 0 || Math.abs(part[0].fuelledS - now) > 1) return NaN;
    const phi = part.reduce((sum, charge) => sum + charge.phi, 0) / part.length;
    return phi < 0.02 ? Infinity : 1 / phi;
  });
}

/** The meter's true signal at a flow: the true transfer curve turned round. */
function meterSignal(car: Car): (flowGPerS: number) => number {
  const count = 2000,
    flows = Float64Array.from({ length: count }, (_, i) => car.airFlowAt(0.35 + (4.8 * i) / (count - 1)));
  return (flow) => {
    let low = 0,
      high = count - 1;
    while (high - low > 1) {
      const mid = (low + high) >> 1;
      if (flows[mid] <= flow) low = mid;
      else high = mid;
    }
    return 0.35 + (4.8 * (low + Math.max(0, Math.min(1, (flow - flows[low]) / (flows[high] - flows[low] || 1))))) / (count - 1);
  };
}
