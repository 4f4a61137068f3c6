// Addresses of files: the few operations on them that the service needs, the same for every scheme.

import { URI, Utils } from 'vscode-uri';

/** The last part of the path. */
export const baseName = (uri: string): string => Utils.basename(URI.parse(uri));

/** The folder that holds the file or folder; a root is its own folder. */
export const folderOf = (uri: string): string => {
  const file = URI.parse(uri);
  return (DRIVE.test(file.path) ? file : Utils.dirname(file)).toString();
};

/** The root of a Windows drive. */
const DRIVE = /^\/[a-z]:\/?$/i;

/** A file below a folder. */
export function join(folderUri: string, ...parts: string[]): string {
  const folder = URI.parse(folderUri);
  return folder.with({ path: [folder.path.replace(/\/$/, ''), ...parts].join('/') }).toString();
}

/** Whether the file lies below the folder, at any depth. */
export const isBelow = (folderUri: string, uri: string): boolean => relativeTo(folderUri, uri) !== undefined;

/** The path from a folder to a file below it, with `/`; undefined where it is not below. */
export function relativeTo(folderUri: string, uri: string): string | undefined {
  const folder = URI.parse(folderUri);
  const file = URI.parse(uri);
  if (folder.scheme !== file.scheme || folder.authority !== file.authority) return undefined;
  const start = folder.path.endsWith('/') ? folder.path : `${folder.path}/`;
  return file.path.startsWith(start) ? file.path.slice(start.length) : undefined;
}
