// Air and fuel by the handbook: speed-density, volumetric efficiency, fuel by mixture and by injector, and the injector that a power wants.

import { DRY_AIR_J_PER_KG_K, KELVIN } from './weather.js';

/** Air in a cylinder and cycle, mg: VE p V / (R T), volumetric efficiency by the manifold's density (Heywood 1988, ch. 2). */
export const airPerCycleMg = (ve: number, pressureKPa: number, cylinderL: number, temperatureC: number): number =>
  (ve * pressureKPa * cylinderL * 1e6) / (DRY_AIR_J_PER_KG_K * (temperatureC + KELVIN));

/** Air of a four-stroke engine, g/s: one cycle each two turns. */
export const airFlowGPerS = (ve: number, pressureKPa: number, displacementL: number, temperatureC: number, rpm: number): number =>
  (airPerCycleMg(ve, pressureKPa, displacementL, temperatureC) * rpm) / 120 / 1000;

/** The way back: what share of the manifold's air the engine took. */
export const volumetricEfficiency = (
  airGPerS: number,
  pressureKPa: number,
  displacementL: number,
  temperatureC: number,
  rpm: number,
): number => airGPerS / airFlowGPerS(1, pressureKPa, displacementL, temperatureC, rpm);

/** Fuel that burns so much air at a lambda, g/s (or mg for mg). */
export const fuelOfAir = (air: number, lambda: number, stoichAfr: number): number => air / (lambda * stoichAfr);

/** Fuel of all injectors, g/s. `duty`: share of time open and flowing; orifice law for the pressure over the injector. */
export const fuelOfInjectorsGPerS = (
  flowCcPerMin: number,
  densityKgPerM3: number,
  injectors: number,
  duty: number,
  pressureRatio: number,
): number => (((flowCcPerMin / 60) * densityKgPerM3) / 1000) * injectors * duty * Math.sqrt(pressureRatio);

/**
 * Flow that each injector must have at its rated pressure, cc/min, for a power at a duty (power × specific consumption / (injectors ×
 * duty)).
 */
export const injectorSizeCcPerMin = (
  powerKW: number,
  fuelGPerKWh: number,
  injectors: number,
  duty: number,
  densityKgPerM3: number,
): number => (powerKW * fuelGPerKWh) / 60 / (injectors * duty) / (densityKgPerM3 / 1000);
