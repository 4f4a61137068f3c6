// What server and client say to each other beyond LSP: who sends it, when, and with what. Both ends use these types and no others.

/** Initialization options, client → server. */
export interface InitializationOptions {
  /** Where the findings' pages are: a URI that `<code>.md` is joined to. */
  readonly docsBase?: string;
  /**
   * The editor completes and explains vehicle.json from the contributed schema by itself and tells where an open one is no JSON, so the
   * server leaves that part to it.
   */
  readonly schemaKnown?: boolean;
  /** The client answers the requests of `FILES`: files that lie in no place that the server can read are asked of it. */
  readonly files?: boolean;
  /** The client has the commands of `COMMANDS`, for call-outs to name. */
  readonly commands?: boolean;
  /** A folder of the editor's own (a URI) in which results may be kept for the next start; without it nothing is kept. */
  readonly keepFolder?: string;
}

/** Commands of the client that call-outs name, each with one argument. */
export const COMMANDS = { correctTable: 'leanspot.correctTable', showPlace: 'leanspot.showPlace' } as const;

/** Which of a table's code actions; each carries it as `data.kind`. */
export type TableActionKind = 'cells' | 'all' | 'keep';

/** As LSP has it. */
export interface PlaceRange {
  readonly start: { readonly line: number; readonly character: number };
  readonly end: { readonly line: number; readonly character: number };
}

/** Of `correctTable`: the correction to show and, where the user says so, to take; at the head of the table where nothing is selected. */
export interface CorrectParams {
  readonly uri: string;
  readonly kind: TableActionKind;
  readonly ranges?: readonly PlaceRange[];
}

/** Client → server, with `CorrectParams`: the correction as a code action with its edit; null where there is nothing to correct. */
export const CORRECTION = 'leanspot/correction';

/** Client → server: what changed in a table since an earlier state of it. */
export const REVIEW = 'leanspot/review';
/** `oldText`, called `oldName`: the earlier state. */
export interface ReviewParams {
  readonly uri: string;
  readonly oldName: string;
  readonly oldText: string;
}
/** As Markdown in which nothing out of a file is more than text; null where the table is not there. */
export type ReviewAnswer = { readonly markdown: string } | { readonly refused: string } | null;

/** Of `showPlace`: a line, from 0, to go to in an editor of the file. */
export interface PlaceParams {
  readonly uri: string;
  readonly line: number;
}

/** Server → client, whenever work begins or ends: what the status item shows. */
export const STATUS = 'leanspot/status';
export interface StatusParams {
  readonly state: 'busy' | 'ready';
  /** While busy: what is done, in a few words. */
  readonly what?: string;
  readonly sessions: number;
  readonly tables: number;
  readonly errors: number;
  readonly warnings: number;
}

/** Server → client, at most once a file: an open plain `.csv` reads as a session. */
export const OFFER_SESSION = 'leanspot/offerSession';
export interface OfferSessionParams {
  readonly uri: string;
  /** Channels that were recognised, for the question's wording. */
  readonly channels: readonly string[];
}

/**
 * Client → server: the report of the vehicle that a file belongs to; null where it belongs to none. The client asks where to save it and
 * writes it.
 */
export const REPORT = 'leanspot/report';
export interface ReportParams {
  readonly uri: string;
  /** Day to print, `2026-09-16`. */
  readonly date: string;
  /** Of the extension. */
  readonly version: string;
}
export interface ReportResult {
  readonly page: string;
  readonly name: string;
  readonly folder: string;
}
