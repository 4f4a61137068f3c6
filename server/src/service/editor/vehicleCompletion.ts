// Completion in a vehicle file: the channels that the sessions have, the files that are there, and, where the editor knows no schema, its
// keys and values.

import { CompletionItemKind, type CompletionItem } from 'vscode-languageserver-types';
import { getLocation } from 'jsonc-parser';
import { isTooDeep } from '../../formats/vehicle/jsonText.js';
import type { Position } from '../../formats/range.js';
import type { Documents } from '../documents.js';
import { schemaAt, valuesOf } from '../../formats/vehicle/schemaAt.js';
import { sessionsOf, tablesOf } from '../vehicleFolders.js';
import { relativeTo } from '../uris.js';
import type { Workspace } from '../workspace.js';

/** Sessions whose first lines are looked into for their channels: the newest logs of a car have the same ones. */
const MOST_SESSIONS_READ = 5;

export async function vehicleCompletions(
  workspace: Workspace,
  documents: Documents,
  uri: string,
  position: Position,
  schemaKnown: boolean,
): Promise<CompletionItem[]> {
  const text = await documents.text(uri);
  const folder = await documents.vehicleFolder(uri);
  if (text === undefined || !folder || isTooDeep(text)) return [];
  const offset = offsetAt(text, position);
  const location = getLocation(text, offset);
  const { path, isAtPropertyKey } = location;
  const replaced =
    location.previousNode && location.previousNode.offset <= offset && offset <= location.previousNode.offset + location.previousNode.length
      ? location.previousNode
      : undefined;
  const item = (label: string, kind: CompletionItemKind, detail: string, asKey = false): CompletionItem => {
    const newText = JSON.stringify(label) + (asKey && !replaced ? ': ' : '');
    return {
      label,
      kind,
      detail,
      filterText: JSON.stringify(label),
      textEdit: {
        newText,
        range: {
          start: positionAt(text, replaced?.offset ?? offset),
          end: positionAt(text, replaced ? replaced.offset + replaced.length : offset),
        },
      },
    };
  };
  const pathsOf = (uris: readonly string[]): string[] => uris.flatMap((each) => relativeTo(folder.uri, each) ?? []);

  if (isAtPropertyKey && path.length === 2 && path[0] === 'channels') {
    const mapped = folder.document.vehicle.channels;
    return [...(await channelsSeen())]
      .filter(([name]) => !mapped.has(name) && !folder.document.vehicle.others?.includes(name))
      .map(([name, known]) => item(name, CompletionItemKind.Field, known ? 'recognised without a mapping' : 'not recognised', true));
  }
  if (!isAtPropertyKey && path.length === 2 && path[0] === 'tables')
    return pathsOf(await tablesOf(workspace, folder)).map((file) => item(file, CompletionItemKind.File, 'table'));
  if (!isAtPropertyKey && path[0] === 'sessions') {
    if (path[2] === 'loggedWith')
      return pathsOf(await tablesOf(workspace, folder)).map((file) => item(file, CompletionItemKind.File, 'table'));
    if (path.length === 2 || path[2] === 'files')
      return pathsOf(await sessionsOf(workspace, folder)).map((file) => item(file, CompletionItemKind.File, 'session'));
  }
  if (schemaKnown) return [];
  const schema = schemaAt(isAtPropertyKey ? path.slice(0, -1) : path);
  if (isAtPropertyKey) {
    return Object.entries(schema?.properties ?? {}).map(([key, { description }]) => ({
      ...item(key, CompletionItemKind.Property, '', true),
      documentation: description,
    }));
  }
  return valuesOf(schema).map((value) => item(value, CompletionItemKind.Value, ''));

  /** Headers of the vehicle's sessions, and whether they are understood as they are. */
  async function channelsSeen(): Promise<Map<string, boolean>> {
    const seen = new Map<string, boolean>();
    const sessions = await sessionsOf(workspace, folder!);
    for (const session of sessions.slice(-MOST_SESSIONS_READ)) {
      for (const [name, isKnown] of await documents.channelNames(session)) if (name !== '') seen.set(name, isKnown);
    }
    return seen;
  }
}

export function offsetAt(text: string, { line, character }: Position): number {
  let start = 0;
  for (let at = 0; at < line; at++) {
    const end = nextLine(text, start);
    if (end === undefined) return text.length;
    start = end;
  }
  return Math.min(start + character, text.length);
}

export function positionAt(text: string, offset: number): Position {
  let line = 0;
  let start = 0;
  for (let end = nextLine(text, start); end !== undefined && end <= offset; end = nextLine(text, start)) {
    line++;
    start = end;
  }
  return { line, character: offset - start };
}

function nextLine(text: string, start: number): number | undefined {
  for (let at = start; at < text.length; at++) {
    const code = text.charCodeAt(at);
    if (code === 10) return at + 1;
    if (code === 13) return text.charCodeAt(at + 1) === 10 ? at + 2 : at + 1;
  }
  return undefined;
}
