// The long fuzz run: `node --import tsx test/fuzz/run.ts [--inputs N] [--seed S] [--target NAME]`. Faults are made small and kept under
// test/fuzz/corpus.

import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { faultOf, targetOf } from './feed.js';
import { fuzz, roundsOf } from './fuzz.js';
import { TARGETS } from './targets.js';

const CORPUS = fileURLToPath(new URL('./corpus/', import.meta.url));
/** Inputs of one thread; a new one begins afresh, so that the figure of its progress is never far off. */
const PIECE = 14_000;

const { values } = parseArgs({
  options: { inputs: { type: 'string', default: '1000000' }, seed: { type: 'string' }, target: { type: 'string', multiple: true } },
});
const seed = Number(values.seed ?? Math.floor(Math.random() * 2 ** 31));
const inputs = Number(values.inputs);
const targets = values.target ?? TARGETS.map(({ name }) => name);
console.log(`fuzz: ${inputs} inputs, seed ${seed}, targets ${targets.join(', ')}`);

/** Takes away what the fault does not need, while it stays the same kind of fault. */
function smaller(name: string, bytes: Uint8Array, what: string): Uint8Array {
  const target = targetOf(name);
  const kind = (text: string | undefined): string | undefined =>
    text
      ?.split('\n')[0]
      .replace(/[\d.]+/g, '#')
      .slice(0, 80);
  // What hangs is not tried again and again.
  if (/^(took|no answer|holds)/.test(what)) return bytes;
  let now = bytes;
  for (let step = now.length >> 1; step >= 1; step >>= 1) {
    for (let at = 0; at < now.length;) {
      const fewer = new Uint8Array([...now.subarray(0, at), ...now.subarray(at + step)]);
      if (fewer.length < now.length && kind(faultOf(target, fewer)) === kind(what)) now = fewer;
      else at += step;
    }
  }
  return now;
}

let count = 0;
const kinds = new Set<string>();
for (let done = 0; done < inputs; done += PIECE) {
  const faults = await fuzz(roundsOf(targets, seed, Math.min(PIECE, inputs - done), 500, done));
  for (const { target, index, what, bytes } of faults) {
    const kind = `${target} ${what
      .split('\n')
      .slice(0, 2)
      .join(' ')
      .replace(/[\d.]+/g, '#')
      .replace(/"[^"]*"/g, '"…"')
      .slice(0, 200)}`;
    if (kinds.has(kind)) continue;
    kinds.add(kind);
    const small = smaller(target, bytes, what);
    count++;
    console.log(
      `\n${target} ${index} (seed ${seed}), ${bytes.length} → ${small.length} bytes: ${what}\n${JSON.stringify(Buffer.from(small.subarray(0, 400)).toString('latin1'))}`,
    );
    if (small.length > 4000) continue;
    mkdirSync(join(CORPUS, target), { recursive: true });
    writeFileSync(join(CORPUS, target, `${seed}-${index}`), small);
  }
  console.log(`fuzz: ${Math.min(inputs, done + PIECE)} of ${inputs} inputs, ${count} kinds of fault`);
}
process.exitCode = count > 0 ? 1 : 0;
