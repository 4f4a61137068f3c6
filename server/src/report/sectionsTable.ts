// The fuel table as it is, what is proven of it, and what is proposed; and what earlier changes did.

import { VERDICT_WORDS, worstFirst } from '../fueling/change/compare.js';
import { contradictionWords, driftWords } from '../fueling/doubts/contradictionWords.js';
import { causeFirst } from '../fueling/doubts/leftOutWords.js';
import { vehicleFuel } from '../formats/vehicle/vehicleFuel.js';
import { commonCause, commonCauseWords } from '../fueling/doubts/commonCause.js';
import { cellWords } from '../service/editor/sessionHover.js';
import { baseName } from '../service/uris.js';
import { html, type Content, type Markup } from './html.js';
import type { ChangeReport, Report } from './model.js';
import { counted, dataTable } from './parts.js';
import { tableLegend, tablePicture } from './tablePicture.js';
import { signed } from './verdict.js';

export function tableSection({ table, vehicle }: Report): Markup {
  if (!table) return html`<p>The vehicle's folder names no fuel table that the sessions could be weighed for.</p>`;
  const { evidence, proposal } = table;
  const picture = tablePicture(table),
    cause = evidence && commonCause(table.table, evidence),
    contradictions = evidence ? [contradictionWords, driftWords].flatMap((words) => words(evidence, table.table, baseName) ?? []) : [];
  return html`<p><span class="file">${table.file}</span>, ${table.table.quantity?.replaceAll('-', ' ') ?? 'quantity not said'}${table.table.unit?.symbol ? ` in ${table.table.unit.symbol}` : ''}. ${evidence ? 'In each cell: its value, what the drives say it should be more or less by, and the proposed value.' : 'No session tells anything about it.'}</p>
${evidence && causeFirst(evidence.sessions).map((sentence) => html`<p><strong>${sentence}</strong></p>`)}
${contradictions.map((sentence) => html`<p><strong>${sentence}</strong></p>`)}
${cause && html`<p><strong>${commonCauseWords(cause, vehicleFuel(vehicle))}</strong></p>`}
${picture ? html`<div class="scroll" tabindex="0" role="group" aria-label="Picture of the fuel table">${picture}</div>${tableLegend()}` : html`<p>The table is too large to be drawn on a page.</p>`}
${proposal && proposalTable(table.table, proposal, table.maxChangePercent)}`;
}

function proposalTable(
  table: NonNullable<Report['table']>['table'],
  { cells, left }: NonNullable<NonNullable<Report['table']>['proposal']>,
  maxChangePercent: number,
): Markup {
  const rest = [
    left.withinUncertainty > 0 ? `${left.withinUncertainty} proven to be right as they are` : '',
    left.belowLastDecimal > 0 ? `${left.belowLastDecimal} off by less than the last decimal written there` : '',
  ]
    .filter(Boolean)
    .join(', ');
  if (cells.length === 0) return html`<p>No change is proposed: no cell is proven to be off its target.${rest && ` (${rest}.)`}</p>`;
  return html`${dataTable(
    `Proposed changes, at most ${maxChangePercent} % in one step and never beyond what is proven`,
    [
      { head: 'Cell' },
      { head: 'Now', number: true },
      { head: 'Proposed', number: true },
      { head: 'Change, %', number: true },
      { head: 'Proven, 95 % between', number: true },
      { head: 'λ measured', number: true },
      { head: 'λ asked for', number: true },
      { head: 'Readings', number: true },
    ],
    cells.map(({ row, column, oldText, newText, percent, capped, evidence }): Content[] => [
      cellWords(table, row, column).replace(/^cell /, ''),
      oldText,
      newText,
      signed(percent) + (capped ? ' (one step)' : ''),
      `${signed(100 * (evidence.factorLow - 1))} and ${signed(100 * (evidence.factorHigh - 1))} %`,
      evidence.measuredLambda.toFixed(3),
      evidence.targetLambda.toFixed(3),
      evidence.samples < 1 ? 'neighbours' : evidence.samples,
    ]),
  )}${rest && html`<p>Left as they are: ${rest}.</p>`}<p>A proposal is no permission: check the sensors and the fuel pressure first, keep the original calibration, change, log again, compare.</p>`;
}

export function changesSection(report: Report): Markup {
  if (report.changes.length === 0)
    return html`<p>Nothing: every session was logged with the fuel table as it is now, as far as is known${report.sessions.some(({ loggedWith }) => loggedWith.name === undefined) ? ' (no session and no line of vehicle.json says otherwise)' : ''}.</p>`;
  return html`${report.changes.map((change) => html`<h3>${change.before} → ${change.after}</h3>${changeBody(change, report)}`)}`;
}

function changeBody({ changed, comparison, sessionsBefore, sessionsAfter }: ChangeReport, { table }: Report): Markup {
  const cells =
    comparison && table
      ? worstFirst(comparison.cells).map((cell): Content[] => [
          cellWords(table.table, cell.row, cell.column).replace(/^cell /, ''),
          cell.valueBefore,
          cell.valueAfter,
          `${signed(100 * (cell.factorBefore - 1))} %`,
          `${signed(100 * (cell.factorExpected - 1))} %`,
          `${signed(100 * (cell.factorAfter - 1))} %`,
          VERDICT_WORDS[cell.verdict],
        ])
      : [];
  return html`<p>${counted(changed.length, 'cell')} changed. Logged before: ${sessionsBefore.join(', ')}. Logged after: ${sessionsAfter.length > 0 ? sessionsAfter.join(', ') : 'nothing yet, so it is not known whether it worked'}.</p>
${comparison && html`<p><strong>${comparison.verdict}</strong></p>`}
${
  cells.length > 0
    ? dataTable(
        'Fuel wanted, more (+) or less (−), cell by cell, the worst first',
        [
          { head: 'Cell' },
          { head: 'Before', number: true },
          { head: 'After', number: true },
          { head: 'Wanted before', number: true },
          { head: 'Expected after', number: true },
          { head: 'Wanted after', number: true },
          { head: 'Result' },
        ],
        cells,
      )
    : changed.length > 0 &&
      dataTable(
        'Changed cells',
        [{ head: 'Cell' }, { head: 'Before', number: true }, { head: 'After', number: true }],
        changed.map(({ cell, from, to }): Content[] => [cell, from, to]),
      )
}`;
}
