// The requests of the view of the vehicles: the service asked, with what the scanner has found so far.

import type { Connection } from 'vscode-languageserver';
import { VEHICLE, type NodeParams, type RecordingNode, type CellNode, type VehicleFiles, type VehicleNode } from '../protocol/vehicle.js';
import type { LanguageService } from '../service/languageService.js';
import type { Answerer } from './answer.js';
import { normalUri } from './editorWorkspace.js';
import { breathing } from './features.js';
import type { Scanner } from './scanner.js';

interface Parts {
  readonly connection: Connection;
  readonly service: LanguageService;
  readonly scanner: Scanner;
  readonly answer: Answerer;
  readonly folders: () => readonly string[];
}

const NOTHING: VehicleFiles = { sessions: [], tables: [] };

export function serveVehicles({ connection, service: { overview }, scanner, answer, folders }: Parts): void {
  const known = (uri: string) => scanner.results.get(uri);
  const ofFile = ({ uri }: NodeParams): string => normalUri(uri);
  connection.onRequest(
    VEHICLE.list,
    answer<unknown, VehicleNode[]>(
      'Vehicles',
      () => undefined,
      (_, token) => overview.list(folders(), known, breathing(token)),
      [],
    ),
  );
  connection.onRequest(
    VEHICLE.files,
    answer<NodeParams, VehicleFiles>(
      'Vehicle',
      () => undefined,
      (node, token) => overview.files(ofFile(node), known, breathing(token)),
      NOTHING,
    ),
  );
  connection.onRequest(
    VEHICLE.session,
    answer<NodeParams, RecordingNode[]>('Pulls', ofFile, async (node) => [...(await overview.session(ofFile(node)))], []),
  );
  connection.onRequest(
    VEHICLE.table,
    answer<NodeParams, CellNode[]>('Cells', ofFile, (node) => overview.table(ofFile(node)), []),
  );
}
