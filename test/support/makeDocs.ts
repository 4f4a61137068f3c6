// Writes what the documentation takes from the product (`npm run docs`): the findings' pages, the commands and settings, and what the
// guide's examples print.

import { mkdirSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { findingPage } from '../../server/src/findings/page.js';
import { RULES } from '../../server/src/findings/registry.js';
import { readPage, refreshed } from './docExamples.js';
import { referencePages } from './makeReference.js';

export const DOCS = fileURLToPath(new URL('../../server/docs/findings/', import.meta.url));

/** Every page by its file name, README included. */
export function pages(): Map<string, string> {
  const all = new Map(RULES.map((rule) => [`${rule.code}.md`, findingPage(rule)]));
  const list = RULES.map((rule) => `- [\`${rule.code}\`](${rule.code}.md): ${rule.docs.title}`);
  all.set(
    'README.md',
    ['# Findings', '', 'What Leanspot tells, one page a code. Written from the rules by `npm run docs`.', '', ...list, ''].join('\n'),
  );
  return all;
}

const GUIDE: readonly string[] = readdirSync(`${DOCS}../guide`)
  .sort()
  .map((name) => `guide/${name}`);

/** Pages that show what commands print: the guide's, and the README. */
export const WITH_EXAMPLES: readonly string[] = [...GUIDE, '../../README.md'];

/** The commands, the settings, and the pages with examples, their outputs as they are now. */
async function otherPages(): Promise<Map<string, string>> {
  const all = await referencePages();
  for (const name of WITH_EXAMPLES) all.set(name, await refreshed(readPage(name)));
  return all;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  mkdirSync(DOCS, { recursive: true });
  const wanted = pages();
  for (const name of readdirSync(DOCS)) if (!wanted.has(name)) rmSync(DOCS + name);
  for (const [name, text] of wanted) writeFileSync(DOCS + name, text);
  let written = wanted.size;
  for (const [name, text] of await otherPages()) {
    writeFileSync(`${DOCS}../${name}`, text);
    written++;
  }
  console.log(`${written} pages written.`);
}
