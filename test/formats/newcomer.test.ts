// Session files as people first bring them: gauge pressure without the word, thousands commas, clocks and channels in other languages, binary files.

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { pullColumns, sampleLog } from '../../server/src/findings/sampleLog.js';
import { readSession } from '../../server/src/formats/readSession.js';
import { channelOf, type Session } from '../../server/src/formats/session.js';
import { bytesSource, textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';

const read = (text: string): Session => readSession(textSource(text));
const kinds = (session: Session): string[] => session.problems.map((problem) => `${problem.code} ${problem.kind}`);
const findings = (session: Session) => sessionFindings(analyse(session, EMPTY_VEHICLE));
const near = (actual: number | undefined, expected: number, tolerance = 1e-3): void => assert.ok(Math.abs((actual ?? NaN) - expected) < tolerance, `${actual} is not ${expected}`);

suite('session reader: a gauge without the word', () => {
  const log = (unit: string, values: readonly number[]): Session => read(`Time (s),RPM,MAP (${unit}),Lambda\n${values.map((value, row) => `${row / 10},2000,${value},1\n`).join('')}`);
  test('below zero in psi, kPa and bar is read from the air around the car, and told', () => {
    // 1 psi = 6.894757 kPa (exact by definition), standard atmosphere 101.325 kPa.
    for (const [unit, values, lowKPa] of [['psi', [-10, -5, 0, 12], 101.325 - 68.94757], ['kPa', [-70, -30, 0, 80], 31.325], ['bar', [-0.7, -0.3, 0, 0.8], 31.325]] as const) {
      const session = log(unit, values);
      near(channelOf(session, 'manifold-pressure')?.values[0], lowKPa);
      const found = findings(session).find(({ code, data }) => code === 'unit-unknown' && data?.kind === 'below-zero');
      assert.equal(found?.severity, 'warning');
      assert.ok(found.message.includes(`write "(${unit} gauge)"`), found.message);
    }
  });
  test('a plain absolute log, one fault value and a unit said to be absolute stay as they are', () => {
    for (const session of [log('kPa', [30, 100, 0, 60]), log('kPa', [30, -40, -40, 60]), log('psi abs', [-10, -5, 0, 12])]) assert.ok(!kinds(session).includes('unit-unknown below-zero'));
  });
  test('numbers of another unit are told with the range that they would have', () => {
    // A pull of 45 to 170 kPa written in psi gauge under a header that says absolute psi in so many words.
    const columns = pullColumns();
    const pressure = columns['manifold pressure (kPa)'];
    const text = sampleLog(12, 0.1, { ...columns, 'manifold pressure (kPa)': () => undefined, 'MAP (psi abs)': (t) => (pressure(t) - 101.325) / 6.894757 }).replace('manifold pressure (kPa)', 'spare');
    const found = findings(read(text)).find(({ code, data }) => code === 'value-implausible' && data?.kind === 'unit');
    const range = /look like psi gauge \((\d+) to (\d+) kPa\)/.exec(found?.message ?? '');
    assert.ok(range, found?.message ?? 'no finding');
    near(Number(range[1]), 45, 2.5);
    near(Number(range[2]), 170, 2.5);
  });
});


