// Every finding of one file, with what lies around it: the same answer for the editor and the command line.

import { tableFindings, vehicleFindings } from '../findings/check.js';
import type { Finding } from '../findings/finding.js';
import { SourceError, WENT_AWAY } from '../formats/source.js';
import { createCache } from './cache.js';
import type { Documents } from './documents.js';
import type { FileKind } from './fileKind.js';
import { isLasting, keepName, parsed, type Keep } from './keep.js';
import { missingFiles, refusedJoins } from './missingFiles.js';
import type { Weigher, WeighOrder } from './evidence.js';
import { foundIn, type SessionFound, type SessionSummary } from './sessionWork.js';
import type { Workspace } from './workspace.js';

export type { SessionSummary } from './sessionWork.js';

export interface FileCheck {
  readonly uri: string;
  readonly kind: FileKind;
  /** Worst first, then by place. A `related` place without a `file` is in this file; with one, `file` is a URI. */
  readonly findings: readonly Finding[];
  readonly session?: SessionSummary;
  /** Changes whenever the findings may. */
  readonly key: string;
}

/** `unheard`: as it is while the table that the session's note names is not there. */
interface SessionCheck { readonly found: FileCheck; readonly unheard?: FileCheck }

export interface Checker {
  /** Undefined for a file that is none of ours or is not there. `as` overrules what the file says it is. */
  check(uri: string, as?: FileKind): Promise<FileCheck | undefined>;
  /** As `check`, but a table's findings rest on what has been weighed so far: for answers that nobody should wait for. */
  checkSoFar(uri: string): Promise<FileCheck | undefined>;
}

export function createChecker(workspace: Workspace, documents: Documents, weigher: Weigher, keep?: Keep): Checker {
  const checks = createCache<FileCheck>(5000);
  const sessionChecks = createCache<SessionCheck>(5000);

  /** Done elsewhere, the session is weighed on the way: it is read once. */
  const find = async (uri: string): Promise<SessionFound> => {
    let order: WeighOrder | undefined;
    const work = await documents.elsewhere(uri, async () => (order = await weigher.order(uri))?.task);
    if (work) {
      if (order && work.evidence) await weigher.keep(order, work.evidence);
      return work;
    }
    const read = await documents.signals(uri);
    if (!read) throw new SourceError(WENT_AWAY, uri);
    return foundIn(read.value);
  };

  const checkSession = async (uri: string): Promise<FileCheck | undefined> => {
    const key = await documents.signalsKey(uri);
    if (key === undefined) return undefined;
    const { found, unheard } = await sessionChecks.get(uri, key, () => keptOr(uri, key, async () => {
      const { session, ...all } = await find(uri);
      const found: FileCheck = { uri, kind: 'session', key, findings: all.findings, session };
      return { found, ...(all.unheard ? { unheard: { ...found, key: `${key}|${all.unheard.said}`, findings: all.unheard.findings } } : {}) };
    }));
    // The table that a note names comes and goes without the session changing.
    return unheard && await weigher.missingTable(uri) !== undefined ? unheard : found;
  };

  /** From what an earlier run kept, else checked and kept. */
  const keptOr = async (uri: string, key: string, make: () => Promise<SessionCheck>): Promise<SessionCheck> => {
    if (!keep || !isLasting(key)) return make();
    const name = keepName('session check', keep.version, uri, key);
    const kept = parsed(await keep.get(name)) as SessionCheck | undefined;
    if (kept?.found?.key === key) return kept;
    const made = await make();
    await keep.put(name, JSON.stringify(made));
    return made;
  };

  const checkTable = async (uri: string, evidenceOf: Weigher['evidence']): Promise<FileCheck | undefined> => {
    const read = await documents.table(uri);
    if (!read) return undefined;
    const folder = await documents.vehicleFolder(uri);
    const vehicle = folder && await documents.vehicle(folder.fileUri);
    const evidence = await evidenceOf(uri);
    const key = [read.key, vehicle?.key, evidence?.key].join('|');
    return checks.get(uri, key, async () => ({
      uri, kind: 'table', key, findings: tableFindings({ table: read.value, vehicle: vehicle?.value, evidence: evidence?.value }),
    }));
  };

  const checkVehicle = async (uri: string): Promise<FileCheck | undefined> => {
    const read = await documents.vehicle(uri);
    const folder = await documents.vehicleFolder(uri);
    if (!read || !folder) return undefined;
    // Files come and go without the vehicle file changing, so this is not cached.
    const around = { ...folder, fileUri: uri, document: read.value };
    const missing = [...await missingFiles(workspace, around), ...await refusedJoins(documents, workspace, around)];
    const document = { ...read.value, problems: [...read.value.problems, ...missing], rangeOf: read.value.rangeOf.bind(read.value) };
    const findings = vehicleFindings(document);
    return { uri, kind: 'vehicle', key: `${read.key}|${missing.map(({ data }) => String(data.path ?? data.key)).join('|')}`, findings };
  };

  const check = async (uri: string, kind: FileKind | undefined, evidenceOf: Weigher['evidence']): Promise<FileCheck | undefined> => {
    switch (kind) {
      case 'session': return checkSession(uri);
      case 'table': return checkTable(uri, evidenceOf);
      case 'vehicle': return checkVehicle(uri);
      case undefined: return undefined;
    }
  };

  return {
    check: async (uri, as) => check(uri, as ?? (await documents.kindOf(uri))?.kind, weigher.evidence),
    checkSoFar: async (uri) => check(uri, (await documents.kindOf(uri))?.kind, weigher.evidenceSoFar),
  };
}
