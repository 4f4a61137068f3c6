// cell-unproven: how much of the table the sessions leave open, in one finding for the whole table.

import { formatNumber, formatValue } from '../../quantities/format.js';
import { QUANTITIES } from '../../quantities/quantity.js';
import { UNITS } from '../../quantities/units.js';
import type { Table } from '../../formats/table/table.js';
import { contradictionTitle } from '../../fueling/doubts/contradictionWords.js';
import type { CellEvidence, Evidence, LeftOut } from '../../fueling/evidence.js';
import { leftOutWords } from '../../fueling/doubts/leftOutWords.js';
import { isUnderLoad, judged } from '../cellEvidence.js';
import { cellPlace } from '../cellPlace.js';
import type { Finding, Rule, TableSubject } from '../finding.js';
import { sampleCells, sampleTable } from '../sampleCells.js';

const MOST_NAMED = 4;

/** `2100: load or speed changing too fast; 300: overrun`, the most frequent first. */
const leftOutText = (table: Table, { sessions }: Evidence): string => {
  const sums = new Map<string, number>();
  for (const { leftOut } of sessions) for (const [why, count] of Object.entries(leftOut)) sums.set(why, (sums.get(why) ?? 0) + count);
  return [...sums]
    .sort((a, b) => b[1] - a[1])
    .slice(0, 3)
    .map(([why, count]) => `${formatNumber(count, 0)}: ${leftOutWords(why as LeftOut, table)}`)
    .join('; ');
};

/** `175 kPa; it went up to 189 kPa`, of the axes that the engine went beyond. */
const beyondTexts = (table: Table, { sessions }: Evidence): string[] =>
  (['rows', 'columns'] as const).flatMap((along) => {
    const axis = table[along],
      most = Math.max(...sessions.map(({ beyond }) => beyond?.[along] ?? -Infinity));
    if (!axis.quantity || !(most > -Infinity)) return [];
    const unit = UNITS[QUANTITIES[axis.quantity].unit];
    return [
      `the last ${along === 'rows' ? 'row' : 'column'} is ${formatValue(Math.max(...axis.canonical), unit)}, and it went up to ${formatValue(most, unit)}`,
    ];
  });

function* unproven(subject: TableSubject): Iterable<Finding> {
  const { table } = subject;
  const evidence = judged(subject);
  if (!evidence || evidence.sessions.length === 0) return;
  const never = evidence.cells.filter(({ proof }) => proof === 'none');
  const thin = evidence.cells.filter(({ proof }) => proof === 'thin');
  const beyond = beyondTexts(table, evidence);
  const contradiction = contradictionTitle(evidence);
  if (never.length + thin.length + beyond.length === 0 && contradiction === undefined) return;
  const outside =
    beyond.length === 0
      ? ''
      : ` The engine ran beyond the table: ${beyond.join('; ')}. There it holds its edge, and whether that is right is not known.`;
  const total = evidence.cells.length,
    isContradicted = ({ row, column }: CellEvidence): boolean =>
      evidence.contradiction?.cells.has(row * table.columns.values.length + column) ?? false;
  const left = leftOutText(table, evidence);
  const leftOut = left ? ` Readings left out: ${left}.` : '',
    disagree = contradiction === undefined ? '' : ` ${contradiction}.`;
  const loaded = thin
    .filter((cell) => !isContradicted(cell) && isUnderLoad(subject, cell.row, cell.column, cell))
    .sort((a, b) => b.effectiveSamples - a.effectiveSamples);
  const name = ({ row, column }: CellEvidence): string => cellPlace(table, row, column);
  yield {
    code: 'cell-unproven',
    severity: contradiction === undefined ? 'information' : 'warning',
    range: table.headRange,
    message:
      never.length === total
        ? `No reading of the ${evidence.sessions.length === 1 ? 'session' : `${evidence.sessions.length} sessions`} is evidence on this table: nothing in it is proven, and nothing will be changed.${leftOut}`
        : `${total - never.length - thin.length} of ${total} cells are proven; ${thin.length} have too little evidence and ${never.length} were never driven. No evidence means no change.${outside}${disagree}` +
          (loaded.length ? ` Nearest to proof under load: ${loaded.slice(0, MOST_NAMED).map(name).join('; ')}.` : '') +
          leftOut,
    data: { never: never.map(({ row, column }) => [row, column]), thin: thin.map(({ row, column }) => [row, column]), beyond },
  };
}

export const rule: Rule = {
  code: 'cell-unproven',
  docs: {
    title: 'Cells without proof',
    meaning:
      'Part of the table has too little evidence, or none. Nothing is known of these cells: they are neither good nor bad, and no correction touches them.',
    computed:
      'A cell is proven (firm) from 5 independent samples on, out of two passages or more than four seconds of one that stays, with 1 s near the cell itself, where its readings agree and its 95 % interval reaches no further than 2 % to either side, and 2.35 % without help of its neighbours; and where no two sessions contradict each other: what they say by their own readings round the cell, two standard deviations (1 % between passages, order of magnitude) to either side, lies no more than the promised 3 % apart. Samples close in time count as few: n (1 - r)/(1 + r) with r their correlation. Where the running engine went beyond the greatest breakpoint by more than a tenth of the last step, it is said how far. Thin is less than that; none is never driven. Where sessions contradict each other, or one itself, it is a warning. Common practice, no source.',
    causes: [
      'The engine was not driven there',
      'It was only passed through, too fast to tell',
      'The sensor was not to be believed there',
      'Sensor, fuel pressure, fuel or air meter changed between two sessions, or one is of another car',
    ],
    checkFirst:
      'Which of these cells the car really uses; hold those steady for a few seconds in the next session, with a passenger or on a dynamometer.',
    limits: [],
  },
  sample: () => ({
    firing: sampleCells(1, sampleTable().replace('1500, 2500, 3500', '2500, 4500, 6500')),
    quiet: `=== ve.table.csv\n${sampleTable()}`,
  }),
  table: unproven,
};
