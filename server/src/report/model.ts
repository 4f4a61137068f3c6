// What a report holds, gathered from the service before a word of the page is written: plain values, no files, no editor.

import type { Table } from '../formats/table.js';
import type { Vehicle } from '../formats/vehicle.js';
import type { Finding } from '../findings/finding.js';
import type { Comparison } from '../fueling/compare.js';
import type { Evidence } from '../fueling/evidence.js';
import type { Pull } from '../signals/signals.js';
import type { WrittenCorrection } from '../service/correction.js';
import type { PullFacts } from '../service/pullFacts.js';

/** A file that the report rests on. */
export interface ReportInput { readonly file: string; readonly bytes: number; readonly sha256: string }

/** A curve over a pull: seconds from its start, in canonical units; NaN breaks it. */
export interface PullCurves {
  readonly timeS: readonly number[];
  readonly rpm: readonly number[];
  readonly lambda?: readonly number[];
  readonly lambda2?: readonly number[];
  readonly target?: readonly number[];
  readonly pressureKPa?: readonly number[];
  readonly sparkDeg?: readonly number[];
}

export interface PullReport {
  /** From 1, as the outline counts them. */
  readonly number: number;
  readonly pull: Pull;
  readonly fromS: number;
  readonly toS: number;
  readonly worstS?: number;
  /** Lean beyond the limit for longer than the limit. */
  readonly lean: 'error' | 'warning' | undefined;
  readonly curves: PullCurves;
  readonly facts: PullFacts;
}

/** Peaks over a whole session, of believed readings; undefined where nothing tells. */
export interface Peaks {
  readonly dutyPercent?: number;
  readonly fuelPressureDropPercent?: number;
  readonly knockRetardDeg?: number;
  readonly intakeAirC?: number;
  readonly coolantC?: number;
  readonly oilC?: number;
  readonly rpm?: number;
  readonly manifoldPressureKPa?: number;
}

export interface SessionReport {
  readonly file: string;
  readonly notes: readonly (readonly [key: string, value: string])[];
  readonly startIso?: string;
  readonly samples: number;
  readonly durationS: number;
  readonly channels: number;
  readonly unknownChannels: readonly string[];
  /** Quantities that matter and are not logged, in words. */
  readonly notLogged: readonly string[];
  readonly ignored: readonly string[];
  readonly findings: readonly Finding[];
  readonly pulls: readonly PullReport[];
  readonly peaks: Peaks;
  readonly codes: readonly { readonly code: string; readonly state?: string; readonly says: string; readonly checkFirst: string }[];
  /** Named where it is not the present one; `unheard`: that table is not there, so the session is no evidence. */
  readonly loggedWith: { readonly name?: string; readonly isPresent: boolean; readonly unheard: boolean };
  readonly assumed: readonly string[];
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
  readonly inputs: readonly ReportInput[];
}
