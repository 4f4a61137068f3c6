// Writes the findings' pages and their list from the rules (`npm run docs`).

import { mkdirSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { findingPage } from '../../server/src/findings/page.js';
import { RULES } from '../../server/src/findings/registry.js';

export const DOCS = fileURLToPath(new URL('../../server/docs/findings/', import.meta.url));

/** Every page by its file name, README included. */
export function pages(): Map<string, string> {
  const all = new Map(RULES.map((rule) => [`${rule.code}.md`, findingPage(rule)]));
  const list = RULES.map((rule) => `- [\`${rule.code}\`](${rule.code}.md): ${rule.docs.title}`);
  all.set('README.md', ['# Findings', '', 'What Leanspot tells, one page a code. Written from the rules by `npm run docs`.', '', ...list, ''].join('\n'));
  return all;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  mkdirSync(DOCS, { recursive: true });
  const wanted = pages();
  for (const name of readdirSync(DOCS)) if (!wanted.has(name)) rmSync(DOCS + name);
  for (const [name, text] of wanted) writeFileSync(DOCS + name, text);
  console.log(`${wanted.size} pages written.`);
}
