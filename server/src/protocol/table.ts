// What the editor asks the server for a table's picture: its cells with what the sessions say of each, and the way of a pull over them.
// Client → server, each answered with null where the file is no table or is gone.

export const TABLE = {
  picture: 'leanspot/table/picture',
  path: 'leanspot/table/path',
} as const;

export interface PictureParams {
  readonly uri: string;
  /** Injector duty too, for which every session is looked at. */
  readonly duty: boolean;
}

/** One of the two axes; `texts` and `values` in file order, as written, empty and null where an axis has no breakpoint there. */
export interface PictureAxis {
  /** Quantity with its unit: `engine speed (rpm)`. */
  readonly title: string;
  readonly texts: readonly string[];
  readonly values: readonly (number | null)[];
}

export interface PictureCell {
  /** As written. */
  readonly text: string;
  readonly value: number | null;
  /** Where the number stands in the text, from 0. */
  readonly line: number;
  readonly character: number;
  readonly endCharacter: number;
  /** What the sessions say; absent where there is nothing. */
  readonly evidence?: PictureEvidence;
  /** The number that the proven correction would write here; absent where it would write none. */
  readonly proposed?: { readonly text: string; readonly value: number; /** The largest step stopped it short. */ readonly capped: boolean };
  /** Highest injector duty near this cell, per cent; absent where no session tells. */
  readonly dutyPercent?: number;
}

export interface PictureEvidence {
  readonly proof: 'firm' | 'thin';
  readonly samples: number;
  readonly measuredLambda: number | null;
  readonly targetLambda: number | null;
  /** What the value must be multiplied by to meet the target, and the ends of its 95 % interval. */
  readonly factor: number;
  readonly factorLow: number;
  readonly factorHigh: number;
}

export interface TablePicture {
  readonly uri: string;
  readonly name: string;
  /** Quantity of the values with its unit. */
  readonly title: string;
  readonly columns: PictureAxis;
  readonly rows: PictureAxis;
  /** Row by row. Empty where there are more than `MOST_PICTURE_CELLS`. */
  readonly cells: readonly PictureCell[];
  readonly cellCount: number;
  /** Whether sessions speak of this table, and whether they have been weighed. */
  readonly evidence: 'there' | 'being weighed' | 'none';
  /** Per cent from which duty is too high, and whether any session tells it (null: was not asked). */
  readonly dutyLimitPercent: number;
  readonly dutyKnown: boolean | null;
  /** The vehicle's sessions, whose pulls may be drawn over the cells. */
  readonly sessions: readonly { readonly uri: string; readonly name: string }[];
}

/** A table of more is not drawn cell by cell. */
export const MOST_PICTURE_CELLS = 4096;

/** The way of a run (by its place in the trace summary's list) over a table. */
export interface PathParams {
  readonly uri: string;
  readonly session: string;
  readonly run: number;
}
export interface PathResult {
  /** Where the engine was, counted in breakpoints from 0, at most a few hundred places in order of time. */
  readonly places: readonly (readonly [column: number, row: number])[];
  /** Where the fuel of the worst lambda was injected. */
  readonly worst: readonly [column: number, row: number] | null;
  /** Greatest lambda above target there, where it is known. */
  readonly worstLambda: number | null;
  readonly worstTargetLambda: number | null;
}
