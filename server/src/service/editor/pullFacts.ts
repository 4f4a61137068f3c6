// A pull's power, air and fuel in words: the same for the hover, the outline and the report.

import type { Table } from '../../formats/table/table.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { injectorSizeCcPerMin } from '../../signals/power/airMass.js';
import { powerOf, type PullPower } from '../../signals/power/power.js';
import { airOf, type PullAir } from '../../signals/power/pullAir.js';
import type { Pull, Signals } from '../../signals/signals.js';
import { limitOf } from '../../formats/limits.js';

export interface PullFacts {
  readonly rows: readonly (readonly [label: string, value: string])[];
  /** What was assumed, what the differences say, what could not be told: sentences. */
  readonly says: readonly string[];
  readonly assumed: readonly string[];
  readonly unknown: readonly string[];
}

/** Meter and speed-density that differ by less agree: neither is read better (common practice, no source). */
const AGREE_PERCENT = 4;
const ON_TARGET_PERCENT = 2.5;
/**
 * Heat in the fuel that a kilogram of air burns, MJ: near 2.95 for every usual fuel (lower heating value over stoichiometric ratio, Heywood
 * 1988 table D.4, from memory).
 */
const HEAT_MJ_PER_KG_AIR = 2.95;
/** Share of that heat that reaches the wheels at full load: outside, power or air is wrong (orders of magnitude, no source). */
const WHEEL_SHARE = [0.16, 0.4] as const;

export function pullFacts(signals: Signals, pull: Pull, fuelTable: Table | undefined): PullFacts {
  const rows: [string, string][] = [],
    says: string[] = [],
    assumed: string[] = [],
    unknown: string[] = [];
  const power = powerOf(signals, pull);
  if ('refused' in power) unknown.push(`Wheel power: ${power.refused}.`);
  else powerRows(power, rows, assumed, unknown);
  const air = airOf(signals, pull, fuelTable);
  if (air) airRows(air, rows, says, assumed, unknown);
  const known = 'refused' in power ? undefined : power;
  if (known && air) says.push(...doubts(known, air));
  goalRows(signals, known, air, rows, says, unknown);
  return { rows, says, assumed, unknown };
}

/** `112 ± 6 kW at the wheels`; undefined where it cannot be known. */
export function powerWords(signals: Signals, pull: Pull): string | undefined {
  const power = powerOf(signals, pull);
  return 'refused' in power
    ? undefined
    : `${Math.round(power.peak.powerKW)} ± ${Math.max(1, Math.round(power.plusMinusKW))} kW at the wheels`;
}

/** Wheel power at a sample of a pull, kW, between the nearest told; undefined outside of them. */
export function powerAt(signals: Signals, pull: Pull, sample: number): number | undefined {
  const power = powerOf(signals, pull);
  if ('refused' in power) return undefined;
  const after = power.points.findIndex((point) => point.sample >= sample);
  if (after < 0 || (after === 0 && power.points[0].sample > sample)) return undefined;
  const next = power.points[after],
    last = power.points[Math.max(0, after - 1)];
  const share = next.sample > last.sample ? (sample - last.sample) / (next.sample - last.sample) : 1;
  return last.powerKW + share * (next.powerKW - last.powerKW);
}

function powerRows(
  { peak, peakTorque, plusMinusKW, correction, speedFrom, windowS, assumed: taken }: PullPower,
  rows: [string, string][],
  assumed: string[],
  unknown: string[],
): void {
  const at = Number.isFinite(peak.rpm)
    ? `${Math.round(peak.rpm)} rpm, ${Math.round(peak.speedKmh)} km/h`
    : `${Math.round(peak.speedKmh)} km/h`;
  rows.push(['Wheel power', `${peak.powerKW.toFixed(0)} ± ${Math.max(1, plusMinusKW).toFixed(0)} kW (95 %) at ${at}`]);
  if (peakTorque) {
    rows.push([
      'Wheel torque',
      `${peakTorque.torqueNm.toFixed(0)} ± ${((peakTorque.torqueNm * plusMinusKW) / peak.powerKW).toFixed(0)} N m at engine speed, at ${Math.round(peakTorque.rpm)} rpm`,
    ]);
  }
  if ('refused' in correction) unknown.push(`Power in reference weather: ${correction.refused}.`);
  else {
    rows.push([
      'Corrected',
      `${(peak.powerKW * correction.saeJ1349).toFixed(0)} kW by SAE J1349 (× ${correction.saeJ1349.toFixed(3)}), ${(peak.powerKW * correction.iso1585).toFixed(0)} kW by ISO 1585 (× ${correction.iso1585.toFixed(3)}` +
        `${correction.iso1585InRange ? '' : ', outside of the 0.93 to 1.07 that the standard allows'})`,
    ]);
    assumed.push(`weather: ${correction.weather}`);
  }
  assumed.push(`speed: ${speedFrom}; acceleration over ${windowS} s`, ...taken);
}

function airRows(
  {
    speedDensity,
    meter,
    byFuel,
    fuel,
    rpm,
    pressureKPa,
    meterAbovePercent,
    meterSpreadPercent,
    lambdaOffPercent,
    assumed: taken,
    unknown: missing,
  }: PullAir,
  rows: [string, string][],
  says: string[],
  assumed: string[],
  unknown: string[],
): void {
  const where = `at ${Math.round(rpm)} rpm${pressureKPa === undefined ? '' : `, ${Math.round(pressureKPa)} kPa`}`;
  const ways = [
    speedDensity &&
      `${speedDensity.airGPerS.toFixed(0)} g/s by speed-density (VE ${(100 * speedDensity.ve).toFixed(1)} % in the table${speedDensity.airPerCycleMg === undefined ? '' : `, ${speedDensity.airPerCycleMg.toFixed(0)} mg a cylinder`})`,
    meter && `${meter.airGPerS.toFixed(0)} g/s by the meter${meter.ve === undefined ? '' : ` (VE ${(100 * meter.ve).toFixed(1)} %)`}`,
    byFuel && `${byFuel.airGPerS.toFixed(0)} g/s by fuel and lambda`,
  ].filter(Boolean);
  if (ways.length > 0) rows.push(['Air', `${ways.join('; ')}, ${where}`]);
  if (fuel) rows.push(['Fuel', `${fuel.gPerS.toFixed(1)} g/s by ${fuel.from}`]);
  if (meterAbovePercent !== undefined) {
    rows.push([
      'Meter against table',
      `${meterAbovePercent >= 0 ? '+' : '−'}${Math.abs(meterAbovePercent).toFixed(1)} %${meterSpreadPercent === undefined ? '' : ` ± ${meterSpreadPercent.toFixed(1)} %`}`,
    ]);
    says.push(differenceWords(meterAbovePercent, lambdaOffPercent));
  }
  assumed.push(...taken);
  unknown.push(...missing.map((each) => `${each[0].toUpperCase()}${each.slice(1)}.`));
}

/** What it means that meter and speed-density differ; the mixture decides between them. */
function differenceWords(abovePercent: number, lambdaOffPercent: number | undefined): string {
  const by = `${Math.abs(abovePercent).toFixed(0)} %`;
  if (Math.abs(abovePercent) < AGREE_PERCENT)
    return `Meter and speed-density agree within ${AGREE_PERCENT} %: two independent ways tell the same air.`;
  const more = abovePercent > 0;
  const start = `The meter reads ${by} ${more ? 'more' : 'less'} air than table and manifold tell.`;
  if (lambdaOffPercent === undefined) return `${start} Without lambda and a target nothing tells which is right.`;
  if (Math.abs(lambdaOffPercent) < ON_TARGET_PERCENT) {
    return `${start} The mixture is on target, so whichever of the two meters the fuel is right as it stands; look at the other: ${more ? 'VE cells too low or a meter curve too high' : 'VE cells too high, a meter curve too low, or air that enters behind the meter'}.`;
  }
  const lean = lambdaOffPercent > 0;
  const mixture = `The mixture is ${Math.abs(lambdaOffPercent).toFixed(0)} % ${lean ? 'leaner' : 'richer'} than asked for`;
  return more === lean
    ? `${start} ${mixture}, which speaks for the meter: the VE cells are too ${lean ? 'low' : 'high'}, if fuel pressure held.`
    : `${start} ${mixture}, which speaks against the meter: look for ${more ? 'a meter curve that reads high' : 'air that enters behind the meter, or a meter curve that reads low'}.`;
}

function doubts({ peak }: PullPower, air: PullAir): string[] {
  const airGPerS = air.meter?.airGPerS ?? air.byFuel?.airGPerS ?? air.speedDensity?.airGPerS;
  if (airGPerS === undefined || !(airGPerS > 0)) return [];
  const share = peak.powerKW / (airGPerS * HEAT_MJ_PER_KG_AIR);
  if (share >= WHEEL_SHARE[0] && share <= WHEEL_SHARE[1]) return [];
  return [
    `Do not believe this power before it is explained: it is ${(100 * share).toFixed(0)} % of the heat that ${airGPerS.toFixed(0)} g/s of air can burn, where ${100 * WHEEL_SHARE[0]} to ${100 * WHEEL_SHARE[1]} % reach the wheels. ` +
      (share < WHEEL_SHARE[0]
        ? 'Was the car held (dynamometer, climb, brake), or is the mass too small?'
        : 'Was it downhill, or are mass or air wrong?'),
  ];
}

/** Fuel and injectors that the wanted power takes. */
function goalRows(
  signals: Signals,
  power: PullPower | undefined,
  air: PullAir | undefined,
  rows: [string, string][],
  says: string[],
  unknown: string[],
): void {
  const {
    goal: { wheelPowerKW, fuelGPerKWh },
    engine: { cylinders },
    injectors,
  } = signals.vehicle;
  if (wheelPowerKW === undefined) return;
  const shown = power && air?.fuel ? (air.fuel.gPerS * 3600) / power.peak.powerKW : undefined;
  const consumption = fuelGPerKWh ?? shown;
  if (consumption === undefined) {
    unknown.push(
      `Fuel for the ${wheelPowerKW} kW wanted: goal.fuelGPerKWh is not stated, and this pull tells ${power ? 'no fuel flow' : 'no power'}.`,
    );
    return;
  }
  rows.push([
    `For ${wheelPowerKW} kW`,
    `${((wheelPowerKW * consumption) / 3600).toFixed(1)} g/s of fuel at ${consumption.toFixed(0)} g/kWh (${fuelGPerKWh === undefined ? 'as this pull shows' : 'as vehicle.json states'})`,
  ]);
  const density = vehicleFuel(signals.vehicle)?.densityKgPerM3;
  if (density === undefined || cylinders === undefined) {
    unknown.push(
      `Injectors for the ${wheelPowerKW} kW wanted: ${[density === undefined ? 'the density of the fuel (fuel.blend)' : '', cylinders === undefined ? 'engine.cylinders' : ''].filter(Boolean).join(' and ')} not known.`,
    );
    return;
  }
  const dutyPercent = injectors.maxDutyPercent ?? limitOf('injectorDutyPercent', signals.vehicle.limits).value;
  const size = injectorSizeCcPerMin(wheelPowerKW, consumption, cylinders, dutyPercent / 100, density);
  rows.push([
    'Injectors wanted',
    `${size.toFixed(0)} cc/min each at ${dutyPercent} % duty${injectors.flowCcPerMin === undefined ? '' : `; fitted: ${injectors.flowCcPerMin}`}`,
  ]);
  if (injectors.flowCcPerMin !== undefined && size > injectors.flowCcPerMin) {
    says.push(
      `The injectors are too small for ${wheelPowerKW} kW: ${size.toFixed(0)} cc/min each would be wanted, ${injectors.flowCcPerMin} are fitted.`,
    );
  }
}
