// How the language service sees files: through this interface only. `disk/` implements it over real files, tests over texts in memory.

import type { ByteSource } from '../formats/source.js';
import type { Edited } from './followEdits.js';

export interface Workspace {
  /** Folders that the user has open (URIs), or the paths named on the command line. */
  readonly folders: readonly string[];
  /**
   * Folders above which nothing is looked for, for the files in them: what the user has not opened is not ours to search. None where left
   * out.
   */
  readonly bounds?: readonly string[];
  /** The file's bytes as the user sees them (an open editor's text before the disk's); undefined where there is none. */
  open(uri: string): Promise<ByteSource | undefined>;
  /** Whether the file holds these bytes and no others; left out where nobody can tell at once. */
  holds?(uri: string, bytes: Uint8Array): boolean;
  /** Changes whenever the bytes do: the cache key of everything derived from them. */
  stamp(uri: string): Promise<string | undefined>;
  /**
   * Files below a folder that match one of the globs (relative to it, `/`), in a stable order; folders that begin with a dot and
   * node_modules are passed over.
   */
  find(folderUri: string, globs: readonly string[]): Promise<readonly string[]>;
  /** Joins a relative path to a folder; undefined where it leaves the folder (also by a link). */
  resolve(folderUri: string, relativePath: string): Promise<string | undefined>;
  /** The language that an open editor has given the file; undefined for a file that is not open. */
  languageId?(uri: string): string | undefined;
  /** Of a long text that is open: what was edited in it since it had this stamp; undefined where that is not known, or nothing was. */
  edited?(uri: string, stamp: string): Edited | undefined;
}

/** Told between the pieces of long work; `cancelled` ends it early. A promise is waited for: that lets other work in. */
export interface Progress {
  readonly cancelled: boolean;
  report(done: number, total: number, what: string): void | Promise<void>;
}
