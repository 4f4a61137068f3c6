#!/usr/bin/env node
// What `npx leanspot` runs: the bundle, or one clear line where it has not been built yet.
import { existsSync } from 'node:fs';
import { createRequire } from 'node:module';
import { fileURLToPath } from 'node:url';

const bundle = fileURLToPath(new URL('../../dist/leanspot.js', import.meta.url));
if (existsSync(bundle)) {
  createRequire(import.meta.url)(bundle);
} else {
  console.error('leanspot is not built yet: run `npm run build` first.');
  process.exitCode = 2;
}
