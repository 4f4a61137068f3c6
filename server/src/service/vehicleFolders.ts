// Which vehicle a file belongs to, and which files belong to a vehicle.

import picomatch from 'picomatch';
import type { Vehicle, VehicleDocument } from '../formats/vehicle/vehicle.js';
import { kindByName, SESSION_GLOB, TABLE_GLOB, VEHICLE_FILE } from './fileKind.js';
import { folderOf, isBelow, join, relativeTo } from './uris.js';
import type { Workspace } from './workspace.js';

/** A folder with a vehicle file. */
export interface VehicleFolder {
  readonly uri: string;
  readonly fileUri: string;
  readonly document: VehicleDocument;
}

/** Folders are climbed no further than this: a deeper tree is a mistake. */
const MOST_LEVELS = 40;

/**
 * Sessions of one vehicle, and tables: a folder with more has gone wrong. The first by path are taken, what is beyond is a finding of its
 * vehicle file.
 */
export const MOST_FILES = 5000;

/** The vehicle file in the file's folder or the nearest above it, within the workspace's bounds; undefined where there is none. */
export async function vehicleFileFor(workspace: Workspace, uri: string): Promise<string | undefined> {
  const bounds = (workspace.bounds ?? []).filter((bound) => isBelow(bound, uri));
  let folder = folderOf(uri);
  for (let level = 0; level < MOST_LEVELS; level++) {
    const candidate = join(folder, VEHICLE_FILE);
    if (await workspace.stamp(candidate)) return candidate;
    const parent = folderOf(folder);
    if (parent === folder || (bounds.length > 0 && !bounds.some((bound) => isWithin(bound, parent)))) return undefined;
    folder = parent;
  }
  return undefined;
}

/** Addresses of open folders may end with `/`. */
const isWithin = (bound: string, folder: string): boolean =>
  bound.replace(/\/$/, '') === folder.replace(/\/$/, '') || isBelow(bound, folder);

/** A vehicle's sessions: those named so below its folder, and those that its file lists. A nested vehicle folder keeps its own. */
export async function sessionsOf(workspace: Workspace, folder: VehicleFolder): Promise<readonly string[]> {
  return (await allSessionsOf(workspace, folder)).slice(0, MOST_FILES);
}

const allSessionsOf = (workspace: Workspace, folder: VehicleFolder): Promise<string[]> =>
  ownFiles(workspace, folder, [SESSION_GLOB, ...folder.document.vehicle.sessions.map(({ files }) => files)]);

/** How many sessions and tables are beyond what is taken of each. */
export async function leftOutOf(
  workspace: Workspace,
  folder: VehicleFolder,
): Promise<{ readonly sessions: number; readonly tables: number }> {
  const [sessions, tables] = await Promise.all([allSessionsOf(workspace, folder), ownFiles(workspace, folder, [TABLE_GLOB])]);
  return { sessions: Math.max(0, sessions.length - MOST_FILES), tables: Math.max(0, tables.length - MOST_FILES) };
}

/** The sessions that are evidence: all but those that are read with another (`join`). */
export async function weighedSessionsOf(workspace: Workspace, folder: VehicleFolder): Promise<readonly string[]> {
  const seconds = new Set(folder.document.vehicle.joins.map(({ second }) => second));
  return (await sessionsOf(workspace, folder)).filter((uri) => !seconds.has(relativeTo(folder.uri, uri) ?? ''));
}

/** The file that the vehicle file joins to this session, as a path from the folder; undefined where it joins none. */
export function joinedTo(folder: VehicleFolder, sessionUri: string): string | undefined {
  const path = relativeTo(folder.uri, sessionUri);
  return path === undefined
    ? undefined
    : folder.document.vehicle.joins.find(({ first, second }) => first === path && second !== path)?.second;
}

/** A vehicle's tables: those named so below its folder, and those that its file names. */
export async function tablesOf(workspace: Workspace, folder: VehicleFolder): Promise<readonly string[]> {
  const named = (await ownFiles(workspace, folder, [TABLE_GLOB])).slice(0, MOST_FILES);
  const listed: string[] = [];
  for (const path of Object.values(folder.document.vehicle.tables)) {
    const uri = path === undefined ? undefined : await workspace.resolve(folder.uri, path);
    if (uri !== undefined && !named.includes(uri) && (await workspace.stamp(uri))) listed.push(uri);
  }
  return [...named, ...new Set(listed)];
}

/** Texts of a vehicle that neither their names nor its file make a session or a table. */
export async function plainFilesOf(workspace: Workspace, folder: VehicleFolder): Promise<readonly string[]> {
  const isJoined = (path: string | undefined): boolean =>
    folder.document.vehicle.joins.some(({ first, second }) => path === first || path === second);
  return (await ownFiles(workspace, folder, ['**/*.csv'])).filter(
    (uri) =>
      kindByName(uri) === undefined && !listsAsSession(folder, uri) && !listsAsTable(folder, uri) && !isJoined(relativeTo(folder.uri, uri)),
  );
}

async function ownFiles(workspace: Workspace, folder: VehicleFolder, globs: readonly string[]): Promise<string[]> {
  const [files, vehicles] = await Promise.all([workspace.find(folder.uri, globs), workspace.find(folder.uri, [`*/**/${VEHICLE_FILE}`])]);
  const nested = vehicles.map(folderOf).filter((other) => other !== folder.uri);
  return files.filter((file) => !nested.some((other) => isBelow(other, file)));
}

/** The table (a path relative to the vehicle's folder) that the vehicle file pins a session to; undefined where it pins none. */
export function pinnedTable(folder: VehicleFolder, sessionUri: string): string | undefined {
  const path = relativeTo(folder.uri, sessionUri);
  if (path === undefined) return undefined;
  return folder.document.vehicle.sessions.find(({ files, loggedWith }) => loggedWith !== undefined && matches(files, path))?.loggedWith;
}

/** Whether the vehicle file lists this file as a session. */
export function listsAsSession(folder: VehicleFolder, uri: string): boolean {
  const path = relativeTo(folder.uri, uri);
  return path !== undefined && folder.document.vehicle.sessions.some(({ files }) => matches(files, path));
}

/** Whether the vehicle file names this file as one of its tables. */
export function listsAsTable(folder: VehicleFolder, uri: string): boolean {
  const path = relativeTo(folder.uri, uri);
  return path !== undefined && Object.values(folder.document.vehicle.tables).includes(path);
}

/** Whether `uri` is the vehicle's table of this role (`fuel`, `target`). */
export async function tableOfRole(workspace: Workspace, folder: VehicleFolder, role: keyof Vehicle['tables']): Promise<string | undefined> {
  const path = folder.document.vehicle.tables[role];
  return path === undefined ? undefined : workspace.resolve(folder.uri, path);
}

/** Whether a table is kept as an earlier state of one: it lies in a folder `history`, or sessions are said to be logged with it. */
export function isEarlierTable(folder: VehicleFolder, tableUri: string): boolean {
  const path = relativeTo(folder.uri, tableUri);
  return (
    path === undefined || /(^|\/)history\//.test(path) || folder.document.vehicle.sessions.some(({ loggedWith }) => loggedWith === path)
  );
}

function matches(glob: string, path: string): boolean {
  try {
    return glob === path || picomatch.isMatch(path, glob);
  } catch {
    return false; // a glob that can't be compiled matches nothing; the vehicle file's findings say so
  }
}
