// Writes the bundle of the client's texts, for translators: every literal of `l10n.t` and every word of the views.

import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { globSync } from 'tinyglobby';
import { TABLE_WORDS } from '../../server/src/protocol/tableWords.js';
import { TRACE_WORDS } from '../../server/src/protocol/traceWords.js';

const root = join(import.meta.dirname, '../..');
const TEXT = /l10n\.t\(\s*(?:'((?:[^'\\]|\\.)*)'|"((?:[^"\\]|\\.)*)")/g;

const texts = globSync('client/src/**/*.ts', { cwd: root, absolute: true }).flatMap((file) =>
  [...readFileSync(file, 'utf8').matchAll(TEXT)].map(([, single, double]) => (single ?? double)!.replace(/\\(.)/g, '$1')),
);
const all = [...new Set([...texts, ...Object.values(TRACE_WORDS), ...Object.values(TABLE_WORDS)])].sort();
mkdirSync(join(root, 'l10n'), { recursive: true });
writeFileSync(join(root, 'l10n/bundle.l10n.json'), `${JSON.stringify(Object.fromEntries(all.map((text) => [text, text])), null, 2)}\n`);
