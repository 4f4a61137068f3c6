// The air that the engine breathes, and what an engine would give in the reference weather of the two standards.

import { parseUnitOf } from '../../quantities/parseUnit.js';
import type { Dimension } from '../../quantities/units.js';
import type { Signals } from '../signals.js';

/** Gas constants, J/(kg K): 8.314462618 J/(mol K) over 28.9647 g/mol of dry air and 18.0153 g/mol of water. */
export const DRY_AIR_J_PER_KG_K = 287.055;
const VAPOUR_J_PER_KG_K = 461.52;
export const KELVIN = 273.15;

/** Pressure of saturated water vapour, kPa; Magnus' form with the coefficients of WMO No. 8, for −45 to 60 °C. */
export const saturationKPa = (temperatureC: number): number => 0.6112 * Math.exp((17.62 * temperatureC) / (243.12 + temperatureC));

/** Pressure of the air without its vapour, kPa. */
export const dryAirKPa = (pressureKPa: number, temperatureC: number, humidityPercent: number): number =>
  pressureKPa - (humidityPercent / 100) * saturationKPa(temperatureC);

/** Density of moist air, kg/m³: two ideal gases. */
export const airDensityKgPerM3 = (pressureKPa: number, temperatureC: number, humidityPercent: number): number => {
  const dryKPa = dryAirKPa(pressureKPa, temperatureC, humidityPercent);
  return ((dryKPa / DRY_AIR_J_PER_KG_K + (pressureKPa - dryKPa) / VAPOUR_J_PER_KG_K) * 1000) / (temperatureC + KELVIN);
};

/** SAE J1349, spark ignition: power in reference air (99 kPa dry, 25 °C) over power as measured. 273 and 298 are as printed there. */
export const saeJ1349 = (dryKPa: number, temperatureC: number): number =>
  1.18 * (99 / dryKPa) * Math.sqrt((temperatureC + 273) / 298) - 0.18;

/** ISO 1585 (UN R85), spark ignition: likewise. The standard lets it be used between 0.93 and 1.07. */
export const iso1585 = (dryKPa: number, temperatureC: number): number => (99 / dryKPa) ** 1.2 * ((temperatureC + 273) / 298) ** 0.6;
export const ISO_1585_RANGE = [0.93, 1.07] as const;

export interface Weather {
  /** Undefined where nothing tells. `from` in words. */
  readonly pressure: { readonly kPa: number; readonly from: string } | undefined;
  readonly temperature: { readonly c: number; readonly from: string } | undefined;
  readonly humidity: { readonly percent: number; readonly from: string } | undefined;
}

/**
 * A session's own notes first, then what it logs, then vehicle.json. The intake's own temperature stands for the air's only where no blower
 * heats it.
 */
export const weatherOf = (signals: Signals, intakeC: number | undefined): Weather => {
  const { metadata } = signals.session;
  const { weather, engine } = signals.vehicle;
  const pressure = noted(metadata, ['air pressure', 'barometric pressure', 'barometer'], 'pressure');
  const temperature = noted(metadata, ['air temperature', 'ambient temperature'], 'temperature');
  const humidity = noted(metadata, ['humidity', 'relative humidity', 'air humidity'], 'ratio');
  const { barometer } = signals;
  return {
    pressure:
      pressure !== undefined && pressure >= 50 && pressure <= 110
        ? { kPa: pressure, from: 'noted in the session' }
        : barometer.from === 'channel'
          ? { kPa: barometer.kPa, from: 'logged' }
          : barometer.from === 'engine-off'
            ? { kPa: barometer.kPa, from: 'the manifold before the start' }
            : weather.pressureKPa !== undefined
              ? { kPa: weather.pressureKPa, from: 'vehicle.json' }
              : undefined,
    temperature:
      temperature !== undefined && temperature >= -60 && temperature <= 60
        ? { c: temperature, from: 'noted in the session' }
        : weather.temperatureC !== undefined
          ? { c: weather.temperatureC, from: 'vehicle.json' }
          : engine.aspiration === 'natural' && intakeC !== undefined && intakeC < 60
            ? { c: intakeC, from: 'intake air as logged' }
            : undefined,
    humidity:
      humidity !== undefined && humidity >= 0 && humidity <= 100
        ? { percent: humidity, from: 'noted in the session' }
        : weather.humidityPercent !== undefined
          ? { percent: weather.humidityPercent, from: 'vehicle.json' }
          : undefined,
  };
};

/** `# air pressure: 978 mbar` in the canonical unit; undefined where it is not there or its unit is not known. */
export const noted = (metadata: ReadonlyMap<string, string>, keys: readonly string[], dimension: Dimension): number | undefined => {
  for (const key of keys) {
    const match = /^\s*([-+]?\d+(?:[.,]\d+)?)\s*(\S.*)?$/.exec(metadata.get(key) ?? '');
    const unit = match?.[2] === undefined ? undefined : parseUnitOf(match[2].trim(), dimension);
    if (match && unit?.factor !== undefined) return Number(match[1].replace(',', '.')) * unit.factor + (unit.offset ?? 0);
  }
  return undefined;
};
