// Runs the benchmarks one behind the other, each figure beside its bar. `npm run bench -- read check` picks some by name.

import { readdirSync } from 'node:fs';

interface Bench {
  readonly bench: () => Promise<Result> | Result;
}
interface Result {
  readonly pass: boolean;
  readonly text: string;
  readonly seed?: number;
}

const ORDER = ['read', 'check', 'gigabyte', 'editor', 'activation', 'evidence', 'faults', 'weigh', 'trace'];
const present = new Set(readdirSync(new URL('.', import.meta.url)).map((file) => file.replace(/\.ts$/, '')));
const known = ORDER.filter((name) => present.has(name));

const asked = process.argv.slice(2);
const unknown = asked.filter((name) => !known.includes(name));
if (unknown.length > 0) {
  console.error(`No benchmark called ${unknown.join(', ')}. There are: ${known.join(', ')}.`);
  process.exit(2);
}

const run = async (name: string): Promise<string> => {
  console.log(`\n== ${name}`);
  try {
    const { bench } = (await import(`./${name}.ts`)) as Bench;
    const { pass, text } = await bench();
    console.log(text);
    return pass ? 'holds its bar' : 'misses its bar';
  } catch (error) {
    console.error(error);
    return 'failed';
  }
};

const outcomes: string[] = [];
for (const name of asked.length > 0 ? asked : known) outcomes.push(`${name} ${await run(name)}`);
console.log(`\n${outcomes.join(', ')}`);
process.exitCode = outcomes.every((outcome) => outcome.endsWith('holds its bar')) ? 0 : 1;
