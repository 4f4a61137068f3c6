// What the editor calls inside its extension host: runs the tests beside it with mocha and leaves the counts in a file.
import type Mocha from 'mocha';
import { readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { format } from 'node:util';
import { mark } from '../mark.js';

/** Rejects when a test failed, so that the editor reports the run as failed too. */
export async function run(): Promise<void> {
  // mocha is an ES module and this file is CommonJS, so it can't be a plain import.
  const { default: Runner } = await import('mocha');
  // Marked, so that the harness tells the tests' words from the editor's own log.
  Runner.reporters.Base.consoleLog = (...words: unknown[]) => console.log(mark + format(...words));
  const mocha: Mocha = new Runner({ ui: 'tdd', timeout: 100_000, reporter: 'spec', grep: new RegExp(process.env.LEANSPOT_GREP ?? '') });
  for (const name of readdirSync(__dirname)
    .filter((file) => file.endsWith('.test.cjs'))
    .sort())
    mocha.addFile(join(__dirname, name));
  await mocha.loadFilesAsync();
  const { passes, failures, pending } = await new Promise<Mocha.Stats>((done) => {
    const runner = mocha.run(() => done(runner.stats!));
  });
  writeFileSync(process.env.LEANSPOT_TALLY!, JSON.stringify({ passed: passes, failed: failures, skipped: pending, again: 0 }));
  if (failures > 0) throw new Error(`${failures} failed`);
}
