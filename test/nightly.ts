// The night's work: the property tests of the session reader over 100 000 drawn files each (`LEANSPOT_PROPERTY_RUNS` sets another number).

import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';

const FILES = '100000';

const { status } = spawnSync(process.execPath, ['node_modules/mocha/bin/mocha.js', '--timeout', '0', 'test/formats/readSessionProperties.test.ts', ...process.argv.slice(2)], {
  cwd: fileURLToPath(new URL('..', import.meta.url)), stdio: 'inherit', env: { ...process.env, LEANSPOT_PROPERTY_RUNS: process.env.LEANSPOT_PROPERTY_RUNS ?? FILES },
});
process.exitCode = status ?? 1;
