// The shape of a finding and of the rule that makes it: one file a code, carrying its words, its docs and its samples.

import type { Range } from '../formats/range.js';
import type { Table } from '../formats/table/table.js';
import type { VehicleDocument } from '../formats/vehicle/vehicle.js';
import type { Evidence } from '../fueling/evidence.js';
import type { LimitId } from '../formats/limits.js';
import type { Signals } from '../signals/signals.js';

export type Severity = 'error' | 'warning' | 'information' | 'hint';

export type FindingCode =
  // session
  | 'value-not-a-number'
  | 'row-ragged'
  | 'header-duplicate'
  | 'unit-unknown'
  | 'channel-missing'
  | 'time-reversed'
  | 'time-gap'
  | 'time-repeated'
  | 'sensor-dropout'
  | 'channel-clipped'
  | 'channel-stuck'
  | 'value-implausible'
  | 'sensor-cold'
  | 'sensor-mount'
  | 'afr-scale-mismatch'
  | 'lean-under-load'
  | 'rich-under-load'
  | 'knock'
  | 'injector-duty-high'
  | 'fuel-pressure-drop'
  | 'intake-air-hot'
  | 'coolant-hot'
  | 'misfire-suspected'
  | 'trouble-code'
  // table
  | 'axis-not-monotonic'
  | 'cell-lean'
  | 'cell-rich'
  | 'cell-rough'
  | 'cell-unproven'
  | 'target-unsafe'
  // vehicle
  | 'vehicle-invalid'
  | 'file-missing';

/** Another place that belongs to a finding; `file` undefined is the same file. */
export interface Related {
  readonly file?: string;
  readonly range: Range;
  readonly message: string;
}

/** What a rule found; the service adds the file. */
export interface Finding {
  readonly code: FindingCode;
  readonly severity: Severity;
  readonly range: Range;
  /** One or two sentences: what, where, how bad (number, limit, unit), what to check first. */
  readonly message: string;
  /** Quantity id where known, else the header. */
  readonly channel?: string;
  /** Seconds from the session's start. */
  readonly timeS?: readonly [from: number, to: number];
  readonly data?: Readonly<Record<string, unknown>>;
  readonly related?: readonly Related[];
}

/** The pages and help texts of a finding, written once here and shown everywhere. */
export interface FindingDocs {
  readonly title: string;
  /** What it means for the engine or the reading. */
  readonly meaning: string;
  /** How it is computed, with the limits it uses. */
  readonly computed: string;
  readonly causes: readonly string[];
  readonly checkFirst: string;
  /** Limits that the vehicle file can set. */
  readonly limits: readonly LimitId[];
  /** Whether it holds readings to what is plausible of each quantity; the vehicle file can set these ranges too. */
  readonly ranges?: true;
}

/** Over `computed` on a finding's page. */
export const COMPUTED_HEADING = '## How it is computed';

/** Files as text (`=== NAME` lines between) that make the rule speak, and that keep it quiet; both run in the tests. */
export interface RuleSample {
  readonly firing: string;
  readonly quiet: string;
}

interface RuleBase {
  readonly code: FindingCode;
  /** Whose trouble it is, for the report's verdict; left out where it is the file's. */
  readonly concerns?: 'engine' | 'readings';
  /** Somebody may be about to drive on, or to change the table: the command line ends with the cautions. */
  readonly danger?: true;
  readonly docs: FindingDocs;
  /** Made when asked for: nobody waits for the samples of thirty rules before a check. */
  readonly sample: () => RuleSample;
}

export interface Rule extends RuleBase {
  readonly session?: (signals: Signals) => Iterable<Finding>;
  readonly table?: (subject: TableSubject) => Iterable<Finding>;
  readonly vehicle?: (document: VehicleDocument) => Iterable<Finding>;
}

/** A table with what is known around it. */
export interface TableSubject {
  readonly table: Table;
  readonly vehicle: VehicleDocument | undefined;
  /** What the sessions prove about each cell; undefined where none were weighed. */
  readonly evidence: Evidence | undefined;
  /** Of a vehicle's target table: the fuel table that is held to it, and what the sessions prove of that. */
  readonly fuelled?: { readonly table: Table; readonly evidence: Evidence };
}
