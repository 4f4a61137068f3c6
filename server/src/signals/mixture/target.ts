// Target lambda per sample: as logged, else from the vehicle's target table at each operating point.

import { toCanonical } from '../../quantities/convert.js';
import type { Table } from '../../formats/table/table.js';
import { lookup } from '../../formats/table/tableLookup.js';
import { scaleAfr, unnamedScale } from '../../formats/table/targetScale.js';
import { targetScale } from '../faults/afrScale.js';
import { asksLeanUnderLoad } from '../faults/risesWithFuel.js';
import type { Readings } from '../readings.js';
import type { Signals } from '../signals.js';
import { rangeOfColumn } from '../columns/stretches.js';

/**
 * A target that never moves, where the table that the owner names moves from cruise to full load in the same drive, is no target that the
 * engine is run by. Common practice, no source.
 */
const STILL_BESIDE_LAMBDA = 0.1;

/** Undefined without a believable channel and without a table whose axes are logged and whose scale is believable. */
export const targetOf = (readings: Readings, targetTable: Table | undefined): Signals['targetLambda'] => {
  const { shelf } = readings.session;
  const logged = () => plausibly(readings.held('target-lambda')!);
  // A target that was asked for and never answered reads 0 throughout.
  const channel =
    readings.channel('target-lambda') && !targetScale(readings) && !asksLeanUnderLoad(readings) && shelf.get(logged, logged)
      ? {
          get values() {
            return shelf.get(logged, logged)!;
          },
          from: 'channel' as const,
        }
      : undefined;
  const still = channel && rangeOfColumn(channel.values);
  if (still && still.greatest > still.least) return channel;
  const table = byTable(readings, targetTable);
  if (!still || !table) return channel ?? table;
  // One that asks for more fuel than the table anywhere stands: by the table what is short of it would be silent.
  const { least, greatest } = rangeOfColumn(table.values);
  return greatest - least > STILL_BESIDE_LAMBDA && still.least > least ? table : channel;
};

const byTable = (readings: Readings, targetTable: Table | undefined): Signals['targetLambda'] => {
  const { shelf } = readings.session;
  if (
    !targetTable ||
    (targetTable.quantity !== 'target-lambda' && targetTable.quantity !== 'target-afr') ||
    unnamedScale(targetTable, readings.vehicle)
  )
    return undefined;
  const lies = (along: Table['columns'] | undefined): boolean =>
    along === undefined || along.values.length <= 1 || (along.quantity !== undefined && readings.channel(along.quantity) !== undefined);
  if (!lies(targetTable.columns) || !lies(targetTable.rows)) return undefined;
  const looked = (): Float64Array => lookedUp(readings, targetTable);
  return {
    get values() {
      return shelf.get(looked, looked);
    },
    from: 'table',
  };
};

/** The table's lambda at each sample, NaN where it has none. */
const lookedUp = (readings: Readings, table: Table): Float64Array => {
  const axis = (quantity: Table['columns']['quantity']): Float64Array | undefined => (quantity ? readings.clean(quantity) : undefined);
  const columns = axis(table.columns.quantity),
    rows = axis(table.rows?.quantity),
    { unit } = table;
  const toLambda = unit
    ? toCanonical('target-lambda', unit, { barometerKPa: readings.barometer.kPa, stoichAfr: scaleAfr(table, readings.vehicle) })
    : (value: number) => value;
  const values = new Float64Array(readings.timeS.length);
  for (let i = 0; i < values.length; i++) {
    const value = lookup(table, columns ? columns[i] : 0, rows ? rows[i] : 0);
    values[i] = value === value ? toLambda(value) : NaN;
  }
  return values;
};

/** The targets that may be meant, NaN elsewhere; undefined without any. Shared where all may be meant: never written to. */
const plausibly = (logged: Float64Array): Float64Array | undefined => {
  const { count, least, greatest } = rangeOfColumn(logged);
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

const LEAST_TARGET = 0.5,
  GREATEST_TARGET = 2;
