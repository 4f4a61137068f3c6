// Answers the server's questions for files through the editor's file system, within the open folders alone. Nothing is ever written.

import { FileType, Uri, workspace } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { toBase64 } from '../../server/src/protocol/base64.js';
import { FILES, type FileAsk, type FileBytes } from '../../server/src/protocol/files.js';

/** A tree deeper or larger than this is not a shop's. */
const MOST_LEVELS = 40;
const MOST_FILES = 50_000;

/** `asText`: the way to the server is a pipe of text, which carries no bytes. */
export function answerForFiles(client: BaseLanguageClient, asText: boolean): void {
  client.onRequest(FILES.stamp, async ({ uri }: FileAsk): Promise<string | null> => {
    const stat = await fileStat(uri);
    return stat ? `${stat.mtime}:${stat.size}` : null;
  });
  client.onRequest(FILES.read, async ({ uri }: FileAsk): Promise<FileBytes | null> => {
    if (!await fileStat(uri)) return null;
    const bytes = await workspace.fs.readFile(Uri.parse(uri));
    return asText ? toBase64(bytes) : bytes;
  });
  client.onRequest(FILES.list, async ({ uri }: FileAsk): Promise<string[]> => {
    const folder = Uri.parse(uri);
    return isOpen(folder) ? filesBelow(folder) : [];
  });
}

const isOpen = (uri: Uri): boolean => workspace.getWorkspaceFolder(uri) !== undefined;

/** Undefined for what is no plain file: a link may lead anywhere. */
async function fileStat(address: string): Promise<{ readonly mtime: number; readonly size: number } | undefined> {
  const uri = Uri.parse(address);
  if (!isOpen(uri)) return undefined;
  try {
    const stat = await workspace.fs.stat(uri);
    return stat.type === FileType.File ? stat : undefined;
  } catch {
    return undefined;
  }
}

async function filesBelow(folder: Uri): Promise<string[]> {
  const found: string[] = [];
  let level: string[] = [''];
  for (let depth = 0; depth < MOST_LEVELS && level.length > 0; depth++) {
    const deeper: string[] = [];
    for (const path of level) {
      for (const [name, type] of await entriesOf(path === '' ? folder : Uri.joinPath(folder, path))) {
        if (name.startsWith('.') || name === 'node_modules') continue;
        const below = path === '' ? name : `${path}/${name}`;
        if (type === FileType.Directory) deeper.push(below);
        else if (type === FileType.File) found.push(below);
      }
      if (found.length > MOST_FILES) return found.slice(0, MOST_FILES);
    }
    level = deeper;
  }
  return found;
}

/** Empty for a folder that cannot be read. */
async function entriesOf(folder: Uri): Promise<[string, FileType][]> {
  try {
    return await workspace.fs.readDirectory(folder);
  } catch {
    return [];
  }
}
