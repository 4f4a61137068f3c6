// Exhaust from the ports to the sensor: parcels pushed through a pipe one behind the other, stirred in the collector, then seen by a slow
// cell.
// What is carried along is the mixture as φ (fuel needs add up by mass, λ does not), and when each parcel was fuelled.

import type { Car } from './cars.js';
import type { Random } from './random.js';

const EXHAUST_GAS_CONSTANT = 288;

export interface Exhaust {
  /** A cylinder opens: gas of a mass, with the φ it burned at and the moment it was fuelled. */
  push(massMg: number, phi: number, fuelledS: number): void;
  step(dtS: number, airFlowGPerS: number): void;
  /** At the sensor, before the cell: φ, and the mean moment that this gas was fuelled. */
  readonly phi: number;
  readonly fuelledS: number;
  readonly gasC: number;
}

export function exhaustOf(car: Car, nowS: number): Exhaust {
  // A ring of parcels; each keeps the total mass pushed in up to its end.
  const size = 4096,
    endMg = new Float64Array(size),
    phis = new Float64Array(size),
    fuelled = new Float64Array(size);
  let head = 0,
    tail = 0,
    pushedMg = 0,
    gasC = 450,
    outPhi = 1,
    outFuelledS = nowS,
    phi = 1,
    fuelledS = nowS,
    leftMg = 0;
  return {
    get phi() {
      return phi;
    },
    get fuelledS() {
      return fuelledS;
    },
    get gasC() {
      return gasC;
    },
    push(massMg, parcelPhi, at) {
      pushedMg += massMg;
      endMg[tail % size] = pushedMg;
      phis[tail % size] = parcelPhi;
      fuelled[tail % size] = at;
      tail++;
      if (tail - head > size) head = tail - size;
    },
    step(dtS, airFlowGPerS) {
      const hotC = 420 + 460 * Math.min(1, airFlowGPerS / (car.displacementL * 55));
      gasC += (dtS / (dtS + 4)) * (hotC - gasC);
      const backKPa = car.barometerKPa * (1 + 0.15 * Math.min(2, airFlowGPerS / (car.displacementL * 50)) ** 2);
      const litreMg = ((backKPa * 1e3 * 1e-3) / (EXHAUST_GAS_CONSTANT * (gasC + 273.15))) * 1e6;
      const pipeMg = litreMg * car.exhaustVolumeL * (1 - car.mixedShare),
        mixedMg = Math.max(1e-6, litreMg * car.exhaustVolumeL * car.mixedShare);
      const through = pushedMg - pipeMg;
      while (head < tail && endMg[head % size] <= through) {
        outPhi = phis[head % size];
        outFuelledS = fuelled[head % size];
        const massMg = endMg[head % size] - leftMg,
          share = 1 - Math.exp(-massMg / mixedMg);
        phi += share * (outPhi - phi);
        fuelledS += share * (outFuelledS - fuelledS);
        leftMg = endMg[head % size];
        head++;
      }
    },
  };
}

export interface LambdaSensor {
  step(dtS: number, timeS: number, exhaust: Exhaust): void;
  /** As the controller puts it out: noisy, in steps, at its end where the gas is beyond its range. */
  readonly lambda: number;
  /** The same without noise, steps and ends. */
  readonly cleanLambda: number;
  /** Mean age of what it shows: now minus the moment that gas was fuelled, its own lag and the logger's wait included. */
  readonly delayS: number;
  /** The part of `delayS` up to the gas at the sensor. */
  readonly gasDelayS: number;
}

/** A wideband cell: two lags in φ (its pump current goes with the oxygen missing or left over), slow and fast noise, a wait, a range. */
export function lambdaSensorOf(car: Car, random: Random, readyAtS: number): LambdaSensor {
  const { lagS, secondLagS, latencyS, range, whiteNoise, slowNoise, quantum } = car.lambdaSensor;
  let first = 1,
    second = 1,
    firstAt = NaN,
    secondAt = NaN,
    slow = 0,
    lambda = range[1],
    cleanLambda = 1,
    delayS = 0,
    gasDelayS = 0;
  const size = 64,
    waitingPhi = new Float64Array(size).fill(1),
    waitingAt = new Float64Array(size).fill(NaN);
  let count = 0;
  return {
    get lambda() {
      return lambda;
    },
    get cleanLambda() {
      return cleanLambda;
    },
    get delayS() {
      return delayS;
    },
    get gasDelayS() {
      return gasDelayS;
    },
    step(dtS, timeS, exhaust) {
      if (Number.isNaN(firstAt)) {
        firstAt = exhaust.fuelledS;
        secondAt = exhaust.fuelledS;
        waitingAt.fill(exhaust.fuelledS);
      }
      const a = 1 - Math.exp(-dtS / lagS),
        b = 1 - Math.exp(-dtS / secondLagS);
      first += a * (exhaust.phi - first);
      firstAt += a * (exhaust.fuelledS - firstAt);
      second += b * (first - second);
      secondAt += b * (firstAt - secondAt);
      waitingPhi[count % size] = second;
      waitingAt[count % size] = secondAt;
      const back = Math.min(size - 1, Math.round(latencyS / dtS)),
        at = (count - back + size * 1000) % size;
      count++;
      cleanLambda = 1 / Math.max(0.05, waitingPhi[at]);
      delayS = timeS - waitingAt[at];
      gasDelayS = timeS - exhaust.fuelledS;
      const keep = Math.exp(-dtS / 0.4);
      slow = slow * keep + Math.sqrt(1 - keep * keep) * slowNoise * random.normal();
      const read = timeS < readyAtS ? range[1] : cleanLambda * (1 + slow + whiteNoise * random.normal());
      lambda = Math.max(range[0], Math.min(range[1], Math.round(read / quantum) * quantum));
    },
  };
}
