// `--baseline FILE`: findings that rest, read from a file and written to it.

import { dirname, relative, resolve, sep } from 'node:path';
import { pathKind, pathOf, uriOf } from '../disk/diskWorkspace.js';
import { fileSource } from '../disk/fileSource.js';
import { writeBytes } from '../disk/writeFile.js';
import { baselineText, readBaseline, restingOf, type Baseline, type Identity } from '../service/baseline.js';
import { textOf } from '../service/text.js';
import { Failure } from './failure.js';
import { wantFolderOf } from './paths.js';

export interface BaselineFile {
  readonly path: string;
  /** Undefined where there is no such file yet. */
  readonly baseline: Baseline | undefined;
}

/** What a baseline says of the findings of a run. */
export interface Rest {
  readonly path: string;
  /** How many findings rest. */
  readonly resting: number;
  /** Entries that nothing is found for any more. */
  readonly mended: number;
}

/** `isWritten`: the file may be missing, for it is about to be made. */
export function openBaseline(path: string, isWritten: boolean): BaselineFile {
  const kind = pathKind(path);
  if (kind === undefined && isWritten) {
    wantFolderOf(path, '--write-baseline');
    return { path, baseline: undefined };
  }
  if (kind === undefined) throw new Failure(`no such baseline: ${path} (--write-baseline writes one)`);
  const source = kind === 'file' ? fileSource(path) : undefined;
  const baseline = source && readBaseline(textOf(source));
  if (!baseline)
    throw new Failure(`${path} is no baseline${isWritten ? '; nothing is overwritten' : ' (--baseline FILE --write-baseline writes one)'}`);
  return { path, baseline };
}

export interface Found {
  readonly uri: string;
  readonly identities: readonly Identity[];
}

/** Which findings of a file rest, and how many entries of it nothing is found for any more. */
export const restIn = ({ path, baseline }: BaselineFile, { uri, identities }: Found): ReturnType<typeof restingOf> =>
  restingOf(baseline ?? { findings: [] }, [{ file: fromBaseline(path, uri), identities }]);

/** Writes the findings as they are now: all of them rest from here on. Entries of files that were not checked stay. */
export function writeBaseline({ path, baseline }: BaselineFile, found: readonly Found[]): void {
  const checked = new Set(found.map(({ uri }) => fromBaseline(path, uri)));
  // An entry of a file that is gone would rest for ever.
  const kept = (baseline?.findings ?? []).filter(({ file }) => !checked.has(file) && pathKind(resolve(dirname(path), file)) === 'file');
  const now = found.flatMap(({ uri, identities }) => identities.map((identity) => ({ file: fromBaseline(path, uri), ...identity })));
  writeBytes(path, new TextEncoder().encode(baselineText([...kept, ...now])), { isNew: baseline === undefined });
}

/** Relative to the baseline, so that it holds whatever folder the check is run in. */
const fromBaseline = (path: string, uri: string): string =>
  relative(dirname(pathOf(uriOf(path))!), pathOf(uri) ?? uri)
    .split(sep)
    .join('/');
