// The simulated engine computer: reads its sensors (late and noisy), looks the fuel up, enriches, cuts, trims, holds the idle.

import { airMgOf, deadTimeMsOf, injectorMgPerMs, REFERENCE_TEMPERATURE_C, type Car } from './cars.js';
import { read, type Grid } from './grid.js';
import type { Random } from './random.js';

/** What is wired to it, brought up to date by the simulation before each task. */
export interface Inputs {
  timeS: number;
  speedRpm: number;
  pressureKPa: number;
  meterV: number;
  throttlePercent: number;
  pedalPercent: number;
  chargeC: number;
  coolantC: number;
  batteryV: number;
  lambda: number;
  lambdaReady: boolean;
  sinceStartS: number;
}

export interface EngineComputer {
  /** Sensed values, as it fuels by and as it logs. */
  readonly speedRpm: number;
  readonly pressureKPa: number;
  readonly meterV: number;
  readonly chargeC: number;
  readonly meterGPerS: number;
  readonly targetLambda: number;
  readonly pulseMs: number;
  readonly dutyPercent: number;
  readonly cut: boolean;
  readonly shortTrim: number;
  readonly longTrim: number;
  readonly advanceDeg: number;
  readonly knockRetardDeg: number;
  readonly idleAreaMm2: number;
  /** Whether anything beyond table, target and trims shapes the fuel now (warm-up, after start, tip-in). */
  readonly enriched: boolean;
  sense(dtS: number, inputs: Inputs): void;
  /** Every 10 ms. */
  task(inputs: Inputs): void;
  /** One injection: the fuel commanded (mg), and the pulse for it. Zero while cut. */
  inject(inputs: Inputs): { fuelMg: number; pulseMs: number };
}

const TASK_S = 0.01;

export function engineComputerOf(
  car: Car,
  fuelTable: Grid,
  targetTable: Grid,
  random: Random,
  options: { fuelCut: boolean },
): EngineComputer {
  let drawnPerRpm = NaN,
    speedRpm = NaN,
    pressureKPa = car.barometerKPa,
    meterV = 0.35,
    chargeC = NaN,
    meterGPerS = 0;
  let targetLambda = 1,
    pulseMs = 0,
    dutyPercent = 0,
    cut = false,
    closedForS = 0,
    tipIn = 0,
    rise = 0,
    previousThrottle = 0,
    previousKPa = 40,
    movedAgoS = 1;
  let integral = 0,
    proportional = 0,
    closedAfterS = 0,
    advanceDeg = 10,
    knockRetardDeg = 0,
    idleAreaMm2 = 12,
    idleSum = 12,
    enriched = false,
    active = false;
  let wantedMg = 0,
    filmMg = 0; // what it believes stands on the port walls of one cylinder
  const zones = new Float64Array(9);
  const zone = (): number => 3 * Math.min(2, Math.floor(speedRpm / 2000)) + Math.min(2, Math.max(0, Math.floor((pressureKPa - 25) / 22)));
  const warmUp = (coolantC: number): number => 0.32 * Math.max(0, Math.min(1, (68 - coolantC) / 60)) ** 1.3;
  const shortTrim = (): number => (active ? integral + proportional : 0);
  const longTrim = (): number => (car.ecu.longTerm ? zones[zone()] : 0);

  function closeLoop(inputs: Inputs): void {
    const may =
      car.ecu.closedLoop !== 'none' &&
      inputs.lambdaReady &&
      inputs.coolantC > 40 &&
      !cut &&
      inputs.sinceStartS > 12 &&
      Math.abs(targetLambda - 1) < 0.015 &&
      speedRpm > 500;
    closedAfterS = may ? closedAfterS + TASK_S : 0;
    active = closedAfterS > 0.5;
    if (!active) {
      integral *= 0.98;
      proportional = 0;
      return;
    }
    // The answer comes a delay later: slow enough to be stable at idle.
    const miss = inputs.lambda / targetLambda - 1;
    if (car.ecu.closedLoop === 'wideband') {
      integral += 0.55 * Math.max(-0.15, Math.min(0.15, miss)) * TASK_S;
      proportional = 0.15 * Math.max(-0.15, Math.min(0.15, miss));
    } else {
      const lean = miss > 0 ? 1 : -1;
      integral += 0.022 * lean * TASK_S;
      proportional = 0.012 * lean;
    }
    integral = Math.max(-0.2, Math.min(0.2, integral));
    if (car.ecu.longTerm && closedAfterS > 2) {
      const i = zone(),
        take = (integral * TASK_S) / 12;
      zones[i] = Math.max(-0.2, Math.min(0.2, zones[i] + take));
      integral -= take;
    }
  }

  function holdIdle(inputs: Inputs): void {
    const wanted = car.idleRpm + 350 * Math.max(0, Math.min(1, (70 - inputs.coolantC) / 60)),
      miss = wanted - speedRpm;
    if (inputs.throttlePercent < 1.5 && speedRpm < wanted + 350 && speedRpm > 300)
      idleSum = Math.max(3, Math.min(60, idleSum + 0.006 * Math.max(-200, Math.min(200, miss)) * TASK_S * car.displacementL));
    idleAreaMm2 = Math.max(3, idleSum + (inputs.throttlePercent < 1.5 ? Math.max(-4, Math.min(12, 0.008 * miss * car.displacementL)) : 4));
    // Above idle it lets some air past a closed throttle, as engines do on the overrun to keep oil out of the chambers.
    if (inputs.throttlePercent < 1.5) idleAreaMm2 += 0.0038 * car.displacementL * Math.max(0, speedRpm - wanted - 200);
    if (speedRpm < 450) idleAreaMm2 = 35;
  }

  return {
    get speedRpm() {
      return speedRpm;
    },
    get pressureKPa() {
      return pressureKPa;
    },
    get meterV() {
      return meterV;
    },
    get chargeC() {
      return chargeC;
    },
    get meterGPerS() {
      return meterGPerS;
    },
    get targetLambda() {
      return targetLambda;
    },
    get pulseMs() {
      return pulseMs;
    },
    get dutyPercent() {
      return dutyPercent;
    },
    get cut() {
      return cut;
    },
    get shortTrim() {
      return shortTrim();
    },
    get longTrim() {
      return longTrim();
    },
    get advanceDeg() {
      return advanceDeg;
    },
    get knockRetardDeg() {
      return knockRetardDeg;
    },
    get idleAreaMm2() {
      return idleAreaMm2;
    },
    get enriched() {
      return enriched;
    },
    sense(dtS, inputs) {
      if (Number.isNaN(chargeC)) {
        chargeC = inputs.chargeC;
        speedRpm = inputs.speedRpm;
        pressureKPa = inputs.pressureKPa;
        meterV = inputs.meterV;
      }
      speedRpm += (dtS / (dtS + 0.01)) * (inputs.speedRpm - speedRpm);
      pressureKPa += (dtS / (dtS + car.ecu.pressureLagS)) * (inputs.pressureKPa - pressureKPa);
      meterV += (dtS / (dtS + 0.012)) * (inputs.meterV - meterV);
      chargeC += (dtS / (dtS + 0.4)) * (inputs.chargeC - chargeC);
    },
    task(inputs) {
      targetLambda = read(targetTable, speedRpm, pressureKPa);
      const rate = (inputs.throttlePercent - previousThrottle) / TASK_S;
      previousThrottle = inputs.throttlePercent;
      // The port is filled before the intake shuts: fuel for the pressure that will be there then, and a little by the pedal.
      const pressureRate = (pressureKPa - previousKPa) / TASK_S,
        untilShutS = car.injectionToIntakeDeg / 6 / Math.max(400, speedRpm) + car.ecu.pressureLagS;
      previousKPa = pressureKPa;
      movedAgoS = Math.abs(rate) > 12 ? 0 : movedAgoS + TASK_S;
      rise += 0.5 * ((pressureRate > 25 && movedAgoS < 0.3 ? Math.min(0.7, (0.75 * pressureRate * untilShutS) / pressureKPa) : 0) - rise);
      tipIn = Math.max(tipIn * Math.exp(-TASK_S / 0.25), rate > 60 ? Math.min(0.35, car.ecu.tipInGain * rate * 0.3) : 0);
      closedForS = inputs.throttlePercent < 1.5 ? closedForS + TASK_S : 0;
      if (options.fuelCut && !cut && closedForS > 0.45 && speedRpm > car.ecu.cutAboveRpm && inputs.coolantC > 30) cut = true;
      if (cut && (closedForS === 0 || speedRpm < car.ecu.cutUntilRpm)) cut = false;
      if (speedRpm > car.revLimitRpm + 60) cut = true;
      closeLoop(inputs);
      holdIdle(inputs);
      const x = speedRpm / car.revLimitRpm;
      knockRetardDeg = Math.max(0, knockRetardDeg - 0.5 * TASK_S);
      if (pressureKPa > 92 && speedRpm > 1500 && random.chance(TASK_S / 70)) knockRetardDeg = 0.8;
      const idleSpark = inputs.throttlePercent < 1.5 && speedRpm < car.idleRpm + 400 ? 0.02 * (car.idleRpm - speedRpm) - 8 : 0;
      advanceDeg = Math.max(-2, Math.min(38, 14 + 22 * x ** 0.55 - 0.115 * (pressureKPa - 45) + idleSpark)) - knockRetardDeg;
    },
    inject(inputs) {
      const warm = warmUp(inputs.coolantC),
        afterStart = 0.22 * Math.exp(-inputs.sinceStartS / 7),
        cranking = speedRpm < 450 ? 0.6 : 0;
      enriched = warm + afterStart + cranking + tipIn + rise > 0.003;
      const shape = (1 + warm + afterStart + cranking) * (1 + tipIn + rise) * (1 + shortTrim()) * (1 + longTrim());
      const kelvinRatio = (REFERENCE_TEMPERATURE_C + 273.15) / (chargeC + 273.15);
      let fuelMg: number;
      switch (car.fuelTableQuantity) {
        case 'volumetric-efficiency':
          fuelMg = airMgOf(car, read(fuelTable, speedRpm, pressureKPa) / 100, pressureKPa, chargeC) / (car.fuel.stoichAfr * targetLambda);
          break;
        case 'fuel-mass':
          fuelMg = read(fuelTable, speedRpm, pressureKPa) * kelvinRatio;
          break;
        case 'injector-pulse-width':
          fuelMg = (read(fuelTable, speedRpm, pressureKPa) - deadTimeMsOf(car, 14)) * injectorMgPerMs(car) * kelvinRatio;
          break;
        case 'mass-air-flow':
          meterGPerS = read(fuelTable, meterV, 0);
          if (car.ecu.foreseesFilling) {
            // Its picture of the manifold: a cycle draws four fifths of the displacement, a cylinder its share of that.
            const holdsCylinders = (car.cylinders * car.manifoldVolumeL) / (0.8 * car.displacementL),
              perRpm = meterGPerS / Math.max(200, speedRpm);
            drawnPerRpm = Number.isNaN(drawnPerRpm) ? perRpm : drawnPerRpm + (perRpm - drawnPerRpm) / (1 + holdsCylinders);
            meterGPerS = drawnPerRpm * Math.max(200, speedRpm);
          }
          fuelMg = (meterGPerS * 1000 * 120) / Math.max(200, speedRpm) / car.cylinders / (car.fuel.stoichAfr * targetLambda);
          break;
      }
      // Film compensation: inject so that what flies past the wall and what leaves it make up the fuel wanted. Its picture of the film is
      // not quite right.
      const cold = Math.max(0, Math.min(1, (65 - inputs.coolantC) / 60)),
        share = (car.film.share + 0.3 * cold) * car.ecu.filmMatch,
        tauS = car.film.tauS * (1 + 2.5 * cold);
      const leaving = filmMg * (1 - Math.exp(-120 / Math.max(150, speedRpm) / tauS));
      const meantMg = cut ? 0 : fuelMg * shape;
      wantedMg = meantMg === 0 ? 0 : Math.max(0.3 * meantMg, Math.min(2.5 * meantMg, (meantMg - leaving) / (1 - share)));
      filmMg += (share * wantedMg - leaving) / car.cylinders; // one of the cylinders injects at a time
      filmMg = Math.max(0, filmMg);
      if (meantMg > 0 && Math.abs(wantedMg / meantMg - 1) > 0.04) enriched = true;
      if (cut) {
        pulseMs = 0;
        dutyPercent = 0;
        return { fuelMg: 0, pulseMs: 0 };
      }
      const cycleMs = 120000 / Math.max(100, speedRpm);
      pulseMs = Math.min(cycleMs, wantedMg / injectorMgPerMs(car) + deadTimeMsOf(car, inputs.batteryV));
      dutyPercent = (100 * pulseMs) / cycleMs;
      return { fuelMg: wantedMg, pulseMs };
    },
  };
}
