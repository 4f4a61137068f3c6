// Files of kept evidence, one session a line: written whole, read line by line, each session counted once.

import { readLines } from '../disk/readLines.js';
import { fileExists, writeBytes } from '../disk/writeFile.js';
import type { Table } from '../formats/table/table.js';
import { readEvidenceLine } from '../fueling/evidenceFile.js';
import type { SessionEvidence } from '../fueling/weigh.js';
import { Failure } from './failure.js';
import { counted } from './output/words.js';
import { tell } from './output/write.js';
import { wantFile, wantFolderOf } from './paths.js';

/** Throws a `Failure` for an output that is there already, or whose folder is not. */
export function refuseTaken(path: string): void {
  if (fileExists(path)) throw new Failure(`${path} is there already: name a new file, nothing is overwritten`);
  wantFolderOf(path, '--save-evidence');
}

export const saveLines = (path: string, lines: readonly string[]): void =>
  writeBytes(path, new TextEncoder().encode(lines.map((line) => `${line}\n`).join('')), { isNew: true });

/**
 * The evidence of files made for the same table. The same session's evidence in two of them counts once, which is said; a line that does
 * not read ends the command.
 */
export async function keptEvidence(table: Table, paths: readonly string[]): Promise<SessionEvidence[]> {
  const seen = new Set<string>();
  const found: SessionEvidence[] = [];
  let again = 0;
  for (const path of paths) {
    wantFile(path, 'file');
    let number = 0;
    for await (const line of readLines(path)) {
      number++;
      if (line.trim() === '') continue;
      const read = readEvidenceLine(line, table);
      if ('refused' in read) throw new Failure(`line ${number} of ${path} is no use here: ${read.refused}`);
      const print = printOf(read.evidence);
      if (seen.has(print)) again++;
      else found.push(read.evidence);
      seen.add(print);
    }
  }
  if (again > 0) tell(`leanspot: ${counted(again, 'session')} met twice in the kept evidence, counted once\n`);
  return found;
}

/** Two sessions with the same readings at the same times are one. */
const printOf = ({ blocks, timeS }: SessionEvidence): string =>
  JSON.stringify([blocks.count, ...timeS.slice(0, 50), ...blocks.lnRequired.slice(0, 50), ...blocks.lnRequired.slice(-50)]);
