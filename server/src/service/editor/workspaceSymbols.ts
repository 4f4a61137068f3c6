// Go to a car, a session or a table by its name, whichever file is open.

import { SymbolKind, type WorkspaceSymbol } from 'vscode-languageserver-types';
import { range } from '../../formats/range.js';
import type { Documents } from '../documents.js';
import type { FileKind } from '../fileKind.js';
import { baseName, folderOf } from '../uris.js';

/** The client asks again with more letters. */
const MOST_SYMBOLS = 500;
const KINDS: Readonly<Record<FileKind, SymbolKind>> = { vehicle: SymbolKind.Module, session: SymbolKind.Event, table: SymbolKind.Class };

/** Files whose name, or whose car's name, has the query's letters in their order. Sessions are not read for it. */
export async function workspaceSymbols(
  documents: Documents,
  files: readonly { readonly uri: string; readonly kind: FileKind }[],
  query: string,
): Promise<WorkspaceSymbol[]> {
  const found: WorkspaceSymbol[] = [];
  const carNames = new Map<string, string>();
  const carOf = async (uri: string): Promise<string> => {
    const folder = folderOf(uri);
    const known = carNames.get(folder);
    if (known !== undefined) return known;
    const name = (await documents.vehicleFolder(uri))?.document.vehicle.name ?? '';
    carNames.set(folder, name);
    return name;
  };
  for (const { uri, kind } of files) {
    if (found.length >= MOST_SYMBOLS) break;
    const car = await carOf(uri);
    const name = kind === 'vehicle' ? car || baseName(folderOf(uri)) : baseName(uri);
    const title = kind === 'table' ? (await documents.table(uri))?.value.quantity?.replaceAll('-', ' ') : undefined;
    if (!hasLetters(`${name} ${title ?? ''} ${car}`, query)) continue;
    found.push({
      name: title === undefined ? name : `${name} (${title})`,
      kind: KINDS[kind],
      location: { uri, range: range(0, 0, 0, 0) },
      ...(car && kind !== 'vehicle' ? { containerName: car } : {}),
    });
  }
  return found;
}

/** As the protocol asks: relaxed, so that the client can rank. */
function hasLetters(text: string, query: string): boolean {
  const within = text.toLowerCase();
  let at = 0;
  for (const letter of query.toLowerCase().replaceAll(/\s/g, '')) {
    at = within.indexOf(letter, at) + 1;
    if (at === 0) return false;
  }
  return true;
}
