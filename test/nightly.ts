// The night's work, part by part: what the day's tests do in small, done in full. `npm run nightly -- PART…` runs those parts alone.

import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';

const mocha = (files: readonly string[], env: Record<string, string>): Part => ({
  args: ['node_modules/mocha/bin/mocha.js', '--timeout', '0', ...files],
  env,
});

interface Part {
  readonly args: readonly string[];
  readonly env: Readonly<Record<string, string>>;
}

/** An environment that is set already sets another number. */
const PARTS: Readonly<Record<string, Part>> = {
  properties: mocha(['test/formats/readSessionProperties.test.ts'], { LEANSPOT_PROPERTY_RUNS: '100000' }),
  fuzz: {
    args: ['--import', 'tsx', 'test/fuzz/run.ts', '--inputs', process.env.LEANSPOT_FUZZ_INPUTS ?? '1000000'],
    env: { LEANSPOT_FUZZ_ALONE: '1' },
  },
  shapes: mocha(['test/fuzz/fuzz.test.ts', '--grep', 'shapes'], { LEANSPOT_SHAPE_LENGTH: '4000000', LEANSPOT_FUZZ_ALONE: '1' }),
  server: mocha(['test/fuzz/server.test.ts'], { LEANSPOT_FUZZ_MESSAGES: '20000', LEANSPOT_SOAK_STEPS: '10000' }),
  killed: mocha(['test/trust/killed.test.ts'], { LEANSPOT_KILLS: '200' }),
  package: mocha(['test/trust/package.test.ts'], { LEANSPOT_PACKAGE: '1' }),
};

const asked = process.argv.slice(2);
const unknown = asked.filter((name) => !(name in PARTS));
if (unknown.length > 0) {
  console.error(`No part ${unknown.join(', ')}. There are: ${Object.keys(PARTS).join(', ')}.`);
  process.exit(2);
}
const failed: string[] = [];
for (const name of asked.length > 0 ? asked : Object.keys(PARTS)) {
  const { args, env } = PARTS[name]!;
  console.log(`== ${name}`);
  const { status } = spawnSync(process.execPath, args, {
    cwd: fileURLToPath(new URL('..', import.meta.url)),
    stdio: 'inherit',
    env: { ...env, ...process.env },
  });
  if (status !== 0) failed.push(name);
}
console.log(failed.length > 0 ? `Failed: ${failed.join(', ')}` : 'All parts hold.');
process.exitCode = failed.length > 0 ? 1 : 0;
