// The factor that the sessions prove, beside each cell of a table.

import { InlayHintKind, type InlayHint } from 'vscode-languageserver-types';
import type { Range } from '../../formats/range.js';
import type { Table } from '../../formats/table/table.js';
import type { CellEvidence, Evidence } from '../../fueling/evidence.js';

/** Beside more columns than this the hints would push the numbers out of sight. */
const MOST_COLUMNS = 40;
/** As wide as a factor: in a font of fixed width the author's columns stay under each other. */
const BLANK = '\u00a0'.repeat('×1.00'.length);

/** `×1.08`, always as wide. */
const factorText = (factor: number): string =>
  `×${
    factor < 10
      ? factor.toFixed(2)
      : Math.min(factor, 999)
          .toFixed(factor < 99.9 ? 1 : 0)
          .padStart(4, '\u00a0')
  }`;

/**
 * Hints within the visible part only, one of the same width behind every number of the grid, so that all columns move alike: the factor
 * where it is proven, a blank elsewhere and behind the breakpoints. None at all where nothing is proven.
 */
export function tableInlayHints(table: Table, visible: Range, evidence: Evidence | undefined): InlayHint[] {
  if (!evidence || table.columns.values.length > MOST_COLUMNS || !evidence.cells.some(({ proof }) => proof === 'firm')) return [];
  const hintAt = ({ end }: Range, label: string, tooltip?: string): InlayHint[] =>
    end.line < visible.start.line || end.line > visible.end.line
      ? []
      : [{ position: end, label, kind: InlayHintKind.Parameter, paddingLeft: true, ...(tooltip === undefined ? {} : { tooltip }) }];
  return [
    ...table.columns.ranges.flatMap((range) => hintAt(range, BLANK)),
    ...evidence.cells.flatMap((cell) =>
      hintAt(table.cellRange(cell.row, cell.column), cell.proof === 'firm' ? factorText(cell.factor) : BLANK, toldBy(cell)),
    ),
  ];
}

function toldBy({ proof, factor, factorLow, factorHigh, samples }: CellEvidence): string | undefined {
  if (proof === 'none') return undefined;
  return `${proof === 'firm' ? 'Proven' : 'Thin evidence, not enough to act on'}: factor ${factor.toFixed(3)}, 95 % between ${factorLow.toFixed(3)} and ${factorHigh.toFixed(3)}, from ${samples} samples.`;
}
