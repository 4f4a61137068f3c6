// What a cell or a breakpoint of a table is, and what the sessions say of it.

import type { Position, Range } from '../../formats/range.js';
import type { Axis, Table } from '../../formats/table/table.js';
import { scaleAfr } from '../../formats/table/targetScale.js';
import type { Vehicle } from '../../formats/vehicle/vehicle.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { SAME_VALUE } from '../../findings/cellEvidence.js';
import { saidWords } from '../../fueling/doubts/contradictionWords.js';
import type { Evidence } from '../../fueling/evidence.js';
import { relatedValues } from '../../quantities/convert.js';
import { formatNumber } from '../../quantities/format.js';
import { fuelOf, GASOLINE_SCALE_AFR, type Fuel } from '../../quantities/fuels.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import type { ConversionContext } from '../../quantities/units.js';
import type { Card } from './card.js';
import { cellWords } from './sessionHover.js';

/** The card for a place in a table; undefined off its cells. */
export function tableHover(
  table: Table,
  position: Position,
  evidence: Evidence | undefined,
  vehicle: Vehicle | undefined,
  barometerKPa: number,
): Card | undefined {
  const cell = cellAt(table, position),
    fuel = vehicle && vehicleFuel(vehicle);
  if (cell) return cellCard(table, cell.row, cell.column, evidence, { barometerKPa, stoichAfr: scaleAfr(table, vehicle) }, fuel);
  for (const axis of [table.columns, table.rows]) {
    const index = axis.ranges.findIndex((range) => contains(range, position));
    if (index >= 0 && !Number.isNaN(axis.values[index]))
      return breakpointCard(axis, index, axis === table.columns ? 'column' : 'row', fuel, barometerKPa);
  }
  return undefined;
}

/** The cell whose number stands at the place; breakpoints are none. */
export function cellAt(table: Table, position: Position): { row: number; column: number } | undefined {
  const at = table.at(position.line, position.character);
  return at && at.row >= 0 && at.column >= 0 && contains(table.cellRange(at.row, at.column), position) ? at : undefined;
}

export const contains = ({ start, end }: Range, { line, character }: Position): boolean =>
  line === start.line && line === end.line && start.character <= character && character <= end.character;

function cellCard(
  table: Table,
  row: number,
  column: number,
  evidence: Evidence | undefined,
  context: ConversionContext,
  fuel: Fuel | undefined,
): Card {
  const value = table.values[row * table.columns.values.length + column];
  const rows: [string, string][] = [];
  const notes: string[] = [];
  if (table.unit && !Number.isNaN(value) && ['mixture', 'pressure'].includes(table.unit.dimensions[0]))
    rows.push(...inOtherUnits(value, table.unit, context, fuel));
  const cell = evidence?.cells.find((each) => each.row === row && each.column === column);
  if (cell && evidence) {
    if (cell.proof === 'none') {
      notes.push(
        evidence.sessions.length === 0 ? 'No sessions to judge this cell by.' : 'No session visited this cell: nothing is known of it.',
      );
    } else {
      rows.push([
        'Samples',
        cell.samples < 1
          ? 'none of its own: told by its neighbours'
          : `${cell.samples} in ${cell.seconds.toFixed(1)} s, worth ${Math.min(cell.samples, cell.effectiveSamples).toFixed(1)} independent`,
      ]);
      rows.push([
        'Lambda',
        `${formatNumber(cell.measuredLambda, 3)} measured${Math.abs(cell.loggedOverNow - 1) < SAME_VALUE ? '' : ', reckoned for the table as it is now'}, ${formatNumber(cell.targetLambda, 3)} wanted`,
      ]);
      rows.push(['Factor', `${cell.factor.toFixed(3)} (95 % between ${cell.factorLow.toFixed(3)} and ${cell.factorHigh.toFixed(3)})`]);
      const said = saidWords(evidence, row * table.columns.values.length + column, fileName);
      if (said !== undefined) rows.push(['Fuel wanted', `${said}: the sessions contradict each other`]);
      rows.push([
        'Proof',
        cell.proof === 'firm'
          ? `firm: ${formatNumber(cell.suggested, digitsOf(table.cellText(row, column)))} would meet the target`
          : 'thin: not enough to act on',
      ]);
      const worst = cell.moments[0];
      if (worst)
        rows.push([
          'Worst',
          `λ ${formatNumber(worst.lambda, 3)} at ${worst.timeS.toFixed(2)} s of ${fileName(evidence.sessions[worst.session]?.session)}, line ${worst.line + 1}`,
        ]);
    }
  }
  return {
    range: table.cellRange(row, column),
    title: `${table.cellText(row, column)}${table.unit?.symbol ? ` ${table.unit.symbol}` : ''} in ${cellWords(table, row, column)}`,
    rows,
    notes,
  };
}

function breakpointCard(axis: Axis, index: number, which: 'column' | 'row', fuel: Fuel | undefined, barometerKPa: number): Card {
  const quantity = axis.quantity ? QUANTITIES[axis.quantity].title : 'quantity not known';
  const rows = axis.unit
    ? inOtherUnits(
        axis.values[index],
        axis.unit,
        { barometerKPa, stoichAfr: (axis.unit.fuel ? fuelOf(axis.unit.fuel)?.stoichAfr : undefined) ?? GASOLINE_SCALE_AFR },
        fuel,
      )
    : [];
  return {
    range: axis.ranges[index],
    title: `${which === 'column' ? 'Column' : 'Row'} breakpoint, ${quantity}: ${axis.values[index]}${axis.unit?.symbol ? ` ${axis.unit.symbol}` : ''}`,
    rows,
    notes: [],
  };
}

const inOtherUnits = (
  value: number,
  unit: NonNullable<Axis['unit']>,
  context: ConversionContext,
  fuel: Fuel | undefined,
): [string, string][] => relatedValues(value, unit, context, fuel).map((each) => [each.unit.symbol, formatNumber(each.value, each.unit)]);

const digitsOf = (text: string): number => /[.,](\d+)/.exec(text)?.[1].length ?? 0;
const fileName = (uri: string | undefined): string =>
  uri === undefined ? 'a session' : decodeURIComponent(uri.slice(uri.lastIndexOf('/') + 1));
