// Air from the filter to the manifold: a throttle as a compressible orifice, a manifold that fills and empties, a blower or a turbocharger
// before it.

import type { Car } from './cars.js';

const AIR_GAS_CONSTANT = 287.055,
  GAMMA = 1.4,
  CRITICAL_RATIO = 0.5283,
  CHOKED = 0.6847; // dry air, γ 1.4: textbook orifice flow

/** Flow function of an orifice over the pressure ratio (1 where there is no flow, choked below 0.528). */
export function flowFunction(ratio: number): number {
  if (ratio >= 1) return 0;
  if (ratio <= CRITICAL_RATIO) return CHOKED;
  return Math.sqrt(((2 * GAMMA) / (GAMMA - 1)) * (ratio ** (2 / GAMMA) - ratio ** ((GAMMA + 1) / GAMMA)));
}

/** The flow function from a table over √(1 − ratio), where it is nearly straight: it is asked millions of times a drive. */
const STEPS = 1024,
  WIDTH = Math.sqrt(1 - CRITICAL_RATIO);
const TABULATED = Float64Array.from({ length: STEPS + 2 }, (_, i) => flowFunction(1 - ((WIDTH * i) / STEPS) ** 2));
const fastFlow = (ratio: number): number => {
  if (ratio >= 1) return 0;
  if (ratio <= CRITICAL_RATIO) return CHOKED;
  const at = (Math.sqrt(1 - ratio) / WIDTH) * STEPS,
    i = Math.floor(at);
  return TABULATED[i] + (TABULATED[i + 1] - TABULATED[i]) * (at - i);
};

export interface AirPath {
  /** Manifold pressure, kPa absolute. */
  readonly pressureKPa: number;
  /** Before the throttle, kPa absolute. */
  readonly upstreamKPa: number;
  readonly chargeC: number;
  /** Through the throttle (what a meter before it sees), g/s. */
  readonly throttleFlowGPerS: number;
  step(dtS: number, input: { throttlePercent: number; idleAreaMm2: number; speedRpm: number; engineFlowGPerS: number }): void;
}

/** Open area at a throttle position (a disc turning in a pipe), mm². */
export function throttleAreaMm2(car: Car, throttlePercent: number): number {
  const closedRad = 0.12,
    angleRad = closedRad + (Math.PI / 2 - closedRad) * Math.max(0, Math.min(1, throttlePercent / 100));
  return (Math.PI / 4) * car.throttleDiameterMm ** 2 * Math.max(0, 1 - Math.cos(angleRad) / Math.cos(closedRad));
}

export function airPathOf(car: Car, start: { pressureKPa: number; chargeC: number }): AirPath {
  let pressureKPa = start.pressureKPa,
    upstreamKPa = car.barometerKPa,
    chargeC = start.chargeC,
    spool = 0,
    bypass = 0,
    throttleFlowGPerS = 0;
  const spoolFlowGPerS = (car.displacementL * 0.9 * 1.18 * 3400) / 120; // half-way up the speed range at full filling
  return {
    get pressureKPa() {
      return pressureKPa;
    },
    get upstreamKPa() {
      return upstreamKPa;
    },
    get chargeC() {
      return chargeC;
    },
    get throttleFlowGPerS() {
      return throttleFlowGPerS;
    },
    step(dtS, { throttlePercent, idleAreaMm2, speedRpm, engineFlowGPerS }) {
      if (car.aspiration === 'supercharged') {
        const open = Math.max(0, Math.min(1, (throttlePercent - 15) / 45));
        bypass += (dtS / (dtS + 0.08)) * (open - bypass);
        upstreamKPa = car.barometerKPa + car.boostKPa * bypass * 1.05 * (speedRpm / car.revLimitRpm) ** car.blowerExponent;
      } else if (car.aspiration === 'turbocharged') {
        const drive = Math.min(1, 1.25 * (engineFlowGPerS / spoolFlowGPerS) ** 1.4);
        const tauS = 0.25 + 0.6 / (0.4 + engineFlowGPerS / spoolFlowGPerS);
        spool += (dtS / (dtS + tauS)) * (drive - spool);
        upstreamKPa = car.barometerKPa + car.boostKPa * spool;
      }
      const ratio = upstreamKPa / car.barometerKPa,
        ambientK = car.ambientC + 273.15;
      const compressedK = ((ambientK * (ratio ** 0.286 - 1)) / 0.68) * 0.35;
      const soakC = 14 / (1 + engineFlowGPerS / 8);
      chargeC += (dtS / (dtS + 10)) * (car.ambientC + compressedK + soakC - chargeC);

      const kelvin = chargeC + 273.15,
        areaM2 = (throttleAreaMm2(car, throttlePercent) + idleAreaMm2) * 1e-6 * 0.82;
      const into = (p: number): number =>
        p <= upstreamKPa
          ? ((areaM2 * upstreamKPa * 1e6) / Math.sqrt(AIR_GAS_CONSTANT * kelvin)) * fastFlow(p / upstreamKPa)
          : ((-areaM2 * p * 1e6) / Math.sqrt(AIR_GAS_CONSTANT * kelvin)) * fastFlow(upstreamKPa / p);
      // dp/dt = RT/V (in − out); one implicit step, since a wide-open throttle makes this stiff. The engine's draw goes with pressure.
      const kPaPerG = ((AIR_GAS_CONSTANT * kelvin) / (car.manifoldVolumeL * 1e-3)) * 1e-6;
      const drawPerKPa = engineFlowGPerS / Math.max(5, pressureKPa);
      let low = 5,
        high = Math.max(upstreamKPa, pressureKPa) + 1;
      const startKPa = pressureKPa;
      for (let i = 0; i < 22; i++) {
        const mid = (low + high) / 2;
        if (mid - startKPa - dtS * kPaPerG * (into(mid) - drawPerKPa * mid) > 0) high = mid;
        else low = mid;
      }
      pressureKPa = (low + high) / 2;
      throttleFlowGPerS = into(pressureKPa);
    },
  };
}
