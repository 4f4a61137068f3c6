// A workspace over texts in memory, from a fixture of several files.

import picomatch from 'picomatch';
import { insideFolder } from '../../server/src/formats/vehicle/folderPath.js';
import { textSource } from '../../server/src/formats/source.js';
import type { Workspace } from '../../server/src/service/workspace.js';
import { fixtureFiles } from './fixture.js';

export const ROOT = 'memory:/car';

export interface MemoryWorkspace extends Workspace {
  uri(name: string): string;
  write(name: string, text: string): void;
  remove(name: string): void;
  /** How often bytes were opened, for tests of the caches. */
  readonly opened: Map<string, number>;
  languages: Map<string, string>;
}

/** Files of a fixture (`=== name` sections), all below `ROOT`. */
export function memoryWorkspace(fixture: string): MemoryWorkspace {
  const files = new Map<string, { text: string; version: number }>();
  const opened = new Map<string, number>();
  const languages = new Map<string, string>();
  const uri = (name: string): string => `${ROOT}/${name}`;
  let version = 0;
  const write = (name: string, text: string): void => {
    files.set(uri(name), { text, version: ++version });
  };
  for (const { name, text } of fixtureFiles(fixture)) write(name, text);
  return {
    folders: [ROOT],
    uri,
    write,
    opened,
    languages,
    remove: (name) => {
      files.delete(uri(name));
    },
    languageId: (name) => languages.get(name),
    open: async (name) => {
      const file = files.get(name);
      if (file) opened.set(name, (opened.get(name) ?? 0) + 1);
      return file && textSource(file.text);
    },
    stamp: async (name) => files.get(name) && String(files.get(name)!.version),
    find: async (folder, globs) =>
      [...files.keys()]
        .filter((name) => name.startsWith(`${folder}/`) && picomatch.isMatch(name.slice(folder.length + 1), [...globs]))
        .sort(),
    resolve: async (folder, path) => {
      const inside = insideFolder(path);
      return inside === undefined ? undefined : `${folder}/${inside}`;
    },
  };
}
