// Target lambda per sample: as logged, else from the vehicle's target table at each operating point.

import { toCanonical } from '../quantities/convert.js';
import { fuelOf, GASOLINE_SCALE_AFR } from '../quantities/fuels.js';
import type { Table } from '../formats/table.js';
import { lookup } from '../formats/tableLookup.js';
import type { Readings } from './readings.js';
import type { Signals } from './signals.js';
import { rangeOf } from './statistics.js';

/** Undefined without a believable channel and without a table whose axes are logged. */
export const targetOf = (readings: Readings, targetTable: Table | undefined): Signals['targetLambda'] => {
  const logged = readings.held('target-lambda');
  // A target that was asked for and never answered reads 0 throughout.
  const asked = logged && plausibly(logged);
  if (asked) return { values: asked, from: 'channel' };
  if (!targetTable || (targetTable.quantity !== 'target-lambda' && targetTable.quantity !== 'target-afr')) return undefined;
  const axis = (quantity: Table['columns']['quantity']): Float64Array | undefined => (quantity ? readings.clean(quantity) : undefined);
  const columns = axis(targetTable.columns.quantity), rows = axis(targetTable.rows?.quantity);
  const lies = (along: Table['columns'] | undefined): boolean => along === undefined || along.values.length <= 1;
  if ((!columns && !lies(targetTable.columns)) || (!rows && !lies(targetTable.rows))) return undefined;
  const unit = targetTable.unit;
  const toLambda = unit ? toCanonical('target-lambda', unit, { barometerKPa: readings.barometer.kPa, stoichAfr: stoichOfScale(unit.fuel) }) : (value: number) => value;
  const values = new Float64Array(readings.timeS.length);
  for (let i = 0; i < values.length; i++) {
    const value = lookup(targetTable, columns ? columns[i] : 0, rows ? rows[i] : 0);
    values[i] = value === value ? toLambda(value) : NaN;
  }
  return { values, from: 'table' };
};

/** The targets that may be meant, NaN elsewhere; undefined without any. Shared where all may be meant: never written to. */
const plausibly = (logged: Float64Array): Float64Array | undefined => {
  const { count, least, greatest } = rangeOf(logged);
  if (least > LEAST_TARGET && greatest < GREATEST_TARGET) return logged;
  if (count === 0 || !(greatest > LEAST_TARGET && least < GREATEST_TARGET)) return undefined;
  const values = new Float64Array(logged.length);
  let meant = 0;
  for (let i = 0; i < values.length; i++) {
    const isMeant = logged[i] > LEAST_TARGET && logged[i] < GREATEST_TARGET;
    values[i] = isMeant ? logged[i] : NaN;
    if (isMeant) meant++;
  }
  return meant > 0 ? values : undefined;
};

const LEAST_TARGET = 0.5, GREATEST_TARGET = 2;

/** The scale an AFR table is written in: its named fuel, else gasoline's. */
const stoichOfScale = (fuel: string | undefined): number => (fuel ? fuelOf(fuel)?.stoichAfr : undefined) ?? GASOLINE_SCALE_AFR;
