// Did the change work: the sessions before it against those after it, cell by cell, with a test of significance.

import type { Table } from '../../formats/table/table.js';
import type { CellEvidence, Evidence } from '../evidence.js';
import { gridOf, positionOn, sameGrid, valueAt } from '../solution/grid.js';
import { judge } from '../judge.js';
import { beyondChance } from '../solution/statistics.js';
import { silenced, type SessionEvidence } from '../weigh.js';

export type CellVerdict = 'fixed' | 'better' | 'unchanged' | 'overshot' | 'worse' | 'not-proven';

/** The verdicts in words, and in the order in which they are told. */
export const VERDICT_WORDS: Readonly<Record<CellVerdict, string>> = {
  fixed: 'on target now',
  better: 'better',
  unchanged: 'no proven difference',
  overshot: 'as far off on the other side',
  worse: 'worse',
  'not-proven': 'not proven',
};
const WORST_FIRST: readonly CellVerdict[] = ['worse', 'overshot', 'unchanged', 'better', 'fixed'];

/** The cells that something can be said of, the worst first; those last that hold the same value and want the same fuel. */
export const worstFirst = (cells: readonly ComparedCell[]): ComparedCell[] => {
  const sorted = WORST_FIRST.flatMap((kind) => cells.filter(({ verdict }) => verdict === kind)),
    stays = (cell: ComparedCell): boolean => cell.verdict === 'unchanged' && !isChanged(cell);
  return [...sorted.filter((cell) => !stays(cell)), ...sorted.filter(stays)];
};

const isChanged = ({ valueBefore, valueAfter }: ComparedCell): boolean => valueBefore !== valueAfter;

export interface ComparedCell {
  readonly row: number;
  readonly column: number;
  /** The table's values that the sessions before and after were logged with, as written. */
  readonly valueBefore: number;
  readonly valueAfter: number;
  /** Fuel missing (> 1) or too much (< 1) before and after, each with the table of its time, with the 95 % interval. */
  readonly factorBefore: number;
  readonly factorBeforeInterval: readonly [low: number, high: number];
  readonly factorAfter: number;
  readonly factorAfterInterval: readonly [low: number, high: number];
  /** What the change of the value alone should have left over. */
  readonly factorExpected: number;
  readonly measuredBefore: number;
  readonly measuredAfter: number;
  /** ln(factor after / expected) in standard deviations: beyond ±1.96 the engine did not do what the table's change said. */
  readonly surprise: number;
  /** Whether the factor moved by more than chance explains (95 %; of cells that hold the same value: of all of them, `drifted`). */
  readonly significant: boolean;
  readonly verdict: CellVerdict;
}

export interface Comparison {
  readonly cells: readonly ComparedCell[];
  readonly counts: Readonly<Record<CellVerdict, number>>;
  /** Root mean square of the error over cells known on both sides, one of them firm, percent. */
  readonly errorBeforePercent: number;
  readonly errorAfterPercent: number;
  readonly verdict: string;
}

/** A factor this near 1 is as good as on target. Common practice, no source. */
const ON_TARGET = 0.015;

/**
 * Compares. Tables: what each side's sessions were logged with, on the same axes as `table`. `notSafe`: what of the sessions after the
 * change still puts the engine at risk, in a sentence.
 */
export const compare = (
  table: Table,
  before: readonly SessionEvidence[],
  after: readonly SessionEvidence[],
  tables?: { readonly before: Table; readonly after: Table },
  notSafe?: string,
): Comparison => {
  const [tableBefore, tableAfter] = [onAxesOf(table, tables?.before ?? table), onAxesOf(table, tables?.after ?? table)];
  // Each side's readings alone, and both sides' tables: what is left behind a correction is rough against the corrected one.
  const [was, is] = [judge(tableBefore, [...before, ...silenced(after)]), judge(tableAfter, [...after, ...silenced(before)])];
  const compared = was.cells.map((old, at) => comparedCell(old, is.cells[at], before[0]?.deadTimeMs ?? 0)),
    moved = drifted(compared.filter((cell, at) => !isChanged(cell) && was.cells[at].proof === 'firm' && is.cells[at].proof === 'firm'));
  const cells = compared.map((cell): ComparedCell =>
    isChanged(cell) || cell.verdict === 'not-proven' || moved.has(cell) ? cell : { ...cell, significant: false, verdict: 'unchanged' },
  );
  const counts: Record<CellVerdict, number> = { fixed: 0, better: 0, unchanged: 0, overshot: 0, worse: 0, 'not-proven': 0 };
  for (const { verdict } of cells) counts[verdict]++;
  const both = cells.filter(({ verdict }) => verdict !== 'not-proven');
  const rms = (pick: (cell: ComparedCell) => number): number =>
    100 * Math.sqrt(both.reduce((sum, cell) => sum + Math.log(pick(cell)) ** 2, 0) / both.length);
  const errorBeforePercent = rms(({ factorBefore }) => factorBefore);
  const errorAfterPercent = rms(({ factorAfter }) => factorAfter);
  const verdict = verdictOf(both, cells.filter(isChanged).length, counts, errorBeforePercent, errorAfterPercent, was, is);
  return { cells, counts, errorBeforePercent, errorAfterPercent, verdict: notSafe === undefined ? verdict : `${notSafe} ${verdict}` };
};

/** The table read at another's breakpoints, where the axes differ. */
const onAxesOf = (table: Table, other: Table): Table => {
  const [grid, own] = [gridOf(table), gridOf(other)];
  if (sameGrid(grid, own)) return other;
  const width = grid.columns.length;
  const values = table.values.map((_, cell) =>
    valueAt(
      other.values,
      own,
      positionOn(own.columns, grid.columns[cell % width]),
      positionOn(own.rows, grid.rows[Math.floor(cell / width)]),
    ),
  );
  return { ...table, values };
};

const comparedCell = (old: CellEvidence, now: CellEvidence, deadTimeMs: number): ComparedCell => {
  const deviation = (cell: CellEvidence): number => Math.log(cell.factorHigh / cell.factorLow) / (2 * 1.96);
  const [was, is] = [Math.log(old.factor), Math.log(now.factor)];
  // Dead time injects nothing: what is scaled is the rest of the pulse.
  const factorExpected = (old.factor * (old.value - deadTimeMs)) / (now.value - deadTimeMs);
  const spread = Math.hypot(deviation(old), deviation(now));
  const surprise = (is - Math.log(factorExpected)) / spread;
  const chance = 1.96 * spread;
  const significant = Math.abs(is - was) > chance;
  const proven = old.proof !== 'none' && now.proof !== 'none' && (old.proof === 'firm' || now.proof === 'firm');
  const [wasOn, isOn] = [was, is].map((each) => Math.abs(each) < ON_TARGET);
  const further = Math.abs(is) - Math.abs(was);
  const verdict: CellVerdict = !proven
    ? 'not-proven'
    : !significant || (wasOn && isOn)
      ? 'unchanged'
      : isOn || (further < 0 && now.factorLow <= 1 && now.factorHigh >= 1)
        ? 'fixed'
        : is * was < 0 && Math.abs(further) <= chance
          ? 'overshot'
          : further > 0
            ? 'worse'
            : 'better';
  return {
    row: old.row,
    column: old.column,
    valueBefore: old.value,
    valueAfter: now.value,
    factorBefore: old.factor,
    factorBeforeInterval: [old.factorLow, old.factorHigh],
    factorAfter: now.factor,
    factorAfterInterval: [now.factorLow, now.factorHigh],
    factorExpected,
    measuredBefore: old.measuredLambda,
    measuredAfter: now.measuredLambda,
    surprise,
    significant,
    verdict,
  };
};

/** Of cells that nobody changed those that want other fuel by more than chance. */
const drifted = (cells: readonly ComparedCell[]): ReadonlySet<ComparedCell> => {
  const size = ({ surprise }: ComparedCell): number => Math.abs(surprise),
    sorted = [...cells].sort((a, b) => size(b) - size(a));
  return new Set(sorted.slice(0, beyondChance(sorted.map(size))));
};

const OTHER_CAUSES = 'the lambda sensor, fuel pressure, the fuel, the air meter or the weather';

const verdictOf = (
  both: readonly ComparedCell[],
  changedCells: number,
  counts: Readonly<Record<CellVerdict, number>>,
  before: number,
  after: number,
  was: Evidence,
  is: Evidence,
): string => {
  if (both.length === 0) {
    const none = (evidence: Evidence): boolean => evidence.cells.every(({ proof }) => proof === 'none');
    return none(was)
      ? 'Nothing can be said: the sessions before the change are evidence on no cell.'
      : none(is)
        ? 'Nothing can be said: the sessions after the change are evidence on no cell.'
        : 'Nothing can be said: no cell is known well enough both before and after the change.';
  }
  const change = `the error over the ${both.length} cell${both.length === 1 ? '' : 's'} known before and after went from ${before.toFixed(1)} % to ${after.toFixed(1)} %`;
  const detail = `${counts.fixed} on target now, ${counts.better} better, ${counts.unchanged} unchanged, ${counts.overshot > 0 ? `${counts.overshot} as far off on the other side, ` : ''}${counts.worse} worse`;
  // A change of the table answers for the cells that it changed.
  const drifted = both.filter((cell) => !isChanged(cell) && cell.verdict !== 'unchanged').length;
  if (changedCells === 0) {
    return drifted === 0
      ? `The table is the same on both sides, and no cell is proven to want other fuel than before: ${change} (${detail}).`
      : `The table is the same on both sides, yet the fuel that is wanted changed: ${change} (${detail}). Something else changed between the sessions (${OTHER_CAUSES}): find out what before the table is touched.`;
  }
  const changed = both.filter(isChanged),
    unproven = changedCells - changed.length;
  const judged =
    judgedOf(changed, `${change} (${detail})`) +
    (unproven === 0
      ? ''
      : ` Of the ${changedCells} changed cells ${unproven} ${unproven === 1 ? 'is' : 'are'} not known well enough on both sides: nothing is said of ${unproven === 1 ? 'it' : 'them'}.`);
  return drifted === 0
    ? judged
    : `${judged} ${drifted} cell${drifted === 1 ? '' : 's'} with the same value on both sides want${drifted === 1 ? 's' : ''} other fuel than before: something else changed too (${OTHER_CAUSES}).`;
};

/** What a change did to the cells that it changed. */
const judgedOf = (changed: readonly ComparedCell[], told: string): string => {
  const count = (...kinds: CellVerdict[]): number => changed.filter(({ verdict }) => kinds.includes(verdict)).length;
  const improved = count('fixed', 'better'),
    worse = count('worse'),
    amiss = worse + count('overshot');
  if (amiss === 0 && improved > 0) return `The change worked where both sides prove it: ${told}.`;
  if (improved > amiss)
    return `The change worked for the most part, where both sides prove it: ${told}; look at the ${worse > 0 ? 'worse cells' : 'cells that went too far'} first.`;
  if (worse > 0) return `The change did harm: ${told}; go back to the earlier table and find out why.`;
  if (amiss > 0) return `The change went too far: ${told}; half of it may do.`;
  return `The change made no proven difference: ${told}.`;
};
