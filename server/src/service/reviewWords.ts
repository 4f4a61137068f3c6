// A review of a table in words: for a terminal, and as Markdown for a pull request, in which nothing out of a file is more than text.

import { breakpointText } from '../findings/cellPlace.js';
import type { ChangedCell, ChangeVerdict, LostPoint } from '../fueling/change/tableDiff.js';
import { causeFirst } from '../fueling/doubts/leftOutWords.js';
import { escaped } from './editor/card.js';
import { CAUTIONS } from './correction.js';
import type { TableReview } from './reviewTable.js';

export const VERDICT_WORDS: Readonly<Record<ChangeVerdict, string>> = {
  proven: 'proven',
  within: 'within the interval',
  toward: 'part of the way, thin evidence',
  against: 'against the evidence',
  'no-evidence': 'no evidence',
};

/** More rows than this hide the rest of a pull request. */
const MOST_ROWS = 200;

export const percentText = (percent: number): string =>
  Number.isNaN(percent) ? '' : `${percent < 0 ? '−' : '+'}${Math.abs(percent).toFixed(1)} %`;

/** `4800 rpm, 170 kPa`; one of the two in a table of one dimension. */
export const placeText = (
  { columns, rows }: TableReview['table'],
  { row, column }: { readonly row: number; readonly column: number },
): string =>
  [columns.values.length > 1 ? breakpointText(columns, column) : '', rows.values.length > 1 ? breakpointText(rows, row) : '']
    .filter((part) => part !== '')
    .join(', ') || `row ${row + 1}, column ${column + 1}`;

export const valueText = (value: number): string => (Number.isNaN(value) ? 'blank' : String(Number(value.toPrecision(5))));

export function evidenceText({ verdict, required }: ChangedCell): string {
  if (verdict === undefined) return '';
  if (!required) return VERDICT_WORDS[verdict];
  const [value, low, high] = [required.value, required.low, required.high].map((each) => String(Number(each.toPrecision(4))));
  return `${VERDICT_WORDS[verdict]}: ${value} wanted (95 % between ${low} and ${high}, ${required.proof})`;
}

export const marksOf = ({ jumps, beyondOld }: ChangedCell): string[] => [
  ...(jumps ? ['jumps from its neighbours'] : []),
  ...(beyondOld ? ['beyond the old breakpoints'] : []),
];

/** What is to be known before the cells are: one sentence each. */
export function summaryLines({
  diff: { cells, counts, sameAxes, lost },
  sessions,
  contradiction,
  silent,
  silentAre,
  table,
}: TableReview): string[] {
  if (cells.length === 0 && lost.length === 0) return ['No cell changed.'];
  const least = cells.reduce((sum, { percent }) => (Number.isNaN(percent) ? sum : Math.min(sum, percent)), Infinity);
  const most = cells.reduce((sum, { percent }) => (Number.isNaN(percent) ? sum : Math.max(sum, percent)), -Infinity);
  const span = least > most ? '' : least === most ? `, by ${percentText(least)}` : `, from ${percentText(least)} to ${percentText(most)}`;
  const verdicts = (['against', 'no-evidence', 'toward', 'within', 'proven'] as const)
    .filter((verdict) => counts[verdict] > 0)
    .map((verdict) => `${counts[verdict]} ${VERDICT_WORDS[verdict]}`);
  return [
    `${counts.changed} of ${table.values.length} cells changed${span}.`,
    ...(verdicts.length > 0 ? [`${capital(verdicts.join(', '))}.`] : []),
    ...(counts.jumps > 0
      ? [
          `${counts.jumps} ${counts.jumps === 1 ? 'jumps from its neighbours: its change differs' : 'jump from their neighbours: their change differs'} from each of theirs by more than 5 % (spark: 3°).`,
        ]
      : []),
    ...(sameAxes ? [] : ['The breakpoints differ: the old table is read between its own, and holds its edge outside of them.']),
    ...(silent === undefined ? [] : [`Nothing is said of the evidence: ${silent}.`]),
    ...(sessions
      ? [
          `${sessions.length} session${sessions.length === 1 ? '' : 's'} weighed; where one does not say otherwise it is taken to be logged with ${silentAre}.`,
          ...causeFirst(sessions),
        ]
      : []),
    ...(contradiction === undefined ? [] : [contradiction]),
  ];
}

const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

export const lostText = ({ columnValue, rowValue, before, after, percent }: LostPoint): string =>
  `at ${[columnValue, rowValue]
    .filter((value) => !Number.isNaN(value))
    .map(valueText)
    .join(
      ' / ',
    )}, no breakpoint any more: ${valueText(before)} → ${valueText(after)}${Number.isNaN(percent) ? '' : `, ${percentText(percent)}`}`;

export function reviewMarkdown(review: TableReview): string {
  const {
    diff: { cells, lost },
    table,
    oldName,
    newName,
  } = review;
  const judged = cells.some(({ verdict }) => verdict !== undefined);
  const shown = cells.slice(0, MOST_ROWS);
  const head = ['Cell', 'Old', 'New', 'Change', ...(judged ? ['Evidence'] : []), 'Look at'];
  const rows = shown.map((cell) => [
    placeText(table, cell),
    valueText(cell.before),
    valueText(cell.after),
    percentText(cell.percent),
    ...(judged ? [evidenceText(cell)] : []),
    marksOf(cell).join(', '),
  ]);
  return (
    [
      `### ${escaped(newName)}: what changed since ${escaped(oldName)}`,
      summaryLines(review).map(escaped).join(' '),
      ...(rows.length === 0
        ? []
        : [
            [
              `| ${head.join(' | ')} |`,
              `|${head.map((_, at) => (at > 0 && at < 4 ? ' ---: ' : ' --- ')).join('|')}|`,
              ...rows.map((row) => `| ${row.map(escaped).join(' | ')} |`),
            ].join('\n'),
          ]),
      ...(cells.length > shown.length ? [`… and ${cells.length - shown.length} more cells.`] : []),
      ...(lost.length > 0
        ? [
            lost
              .slice(0, 20)
              .map((point) => `- ${escaped(lostText(point))}`)
              .join('\n'),
          ]
        : []),
      ...(cells.length > 0 ? [`*${escaped(CAUTIONS)}*`] : []),
    ].join('\n\n') + '\n'
  );
}

/** Numbers of a review for JSON, schema 1; what is not known is null or left out. */
export function reviewJson(
  { diff: { cells, counts, sameAxes, lost }, table, sessions, silent }: TableReview,
  names: { readonly old: string; readonly new: string; nameOf(session: string): string },
): object {
  const number = (value: number): number | null => (Number.isFinite(value) ? Number(value.toPrecision(6)) : null);
  const axis = ({ quantity, unit, values }: typeof table.columns): object => ({
    quantity: quantity ?? null,
    unit: unit?.symbol ?? null,
    values: [...values].map(number),
  });
  return {
    schema: 1,
    old: names.old,
    new: names.new,
    quantity: table.quantity ?? null,
    unit: table.unit?.symbol ?? null,
    columns: axis(table.columns),
    rows: axis(table.rows),
    sameAxes,
    evidence: sessions
      ? {
          sessions: sessions.map(({ session, samples, used, loggedWith, assumed }) => ({
            session: names.nameOf(session),
            samples,
            used,
            loggedWith: loggedWith ?? null,
            assumed,
          })),
        }
      : null,
    ...(silent === undefined ? {} : { silent }),
    counts,
    cells: cells.map(({ row, column, before, after, percent, verdict, required, jumps, beyondOld }) => ({
      row,
      column,
      old: number(before),
      new: number(after),
      percent: number(percent),
      verdict: verdict ?? null,
      required: required
        ? {
            value: number(required.value),
            low: number(required.low),
            high: number(required.high),
            proof: required.proof,
            samples: required.samples,
          }
        : null,
      jumps,
      beyondOld,
    })),
    lost: lost.map(({ columnValue, rowValue, before, after, percent }) => ({
      column: number(columnValue),
      row: number(rowValue),
      old: number(before),
      new: number(after),
      percent: number(percent),
    })),
  };
}
