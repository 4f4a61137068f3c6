// The factor that the sessions prove, beside each cell of a table.

import { InlayHintKind, type InlayHint } from 'vscode-languageserver-types';
import type { Range } from '../formats/range.js';
import type { Table } from '../formats/table.js';
import type { Evidence } from '../fueling/evidence.js';

/** Beside more columns than this the hints would push the numbers out of sight. */
const MOST_COLUMNS = 40;
/** A factor this near to 1 says nothing. */
const SAME = 0.005;

/** Hints within the visible part only. A `?` marks thin evidence. */
export function tableInlayHints(table: Table, visible: Range, evidence: Evidence | undefined): InlayHint[] {
  if (!evidence || table.columns.values.length > MOST_COLUMNS) return [];
  return evidence.cells.flatMap(({ row, column, factor, factorLow, factorHigh, proof, samples }): InlayHint[] => {
    if (proof === 'none' || Math.abs(factor - 1) < SAME) return [];
    const { end } = table.cellRange(row, column);
    if (end.line < visible.start.line || end.line > visible.end.line) return [];
    return [{
      position: end, label: `×${factor.toFixed(2)}${proof === 'thin' ? '?' : ''}`, kind: InlayHintKind.Parameter, paddingLeft: true,
      tooltip: `${proof === 'firm' ? 'Proven' : 'Thin evidence'}: factor ${factor.toFixed(3)}, 95 % between ${factorLow.toFixed(3)} and ${factorHigh.toFixed(3)}, from ${samples} samples.`,
    }];
  });
}
