// cell-rough: a cell of a fuel table that stands out from its neighbours without readings that ask for it.

import { formatNumber } from '../../quantities/format.js';
import { limitOf } from '../../formats/limits.js';
import { FUEL_TABLE_QUANTITIES, type Table } from '../../formats/table/table.js';
import { isUnderLoad, judged } from '../cellEvidence.js';
import { cellPlace } from '../cellPlace.js';
import type { Finding, Rule, TableSubject } from '../finding.js';
import { sampleTable } from '../sampleCells.js';
import { limitWords } from '../spell.js';

/**
 * Share by which a cell lies above (or below, negative) the straight lines between its neighbours, along every axis on which it has two:
 * the least of them where they agree in direction, else 0. Next to a spike only one line is bent.
 */
const departure = (values: ArrayLike<number>, { columns, rows }: Table, row: number, column: number): number => {
  const width = columns.canonical.length;
  const along = (axis: Float64Array, at: number, step: number): number[] => {
    if (at < 1 || at > axis.length - 2) return [];
    const cell = row * width + column;
    const part = (axis[at] - axis[at - 1]) / (axis[at + 1] - axis[at - 1]);
    return [values[cell] / (values[cell - step] * (1 - part) + values[cell + step] * part) - 1];
  };
  const found = [...along(columns.canonical, column, 1), ...along(rows.canonical, row, width)];
  if (found.length === 0 || (found.length < 2 && width > 1 && rows.canonical.length > 1)) return 0;
  if (found.every((share) => share > 0)) return Math.min(...found);
  return found.every((share) => share < 0) ? Math.max(...found) : 0;
};

/** A one-dimensional curve bends by nature; it is rough only where it turns back. */
const turnsBack = (values: Float64Array, at: number): boolean => (values[at] - values[at - 1]) * (values[at + 1] - values[at]) < 0;

function* roughCells(subject: TableSubject): Iterable<Finding> {
  const { table } = subject;
  if (!table.quantity || !FUEL_TABLE_QUANTITIES.includes(table.quantity)) return;
  const set = subject.vehicle?.vehicle.limits ?? {};
  const rough = limitOf('cellRoughPercent', set),
    veryRough = limitOf('cellRoughWarningPercent', set);
  const evidence = judged(subject);
  const required = evidence && Float64Array.from(evidence.cells, (cell) => (cell.proof === 'firm' ? cell.suggested : cell.value));
  const width = table.columns.canonical.length;
  for (let cell = 0; cell < table.values.length; cell++) {
    const [row, column] = [Math.floor(cell / width), cell % width];
    const share = departure(table.values, table, row, column);
    if (!(Math.abs(share) > rough.value / 100) || (table.dimensions === 1 && !turnsBack(table.values, cell))) continue;
    const asked = required && evidence.cells[cell].proof === 'firm' ? departure(required, table, row, column) : 0;
    if (asked * share > 0 && Math.abs(asked) > Math.abs(share) / 2) continue;
    const far = Math.abs(share) > veryRough.value / 100;
    const bad = far || (share < 0 && isUnderLoad(subject, row, column));
    yield {
      code: 'cell-rough',
      severity: bad ? 'warning' : 'information',
      range: table.cellRange(row, column),
      message:
        `Rough: ${cellPlace(table, row, column)} ${Number.isFinite(share) ? `lies ${formatNumber(100 * Math.abs(share), 0)} % ${share > 0 ? 'above' : 'below'} the line between its neighbours` : 'stands between neighbours that hold nothing'} (${limitWords(far ? veryRough : rough)}), and no reading asks for it. ` +
        'Check for a slip of the keyboard or a correction that stopped at this cell.',
      data: { row, column, value: table.values[cell], share },
    };
  }
}

const spiked = (middle: number): string => `=== ve.table.csv\n${sampleTable(middle)}`;

export const rule: Rule = {
  code: 'cell-rough',
  docs: {
    title: 'Cell out of line with its neighbours',
    meaning:
      "An engine's need for fuel changes smoothly with speed and load. A cell that stands out makes the mixture jump as the engine passes it; below its neighbours it is a lean spot.",
    computed:
      'Along each axis the cell is held against the straight line between its two neighbours. It is told where it departs by more than `cellRoughPercent` on the same side along every axis (a one-dimensional curve: where it also turns back), unless firm evidence asks for at least half of that. Above `cellRoughWarningPercent`, or below its neighbours under load, it is a warning. Common practice, no source.',
    causes: ['A slip of the keyboard', 'A correction of single cells from too few readings', 'Two tables joined'],
    checkFirst: 'The last change to the cell.',
    limits: ['cellRoughPercent', 'cellRoughWarningPercent', 'loadManifoldPressureKPa', 'loadThrottlePercent'],
  },
  sample: () => ({ firing: spiked(92), quiet: spiked(76) }),
  table: roughCells,
};
