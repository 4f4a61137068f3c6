// Evidence as text, JSON (the public contract, schema 1) and CSV.

import type { Axis, Table } from '../../formats/table/table.js';
import type { CellEvidence, Evidence, LeftOut } from '../../fueling/evidence.js';
import { leftOutWords } from '../../fueling/doubts/leftOutWords.js';
import { contradictionWords, driftWords } from '../../fueling/doubts/contradictionWords.js';
import { commonCause, commonCauseWords } from '../../fueling/doubts/commonCause.js';
import type { Fuel } from '../../quantities/fuels.js';
import { unreadWords } from '../../fueling/doubts/unread.js';
import { coloured, counted, visible } from './words.js';
import { jsonText, tell, write } from './write.js';

export interface Weighed {
  readonly table: Table;
  readonly tablePath: string;
  readonly evidence: Evidence;
  /** The vehicle's. */
  readonly fuel?: Fuel;
  /** A session's URI as its path. */
  readonly nameOf: (uri: string) => string;
}

/** What the formats for programs have no room for goes to standard error. */
function tellUnread({ evidence, nameOf }: Weighed): void {
  for (const weight of evidence.sessions) {
    const unread = unreadWords(weight);
    if (unread !== undefined) tell(`leanspot: ${nameOf(weight.session)}: ${visible(unread)}\n`);
  }
}

export function writeWeighJson(weighed: Weighed): void {
  const { table, tablePath, evidence, nameOf } = weighed;
  tellUnread(weighed);
  const axis = ({ quantity, unit, values }: Axis): object => ({
    quantity: quantity ?? null,
    unit: unit?.symbol ?? null,
    values: [...values].map(orNull),
  });
  write(
    `${jsonText({
      schema: 1,
      table: tablePath,
      columns: axis(table.columns),
      rows: axis(table.rows),
      transportDelay: evidence.sessions.map(({ session, transportDelay: { estimated, medianS, byFlow } }) => ({
        session: nameOf(session),
        estimated,
        medianS: orNull(rounded(medianS)),
        byFlow: byFlow.map(([flow, seconds]) => [rounded(flow), rounded(seconds)]),
      })),
      cells: evidence.cells.map((cell) => ({
        row: cell.row,
        column: cell.column,
        value: orNull(cell.value),
        samples: cell.samples,
        effectiveSamples: orNull(rounded(cell.effectiveSamples)),
        seconds: orNull(rounded(cell.seconds)),
        measuredLambda: orNull(rounded(cell.measuredLambda)),
        targetLambda: orNull(rounded(cell.targetLambda)),
        factor: orNull(rounded(cell.factor)),
        factorLow: orNull(rounded(cell.factorLow)),
        factorHigh: orNull(rounded(cell.factorHigh)),
        proof: cell.proof,
        suggested: orNull(rounded(cell.suggested)),
      })),
    })}\n`,
  );
}

const COLUMNS: readonly (keyof CellEvidence)[] = [
  'row',
  'column',
  'value',
  'samples',
  'effectiveSamples',
  'seconds',
  'measuredLambda',
  'targetLambda',
  'factor',
  'factorLow',
  'factorHigh',
  'proof',
  'suggested',
];

/** One cell a line; a number that is not known is blank. */
export function writeWeighCsv(weighed: Weighed): void {
  const { evidence } = weighed;
  tellUnread(weighed);
  const field = (value: unknown): string =>
    typeof value === 'number' ? (Number.isFinite(value) ? String(rounded(value)) : '') : String(value);
  write([COLUMNS.join(','), ...evidence.cells.map((cell) => COLUMNS.map((name) => field(cell[name])).join(','))].join('\n') + '\n');
}

export function writeWeighText({ table, tablePath, evidence, fuel, nameOf }: Weighed): void {
  const { bold, dim } = coloured;
  // What holds for each of them is said once.
  const [first, ...others] = evidence.sessions,
    always = others.length === 0 ? [] : first.assumed.filter((words) => others.every(({ assumed }) => assumed.includes(words)));
  const sessions = evidence.sessions.map((weight) => {
    const {
        session,
        samples,
        used,
        leftOut,
        transportDelay: { medianS, deviationS, from, byCar },
        loggedWith,
        assumed,
      } = weight,
      unread = unreadWords(weight);
    const delay = Number.isFinite(medianS)
      ? `, delay ${Math.round(medianS * 1000)} ${from === 'vehicle.json' ? 'ms as vehicle.json states' : `± ${Math.round(2 * deviationS * 1000)} ms ${byCar ? "found in the car's logs" : from === 'log' ? 'found in the log' : 'assumed, not found in the log'}`}`
      : '';
    const reasons = Object.entries(leftOut)
      .sort((a, b) => b[1] - a[1])
      .map(([reason, count]) => `${count} ${leftOutWords(reason as LeftOut, table)}`);
    return [
      `  ${nameOf(session)}: ${used} of ${counted(samples, 'sample')} used${delay}${loggedWith === undefined ? '' : `, logged with ${loggedWith}`}`,
      ...(reasons.length > 0 ? [dim(`    left out: ${reasons.join(', ')}`)] : []),
      ...assumed.filter((each) => !always.includes(each)).map((each) => dim(`    assumed: ${each}`)),
      ...(unread === undefined ? [] : [dim(`    ${visible(unread)}`)]),
    ].join('\n');
  });
  const firm = evidence.cells.filter(({ proof }) => proof === 'firm').length;
  const thin = evidence.cells.filter(({ proof }) => proof === 'thin').length;
  const cause = commonCause(table, evidence),
    contradiction = contradictionWords(evidence, table, nameOf),
    drift = driftWords(evidence, table, nameOf);
  write(
    [
      bold(tablePath),
      ...sessions,
      ...always.map((each) => dim(`  assumed of every session: ${each}`)),
      '',
      'Factor that each cell must be multiplied by (? thin evidence, · never visited):',
      ...grid(table, evidence),
      '',
      `${firm} of ${counted(evidence.cells.length, 'cell')} proven, ${thin} with thin evidence. Factors with their 95 % intervals: --format json or csv.`,
      ...(contradiction === undefined ? [] : [contradiction]),
      ...(drift === undefined ? [] : [drift]),
      ...(cause ? [commonCauseWords(cause, fuel)] : []),
    ].join('\n') + '\n',
  );
}

/** The table's own grid, factors in the place of values. */
function grid(table: Table, { cells }: Evidence): string[] {
  const width = table.columns.values.length;
  const texts: string[][] = [['', ...[...table.columns.values].map((value) => (Number.isNaN(value) ? '' : String(value)))]];
  for (let row = 0; row * width < cells.length; row++) {
    const head = table.rows.values[row];
    texts.push([
      head === undefined || Number.isNaN(head) ? '' : String(head),
      ...cells
        .slice(row * width, (row + 1) * width)
        .map(({ proof, factor }) => (proof === 'none' ? '·' : `${factor.toFixed(3)}${proof === 'thin' ? '?' : ' '}`)),
    ]);
  }
  const widest = Math.max(...texts.flat().map(({ length }) => length));
  const paint = (text: string, value: string): string => {
    const off = Number.parseFloat(value) - 1;
    return value.endsWith(' ') && Math.abs(off) > 0.02 ? (off > 0 ? coloured.yellow(text) : coloured.cyan(text)) : text;
  };
  return texts.map((line, index) =>
    `  ${line.map((text, column) => (index > 0 && column > 0 ? paint(text.padStart(widest), text) : coloured.dim(text.padStart(widest)))).join(' ')}`.trimEnd(),
  );
}

/** Six significant digits: more than any log is worth, and no noise of binary fractions. */
const rounded = (value: number): number => (Number.isFinite(value) ? Number(value.toPrecision(6)) : value);
const orNull = (value: number): number | null => (Number.isFinite(value) ? value : null);
