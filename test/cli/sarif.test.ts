// SARIF as a code host takes it: valid by the published schema, alike findings told apart, the worst kept, failures said (SARIF 2.1.0, 3.20
// and 3.27.17).

import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { Validator, type Schema } from '@cfworker/json-schema';
import type { Checked } from '../../server/src/cli/check.js';
import { sarifRun } from '../../server/src/cli/output/sarif.js';
import type { Finding, Severity } from '../../server/src/findings/finding.js';
import { range } from '../../server/src/formats/range.js';
import { identityOf } from '../../server/src/service/baseline.js';
import { inFolder } from '../support/folder.js';
import { LEAN_CAR, leanPull } from '../support/sampleDrive.js';
import { leanspot } from './run.js';

interface Log {
  runs: [
    {
      invocations: [{ executionSuccessful: boolean; toolExecutionNotifications?: { level: string; message: { text: string } }[] }];
      tool: { driver: { rules: { id: string; help: { text: string; markdown: string }; fullDescription: { text: string } }[] } };
      results: {
        ruleId: string;
        level: string;
        message: { text: string };
        partialFingerprints: Record<string, string>;
        baselineState?: string;
        suppressions?: unknown[];
        relatedLocations?: { id: number; physicalLocation: { artifactLocation: { uri: string } } }[];
      }[];
    },
  ];
}

const finding = (severity: Severity, line: number, message: string): Finding => ({
  code: 'cell-lean',
  severity,
  range: range(line, 0, line, 1),
  message,
});
const file = (findings: readonly Finding[]): Checked => ({
  uri: 'file:///a.table.csv',
  kind: 'table',
  key: '',
  findings,
  identities: findings.map((each) => identityOf(each)),
  place: { file: 'a.table.csv' },
  path: 'a.table.csv',
});
const logOf = (files: readonly Checked[], failures: readonly string[] = []): object => {
  const { add, log } = sarifRun();
  for (const each of files) add(each);
  return log({ failures });
};
const run = (findings: readonly Finding[], failures: readonly string[] = []): Log['runs'][0] =>
  (logOf([file(findings)], failures) as Log).runs[0];
const printsOf = (findings: readonly Finding[]): string[] =>
  run(findings).results.map(({ partialFingerprints }) => partialFingerprints['finding/v1']);

/** The schema that OASIS published with SARIF 2.1.0 (JSON Schema draft-04), as the package carries it. */
const publishedSchema = (): Schema => {
  const home = dirname(createRequire(import.meta.url).resolve('@microsoft/sarif-matcher-utils/package.json'));
  return JSON.parse(readFileSync(join(home, 'lib/schemas/sarif-2.1.0-rtm.5.json'), 'utf8')) as Schema;
};
const complaints = (log: unknown): string[] =>
  new Validator(publishedSchema(), '4', false).validate(log).errors.map(({ instanceLocation, error }) => `${instanceLocation} ${error}`);
const check = async (cwd: string, ...more: string[]): Promise<Log> =>
  JSON.parse((await leanspot(['check', '.', '--format', 'sarif', ...more], { cwd })).stdout) as Log;

suite('SARIF', () => {
  test('is valid by the published schema: findings, rests, failures, nothing at all', async () => {
    assert.notDeepEqual(complaints({ version: '2.1.0', runs: [{ results: [{ level: 'fatal' }] }] }), [], 'the schema is at work');
    await inFolder(LEAN_CAR, async (cwd) => {
      const log = await check(cwd);
      assert.deepEqual(complaints(log), []);
      assert.ok(log.runs[0].results.length > 0);
      await leanspot(['check', '.', '--baseline', 'known.json', '--write-baseline'], { cwd });
      const rested = await check(cwd, '--baseline', 'known.json');
      assert.deepEqual(complaints(rested), []);
      assert.ok(
        rested.runs[0].results.every(({ baselineState, suppressions }) => baselineState === 'unchanged' && suppressions?.length === 1),
      );
    });
    assert.deepEqual(complaints(logOf([], ['cannot use b.csv: permission denied'])), []);
    assert.deepEqual(complaints(logOf([file([finding('information', 0, 'a note')])])), []);
  });

  test('every rule has its help, and a lean cell shows its worst moments in their sessions', async () => {
    await inFolder(LEAN_CAR, async (cwd) => {
      const [
        {
          tool: {
            driver: { rules },
          },
          results,
        },
      ] = (await check(cwd)).runs;
      for (const { id, help, fullDescription } of rules)
        assert.ok(help.text.includes('Check first:') && help.markdown.length > 80 && fullDescription.text.length > 20, id);
      assert.ok(results.every(({ ruleId }) => rules.some(({ id }) => id === ruleId)));
      const lean = results.find(({ ruleId }) => ruleId === 'cell-lean')!;
      assert.deepEqual(lean.relatedLocations!.map(({ id, physicalLocation }) => [id, physicalLocation.artifactLocation.uri])[0], [
        0,
        'sessions/cruise%20%5B1%5D.session.csv',
      ]);
    });
  });

  test('prints outlive a row added to a table, a note added to a session; each finding has one of its own', async () => {
    await inFolder(LEAN_CAR.replace('=== sessions', `=== sessions/run.session.csv\n${leanPull()}=== sessions`), async (cwd) => {
      const told = async (): Promise<Map<string, string>> =>
        new Map(
          (await check(cwd)).runs[0].results.map(({ partialFingerprints, ruleId, message }) => [
            partialFingerprints['finding/v1'],
            `${ruleId} ${message.text}`,
          ]),
        );
      const before = await told();
      const all = (await check(cwd)).runs[0].results;
      assert.equal(before.size, all.length, 'distinct');
      const change = (path: string, edit: (text: string) => string): void =>
        writeFileSync(join(cwd, path), edit(readFileSync(join(cwd, path), 'utf8')));
      change('tables/ve.table.csv', (text) => text.replace('  40 ,', '  30 , 49.0, 51.0, 52.0, 53.0, 52.0\n  40 ,'));
      change('sessions/run.session.csv', (text) => `# a note\n${text}`);
      const after = await told();
      const lost = [...before].filter(([print, words]) => !after.has(print) && /^(cell-lean|lean-under-load)/.test(words));
      assert.deepEqual(lost, []);
      assert.ok(
        [...before.values()].some((words) => words.startsWith('cell-lean')) &&
          [...before.values()].some((words) => words.startsWith('lean-under-load')),
      );
    });
  });

  test('findings that differ in numbers alone have prints of their own, the same ones when lines move', () => {
    const prints = printsOf([finding('error', 3, 'lean by 4 %'), finding('error', 5, 'lean by 6 %'), finding('error', 6, 'rich by 2 %')]);
    assert.equal(new Set(prints).size, 3);
    assert.deepEqual(
      printsOf([finding('error', 13, 'lean by 4.1 %'), finding('error', 15, 'lean by 6 %'), finding('error', 16, 'rich by 2 %')]),
      prints,
    );
  });

  test('the worst come first and none of them is left out', () => {
    const { results, invocations } = run([
      ...Array.from({ length: 5000 }, (_, line) => finding('information', line, 'a note')),
      finding('warning', 5001, 'x'),
      finding('error', 5002, 'y'),
    ]);
    assert.deepEqual([results.length, results[0].level, results[1].level, results[2].level], [5000, 'error', 'warning', 'note']);
    assert.match(invocations[0].toolExecutionNotifications![0].message.text, /^2 more findings are left out/);
  });

  test('a file that could not be checked makes the run no success, and is named', () => {
    assert.equal(run([]).invocations[0].executionSuccessful, true);
    const [{ executionSuccessful, toolExecutionNotifications }] = run([], ['cannot use b.csv: permission denied']).invocations;
    assert.equal(executionSuccessful, false);
    assert.deepEqual(toolExecutionNotifications, [{ level: 'error', message: { text: 'cannot use b.csv: permission denied' } }]);
  });
});
