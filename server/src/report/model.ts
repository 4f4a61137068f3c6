// What a report holds, gathered from the service before a word of the page is written: plain values, no files, no editor.

import type { Table } from '../formats/table/table.js';
import type { Vehicle } from '../formats/vehicle/vehicle.js';
import type { Finding } from '../findings/finding.js';
import type { Comparison } from '../fueling/change/compare.js';
import type { Evidence } from '../fueling/evidence.js';
import type { WrittenCorrection } from '../service/correction.js';
import type { Scope } from '../service/scope.js';
import type { SessionFacts } from '../service/sessionFacts.js';
import type { Computed } from './computed.js';

export type { Peaks, PullCurves, PullReport } from '../service/sessionFacts.js';

/** A file that the report rests on. */
export interface ReportInput {
  readonly file: string;
  readonly bytes: number;
  readonly sha256: string;
}

export interface SessionReport extends SessionFacts {
  readonly file: string;
  readonly findings: readonly Finding[];
  /** Named where it is not the present one; `unheard`: that table is not there, so the session is no evidence. */
  readonly loggedWith: { readonly name?: string; readonly isPresent: boolean; readonly unheard: boolean };
  readonly assumed: readonly string[];
  readonly scope: Scope | undefined;
}

export interface TableReport {
  readonly file: string;
  readonly table: Table;
  readonly evidence: Evidence | undefined;
  readonly proposal: WrittenCorrection | undefined;
  readonly maxChangePercent: number;
  readonly findings: readonly Finding[];
}

/** One step of the table's history: the sessions logged with the table before it, and those logged with the one after. */
export interface ChangeReport {
  readonly before: string;
  readonly after: string;
  readonly changed: readonly { readonly cell: string; readonly from: string; readonly to: string }[];
  readonly sessionsBefore: readonly string[];
  readonly sessionsAfter: readonly string[];
  /** Undefined where no session was logged after the change. */
  readonly comparison: Comparison | undefined;
}

export interface Report {
  readonly name: string;
  /** ISO date that the report is of. */
  readonly date: string;
  readonly version: string;
  readonly vehicle: Vehicle;
  readonly sessions: readonly SessionReport[];
  readonly table: TableReport | undefined;
  readonly changes: readonly ChangeReport[];
  /** Findings of the vehicle file and of tables other than the fuel table. */
  readonly otherFindings: readonly { readonly file: string; readonly findings: readonly Finding[] }[];
  /** Of all that is told. */
  readonly computed: readonly Computed[];
  readonly inputs: readonly ReportInput[];
}
