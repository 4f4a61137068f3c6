// A file or folder gets another name: the paths that name it, in vehicle files and in sessions' notes, follow.

import { range } from '../../formats/range.js';
import { bytesSource } from '../../formats/source.js';
import type { TextEdit } from '../../formats/table/table.js';
import type { Documents } from '../documents.js';
import { VEHICLE_FILE } from '../fileKind.js';
import { textOf } from '../text.js';
import { folderOf, isBelow, join, relativeTo } from '../uris.js';
import { sessionsOf, type VehicleFolder } from '../vehicleFolders.js';
import type { Workspace } from '../workspace.js';

export interface FileRename {
  readonly oldUri: string;
  readonly newUri: string;
}
export interface FileEdits {
  readonly uri: string;
  readonly edits: readonly TextEdit[];
}

const HEAD_BYTES = 8 << 10;
const LOGGED_WITH = /^(\s*#\s*logged-with\s*:\s*)(\S.*?)\s*$/i;

/**
 * The edits to make before the renames. Paths that would leave the vehicle's folder stay as they are, where `file-missing` tells of them;
 * so do globs.
 * A vehicle folder that moves as a whole needs none.
 */
export async function renameEdits(workspace: Workspace, documents: Documents, renames: readonly FileRename[]): Promise<FileEdits[]> {
  const found: FileEdits[] = [];
  const vehicles = new Set((await Promise.all(workspace.folders.map((folder) => workspace.find(folder, [`**/${VEHICLE_FILE}`])))).flat());
  for (const fileUri of vehicles) {
    if (!renames.some(({ oldUri }) => isBelow(folderOf(fileUri), oldUri))) continue;
    const folder = await documents.vehicleFolder(fileUri);
    if (!folder) continue;
    const moved = (path: string): string | undefined => movedPath(folder, path, renames);
    const edits = vehicleEdits(folder, moved);
    if (edits.length > 0) found.push({ uri: fileUri, edits });
    for (const session of await sessionsOf(workspace, folder)) {
      const edit = noteEdit(await headLines(workspace, session), moved);
      if (edit) found.push({ uri: session, edits: [edit] });
    }
  }
  return found;
}

/** Where a path within the vehicle's folder leads afterwards; undefined where it is not touched or would lead out. */
function movedPath({ uri }: VehicleFolder, path: string, renames: readonly FileRename[]): string | undefined {
  const file = join(uri, path);
  for (const { oldUri, newUri } of renames) {
    const target = file === oldUri ? newUri : isBelow(oldUri, file) ? join(newUri, relativeTo(oldUri, file)!) : undefined;
    if (target !== undefined) return relativeTo(uri, target);
  }
  return undefined;
}

function vehicleEdits({ document }: VehicleFolder, moved: (path: string) => string | undefined): TextEdit[] {
  const { vehicle } = document;
  const paths: [readonly (string | number)[], string | undefined][] = [
    ...Object.entries(vehicle.tables).map(([role, path]): [string[], string | undefined] => [['tables', role], path]),
    ...vehicle.sessions.flatMap(({ files, loggedWith }, index): [readonly (string | number)[], string | undefined][] => [
      [document.rangeOf(['sessions', index, 'files']) ? ['sessions', index, 'files'] : ['sessions', index], files],
      [['sessions', index, 'loggedWith'], loggedWith],
    ]),
    ...vehicle.joins.flatMap(({ first, second }, index): [readonly (string | number)[], string][] => [
      [['join', index, 0], first],
      [['join', index, 1], second],
    ]),
  ];
  return paths.flatMap(([key, path]) => {
    const place = document.rangeOf(key);
    const to = path === undefined ? undefined : moved(path);
    return place && to !== undefined ? [{ range: place, newText: JSON.stringify(to) }] : [];
  });
}

async function headLines(workspace: Workspace, uri: string): Promise<string[]> {
  const source = await workspace.open(uri);
  if (!source) return [];
  const bytes = source.read(0, Math.min(source.size, HEAD_BYTES)).slice();
  return textOf(bytesSource(bytes)).split(/\r\n|\r|\n/);
}

function noteEdit(lines: readonly string[], moved: (path: string) => string | undefined): TextEdit | undefined {
  for (const [line, text] of lines.entries()) {
    if (!/^\s*#/.test(text)) return undefined;
    const note = LOGGED_WITH.exec(text);
    const to = note ? moved(note[2]) : undefined;
    if (note && to !== undefined) return { range: range(line, note[1].length, line, note[1].length + note[2].length), newText: to };
  }
  return undefined;
}
