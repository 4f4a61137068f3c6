// What is said of a lean cell besides its number: readings that speak against a mild one, sessions that contradict each other, and which
// table was taken to be in the engine computer.

import assert from 'node:assert/strict';
import { tableFindings } from '../../server/src/findings/check.js';
import type { Finding } from '../../server/src/findings/finding.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import type { CellEvidence, Evidence } from '../../server/src/fueling/evidence.js';
import { TABLE_ASSUMED } from '../../server/src/fueling/doubts/tableAssumed.js';

const TABLE = readTable(
  '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,1000,2000,3000\n60,80,80,80\n110,80,80,80\n160,80,80,80\n',
);
const NOTHING: Omit<CellEvidence, 'row' | 'column'> = {
  value: 80,
  samples: 0,
  effectiveSamples: 0,
  seconds: 0,
  measuredLambda: NaN,
  targetLambda: NaN,
  loggedOverNow: 1,
  trimmed: NaN,
  factor: NaN,
  factorLow: NaN,
  factorHigh: NaN,
  proof: 'none',
  suggested: NaN,
  manifoldPressureKPa: NaN,
  moments: [],
};
const MILD = {
  ...NOTHING,
  proof: 'thin' as const,
  samples: 40,
  effectiveSamples: 12,
  targetLambda: 0.8,
  measuredLambda: 0.84,
  factor: 1.016,
  factorLow: 0.991,
  factorHigh: 1.042,
};
const read = (lambda: number, loggedOverNow = 1): CellEvidence['moments'] => [
  { session: 0, sample: 0, lambda, targetLambda: 0.8, loggedOverNow, timeS: 1, line: 3 },
];

/** The cell at 3000 rpm and 160 kPa as given, nothing known of the rest. */
const evidenceOf = (last: Partial<CellEvidence>, more: Partial<Evidence> = {}): Evidence => ({
  sessions: [],
  ...more,
  cells: Array.from(TABLE.values, (_, at) => ({ ...NOTHING, ...(at === 8 ? last : {}), row: Math.floor(at / 3), column: at % 3 })),
});
const leanOf = (evidence: Evidence): Finding[] =>
  tableFindings({ table: TABLE, vehicle: undefined, evidence }).filter(({ code }) => code === 'cell-lean');
const session = (name: string, assumed: string[] = []): Evidence['sessions'][number] => ({
  session: `file:///car/${name}`,
  samples: 100,
  used: 90,
  leftOut: {},
  assumed,
  transportDelay: { estimated: true, medianS: 0.1, byFlow: [], from: 'log', deviationS: 0.01 },
});

suite('what is said of a lean cell', () => {
  test('a thin cell that may be right is told where readings with the table as it is now are lean', () => {
    const [{ severity, message }] = leanOf(evidenceOf({ ...MILD, moments: read(0.86) }));
    assert.equal(severity, 'warning');
    assert.match(
      message,
      /needs 1\.6 % .*up to λ 0\.86 read here with the table as it is now \(limit λ 0\.05.*No more pulls here until fuel pressure and the sensor are checked/,
    );
    const [milder] = leanOf(evidenceOf({ ...MILD, moments: read(0.835) }));
    assert.equal(milder.severity, 'warning');
    assert.match(milder.message, /\(limit λ 0\.03.*Check fuel pressure and the sensor first, then log more here/);
  });

  test('not by readings that another table was in the engine for, nor where its interval leaves them out, nor where it is proven', () => {
    assert.deepEqual(leanOf(evidenceOf({ ...MILD, moments: read(0.86, 0.95) })), []);
    assert.deepEqual(leanOf(evidenceOf({ ...MILD, factor: 1.001, factorHigh: 1.011, moments: read(0.86) })), []);
    assert.deepEqual(leanOf(evidenceOf({ ...MILD, proof: 'firm', moments: read(0.86) })), []);
  });

  test('where sessions contradict each other that is said, and not what both come to', () => {
    const contradiction = {
      cells: new Set([8]),
      surest: 8,
      said: () => [
        { session: 0, factor: 1.16 },
        { session: 1, factor: 0.999 },
      ],
    };
    const torn = evidenceOf(
      { ...MILD, factor: 1.2, factorLow: 1.1, factorHigh: 1.3 },
      { contradiction, sessions: [session('monday.session.csv'), session('friday.session.csv')] },
    );
    const [{ severity, message }, ...others] = leanOf(torn);
    assert.deepEqual([severity, others.length], ['information', 0]);
    assert.match(
      message,
      /^The sessions contradict each other under load at 3000 rpm, 160 kPa, fuel wanted: monday\.session\.csv \+16\.0 %, friday\.session\.csv −0\.1 %\. Which of them is right/,
    );
    assert.doesNotMatch(message, /needs|20\.0/);
    const stillLean = {
      ...torn,
      cells: torn.cells.map((cell) => (cell.row === 2 && cell.column === 2 ? { ...cell, moments: read(0.86) } : cell)),
    };
    assert.match(leanOf(stillLean)[0].message, /λ 0\.86 was read here for λ 0\.80 .*no more pulls here/);
    assert.equal(leanOf(stillLean)[0].severity, 'warning');
  });

  test('sessions that contradict each other by how much only, and were logged with another table, stay a warning', () => {
    const agreeing = (...factors: number[]): Finding[] =>
      leanOf(
        evidenceOf(
          { ...MILD, factor: 1.12, factorLow: 1.05, factorHigh: 1.2, moments: read(0.92, 0.98) },
          {
            contradiction: { cells: new Set([8]), surest: 8, said: () => factors.map((factor, at) => ({ session: at, factor })) },
            sessions: [session('monday.session.csv'), session('friday.session.csv')],
          },
        ),
      );
    const [far] = agreeing(1.16, 1.08),
      [near] = agreeing(1.16, 1.045);
    assert.deepEqual([far.severity, near.severity], ['warning', 'warning']);
    assert.match(
      far.message,
      /\+16\.0 %, friday\.session\.csv \+8\.0 %.* Yet each of them wants more \(limit λ 0\.05.*no more pulls here until fuel pressure/,
    );
    assert.match(near.message, /Yet each of them wants more \(limit λ 0\.03.*check fuel pressure and the sensor before the next pull/);
  });

  test('that a session is taken to be of the table as it is stands once, with the worst of them', () => {
    const lean = { ...MILD, proof: 'firm' as const, factor: 1.08, factorLow: 1.07, factorHigh: 1.09 };
    const all = (assumed: string[]): Finding[] =>
      leanOf({
        ...evidenceOf(lean, { sessions: [session('a.csv', assumed)] }),
        cells: evidenceOf(lean).cells.map((cell) => (cell.row === 2 ? { ...cell, ...lean } : cell)),
      });
    const taken = all([TABLE_ASSUMED]).filter(({ message }) =>
      /is taken to be logged with the table as it is: .*"loggedWith"/.test(message),
    );
    assert.deepEqual([all([]).length, taken.length], [3, 1]);
    assert.equal(all([]).filter(({ message }) => message.includes('taken to be logged')).length, 0);
  });
});
