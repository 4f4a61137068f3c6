// Paths as URIs and back. A file of its own: a thread needs no more of the disk's workspace, and starts sooner without what that loads.

import { resolve } from 'node:path';
import { URI } from 'vscode-uri';

/** The file path of a `file` URI; undefined for any other. */
export function pathOf(uri: string): string | undefined {
  try {
    const parsed = URI.parse(uri, true);
    return parsed.scheme === 'file' && !parsed.fsPath.includes('\0') ? parsed.fsPath : undefined;
  } catch {
    return undefined;
  }
}

/** The URI of a path, absolute or relative to the working folder, written as the editor writes it. */
export const uriOf = (path: string): string => URI.file(resolve(path)).toString();
