// Compiles the reader's innermost loop and writes it where the sources find it. `npm run kernel`.
import asc from 'assemblyscript/asc';
import { Buffer } from 'node:buffer';
import { readFileSync, writeFileSync } from 'node:fs';

const SOURCE = new URL('plainRows.ts', import.meta.url);
export const TARGET = new URL('../src/formats/csv/plainRowsCode.ts', import.meta.url);

/** The text of `plainRowsCode.ts` as it must be. */
export async function kernelText() {
  const source = readFileSync(SOURCE, 'utf8');
  const { error, stderr, binary } = await asc.compileString(
    { 'plainRows.ts': source },
    { optimizeLevel: 3, shrinkLevel: 0, noAssert: true, enable: ['simd'] },
  );
  if (error) throw new Error(stderr.toString());
  const lines = Buffer.from(binary)
    .toString('hex')
    .match(/.{1,140}/g)
    .map((line) => `  '${line}'`)
    .join(' +\n');
  return `// Written by \`npm run kernel\` from server/kernel/plainRows.ts: never edit by hand.\n\n/** A WebAssembly module, two hexadecimal digits a byte. */\nexport const PLAIN_ROWS_CODE =\n${lines};\n`;
}

if (process.argv[1] === new URL(import.meta.url).pathname) writeFileSync(TARGET, await kernelText());
