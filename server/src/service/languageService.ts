// The whole API of the service: what may be asked about a file. Each editor feature has a file of its own beside this one.

import type { Evidence } from '../fueling/evidence.js';
import { createChecker, type FileCheck } from './check.js';
import { createDocuments, type DocumentOptions, type Documents } from './documents.js';
import type { FileKind } from './fileKind.js';
import { VEHICLE_FILE } from './fileKind.js';
import { sessionsOf, tablesOf, type VehicleFolder } from './vehicleFolders.js';
import type { Progress, Workspace } from './workspace.js';

export type { FileCheck, SessionSummary } from './check.js';
export type { FileKind } from './fileKind.js';
export type { VehicleFolder } from './vehicleFolders.js';

export interface LanguageService {
  readonly documents: Documents;
  /** What the file is; undefined for one that is none of ours or is not there. */
  kindOf: Documents['kindOf'];
  /** The vehicle a file belongs to; undefined outside of any. */
  vehicleFolder: Documents['vehicleFolder'];
  /** Every finding of a file; undefined for one that is none of ours or is not there. `as` overrules what the file says it is. */
  check(uri: string, as?: FileKind): Promise<FileCheck | undefined>;
  /** What the vehicle's sessions prove about a table; undefined where none are weighed for it. */
  evidence(tableUri: string, progress?: Progress): Promise<{ readonly key: string; readonly value: Evidence } | undefined>;
  /** Every file of ours below a folder, each vehicle's listed files among them: vehicle files first, then sessions, then tables. */
  filesBelow(folderUri: string): Promise<readonly { readonly uri: string; readonly kind: FileKind }[]>;
}

export function createLanguageService(workspace: Workspace, options: DocumentOptions = {}): LanguageService {
  const documents = createDocuments(workspace, options);
  const evidence: LanguageService['evidence'] = async () => undefined;
  const checker = createChecker(workspace, documents, evidence);

  return {
    documents,
    kindOf: documents.kindOf,
    vehicleFolder: documents.vehicleFolder,
    check: checker.check,
    evidence,
    filesBelow: (folderUri) => filesBelow(workspace, documents, folderUri),
  };
}

async function filesBelow(workspace: Workspace, documents: Documents, folderUri: string): Promise<{ uri: string; kind: FileKind }[]> {
  const vehicleUris = await workspace.find(folderUri, [`**/${VEHICLE_FILE}`]);
  const sessions = new Set(await workspace.find(folderUri, ['**/*.session.csv']));
  const tables = new Set(await workspace.find(folderUri, ['**/*.table.csv']));
  for (const uri of vehicleUris) {
    const folder: VehicleFolder | undefined = await documents.vehicleFolder(uri);
    if (!folder) continue;
    for (const table of await tablesOf(workspace, folder)) tables.add(table);
    for (const session of await sessionsOf(workspace, folder)) if (!tables.has(session)) sessions.add(session);
  }
  const all = (kind: FileKind, uris: Iterable<string>): { uri: string; kind: FileKind }[] => [...uris].map((uri) => ({ uri, kind }));
  return [...all('vehicle', vehicleUris), ...all('session', sessions), ...all('table', tables)];
}
