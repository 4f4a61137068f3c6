// SARIF as a code host takes it: alike findings told apart, the worst kept, failures said (SARIF 2.1.0, 3.20 and 3.27.17).

import assert from 'node:assert/strict';
import type { Checked } from '../../server/src/cli/check.js';
import { sarifLog } from '../../server/src/cli/output/sarif.js';
import type { Finding, Severity } from '../../server/src/findings/finding.js';
import { range } from '../../server/src/formats/range.js';

interface Log { runs: [{ invocations: [{ executionSuccessful: boolean; toolExecutionNotifications?: { level: string; message: { text: string } }[] }]; results: { level: string; partialFingerprints: Record<string, string> }[] }] }

const finding = (severity: Severity, line: number, message: string): Finding => ({ code: 'cell-lean', severity, range: range(line, 0, line, 1), message });
const file = (findings: readonly Finding[]): Checked => ({ uri: 'file:///a.table.csv', kind: 'table', key: '', findings, place: { file: 'a.table.csv' }, path: 'a.table.csv' });
const run = (findings: readonly Finding[], failures: readonly string[] = []): Log['runs'][0] => (sarifLog([file(findings)], failures) as Log).runs[0];
const printsOf = (findings: readonly Finding[]): string[] => run(findings).results.map(({ partialFingerprints }) => partialFingerprints['finding/v1']);

suite('SARIF', () => {
  test('findings that differ in numbers alone have prints of their own, the same ones when lines move', () => {
    const prints = printsOf([finding('error', 3, 'lean by 4 %'), finding('error', 5, 'lean by 6 %'), finding('error', 6, 'rich by 2 %')]);
    assert.equal(new Set(prints).size, 3);
    assert.deepEqual(printsOf([finding('error', 13, 'lean by 4.1 %'), finding('error', 15, 'lean by 6 %'), finding('error', 16, 'rich by 2 %')]), prints);
  });

  test('the worst come first and none of them is left out', () => {
    const { results, invocations } = run([...Array.from({ length: 5000 }, (_, line) => finding('information', line, 'a note')), finding('warning', 5001, 'x'), finding('error', 5002, 'y')]);
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
