// What the editor asks the server for its view of the vehicles: one question a level, so that nothing is read before somebody opens it.
// Client → server. Facts and places only: the words are the client's, in the reader's language.

export const VEHICLE = {
  /** Without parameters: `VehicleNode[]`. */
  list: 'leanspot/vehicle/list',
  /** `NodeParams` with a vehicle's `uri`: `VehicleFiles`. */
  files: 'leanspot/vehicle/files',
  /** `NodeParams` with a session's `uri`: `RecordingNode[]`. Reads the session. */
  session: 'leanspot/vehicle/session',
  /** `NodeParams` with a table's `uri`: `CellNode[]`, the farthest from its target first. */
  table: 'leanspot/vehicle/table',
} as const;

export interface NodeParams {
  readonly uri: string;
}

export interface FindingCounts {
  readonly errors: number;
  readonly warnings: number;
  readonly notes: number;
}

export interface VehicleNode {
  /** Its vehicle.json; of files without one, the open folder that they lie in. */
  readonly uri: string;
  /** As its file says, else as its folder is called. */
  readonly name: string;
  readonly hasFile: boolean;
  readonly sessions: number;
  readonly tables: number;
  /** Of what has been checked so far: its files' and its own. */
  readonly findings: FindingCounts;
}

export interface SessionNode {
  readonly uri: string;
  readonly name: string;
  /** Undefined until the session has been checked. */
  readonly read?: { readonly durationS: number; readonly pulls: number; readonly findings: FindingCounts };
}

export interface TableNode {
  readonly uri: string;
  readonly name: string;
  /** `earlier`: kept as it was when sessions were logged with it. */
  readonly role: 'fuel' | 'target' | 'earlier' | 'other';
  readonly quantity?: string;
  /** Cells by what the sessions prove; undefined for a table that they do not speak of, or before they have been weighed. */
  readonly proof?: { readonly firm: number; readonly thin: number; readonly none: number };
  readonly findings?: FindingCounts;
}

export interface VehicleFiles {
  readonly sessions: readonly SessionNode[];
  readonly tables: readonly TableNode[];
}

/** A stretch without a break in the log. Lines count from 0. */
export interface RecordingNode {
  readonly number: number;
  readonly fromS: number;
  readonly toS: number;
  readonly line: number;
  readonly pulls: readonly PullNode[];
}

export interface PullNode {
  /** As the outline counts them in the session, from 1. */
  readonly number: number;
  readonly line: number;
  readonly fromS: number;
  readonly toS: number;
  readonly fromRpm: number;
  readonly toRpm: number;
  readonly peakManifoldPressureKPa?: number;
  /** Seconds in which lambda stood above its target by more than the warning limit. */
  readonly leanS?: number;
  /** Where lambda stood highest above its target (or highest, without one), on readings to be believed. */
  readonly worst?: {
    readonly lambda: number;
    readonly targetLambda?: number;
    readonly timeS: number;
    readonly line: number;
    readonly rpm?: number;
    readonly manifoldPressureKPa?: number;
  };
}

/** A cell that sessions have been in. */
export interface CellNode {
  readonly row: number;
  readonly column: number;
  /** The operating point as the table has it, e.g. `5200 rpm, 170 kPa`. */
  readonly words: string;
  readonly line: number;
  readonly character: number;
  readonly endCharacter: number;
  readonly proof: 'firm' | 'thin';
  readonly value: number;
  readonly measuredLambda: number;
  readonly targetLambda: number;
  /** What the value must be multiplied by, with its interval of 95 %. */
  readonly factor: number;
  readonly factorLow: number;
  readonly factorHigh: number;
}
