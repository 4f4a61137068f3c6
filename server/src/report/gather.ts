// From a vehicle's folder to what its report says: every file read and hashed, every session weighed, each pull with its curves.

import type { ByteSource } from '../formats/source.js';
import type { Table } from '../formats/table/table.js';
import { compare } from '../fueling/change/compare.js';
import { canBeWeighed } from '../fueling/solution/grid.js';
import { DEFAULT_MAX_CHANGE_PERCENT } from '../fueling/change/correct.js';
import { cellEdits } from '../service/correction.js';
import type { TableState } from '../service/loggedWith.js';
import { sameNumbers } from '../service/sameTable.js';
import type { FileService } from '../service/fileService.js';
import { cellWords } from '../service/editor/sessionHover.js';
import { baseName, relativeTo } from '../service/uris.js';
import { sessionsOf, tablesOf, weighedSessionsOf, type VehicleFolder } from '../service/vehicleFolders.js';
import type { Progress, Workspace } from '../service/workspace.js';
import { computedOf, type PageOf } from './computed.js';
import { notSafeWords, type FoundIn } from './notSafe.js';
import type { ChangeReport, Report, ReportInput, SessionReport, TableReport } from './model.js';

export interface ReportOptions {
  /** ISO date to print: with the same inputs it makes the same bytes. */
  readonly date: string;
  readonly version: string;
  readonly maxChangePercent?: number;
  readonly progress?: Progress;
  readonly pageOf?: PageOf;
}

/** Never throws for what a file holds; a file that goes away meanwhile does. */
export async function gather(workspace: Workspace, service: FileService, folder: VehicleFolder, options: ReportOptions): Promise<Report> {
  const { weigher } = service;
  const place = (uri: string): string => relativeTo(folder.uri, uri) ?? baseName(uri);
  const sessionUris = await sessionsOf(workspace, folder),
    weighedUris = await weighedSessionsOf(workspace, folder);
  const tableUris = await tablesOf(workspace, folder);
  const tableUri = (await weigher.weighedTable(folder)) ?? (await onlyWeighed(service, tableUris));

  const sessions: SessionReport[] = [];
  for (const [done, uri] of sessionUris.entries()) {
    if (options.progress?.cancelled) break;
    await options.progress?.report(done, sessionUris.length, uri);
    await weigher.weighAhead(uri);
    const state = tableUri === undefined ? undefined : await weigher.loggedWith(uri, tableUri);
    const present = tableUri === undefined ? undefined : (await service.documents.table(tableUri))?.value;
    const text = state?.text ?? (tableUri === undefined ? undefined : await service.documents.text(tableUri));
    const facts = (await service.documents.ask(uri, 'facts', text ?? null, false))?.value;
    const check = await service.check(uri, 'session');
    if (facts && check)
      sessions.push({
        ...facts,
        file: place(uri),
        findings: check.findings,
        scope: check.scope,
        loggedWith: loggedWith(state, present),
        assumed: [],
      });
  }
  const table =
    tableUri === undefined
      ? undefined
      : await tableReport(service, tableUri, weighedUris, place, options.maxChangePercent ?? DEFAULT_MAX_CHANGE_PERCENT);
  const assumedOf = (file: string): readonly string[] =>
    table?.evidence?.sessions.find(({ session }) => place(session) === file)?.assumed ?? [];

  const otherFindings: { file: string; findings: TableReport['findings'] }[] = [];
  for (const uri of [folder.fileUri, ...tableUris.filter((each) => !table || each !== tableUri)]) {
    const findings = (await service.check(uri))?.findings ?? [];
    if (findings.length > 0) otherFindings.push({ file: place(uri), findings });
  }
  const told = [...sessions, ...(table ? [table] : []), ...otherFindings].flatMap(({ findings }) => findings.map(({ code }) => code));
  return {
    name: folder.document.vehicle.name ?? baseName(folder.uri),
    date: options.date,
    version: options.version,
    vehicle: folder.document.vehicle,
    sessions: sessions.map((session) => ({ ...session, assumed: assumedOf(session.file) })),
    table: table && {
      ...table,
      evidence: table.evidence && {
        ...table.evidence,
        sessions: table.evidence.sessions.map((each) => ({ ...each, session: place(each.session) })),
      },
    },
    changes: tableUri === undefined ? [] : await changesOf(service, tableUri, sessions, weighedUris, place),
    otherFindings,
    computed: await computedOf(new Set(told), options.pageOf),
    inputs: await inputsOf(workspace, [folder.fileUri, ...tableUris, ...sessionUris], place),
  };
}

/** Where the vehicle file names no fuel table: the only one that sessions speak of. */
async function onlyWeighed(service: FileService, tableUris: readonly string[]): Promise<string | undefined> {
  const weighed: string[] = [];
  for (const uri of tableUris) if (await service.weigher.isWeighed(uri)) weighed.push(uri);
  return weighed.length === 1 ? weighed[0] : undefined;
}

const loggedWith = (state: TableState | undefined, present: Table | undefined): SessionReport['loggedWith'] => ({
  ...(state?.pinned === undefined ? {} : { name: state.pinned }),
  isPresent: state !== undefined && present !== undefined && sameNumbers(state.table, present),
  unheard: present !== undefined && state === undefined,
});

async function tableReport(
  service: FileService,
  uri: string,
  sessionUris: readonly string[],
  place: (uri: string) => string,
  maxChangePercent: number,
): Promise<TableReport | undefined> {
  const table = (await service.documents.table(uri))?.value,
    text = await service.documents.text(uri);
  if (!table || text === undefined || table.values.length === 0) return undefined;
  const evidence = canBeWeighed(table) ? (await service.weigher.evidenceOf(uri, sessionUris))?.value : undefined;
  return {
    file: place(uri),
    table,
    evidence,
    maxChangePercent,
    proposal: evidence && cellEdits(table, text, evidence, { maxChangePercent }).correction,
    findings: (await service.check(uri, 'table'))?.findings ?? [],
  };
}

/** Each state of the table that sessions were logged with, in the order of the sessions, against the next; the present one last. */
async function changesOf(
  service: FileService,
  tableUri: string,
  found: readonly FoundIn[],
  sessionUris: readonly string[],
  place: (uri: string) => string,
): Promise<ChangeReport[]> {
  const { documents, weigher } = service;
  const present = (await documents.table(tableUri))?.value;
  if (!present || !canBeWeighed(present)) return [];
  const states: { readonly table: Table; readonly name: string; readonly sessions: string[] }[] = [];
  for (const uri of sessionUris) {
    const state = await weigher.loggedWith(uri, tableUri);
    if (!state || sameNumbers(state.table, present)) continue;
    const known = states.find(({ table }) => sameNumbers(table, state.table));
    if (known) known.sessions.push(uri);
    else states.push({ table: state.table, name: state.pinned ?? 'an earlier state of the table', sessions: [uri] });
  }
  if (states.length === 0) return [];
  // History files are numbered as they are kept, so their names are their order.
  states.sort((a, b) => a.name.localeCompare(b.name, 'en', { numeric: true }));
  const now: string[] = [];
  for (const uri of sessionUris) {
    const state = await weigher.loggedWith(uri, tableUri);
    if (state && sameNumbers(state.table, present)) now.push(uri);
  }
  const all = [...states, { table: present, name: place(tableUri), sessions: now }];
  const changes: ChangeReport[] = [];
  for (let i = 1; i < all.length; i++) {
    const [before, after] = [all[i - 1], all[i]];
    const comparison =
      after.sessions.length === 0
        ? undefined
        : compare(
            present,
            await weigher.sessionEvidences(tableUri, before.sessions),
            await weigher.sessionEvidences(tableUri, after.sessions),
            { before: before.table, after: after.table },
            notSafeWords(found.filter(({ file }) => after.sessions.some((uri) => place(uri) === file))),
          );
    changes.push({
      before: before.name,
      after: after.name,
      changed: changedCells(before.table, after.table),
      comparison,
      sessionsBefore: before.sessions.map(place),
      sessionsAfter: after.sessions.map(place),
    });
  }
  return changes;
}

/** Cells by their breakpoints, as written before and after; nothing where the axes differ. */
function changedCells(before: Table, after: Table): ChangeReport['changed'] {
  if (before.values.length !== after.values.length || before.columns.values.length !== after.columns.values.length) return [];
  const width = after.columns.values.length;
  return Array.from(after.values.keys())
    .filter((at) => !Object.is(before.values[at], after.values[at]))
    .map((at) => {
      const [row, column] = [Math.floor(at / width), at % width];
      return {
        cell: cellWords(after, row, column).replace(/^cell /, ''),
        from: before.cellText(row, column),
        to: after.cellText(row, column),
      };
    });
}

const PIECE_BYTES = 1 << 20;

async function inputsOf(workspace: Workspace, uris: readonly string[], place: (uri: string) => string): Promise<ReportInput[]> {
  const inputs: ReportInput[] = [];
  for (const uri of uris) {
    const source = await workspace.open(uri);
    if (source) inputs.push({ file: place(uri), bytes: source.size, sha256: await sha256Of(source) });
  }
  return inputs;
}

/** On Node piece by piece; in a browser's worker by what it has there, which takes the whole at once. */
async function sha256Of(source: ByteSource): Promise<string> {
  if ('importScripts' in globalThis) {
    const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', source.read(0, source.size).slice()));
    return Array.from(digest, (byte) => byte.toString(16).padStart(2, '0')).join('');
  }
  const { createHash } = await import('node:crypto');
  const hash = createHash('sha256');
  for (let at = 0; at < source.size; at += PIECE_BYTES) hash.update(source.read(at, at + PIECE_BYTES));
  return hash.digest('hex');
}
