// A correction as edits of the user's files, one undoable step: the table changed, its earlier state kept, the sessions pinned to it.

import { cellTextFor, setCells } from '../formats/table/editTable.js';
import { range } from '../formats/range.js';
import { readVehicle } from '../formats/vehicle/readVehicle.js';
import type { Table, TextEdit } from '../formats/table/table.js';
import { numberOf } from '../formats/table/tableText.js';
import type { Evidence } from '../fueling/evidence.js';
import { correct, type CorrectedCell, type Correction, type CorrectionOptions } from '../fueling/change/correct.js';
import type { Documents } from './documents.js';
import type { Weigher } from './evidence.js';
import { CORRECTED_FROM } from './sessionHead.js';
import { baseName, relativeTo } from './uris.js';
import { pinnedTable, sessionsOf, type VehicleFolder } from './vehicleFolders.js';
import { positionAt } from './editor/vehicleCompletion.js';
import { withPins } from './vehiclePins.js';
import type { Workspace } from './workspace.js';

/** A file's change: edits of what is there, or a new file. */
export type FileChange =
  | { readonly kind: 'edit'; readonly uri: string; readonly edits: readonly TextEdit[] }
  | { readonly kind: 'create'; readonly uri: string; readonly text: string };

/** A corrected cell as it goes into the file. */
export interface WrittenCell extends CorrectedCell {
  /** The number in the file now and the one that takes its place, at the author's decimals. */
  readonly oldText: string;
  readonly newText: string;
  /** From the one to the other, per cent of the old; NaN where that is 0. */
  readonly percent: number;
}

/** A correction of those cells alone whose text changes. */
export interface WrittenCorrection {
  readonly cells: readonly WrittenCell[];
  /** `belowLastDecimal`: proven to be off, by less than the author's decimals can show. */
  readonly left: Correction['left'] & { readonly belowLastDecimal: number };
  readonly held: Correction['held'];
}

export interface PlannedCorrection {
  readonly correction: WrittenCorrection;
  readonly table: Table;
  /** Edits of the table alone. */
  readonly edits: readonly TextEdit[];
  /** Everything: earlier states kept, sessions pinned to them, then the table. Empty where there is an `obstacle`. */
  readonly changes: readonly FileChange[];
  /** Why the table must not be changed in place, in plain words: its sessions could not be held to its earlier state. */
  readonly obstacle?: string;
  readonly evidence: Evidence;
  /** The edit by which a copy tells what it was corrected from: drives that nothing pins never testify about it again. */
  readonly note?: TextEdit;
}

/** What is told before a correction is taken. */
export const CAUTIONS =
  'Lean under load destroys engines: believe no table change before the sensors are checked, keep the original calibration, change in small steps and log again. ' +
  "A qualified person decides. Changing a road vehicle's calibration may be unlawful where you are.";

/** Undefined where nothing is proven or the vehicle's evidence speaks of another table. `sessions` (URIs): only these are weighed. */
export async function planCorrection(
  workspace: Workspace,
  documents: Documents,
  weigher: Weigher,
  tableUri: string,
  options: CorrectionOptions,
  sessions?: readonly string[],
): Promise<PlannedCorrection | undefined> {
  const read = await documents.table(tableUri);
  const text = await documents.text(tableUri);
  const evidence = sessions ? await weigher.evidenceOf(tableUri, sessions) : await weigher.evidence(tableUri);
  if (!read || text === undefined || !evidence) return undefined;
  const { correction, edits } = cellEdits(read.value, text, evidence.value, options);
  const plan = { correction, table: read.value, edits, evidence: evidence.value };
  if (edits.length === 0) return { ...plan, changes: [] };
  const folder = await documents.vehicleFolder(tableUri);
  // The vehicle's other sessions are pinned too: they as well were logged before this change.
  const all = [...new Set([...(folder ? await sessionsOf(workspace, folder) : []), ...(sessions ?? [])])];
  const note = await noteOf(read.value, text, weigher, tableUri, all),
    noted = { ...plan, ...(note ? { note } : {}) };
  const pins = folder
    ? await pinSessions(workspace, documents, weigher, folder, tableUri, text, all)
    : { obstacle: 'no vehicle.json above the table, in which the sessions could be pinned to its earlier state' };
  if ('obstacle' in pins) return { ...noted, changes: [], obstacle: pins.obstacle };
  return { ...noted, changes: [...pins, { kind: 'edit', uri: tableUri, edits }] };
}

/** The corrected cells and the edits that write them, one each. */
export function cellEdits(
  table: Table,
  text: string,
  evidence: Evidence,
  options: CorrectionOptions,
): { correction: WrittenCorrection; edits: readonly TextEdit[] } {
  const { cells, left, held } = correct(table, evidence, options);
  const { edits, editOf } = editsOf(table, text, cells),
    isWritten = editsOf(table, text, held).editOf;
  const written = cells.flatMap((cell): WrittenCell[] => {
    const edit = editOf(cell);
    if (!edit) return [];
    const [oldText, newText] = [table.cellText(cell.row, cell.column), edit.newText.trim()];
    return [{ ...cell, oldText, newText, percent: (numberOf(newText) / numberOf(oldText) - 1) * 100 }];
  });
  return {
    correction: { cells: written, left: { ...left, belowLastDecimal: cells.length - written.length }, held: held.filter(isWritten) },
    edits,
  };
}

type Changed = Pick<CorrectedCell, 'row' | 'column' | 'before' | 'after'>;

/** The edits that write cells, and that of one; none where the last decimal does not show it. */
function editsOf(
  table: Table,
  text: string,
  cells: readonly Changed[],
): { edits: readonly TextEdit[]; editOf(cell: Changed): TextEdit | undefined } {
  const edits = setCells(
    table,
    text,
    cells.map((cell) => ({ ...cell, value: roundedTowardPresent(table, cell) })),
  );
  const byLine = new Map<number, TextEdit[]>();
  for (const edit of edits) byLine.set(edit.range.start.line, [...(byLine.get(edit.range.start.line) ?? []), edit]);
  return {
    edits,
    editOf: ({ row, column }) => {
      const { start } = table.cellRange(row, column);
      return byLine
        .get(start.line)
        ?.find(({ range: place }) => place.start.character <= start.character && start.character < place.end.character);
    },
  };
}

/** `# corrected-from: ve.table.csv by DRIVE DRIVE`, in the place of an earlier one; undefined where every session is pinned. */
async function noteOf(
  table: Table,
  text: string,
  weigher: Weigher,
  tableUri: string,
  sessions: readonly string[],
): Promise<TextEdit | undefined> {
  const drives = new Set<string>();
  for (const session of sessions) {
    const state = await weigher.loggedWith(session, tableUri),
      drive = await weigher.driveOf(session);
    if (state && state.pinned === undefined && drive !== undefined) drives.add(drive);
  }
  if (drives.size === 0) return undefined;
  const lines = text.split(/\r\n|\r|\n/),
    at = lines.findIndex((line) => /^\s*#\s*([\w-]+)\s*:/.exec(line)?.[1].toLowerCase() === CORRECTED_FROM);
  const newText = `# ${CORRECTED_FROM}: ${table.metadata.get(CORRECTED_FROM) ?? `${baseName(tableUri)} by`} ${[...drives].join(' ')}`;
  return at < 0
    ? { range: range(0, 0, 0, 0), newText: newText + (/\r\n|\r|\n/.exec(text)?.[0] ?? '\n') }
    : { range: range(at, 0, at, lines[at].length), newText };
}

/**
 * After a hand edit: the table kept as those sessions knew it that still testify of it, and they pinned to that. Undefined where there are
 * none.
 */
export async function planKeeping(
  workspace: Workspace,
  documents: Documents,
  weigher: Weigher,
  tableUri: string,
): Promise<{ readonly changes: readonly FileChange[]; readonly sessions: number } | undefined> {
  const folder = await documents.vehicleFolder(tableUri);
  const text = await documents.text(tableUri);
  const held = await weigher.heldToEarlier(tableUri);
  if (!folder || text === undefined || held.length === 0) return undefined;
  const changes = await pinSessions(workspace, documents, weigher, folder, tableUri, text, held);
  return 'obstacle' in changes ? undefined : { changes, sessions: held.length };
}

/** The new value at the author's decimals, never past what is proven or allowed in one step: rounding goes toward the present value. */
function roundedTowardPresent(table: Table, { row, column, before, after }: Changed): number {
  const text = cellTextFor(table, row, column, after)?.replace(',', '.') ?? '';
  const rounded = Number(text);
  if (/e/i.test(text) || Math.abs(rounded - before) <= Math.abs(after - before)) return after;
  const decimals = /\.(\d+)/.exec(text)?.[1].length ?? 0;
  return Number((rounded - Math.sign(after - before) * 10 ** -decimals).toFixed(decimals));
}

interface Obstacle {
  readonly obstacle: string;
}

/**
 * Keeps the table as these sessions knew it where they are not pinned, and pins them to that, so that they never testify about another
 * value.
 */
async function pinSessions(
  workspace: Workspace,
  documents: Documents,
  weigher: Weigher,
  folder: VehicleFolder,
  tableUri: string,
  present: string,
  sessionUris: readonly string[],
): Promise<FileChange[] | Obstacle> {
  const groups = new Map<string, { text: string; sessions: string[] }>();
  for (const session of sessionUris) {
    const state = await weigher.loggedWith(session, tableUri);
    // Pinned already, or said to be logged with a table that is not there: then it testifies about none.
    if (!state || state.pinned !== undefined) continue;
    if (relativeTo(folder.uri, session) === undefined || (await documents.vehicleFolder(session))?.fileUri !== folder.fileUri) {
      return { obstacle: `${baseName(session)} lies outside of the vehicle's folder, so vehicle.json cannot pin it to the earlier table` };
    }
    const group = groups.get(state.text);
    if (group) group.sessions.push(session);
    else groups.set(state.text, { text: state.text, sessions: [session] });
  }
  // Also without a session to pin: nothing is overwritten without a copy.
  if (groups.size === 0) groups.set(present, { text: present, sessions: [] });

  const changes: FileChange[] = [];
  const pins: { session: string; files: string; loggedWith: string }[] = [];
  let number = 0;
  for (const { text, sessions } of groups.values()) {
    let path: string, uri: string | undefined;
    do {
      path = `tables/history/${baseName(tableUri).replace(/(\.table)?\.csv$/i, '')}-${++number}.table.csv`;
      uri = await workspace.resolve(folder.uri, path);
      if (uri === undefined)
        return { obstacle: "tables/history is a link that leads out of the vehicle's folder, and nothing is written there" };
    } while (await workspace.stamp(uri));
    changes.push({ kind: 'create', uri, text });
    for (const session of sessions) pins.push({ session, files: asGlob(relativeTo(folder.uri, session)!), loggedWith: path });
  }
  if (pins.length === 0) return changes;
  const vehicleText = await documents.text(folder.fileUri);
  const pinned = vehicleText === undefined ? undefined : withPins(vehicleText, pins);
  const pinnedFolder = pinned === undefined ? undefined : { ...folder, document: readVehicle(pinned) };
  if (
    vehicleText === undefined ||
    pinned === undefined ||
    !pins.every(({ session, loggedWith }) => pinnedTable(pinnedFolder!, session) === loggedWith)
  ) {
    return {
      obstacle:
        'vehicle.json does not take the pins that hold the sessions to the earlier table; check it: "sessions" there has to be a list',
    };
  }
  return [...changes, { kind: 'edit', uri: folder.fileUri, edits: [difference(vehicleText, pinned)] }];
}

/** A path in which no character is a wildcard but itself. */
const asGlob = (path: string): string => path.replace(/[*?[\]{}()!+@|\\]/g, '?');

/** One edit from a text to another: what lies between their common start and end. */
function difference(before: string, after: string): TextEdit {
  let start = 0;
  while (start < before.length && before[start] === after[start]) start++;
  let end = 0;
  while (end < before.length - start && end < after.length - start && before[before.length - 1 - end] === after[after.length - 1 - end])
    end++;
  const [from, to] = [positionAt(before, start), positionAt(before, before.length - end)];
  return { range: range(from.line, from.character, to.line, to.character), newText: after.slice(start, after.length - end) };
}

/** A text with edits made in it; edits do not overlap. */
export function edited(text: string, edits: readonly TextEdit[]): string {
  const lines = text.split(/(?<=\r\n|\r(?!\n)|\n)/);
  const starts: number[] = [];
  let at = 0;
  for (const line of lines) {
    starts.push(at);
    at += line.length;
  }
  const offset = ({ line, character }: { line: number; character: number }): number =>
    Math.min((starts[line] ?? text.length) + character, text.length);
  return [...edits]
    .sort((a, b) => offset(b.range.start) - offset(a.range.start))
    .reduce((result, { range: { start, end }, newText }) => result.slice(0, offset(start)) + newText + result.slice(offset(end)), text);
}
