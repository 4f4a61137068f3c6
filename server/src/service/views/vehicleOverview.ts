// The vehicles of the open folders as a tree: each level answered for itself, from what is known already wherever that will do.

import type { Finding } from '../../findings/finding.js';
import type { Table } from '../../formats/table/table.js';
import type { Evidence } from '../../fueling/evidence.js';
import type { CellNode, FindingCounts, RecordingNode, SessionNode, TableNode, VehicleFiles, VehicleNode } from '../../protocol/vehicle.js';
import { createCache } from '../cache.js';
import type { FileCheck } from '../check.js';
import type { Documents } from '../documents.js';
import type { Weigher } from '../evidence.js';
import { SESSION_GLOB, TABLE_GLOB, VEHICLE_FILE } from '../fileKind.js';
import { cellWords } from '../editor/sessionHover.js';
import { baseName, isBelow, relativeTo } from '../uris.js';
import { isEarlierTable, sessionsOf, tableOfRole, tablesOf, type VehicleFolder } from '../vehicleFolders.js';
import type { Progress, Workspace } from '../workspace.js';

/** The last check of a file, undefined before the first: a level is never a reason to read every session. */
export type KnownCheck = (uri: string) => FileCheck | undefined;

export interface VehicleOverview {
  /** Every vehicle below the folders, by place; then, for each folder, its sessions and tables that belong to none. */
  list(folders: readonly string[], known: KnownCheck, progress?: Progress): Promise<VehicleNode[]>;
  /** Of a vehicle (`uri` of its file) or of what belongs to none (`uri` of the folder). */
  files(uri: string, known: KnownCheck, progress?: Progress): Promise<VehicleFiles>;
  /** Reads the session. Empty for a file that is none. */
  session(uri: string): Promise<readonly RecordingNode[]>;
  /** Cells with evidence, from what has been weighed so far: the farthest off first, firm before thin. */
  table(uri: string): Promise<CellNode[]>;
}

/** Sessions whose recordings are remembered. */
const MOST_RECORDINGS = 100;

interface Files {
  readonly sessions: readonly string[];
  readonly tables: readonly string[];
}

export function createVehicleOverview(workspace: Workspace, documents: Documents, weigher: Weigher): VehicleOverview {
  const recordings = createCache<readonly RecordingNode[]>(MOST_RECORDINGS);
  const ofVehicle = async (folder: VehicleFolder): Promise<Files> => {
    const tables = await tablesOf(workspace, folder);
    return { sessions: (await sessionsOf(workspace, folder)).filter((uri) => !tables.includes(uri)), tables };
  };

  /** By name alone: whatever else a folder without a vehicle holds is not ours to look into. */
  const ofNobody = async (folderUri: string): Promise<Files> => {
    const vehicles = await workspace.find(folderUri, [`**/${VEHICLE_FILE}`]);
    const homes = vehicles.map((uri) => uri.slice(0, -VEHICLE_FILE.length - 1));
    const free = async (glob: string): Promise<string[]> => {
      const found = (await workspace.find(folderUri, [glob])).filter((uri) => !homes.some((home) => isBelow(home, uri)));
      // The open folder may itself lie in a vehicle's.
      return found.length > 0 && (await documents.vehicleFolder(found[0]!)) ? [] : found;
    };
    return { sessions: await free(SESSION_GLOB), tables: await free(TABLE_GLOB) };
  };

  const tableNode = async (uri: string, folder: VehicleFolder | undefined, known: KnownCheck): Promise<TableNode> => {
    const read = await documents.table(uri);
    const evidence = (await weigher.evidenceSoFar(uri))?.value;
    const role =
      folder === undefined
        ? 'other'
        : (await tableOfRole(workspace, folder, 'fuel')) === uri
          ? 'fuel'
          : (await tableOfRole(workspace, folder, 'target')) === uri
            ? 'target'
            : isEarlierTable(folder, uri)
              ? 'earlier'
              : 'other';
    const check = known(uri);
    return {
      uri,
      role,
      name: nameIn(folder?.uri, uri),
      ...(read?.value.quantity ? { quantity: read.value.quantity } : {}),
      ...(evidence && evidence.sessions.length > 0 ? { proof: proofOf(evidence) } : {}),
      ...(check ? { findings: countsOf(check.findings) } : {}),
    };
  };

  return {
    async list(folders, known, progress) {
      const vehicles = new Map<string, VehicleNode>();
      for (const root of folders) {
        for (const uri of await workspace.find(root, [`**/${VEHICLE_FILE}`])) {
          if (progress?.cancelled) return [];
          await progress?.report(vehicles.size, folders.length, uri);
          const folder = vehicles.has(uri) ? undefined : await documents.vehicleFolder(uri);
          if (folder)
            vehicles.set(uri, nodeOf(uri, folder.document.vehicle.name ?? baseName(folder.uri), true, await ofVehicle(folder), known));
        }
      }
      for (const root of folders) {
        const files = await ofNobody(root);
        if (files.sessions.length + files.tables.length > 0) vehicles.set(root, nodeOf(root, baseName(root), false, files, known));
      }
      return [...vehicles.values()];
    },

    async files(uri, known, progress) {
      const folder = baseName(uri) === VEHICLE_FILE ? await documents.vehicleFolder(uri) : undefined;
      const { sessions, tables } = folder ? await ofVehicle(folder) : await ofNobody(uri);
      const home = folder?.uri ?? uri;
      const tableNodes: TableNode[] = [];
      for (const table of tables) {
        if (progress?.cancelled) break;
        await progress?.report(tableNodes.length, tables.length, table);
        tableNodes.push(await tableNode(table, folder, known));
      }
      return {
        sessions: sessions.map((session) => sessionNode(session, home, known(session))),
        tables: tableNodes.sort((a, b) => ROLES.indexOf(a.role) - ROLES.indexOf(b.role)),
      };
    },

    async session(uri) {
      if ((await documents.kindOf(uri))?.kind !== 'session') return [];
      const key = await documents.signalsKey(uri);
      return key === undefined
        ? []
        : recordings.get(uri, key, async () => (await documents.ask(uri, 'recordings', null, false))?.value ?? []);
    },

    async table(uri) {
      const read = await documents.table(uri);
      const evidence = read && (await weigher.evidenceSoFar(uri))?.value;
      return evidence ? cellsOf(read.value, evidence) : [];
    },
  };
}

const ROLES: readonly TableNode['role'][] = ['fuel', 'target', 'other', 'earlier'];

const nameIn = (folderUri: string | undefined, uri: string): string =>
  (folderUri === undefined ? undefined : relativeTo(folderUri, uri)) ?? baseName(uri);

function nodeOf(uri: string, name: string, hasFile: boolean, { sessions, tables }: Files, known: KnownCheck): VehicleNode {
  const findings = [...(hasFile ? [uri] : []), ...sessions, ...tables].flatMap((file) => known(file)?.findings ?? []);
  return { uri, name, hasFile, sessions: sessions.length, tables: tables.length, findings: countsOf(findings) };
}

const sessionNode = (uri: string, home: string, check: FileCheck | undefined): SessionNode => ({
  uri,
  name: nameIn(home, uri),
  ...(check?.session
    ? { read: { durationS: check.session.durationS, pulls: check.session.pulls, findings: countsOf(check.findings) } }
    : {}),
});

function countsOf(findings: readonly Finding[]): FindingCounts {
  const count = (...severities: Finding['severity'][]): number => findings.filter(({ severity }) => severities.includes(severity)).length;
  return { errors: count('error'), warnings: count('warning'), notes: count('information', 'hint') };
}

function proofOf({ cells }: Evidence): NonNullable<TableNode['proof']> {
  const count = (wanted: string): number => cells.filter(({ proof }) => proof === wanted).length;
  return { firm: count('firm'), thin: count('thin'), none: count('none') };
}

function cellsOf(table: Table, { cells }: Evidence): CellNode[] {
  const off = ({ factor }: { readonly factor: number }): number => Math.abs(Math.log(factor));
  return cells
    .filter(({ proof, factor }) => proof !== 'none' && factor > 0)
    .sort((a, b) => (a.proof === b.proof ? off(b) - off(a) : a.proof === 'firm' ? -1 : 1))
    .map(({ row, column, proof, value, measuredLambda, targetLambda, factor, factorLow, factorHigh }): CellNode => {
      const { start, end } = table.cellRange(row, column);
      return {
        row,
        column,
        words: cellWords(table, row, column).replace(/^cell /, ''),
        line: start.line,
        character: start.character,
        endCharacter: end.character,
        proof: proof as CellNode['proof'],
        value,
        measuredLambda,
        targetLambda,
        factor,
        factorLow,
        factorHigh,
      };
    });
}
