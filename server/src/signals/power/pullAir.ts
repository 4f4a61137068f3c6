// The air and the fuel of a pull by every way that is logged, one beside the other: table and manifold, air-flow meter, injectors and
// lambda.

import type { Table } from '../../formats/table/table.js';
import { lookup } from '../../formats/table/tableLookup.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import type { QuantityId } from '../../quantities/quantity.js';
import { believed } from '../drive/operating.js';
import type { Pull, Signals } from '../signals.js';
import { median } from '../columns/statistics.js';
import { airFlowGPerS, airPerCycleMg, fuelOfAir, fuelOfInjectorsGPerS, volumetricEfficiency } from './airMass.js';

export interface PullAir {
  /** Where the flow is greatest. */
  readonly sample: number;
  readonly rpm: number;
  readonly pressureKPa: number | undefined;
  /** By the VE table, the manifold and the displacement. */
  readonly speedDensity: { readonly ve: number; readonly airGPerS: number; readonly airPerCycleMg: number | undefined } | undefined;
  /** By the meter; `ve` where manifold and displacement are known. */
  readonly meter: { readonly airGPerS: number; readonly ve: number | undefined } | undefined;
  /** By the fuel that the injectors gave and the lambda that came of it. */
  readonly byFuel: { readonly airGPerS: number } | undefined;
  /** Meter over speed-density, less one, in the middle of the pull; with how it spreads (half of the middle 80 %). */
  readonly meterAbovePercent: number | undefined;
  readonly meterSpreadPercent: number | undefined;
  /** Lambda over target, less one, in the middle of the pull. */
  readonly lambdaOffPercent: number | undefined;
  /** Greatest fuel flow, g/s, and by what. */
  readonly fuel: { readonly gPerS: number; readonly from: 'injectors' | 'air meter and lambda' | 'speed-density and lambda' } | undefined;
  readonly assumed: readonly string[];
  /** What could not be told, and for want of what. */
  readonly unknown: readonly string[];
}

/**
 * `veTable`: the vehicle's fuel table as it was in the engine computer; any other quantity than VE tells no air. Undefined where neither
 * engine speed nor any flow is known.
 */
export const airOf = (signals: Signals, pull: Pull, veTable: Table | undefined): PullAir | undefined => {
  const { engine, injectors } = signals.vehicle;
  const of = (quantity: QuantityId): Float64Array | undefined => believed(signals, quantity)?.subarray(pull.from, pull.to);
  const rpm = of('engine-speed'),
    pressure = of('manifold-pressure'),
    intake = of('intake-air-temperature'),
    meter = of('mass-air-flow'),
    lambda = of('lambda');
  if (!rpm) return undefined;
  const unknown: string[] = [],
    assumed: string[] = [];
  const { displacementL, cylinders } = engine;
  const fuel = vehicleFuel(signals.vehicle);

  const gas = displacementL !== undefined && pressure !== undefined && intake !== undefined;
  const missing = [
    displacementL === undefined ? 'engine.displacementL' : '',
    pressure ? '' : 'manifold pressure',
    intake ? '' : 'intake air temperature',
  ]
    .filter(Boolean)
    .join(', ');
  const isVe = veTable?.quantity === 'volumetric-efficiency';
  const veAt = isVe ? veAlong(signals, pull, veTable) : undefined;
  if (!gas) unknown.push(`air by speed-density: ${missing} not known`);
  else if (!veAt) unknown.push('air by speed-density: the fuel table does not hold volumetric efficiency');
  const bySpeed = gas && veAt ? rpm.map((value, i) => airFlowGPerS(veAt[i], pressure[i], displacementL, intake[i], value)) : undefined;

  const byInjector = injectorFuel(signals, pull, assumed, unknown);
  const byFuel = byInjector && lambda && fuel ? byInjector.map((gPerS, i) => gPerS * lambda[i] * fuel.stoichAfr) : undefined;
  if (byInjector && !fuel) unknown.push('air by fuel: no fuel is named in vehicle.json');

  const best = meter ?? bySpeed ?? byFuel;
  if (!best && !byInjector) return { ...nothing, sample: pull.to - 1, rpm: rpm[rpm.length - 1], unknown, assumed };
  const at = placeOfGreatest(best ?? byInjector!);
  if (at < 0) return { ...nothing, sample: pull.to - 1, rpm: rpm[rpm.length - 1], unknown, assumed };
  const near = (values: Float64Array | undefined): number | undefined => around(values, at);
  const [airSpeed, airMeter, airFuel, fuelInjectors, rpmThere, pressureThere] = [
    near(bySpeed),
    near(meter),
    near(byFuel),
    near(byInjector),
    near(rpm),
    near(pressure),
  ];
  const intakeThere = near(intake);
  const ratios =
    meter && bySpeed
      ? meter
          .map((value, i) => value / bySpeed[i] - 1)
          .filter(Number.isFinite)
          .sort()
      : undefined;
  const target = signals.targetLambda?.values.subarray(pull.from, pull.to);
  const lambdaMiddle = lambda && target ? median(lambda.map((value, i) => value / target[i] - 1)) : NaN;
  const lambdaThere = lambda ? median(lambda) : NaN;
  const flowFuel =
    fuelInjectors !== undefined
      ? { gPerS: fuelInjectors, from: 'injectors' as const }
      : fuel && Number.isFinite(lambdaThere) && airMeter !== undefined
        ? { gPerS: fuelOfAir(airMeter, lambdaThere, fuel.stoichAfr), from: 'air meter and lambda' as const }
        : fuel && Number.isFinite(lambdaThere) && airSpeed !== undefined
          ? { gPerS: fuelOfAir(airSpeed, lambdaThere, fuel.stoichAfr), from: 'speed-density and lambda' as const }
          : undefined;
  return {
    sample: pull.from + at,
    rpm: rpmThere ?? NaN,
    pressureKPa: pressureThere,
    speedDensity:
      airSpeed === undefined || !veAt
        ? undefined
        : {
            ve: around(veAt, at) ?? NaN,
            airGPerS: airSpeed,
            airPerCycleMg:
              cylinders !== undefined && pressureThere !== undefined && intakeThere !== undefined
                ? airPerCycleMg(around(veAt, at) ?? NaN, pressureThere, displacementL! / cylinders, intakeThere)
                : undefined,
          },
    meter:
      airMeter === undefined
        ? undefined
        : {
            airGPerS: airMeter,
            ve:
              gas && pressureThere !== undefined && intakeThere !== undefined && rpmThere !== undefined
                ? volumetricEfficiency(airMeter, pressureThere, displacementL, intakeThere, rpmThere)
                : undefined,
          },
    byFuel: airFuel === undefined ? undefined : { airGPerS: airFuel },
    meterAbovePercent: ratios && ratios.length >= 3 ? 100 * ratios[ratios.length >> 1] : undefined,
    meterSpreadPercent:
      ratios && ratios.length >= 10 ? 50 * (ratios[Math.floor(0.9 * ratios.length)] - ratios[Math.floor(0.1 * ratios.length)]) : undefined,
    lambdaOffPercent: Number.isFinite(lambdaMiddle) ? 100 * lambdaMiddle : undefined,
    fuel: flowFuel,
    assumed,
    unknown:
      injectors.flowCcPerMin === undefined && !byInjector
        ? [...unknown, 'fuel by the injectors: injectors.flowCcPerMin is not stated']
        : unknown,
  };
};

const nothing: Omit<PullAir, 'sample' | 'rpm' | 'unknown' | 'assumed'> = {
  pressureKPa: undefined,
  speedDensity: undefined,
  meter: undefined,
  byFuel: undefined,
  meterAbovePercent: undefined,
  meterSpreadPercent: undefined,
  lambdaOffPercent: undefined,
  fuel: undefined,
};

/** The VE that the table holds along a pull, as a share; undefined where its axes are not logged. */
const veAlong = (signals: Signals, { from, to }: Pull, table: Table): Float64Array | undefined => {
  const along = (axis: Table['columns']): Float64Array | undefined =>
    axis.quantity ? believed(signals, axis.quantity)?.subarray(from, to) : undefined;
  const columns = along(table.columns),
    rows = along(table.rows);
  if ((!columns && table.columns.values.length > 1) || (!rows && table.rows.values.length > 1)) return undefined;
  const share = table.unit?.id === 'fraction' ? 1 : 0.01;
  return Float64Array.from({ length: to - from }, (_, i) => share * lookup(table, columns?.[i] ?? 0, rows?.[i] ?? 0));
};

/** g/s by what the injectors were open for; dead time off, pressure over the injector by the orifice law where it is logged. */
const injectorFuel = (signals: Signals, pull: Pull, assumed: string[], unknown: string[]): Float64Array | undefined => {
  const {
    injectors: { flowCcPerMin, ratedPressureKPa, deadTimeMs },
    engine: { cylinders },
  } = signals.vehicle;
  const of = (quantity: QuantityId): Float64Array | undefined => believed(signals, quantity)?.subarray(pull.from, pull.to);
  const rpm = of('engine-speed')!,
    pulse = of('injector-pulse-width'),
    duty = of('injector-duty');
  if (flowCcPerMin === undefined || (!pulse && !duty)) return undefined;
  const density = vehicleFuel(signals.vehicle)?.densityKgPerM3;
  if (density === undefined || cylinders === undefined) {
    unknown.push(
      `fuel by the injectors: ${[density === undefined ? 'the density of the fuel (fuel.blend)' : '', cylinders === undefined ? 'engine.cylinders' : ''].filter(Boolean).join(' and ')} not known`,
    );
    return undefined;
  }
  if (deadTimeMs === undefined)
    assumed.push(
      'injector dead time is not stated (injectors.deadTimeMs): the whole opening is taken to flow, so fuel reads high by about a tenth at full load',
    );
  const rail = of('fuel-pressure'),
    manifold = of('manifold-pressure');
  const overKnown = rail && manifold && ratedPressureKPa !== undefined;
  if (!overKnown)
    assumed.push('rated fuel pressure over the injector: rail pressure, manifold pressure or injectors.ratedPressureKPa is not known');
  assumed.push('one injector a cylinder, one injection each 720°');
  return rpm.map((turns, i) => {
    const openShare = duty ? duty[i] / 100 : (pulse![i] * turns) / 120000;
    const deadShare = ((deadTimeMs ?? 0) * turns) / 120000;
    const ratio = overKnown ? (rail[i] + signals.barometer.kPa - manifold[i]) / ratedPressureKPa : 1;
    return fuelOfInjectorsGPerS(flowCcPerMin, density, cylinders, Math.min(1, openShare) - deadShare, Math.max(0, ratio));
  });
};

const HALF_WINDOW = 4;

/** Middle of a few readings: one wild reading is no greatest flow. */
const around = (values: Float64Array | undefined, at: number): number | undefined => {
  const middle = values && median(values.subarray(Math.max(0, at - HALF_WINDOW), at + HALF_WINDOW + 1));
  return middle !== undefined && Number.isFinite(middle) ? middle : undefined;
};

const placeOfGreatest = (values: Float64Array): number => {
  let best = -1,
    greatest = -Infinity;
  for (let i = 0; i < values.length; i++) {
    const value = around(values, i);
    if (value !== undefined && value > greatest) {
      greatest = value;
      best = i;
    }
  }
  return best;
};
