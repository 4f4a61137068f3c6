// Files found, read, checked and weighed: what the command line needs, and what every feature of the editor builds on.

import type { TallyElsewhere } from '../fueling/weigh.js';
import { createChecker, type Checker } from './check.js';
import { createDocuments, type DocumentOptions, type Documents } from './documents.js';
import { createWeigher, type Weigher } from './evidence.js';
import { SESSION_GLOB, TABLE_GLOB, VEHICLE_FILE, type FileKind } from './fileKind.js';
import type { Keep } from './keep.js';
import { sessionsOf, tablesOf } from './vehicleFolders.js';
import type { Workspace } from './workspace.js';

export interface FileService {
  readonly documents: Documents;
  readonly weigher: Weigher;
  /** What the file is; undefined for one that is none of ours or is not there. */
  readonly kindOf: Documents['kindOf'];
  /** The vehicle a file belongs to; undefined outside of any. */
  readonly vehicleFolder: Documents['vehicleFolder'];
  /** Every finding of a file. */
  readonly check: Checker['check'];
  readonly checkSoFar: Checker['checkSoFar'];
  /** Every file of ours below a folder, each vehicle's listed files among them: vehicle files first, then sessions, then tables. */
  filesBelow(folderUri: string): Promise<readonly { readonly uri: string; readonly kind: FileKind }[]>;
}

export interface FileServiceOptions extends DocumentOptions {
  /** Where results are kept for the next start; none are where it is left out. */
  readonly keep?: Keep;
  /** Lets other work in between the pieces of long work on this thread; where it is left out nobody waits. */
  readonly breathe?: () => Promise<void>;
  /** Another thread for the long part of judging a table. */
  readonly tallyElsewhere?: TallyElsewhere;
  /** How many checks are remembered; thousands where it is left out. */
  readonly checksRemembered?: number;
}

export function createFileService(workspace: Workspace, options: FileServiceOptions = {}): FileService {
  const documents = createDocuments(workspace, options);
  const weigher = createWeigher(workspace, documents, options.keep, options.breathe, options.tallyElsewhere);
  const { check, checkSoFar } = createChecker(workspace, documents, weigher, options.keep, options.checksRemembered);
  return {
    documents,
    weigher,
    kindOf: documents.kindOf,
    vehicleFolder: documents.vehicleFolder,
    check,
    checkSoFar,
    filesBelow: (folderUri) => filesBelow(workspace, documents, folderUri),
  };
}

async function filesBelow(workspace: Workspace, documents: Documents, folderUri: string): Promise<{ uri: string; kind: FileKind }[]> {
  const vehicleUris = await workspace.find(folderUri, [`**/${VEHICLE_FILE}`]);
  const sessions = new Set(await workspace.find(folderUri, [SESSION_GLOB]));
  const tables = new Set(await workspace.find(folderUri, [TABLE_GLOB]));
  for (const uri of vehicleUris) {
    const folder = await documents.vehicleFolder(uri);
    if (!folder) continue;
    for (const table of await tablesOf(workspace, folder)) tables.add(table);
    for (const session of await sessionsOf(workspace, folder)) if (!tables.has(session)) sessions.add(session);
  }
  const all = (kind: FileKind, uris: Iterable<string>): { uri: string; kind: FileKind }[] => [...uris].map((uri) => ({ uri, kind }));
  return [...all('vehicle', vehicleUris), ...all('session', sessions), ...all('table', tables)];
}
