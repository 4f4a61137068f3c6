// target-unsafe: a table of target lambda that asks for too little fuel under load, or for so much that it washes the cylinders.

import { fuelOf, GASOLINE_SCALE_AFR, type Fuel } from '../../quantities/fuels.js';
import { formatNumber, formatValue } from '../../quantities/format.js';
import { limitOf, type LimitInForce } from '../../formats/limits.js';
import type { Axis, Table } from '../../formats/table/table.js';
import { tableToCanonical } from '../../formats/table/tableQuantity.js';
import { STANDARD_CONTEXT } from '../../quantities/convert.js';
import { leastAndMost, plateauScale, unnamedScale } from '../../formats/table/targetScale.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import type { Range } from '../../formats/range.js';
import { isBurntOtherwise, leanTarget } from '../../fueling/doubts/leanTarget.js';
import { cellPlace } from '../cellPlace.js';
import type { Finding, Rule, Severity, TableSubject } from '../finding.js';
import { limitWords } from '../spell.js';

type Kind = 'lean-full-load' | 'lean-under-load' | 'rich';
interface Verdict {
  readonly kind: Kind;
  readonly severity: Severity;
  readonly beyond: number;
  readonly limit: LimitInForce;
}

const axisOf = (table: Table, quantity: 'manifold-pressure' | 'throttle'): { axis: Axis; along: 'columns' | 'rows' } | undefined =>
  table.columns.quantity === quantity
    ? { axis: table.columns, along: 'columns' }
    : table.rows.quantity === quantity
      ? { axis: table.rows, along: 'rows' }
      : undefined;

/** Judges one cell; undefined where nothing is wrong with it. */
const judgeOf = ({ table, vehicle }: TableSubject): ((lambda: number, row: number, column: number) => Verdict | undefined) => {
  const set = vehicle?.vehicle.limits ?? {};
  const rich = limitOf('richLambda', set);
  const pressure = axisOf(table, 'manifold-pressure'),
    along = pressure ?? axisOf(table, 'throttle');
  return (lambda, row, column) => {
    if (lambda < rich.value) return { kind: 'rich', severity: 'warning', beyond: rich.value - lambda, limit: rich };
    const load = along?.axis.canonical[along.along === 'columns' ? column : row];
    const lean = load === undefined ? undefined : leanTarget(lambda, pressure ? { kPa: load } : { throttlePercent: load }, set);
    return lean && { ...lean, severity: lean.kind === 'lean-full-load' ? 'error' : 'warning' };
  };
};

const ADVICE: Readonly<Record<Kind, string>> = {
  'lean-full-load': 'Full load on this target can ruin an engine: put in a richer one before the next pull.',
  'lean-under-load': 'Under load that is leaner than an engine should run: check that it is meant.',
  rich: 'So much fuel washes the cylinder walls and fouls plugs: check that it is meant.',
};

/** What else an AFR target could have meant: the other scale, where that makes sense of the number. */
const scaleHint = (table: Table, written: number, kind: Kind, tank: Fuel | undefined): string => {
  if (table.quantity !== 'target-afr' || !table.unit || table.unit.id !== 'afr') return '';
  const sensible = (lambda: number): boolean => lambda >= 0.72 && lambda <= 1.05;
  const scale = table.unit.fuel;
  if (scale === undefined || scale === 'gasoline') {
    if (kind !== 'rich' || !tank || !sensible(written / tank.stoichAfr)) return '';
    return ` As an AFR of ${tank.name} it would be λ ${formatNumber(written / tank.stoichAfr, 2)}: if that is meant, write "target AFR (${tank.name})".`;
  }
  if (kind === 'rich' || !sensible(written / GASOLINE_SCALE_AFR)) return '';
  return ` On the gasoline scale it would be λ ${formatNumber(written / GASOLINE_SCALE_AFR, 2)}: if that is meant, write "target AFR".`;
};

const spanOf = (table: Table, row: number, from: number, to: number): Range => ({
  start: table.cellRange(row, from).start,
  end: table.cellRange(row, to).end,
});

function* unsafeTargets(subject: TableSubject): Iterable<Finding> {
  const { table, vehicle } = subject;
  if (table.quantity !== 'target-lambda' && table.quantity !== 'target-afr') return;
  const tank = vehicle ? vehicleFuel(vehicle.vehicle) : undefined;
  if (isBurntOtherwise(vehicle?.vehicle, table)) return;
  const plateau = plateauScale(table, vehicle?.vehicle),
    toLambda = tableToCanonical(table, plateau ? { ...STANDARD_CONTEXT, stoichAfr: plateau.stoichAfr } : STANDARD_CONTEXT),
    meant = vehicle && unnamedScale(table, vehicle.vehicle);
  if (meant) {
    const { least, most } = leastAndMost(table.values),
      span = (stoichAfr: number): string => `λ ${formatNumber(least / stoichAfr, 2)} to ${formatNumber(most / stoichAfr, 2)}`;
    yield {
      code: 'target-unsafe',
      severity: 'warning',
      range: {
        start: table.cellRange(0, 0).start,
        end: table.cellRange(table.rows.values.length - 1, table.columns.values.length - 1).end,
      },
      message: `All targets are richer than an engine may be: ${span(GASOLINE_SCALE_AFR)} (${limitWords(limitOf('richLambda', vehicle.vehicle.limits))}), read on the gasoline scale. As AFR of ${meant.name} they are ${span(meant.stoichAfr)}: if that is meant, write "target AFR (${meant.name})". Until then nothing is held to them.`,
      data: { kind: 'rich', lambda: toLambda(most), fuel: meant.name },
    };
    return;
  }
  if (plateau)
    yield {
      code: 'target-unsafe',
      severity: 'warning',
      range: {
        start: table.cellRange(0, 0).start,
        end: table.cellRange(table.rows.values.length - 1, table.columns.values.length - 1).end,
      },
      message: `Nothing says which fuel these AFR are of, and many of them are the ${formatNumber(plateau.stoichAfr, 1)} at which the tank's fuel (${plateau.name}) burns at λ 1. They are taken as AFR of that; on the gasoline scale they would ask for λ ${formatNumber(plateau.stoichAfr / GASOLINE_SCALE_AFR, 2)} there. Write "${fuelOf(plateau.name) ? `target AFR (${plateau.name})` : 'target lambda'}" or "target AFR (gasoline)" to be sure.`,
      data: { kind: 'plateau', fuel: plateau.name },
    };
  const judge = judgeOf(subject);
  const width = table.columns.values.length;

  for (let row = 0; row < table.rows.values.length; row++) {
    for (let column = 0; column < width; column++) {
      // Neighbours with the same fault are one finding, worded for the worst of them.
      const from = column;
      let worst: { verdict: Verdict; column: number; lambda: number } | undefined;
      for (; column < width; column++) {
        const lambda = toLambda(table.values[row * width + column]);
        const verdict = judge(lambda, row, column);
        if (!verdict || (worst && verdict.kind !== worst.verdict.kind)) break;
        if (!worst || verdict.beyond > worst.verdict.beyond) worst = { verdict, column, lambda };
      }
      if (!worst) continue;
      const { verdict, lambda } = worst;
      const written = table.values[row * width + worst.column];
      const shown =
        table.quantity === 'target-afr' && table.unit
          ? `${formatValue(written, table.unit)}, λ ${formatNumber(lambda, 2)},`
          : `λ ${formatNumber(lambda, 2)}`;
      const cells = column - from > 1 ? ` It is the worst of ${column - from} cells side by side.` : '';
      const message =
        `The target ${shown} at ${cellPlace(table, row, worst.column)} is ${verdict.kind === 'rich' ? 'richer' : 'leaner'} than it may be (${limitWords(verdict.limit)}).` +
        `${cells} ${ADVICE[verdict.kind]}${scaleHint(table, written, verdict.kind, tank)}`;
      yield {
        code: 'target-unsafe',
        severity: verdict.severity,
        range: spanOf(table, row, from, column - 1),
        message,
        data: { kind: verdict.kind, lambda, limit: verdict.limit.value, row, columns: [from, column - 1] },
      };
      column--;
    }
  }
}

const head = (columns: string): string =>
  `=== t.table.csv\n# quantity: target lambda\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n${columns}\n`;

export const rule: Rule = {
  code: 'target-unsafe',
  concerns: 'engine',
  danger: true,
  docs: {
    title: 'A target that is not safe',
    meaning:
      'The engine is fuelled towards this table. Too lean a target under load melts pistons even if every other table is right; too rich a one washes the oil off the cylinder walls.',
    computed:
      'Every cell is turned into lambda (an AFR on the gasoline scale unless the table names its fuel) and held against limits by the manifold pressure of its row or column: ' +
      'from targetFullLoadPressureKPa on it may not be above targetFullLoadLambda, from loadManifoldPressureKPa on not above targetUnderLoadLambda; ' +
      "in a table over throttle the latter holds from loadThrottlePercent on. Nowhere may it be below richLambda; where all of an AFR table is, that names no fuel, and as AFR of the fuel in the tank it would be a cruise and its enrichment, that is told once and no reading is held to it; one of which a fifth or more is the stoichiometric ratio of a fuel in the tank that asks for more air than gasoline (LPG, natural gas) is taken as that fuel's, the richer reading of the two, and told. " +
      'Hydrogen, diesel and nitromethane are burnt far from lambda 1 on purpose and are not judged. Source of the limits: common practice.',
    causes: [
      'Cruise targets copied up into the load rows',
      'AFR numbers of one fuel in a table that is read on the scale of another',
      'Rows in another unit than the head line says',
      'A slip in typing',
    ],
    checkFirst: 'Which scale the numbers are on, and which pressure the row really is.',
    limits: [
      'targetFullLoadPressureKPa',
      'targetFullLoadLambda',
      'loadManifoldPressureKPa',
      'loadThrottlePercent',
      'targetUnderLoadLambda',
      'richLambda',
    ],
  },
  sample: () => ({
    firing: `${head(', 2000, 4000, 6000')}40, 1.00, 1.00, 1.00\n160, 0.84, 1.00, 0.98\n`,
    quiet: `${head(', 2000, 4000, 6000')}40, 1.00, 1.05, 1.00\n90, 0.95, 0.92, 0.90\n160, 0.84, 0.82, 0.80\n`,
  }),
  table: unsafeTargets,
};
