// How the command line says that it could not do what was asked: one line on standard error, exit status 2.

/** Its message is the whole line for the user; anything else that is thrown is a fault of ours and is said to be one. */
export class Failure extends Error {}

/** What the operating system's refusals mean, in words. */
const REASONS: Readonly<Record<string, string>> = {
  EACCES: 'permission denied', EPERM: 'permission denied', ENOENT: 'no such file', EISDIR: 'it is a folder', ENOTDIR: 'no such file',
  ENOSPC: 'the disk is full', EROFS: 'the disk is read-only', EMFILE: 'too many open files', ELOOP: 'too many links', EIO: 'the disk could not be read',
};

/** The one line for whatever was thrown. */
export function lineFor(error: unknown): string {
  if (error instanceof Failure) return oneLine(error.message);
  const { code, path } = error as { code?: string; path?: string };
  if (code !== undefined && code in REASONS) return oneLine(`cannot use ${path ?? 'a file'}: ${REASONS[code]}`);
  return oneLine(`something went wrong inside Leanspot: ${error instanceof Error ? error.message : String(error)} (run again with --verbose for details)`);
}

const oneLine = (text: string): string => text.replace(/\s*[\r\n]+\s*/g, ' ').trim();
