// Paths in a vehicle file that can be followed.

import type { DocumentLink } from 'vscode-languageserver-types';
import type { Documents } from '../documents.js';
import { folderOf } from '../uris.js';
import type { Workspace } from '../workspace.js';

/** A link for each path that names a file which is there; globs name many and are none. */
export async function vehicleLinks(workspace: Workspace, documents: Documents, uri: string): Promise<DocumentLink[]> {
  const read = await documents.vehicle(uri);
  if (!read) return [];
  const { vehicle, rangeOf } = { vehicle: read.value.vehicle, rangeOf: read.value.rangeOf.bind(read.value) };
  const paths: [readonly (string | number)[], string | undefined][] = [
    ...Object.entries(vehicle.tables).map(([role, path]): [string[], string | undefined] => [['tables', role], path]),
    ...vehicle.sessions.flatMap(({ files, loggedWith }, index): [readonly (string | number)[], string | undefined][] => [
      [rangeOf(['sessions', index, 'files']) ? ['sessions', index, 'files'] : ['sessions', index], files],
      [['sessions', index, 'loggedWith'], loggedWith],
    ]),
    ...vehicle.joins.flatMap(({ first, second }, index): [readonly (string | number)[], string][] => [
      [['join', index, 0], first],
      [['join', index, 1], second],
    ]),
  ];
  const links: DocumentLink[] = [];
  for (const [key, path] of paths) {
    const place = rangeOf(key);
    const target = place && path !== undefined ? await workspace.resolve(folderOf(uri), path) : undefined;
    if (place && target !== undefined && (await workspace.stamp(target))) links.push({ range: withoutQuotes(place), target });
  }
  return links;
}

/** The text between the quotes. */
const withoutQuotes = ({ start, end }: DocumentLink['range']): DocumentLink['range'] =>
  start.line === end.line && end.character - start.character > 2
    ? { start: { ...start, character: start.character + 1 }, end: { ...end, character: end.character - 1 } }
    : { start, end };
