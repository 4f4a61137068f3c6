// How the command line says that it could not do what was asked: one line on standard error, exit status 2.

import { BECAME_SHORTER, WENT_AWAY } from '../formats/source.js';
import { fromWorkingFolder } from './places.js';

/** Its message is the whole line for the user; anything else that is thrown is a fault of ours and is said to be one. */
export class Failure extends Error {}

/** What the operating system's refusals mean, in words. */
const REASONS: Readonly<Record<string, string>> = {
  EACCES: 'permission denied',
  EPERM: 'permission denied',
  ENOENT: 'no such file',
  EISDIR: 'it is a folder',
  ENOTDIR: 'no such file',
  ENOSPC: 'the disk is full',
  EROFS: 'the disk is read-only',
  EMFILE: 'too many open files',
  ELOOP: 'too many links',
  EIO: 'the disk could not be read',
  EEXIST: 'it is there already, and nothing is overwritten',
  ENAMETOOLONG: 'the name is too long',
  EBUSY: 'it is in use',
  EFBIG: 'the file is too large',
  [WENT_AWAY]: 'it went away meanwhile',
  [BECAME_SHORTER]: 'it became shorter while it was read',
};

/** Whether the trouble is one of a single file, so that the others can still be looked at. */
export const isOfFile = (error: unknown): boolean =>
  error instanceof Failure || (error as { code?: string } | undefined)?.code !== undefined;

/** The one line for whatever was thrown. */
export function lineFor(error: unknown): string {
  if (error instanceof Failure) return oneLine(error.message);
  const { code, path } = (error ?? {}) as { code?: string; path?: string };
  if (code !== undefined && Object.hasOwn(REASONS, code))
    return oneLine(
      `cannot use ${path === undefined ? 'a file' : path.startsWith('file:') ? fromWorkingFolder(path) : path}: ${REASONS[code]}`,
    );
  return oneLine(
    `something went wrong inside Leanspot: ${error instanceof Error ? error.message : String(error)} (run again with --verbose for details)`,
  );
}

const oneLine = (text: string): string => text.replace(/\s*[\r\n]+\s*/g, ' ').trim();
