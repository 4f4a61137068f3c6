// Answers the server's questions for files through the editor's file system, within the open folders and the findings' pages alone.
// Nothing is ever written.

import { FileType, l10n, Uri, window, workspace } from 'vscode';
import type { BaseLanguageClient } from 'vscode-languageclient';
import { toBase64 } from '../../server/src/protocol/base64.js';
import { FILES, type FileAsk, type FileBytes } from '../../server/src/protocol/files.js';

/** A tree deeper or larger than this is not a shop's: what is beyond is not looked at, which is said once a folder. */
const MOST_LEVELS = 40;
const MOST_FILES = 50_000;

/** No way on from the folder, or out of it. */
const A_PAGE = /^[\w-]+\.md$/;

/** `asText`: the way to the server is a pipe of text, which carries no bytes. `pages`: the folder of the findings' pages. */
export function answerForFiles(client: BaseLanguageClient, pages: string, asText: boolean): void {
  /** Undefined for what is no plain file: a link may lead anywhere. */
  const fileStat = async (address: string): Promise<{ readonly mtime: number; readonly size: number } | undefined> => {
    const uri = Uri.parse(address);
    if (!isOpen(uri) && !(address.startsWith(pages) && A_PAGE.test(address.slice(pages.length)))) return undefined;
    try {
      const stat = await workspace.fs.stat(uri);
      return stat.type === FileType.File ? stat : undefined;
    } catch {
      return undefined;
    }
  };
  client.onRequest(FILES.stamp, async ({ uri }: FileAsk): Promise<string | null> => {
    const stat = await fileStat(uri);
    return stat ? `${stat.mtime}:${stat.size}` : null;
  });
  client.onRequest(FILES.read, async ({ uri }: FileAsk): Promise<FileBytes | null> => {
    if (!(await fileStat(uri))) return null;
    const bytes = await workspace.fs.readFile(Uri.parse(uri));
    return asText ? toBase64(bytes) : bytes;
  });
  client.onRequest(FILES.list, async ({ uri }: FileAsk): Promise<readonly string[]> => {
    const folder = Uri.parse(uri);
    if (!isOpen(folder)) return [];
    const { found, isWhole } = await filesBelow(folder);
    if (!isWhole && !told.has(uri)) {
      told.add(uri);
      void window.showWarningMessage(
        l10n.t(
          '{0} holds more than {1} files or {2} levels of folders. The rest is not looked at.',
          workspace.asRelativePath(folder),
          MOST_FILES,
          MOST_LEVELS,
        ),
      );
    }
    return found;
  });
}

/** Folders of which it was said that not all of them is looked at. */
const told = new Set<string>();

const isOpen = (uri: Uri): boolean => workspace.getWorkspaceFolder(uri) !== undefined;

async function filesBelow(folder: Uri): Promise<{ readonly found: readonly string[]; readonly isWhole: boolean }> {
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
      if (found.length > MOST_FILES) return { found: found.slice(0, MOST_FILES), isWhole: false };
    }
    level = deeper;
  }
  return { found, isWhole: level.length === 0 };
}

/** Empty for a folder that cannot be read. */
async function entriesOf(folder: Uri): Promise<[string, FileType][]> {
  try {
    return await workspace.fs.readDirectory(folder);
  } catch {
    return [];
  }
}
