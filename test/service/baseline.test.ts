// Which findings rest: known again by what they are, not by where they stand; never more of them than were written down, never one that
// became worse.

import assert from 'node:assert/strict';
import type { Finding } from '../../server/src/findings/finding.js';
import { range } from '../../server/src/formats/range.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { baselineText, identityOf, readBaseline, restingOf } from '../../server/src/service/baseline.js';
import { SAMPLE_TABLE } from '../support/sampleDrive.js';

const spell = (timeS: number, severity: Finding['severity'] = 'error'): Finding => ({
  code: 'lean-under-load',
  severity,
  channel: 'lambda',
  range: range(0, 0, 0, 1),
  message: `Lean at ${timeS} s.`,
  timeS: [timeS, timeS + 1],
});
const baselineOf = (file: string, findings: readonly Finding[]): NonNullable<ReturnType<typeof readBaseline>> =>
  readBaseline(baselineText(findings.map((each) => ({ file, ...identityOf(each) }))))!;
const restIn = (
  baseline: ReturnType<typeof baselineOf>,
  file: string,
  findings: readonly Finding[],
): { rests: boolean[]; mended: number } => {
  const identities = findings.map((each) => identityOf(each));
  const { resting, mended } = restingOf(baseline, [{ file, identities }]);
  return { rests: identities.map((each) => resting.has(each)), mended };
};

suite('baseline', () => {
  test('spells are known again by time, each entry once, the nearest first', () => {
    const known = baselineOf('a', [spell(10), spell(50)]);
    assert.deepEqual(restIn(known, 'a', [spell(10.4), spell(50), spell(90)]), { rests: [true, true, false], mended: 0 });
    assert.deepEqual(restIn(known, 'a', [spell(11.5), spell(10.1)]), { rests: [false, true], mended: 1 });
    assert.deepEqual(restIn(known, 'b', [spell(10)]), { rests: [false], mended: 0 });
  });

  test('what became worse does not rest; what became milder does', () => {
    const known = baselineOf('a', [spell(10, 'warning')]);
    assert.deepEqual(restIn(known, 'a', [spell(10, 'error')]).rests, [false]);
    assert.deepEqual(restIn(known, 'a', [spell(10, 'information')]).rests, [true]);
  });

  test('cells are known by their breakpoints: a mended cell lets no other rest', () => {
    const table = readTable(SAMPLE_TABLE);
    const cell = (row: number, column: number): Finding => ({
      code: 'cell-lean',
      severity: 'error',
      range: range(0, 0, 0, 1),
      message: 'x',
      data: { row, column },
    });
    const longer = readTable(SAMPLE_TABLE.replace('  40 ,', '  30 , 49.0, 51.0, 52.0, 53.0, 52.0\n  40 ,'));
    const known = { findings: [{ file: 'a', ...identityOf(cell(1, 2), table) }] };
    assert.equal(known.findings[0].place, '4000 rpm, 80 kPa');
    assert.equal(restingOf(known, [{ file: 'a', identities: [identityOf(cell(2, 2), longer)] }]).resting.size, 1);
    assert.deepEqual(restingOf(known, [{ file: 'a', identities: [identityOf(cell(1, 3), table)] }]), { resting: new Set(), mended: 1 });
  });

  test('a cell that is proven to be further off does not rest; one whose numbers move a little does, also by a baseline that tells no numbers', () => {
    const table = readTable(SAMPLE_TABLE);
    const cell = (factor: number): Finding => ({
      code: 'cell-lean',
      severity: 'error',
      range: range(0, 0, 0, 1),
      message: 'x',
      data: { row: 1, column: 2, factorLow: factor - 0.01, factorHigh: factor + 0.01 },
    });
    const text = baselineText([{ file: 'a', ...identityOf(cell(1.05), table) }]),
      known = readBaseline(text)!;
    const rests = (baseline: typeof known, factor: number): boolean =>
      restingOf(baseline, [{ file: 'a', identities: [identityOf(cell(factor), table)] }]).resting.size === 1;
    assert.deepEqual(
      [1.02, 1.05, 1.07, 1.1, 0.9].map((factor) => rests(known, factor)),
      [true, true, true, false, false],
    );
    assert.equal(rests(readBaseline(text.replace(',"offPercent":4', ''))!, 1.1), true);
  });

  test('the text is the same for the same findings in any order, and what is no baseline is undefined', () => {
    const entries = [spell(10), spell(50)].map((each) => ({ file: 'a', ...identityOf(each) }));
    assert.equal(baselineText(entries), baselineText([...entries].reverse()));
    assert.deepEqual(readBaseline(baselineText([])), { findings: [] });
    for (const text of [
      '',
      '[]',
      '{}',
      '{"schema":2,"findings":[]}',
      '{"schema":1,"findings":[1]}',
      '{"schema":1,"findings":[{"file":"a","code":"x","severity":"bad"}]}',
    ])
      assert.equal(readBaseline(text), undefined, text);
  });
});
