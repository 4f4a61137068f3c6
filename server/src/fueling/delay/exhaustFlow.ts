// How much exhaust leaves the engine: metered, by the charge of the cylinders, by the fuel that is given for it, or guessed from what there
// is.

import type { Table } from '../../formats/table/table.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { EXHAUST_OVER_AIR } from '../../signals/mixture/delay.js';
import { airFlowGPerS, fuelOfInjectorsGPerS } from '../../signals/power/airMass.js';
import type { Signals } from '../../signals/signals.js';
import { believed } from '../readings.js';
import { copyOf, roomFor } from '../room.js';

export const ASSUMED_DISPLACEMENT_L = 2;
const ASSUMED_INTAKE_C = 40;
const ASSUMED_RPM = 2500;
/** Filling of a cylinder by the manifold's density where no table tells it, at a middling pressure. */
const ASSUMED_FILLING = 0.8;
const ASSUMED_MANIFOLD_KPA = 60;
/** A full load (SAE J1979, PID 04) stands for about the air around the car, kPa a per cent. */
const KPA_A_PERCENT_LOAD = 0.9;

/** What is known of each row: the table's value (dead time taken off), the target (λ), engine speed and manifold pressure. */
interface Known {
  readonly fuelled: Float64Array;
  readonly target: Float64Array;
  readonly rpm: Float64Array | undefined;
  readonly manifoldKPa: Float64Array | undefined;
}

/** Exhaust by row, g/s, as the fuel is metered for it; NaN where it is not known. `assumed` takes in what was taken for granted. */
export const exhaustFlow = (signals: Signals, table: Table, known: Known, assumed: string[]): Float64Array => {
  const air = table.quantity === 'mass-air-flow' ? known.fuelled : believed(signals, 'mass-air-flow');
  if (air) return air.map((value) => value * EXHAUST_OVER_AIR);
  // Fuel that goes with the throttle runs ahead of the flow: the manifold's pressure tells it better.
  const byFuel = asksThrottle(table) && known.manifoldKPa ? undefined : exhaustOfFuel(signals, table, known);
  if (byFuel) return byFuel;
  if (signals.vehicle.engine.displacementL === undefined)
    assumed.push(`engine displacement is not stated: ${ASSUMED_DISPLACEMENT_L} L taken for the exhaust flow`);
  if (!known.manifoldKPa)
    assumed.push(
      'no air flow, manifold pressure or table of fuel tells the exhaust flow: it is taken by engine load, else by the throttle',
    );
  return exhaustOfCharge(signals, table, known);
};

/**
 * By a table of fuel, a mass or an injector's pulse: it is given for the air that burns it at the target. Undefined for other tables, and
 * where the car's part of it is not stated.
 */
const exhaustOfFuel = ({ vehicle }: Signals, { quantity }: Table, { fuelled, target, rpm }: Known): Float64Array | undefined => {
  const fuel = vehicleFuel(vehicle),
    { cylinders } = vehicle.engine,
    { flowCcPerMin, deadTimeMs } = vehicle.injectors;
  if (!fuel || cylinders === undefined || !rpm || (quantity !== 'fuel-mass' && quantity !== 'injector-pulse-width')) return undefined;
  const isPulse = quantity === 'injector-pulse-width',
    { densityKgPerM3, stoichAfr } = fuel;
  // An unknown dead time would make up half of a pulse at idle.
  if (isPulse && (flowCcPerMin === undefined || deadTimeMs === undefined || densityKgPerM3 === undefined)) return undefined;
  const mgOfOne = isPulse ? 1000 * fuelOfInjectorsGPerS(flowCcPerMin!, densityKgPerM3!, 1, 1e-3, 1) : 1,
    gPerS = roomFor(rpm.length);
  for (let row = 0; row < gPerS.length; row++) {
    const lambda = target[row] > 0 ? target[row] : 1;
    gPerS[row] = (((EXHAUST_OVER_AIR * lambda * stoichAfr * fuelled[row] * mgOfOne) / 1000) * cylinders * rpm[row]) / 120;
  }
  return gPerS;
};

/**
 * By what the cylinders take in: the table's filling or an assumed one, of air as dense as in the manifold; where no pressure tells, by a
 * load or a throttle.
 */
const exhaustOfCharge = (signals: Signals, table: Table, { fuelled, rpm, manifoldKPa }: Known): Float64Array => {
  const displacementL = signals.vehicle.engine.displacementL ?? ASSUMED_DISPLACEMENT_L,
    barometerKPa = signals.barometer.kPa,
    gPerS = roomFor(signals.timeS.length);
  // Columns also of what is assumed: a number that is now read and now assumed costs memory at every row.
  const pressuresKPa = manifoldKPa ?? pressureBy(signals, table) ?? roomFor(gPerS.length).fill(ASSUMED_MANIFOLD_KPA),
    speeds = rpm ?? roomFor(gPerS.length).fill(ASSUMED_RPM),
    intakeC = airOf(signals);
  const filled = table.quantity === 'volumetric-efficiency' ? fuelled : undefined,
    full = table.unit?.id === 'fraction' ? 1 : 100,
    middling = idealFilling(ASSUMED_MANIFOLD_KPA, barometerKPa);
  for (let row = 0; row < gPerS.length; row++) {
    const pressureKPa = pressuresKPa[row],
      filling = filled ? filled[row] / full : (ASSUMED_FILLING * idealFilling(pressureKPa, barometerKPa)) / middling;
    gPerS[row] = EXHAUST_OVER_AIR * airFlowGPerS(filling, pressureKPa, displacementL, intakeC[row], speeds[row]);
  }
  return gPerS;
};

/** Intake air, °C. */
const airOf = (signals: Signals): Float64Array => {
  const logged = signals.held('intake-air-temperature'),
    airC = logged ? copyOf(logged) : roomFor(signals.timeS.length).fill(ASSUMED_INTAKE_C);
  for (let row = 0; row < airC.length; row++) if (!(airC[row] > -40)) airC[row] = ASSUMED_INTAKE_C;
  return airC;
};

/** Whether a table asks the pedal or the throttle, ahead of the charge. */
export const asksThrottle = ({ columns, rows }: Table): boolean =>
  [columns, rows].some(({ quantity }) => quantity === 'throttle' || quantity === 'pedal');

/** kPa by which a filling is meant, where no manifold's pressure is logged; undefined where nothing tells. */
const pressureBy = (signals: Signals, table: Table): Float64Array | undefined => {
  const load = signals.held('engine-load');
  if (load) return load.map((value) => value * KPA_A_PERCENT_LOAD);
  // Such a controller knows no other density than that of the air around the car.
  if (asksThrottle(table) && table.quantity === 'volumetric-efficiency')
    return new Float64Array(signals.timeS.length).fill(signals.barometer.kPa);
  const throttle = believed(signals, 'throttle') ?? believed(signals, 'pedal');
  return throttle?.map((percent) => signals.barometer.kPa * (LEAST_SHARE + (1 - LEAST_SHARE) * Math.min(1, Math.max(0, percent) / 100)));
};

/** A closed throttle leaves about a third of the air's pressure behind it. Common practice, no source. */
const LEAST_SHARE = 0.3;

/** Of the burnt gas that stays in the cylinder: ratio of compression and of specific heats, middling figures. */
const COMPRESSION = 10;
const HEATS = 1.3;
const LEAST_KPA = 12;

/**
 * Filling of an ideal cycle against the manifold's density, up to a constant: the burnt gas that stays expands into the intake (Heywood
 * 1988, ch. 6.2, from memory).
 */
export const idealFilling = (manifoldKPa: number, exhaustKPa: number): number =>
  (HEATS - 1) / HEATS + (COMPRESSION - exhaustKPa / Math.max(manifoldKPa, LEAST_KPA)) / (HEATS * (COMPRESSION - 1));

/**
 * What leaves the engine of what is metered, g/s: during a fuel cut the air alone; and below a table's lowest manifold pressure, where the
 * controller holds the filling that stands there, as much less as an ideal cycle takes in.
 */
export const leavesOf = (
  signals: Signals,
  table: Table,
  metered: Float64Array,
  cut: Uint8Array | undefined,
  manifoldKPa: Float64Array | undefined,
): Float64Array => {
  const axis = [table.rows, table.columns].find(({ quantity, canonical }) => quantity === 'manifold-pressure' && canonical.length > 1);
  const lowestKPa =
    axis && table.quantity === 'volumetric-efficiency' && !believed(signals, 'mass-air-flow') ? Math.min(...axis.canonical) : 0;
  const barometerKPa = signals.barometer.kPa,
    atLowest = idealFilling(lowestKPa, barometerKPa),
    leaves = copyOf(metered);
  for (let row = 0; row < leaves.length; row++) {
    if (cut?.[row]) leaves[row] /= EXHAUST_OVER_AIR;
    if (manifoldKPa && manifoldKPa[row] < lowestKPa) leaves[row] *= idealFilling(manifoldKPa[row], barometerKPa) / atLowest;
  }
  return leaves;
};
