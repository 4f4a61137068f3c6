// Evidence kept as lines: it says the same after a round trip, merges, and refuses what is not its own. The line of schema 1 below is
// written by hand and never changes.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { evidenceLine, readEvidenceLine, type EvidenceRead } from '../../server/src/fueling/evidenceFile.js';
import { judge, type SessionEvidence } from '../../server/src/fueling/weigh.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { LEAN_CAR, SAMPLE_TABLE } from '../support/sampleDrive.js';

const TABLE = readTable(SAMPLE_TABLE);

const weighed = async (): Promise<SessionEvidence> => {
  const workspace = memoryWorkspace(LEAN_CAR);
  const [evidence] = await createLanguageService(workspace).weigher.sessionEvidences(workspace.uri('tables/ve.table.csv'), [
    workspace.uri('sessions/cruise [1].session.csv'),
  ]);
  return evidence;
};

const evidenceIn = (read: EvidenceRead): SessionEvidence => {
  assert.ok('evidence' in read, 'refused' in read ? read.refused : '');
  return read.evidence;
};

/** Ten stays of 2 s each right on the cell of 2000 rpm and 40 kPa, which should hold 54.6 (ln 4) instead of 52. */
const BY_HAND = {
  schema: 1,
  kind: 'leanspot-evidence',
  session: 'sessions/a.session.csv',
  table: {
    quantity: 'volumetric-efficiency',
    unit: '%',
    columns: { quantity: 'engine-speed', values: [2000, 3000, 4000, 5000, 6000] },
    rows: { quantity: 'manifold-pressure', values: [40, 80, 120, 180] },
  },
  deadTimeMs: 0,
  reference: [52, 54, 55, 56, 55, 70, 72, 74, 75, 74, 82, 84, 86, 87, 86, 90, 92, 94, 95, 94],
  weight: {
    samples: 500,
    used: 400,
    leftOut: { overrun: 100 },
    transportDelay: {
      estimated: true,
      medianS: 0.1,
      byFlow: [
        [5, 0.2],
        [40, 0.06],
      ],
      from: 'log',
      deviationS: 0.01,
    },
    assumed: [],
  },
  blocks: {
    count: 10,
    line: Array.from({ length: 10 }, (_, at) => 100 * at),
    timeS: Array.from({ length: 10 }, (_, at) => 20 * at),
    cell: Array(10).fill(0),
    weights: Array(10).fill([1, 0, 0, 0]).flat(),
    lnRequired: Array(10).fill(4),
    variance: Array(10).fill(1e-5),
    film: Array(10).fill(0),
    samples: Array(10).fill(40),
    effective: Array(10).fill(10),
    seconds: Array(10).fill(2),
    lnMeasured: Array(10).fill(Math.log(54.6 / 52)),
    lnTarget: Array(10).fill(0),
    manifoldKPa: Array(10).fill(40),
    bankSpread: Array(10).fill(null),
    row: Array.from({ length: 10 }, (_, at) => 90 * at),
    visit: Array.from({ length: 10 }, (_, at) => at),
  },
};

const FIT = {
  cycles: 1,
  gasG: 0.8,
  assumedGasG: 0.68,
  lagS: 0.06,
  latencyS: 0.01,
  covariance: Array(16)
    .fill(0)
    .map((_, at) => (at % 5 ? 0 : 1e-4)),
  rowS: 0.01,
  sensor: 'Lambda',
  flowGPerS: 10,
  rpm: 2500,
  rpmAt: [1200, 3000],
};
const withFit = (fit: unknown): SessionEvidence =>
  evidenceIn(
    readEvidenceLine(
      JSON.stringify({ ...BY_HAND, weight: { ...BY_HAND.weight, transportDelay: { ...BY_HAND.weight.transportDelay, fit } } }),
      TABLE,
    ),
  );

suite('fueling: kept evidence', () => {
  test('what a log tells of the delay is kept, and lines without it, or with one out of shape, stand by themselves', () => {
    const read = withFit(FIT);
    assert.deepEqual(read.weight.transportDelay.fit, FIT);
    assert.deepEqual(evidenceIn(readEvidenceLine(evidenceLine(read, TABLE, 'a'), TABLE)).weight.transportDelay.fit, FIT);
    for (const wrong of [
      undefined,
      1,
      {},
      { ...FIT, rpmAt: [1200] },
      { ...FIT, covariance: [1] },
      { ...FIT, gasG: -1 },
      { ...FIT, rpm: 0 },
      { ...FIT, sensor: 5 },
    ])
      assert.equal(withFit(wrong).weight.transportDelay.fit, undefined);
    const odd = judge(TABLE, [withFit({ ...FIT, covariance: Array(16).fill(-1e6) }), read]).sessions.map(
      ({ transportDelay: { medianS } }) => medianS,
    );
    assert.ok(
      odd.every((each) => each > 0 && each < 1),
      odd.join(),
    );
  });

  test('how far the engine went beyond the table is kept; lines without it, or with one out of shape, have none', () => {
    const withBeyond = (beyond: unknown): SessionEvidence =>
      evidenceIn(readEvidenceLine(JSON.stringify({ ...BY_HAND, weight: { ...BY_HAND.weight, beyond } }), TABLE));
    assert.deepEqual(evidenceIn(readEvidenceLine(evidenceLine(withBeyond({ rows: 189 }), TABLE, 'a'), TABLE)).weight.beyond, { rows: 189 });
    for (const wrong of [undefined, 1, {}, { rows: 'far' }]) assert.equal(withBeyond(wrong).weight.beyond, undefined);
  });

  test('a line of schema 1 reads, now and later', () => {
    const { cells } = judge(TABLE, [evidenceIn(readEvidenceLine(JSON.stringify(BY_HAND), TABLE))]);
    assert.equal(cells[0].proof, 'firm');
    assert.ok(Math.abs(cells[0].factor - Math.exp(4) / 52) < 0.002, String(cells[0].factor));
    assert.equal(cells[0].samples, 400);
    assert.deepEqual(
      cells.slice(5).map(({ proof }) => proof),
      Array(15).fill('none'),
    );
  });

  test('after a round trip the table is judged the same, to the bit: robust rounds would make much of the last digits', async () => {
    const { line, ...more } = await weighed(),
      evidence = { ...more, line: line.map((each) => each + 12_345_678) };
    const read = evidenceIn(readEvidenceLine(evidenceLine(evidence, TABLE, 'sessions/cruise [1].session.csv'), TABLE));
    assert.deepEqual([read.line, read.timeS], [evidence.line, evidence.timeS]);
    assert.equal(read.weight.session, 'sessions/cruise [1].session.csv');
    assert.equal(read.weight.transportDelay.fit !== undefined, evidence.weight.transportDelay.from === 'log');
    const [before, after] = [judge(TABLE, [evidence]), judge(TABLE, [read])];
    assert.ok(before.cells.some(({ proof }) => proof === 'firm'));
    for (const [at, cell] of before.cells.entries()) {
      const other = after.cells[at];
      assert.deepEqual([other.proof, other.samples, other.moments.length], [cell.proof, cell.samples, cell.moments.length]);
      for (const key of ['factor', 'factorLow', 'factorHigh', 'effectiveSamples'] as const)
        assert.equal(other[key], cell[key], `${key} of cell ${at}`);
    }
  });

  test('evidence for other breakpoints, of another quantity, of a newer schema or of nobody is refused in words', () => {
    const refusal = (text: string, table = TABLE): string => {
      const read = readEvidenceLine(text, table);
      assert.ok('refused' in read);
      return read.refused;
    };
    const line = JSON.stringify(BY_HAND);
    assert.match(refusal(line, readTable(SAMPLE_TABLE.replace('2000', '2100'))), /other breakpoints/);
    assert.match(refusal(line, readTable(SAMPLE_TABLE.replace('volumetric efficiency (%)', 'fuel mass (mg)'))), /another quantity/);
    assert.match(refusal(JSON.stringify({ ...BY_HAND, schema: 2 })), /schema is 2, and this version reads 1/);
    assert.match(refusal('{'), /no JSON/);
    for (const text of ['[]', 'null', '7', '{"kind":"other"}']) assert.match(refusal(text), /no evidence of Leanspot/);
  });

  test('a block of no cell is refused, and pieces whose time is not known are no two passages', () => {
    const { blocks } = BY_HAND,
      readWith = (change: object): EvidenceRead =>
        readEvidenceLine(JSON.stringify({ ...BY_HAND, blocks: { ...blocks, ...change } }), TABLE);
    assert.ok('refused' in readWith({ weights: blocks.weights.map((each: number, at) => (at < 4 ? 0 : each)) }));
    assert.equal(judge(TABLE, [evidenceIn(readWith({ timeS: blocks.timeS.map(() => null) }))]).cells[0].proof, 'thin');
  });

  test('whatever one value is replaced by, the line is refused or judged without a fault', () => {
    const paths: (string | number)[][] = [];
    const walk = (value: unknown, path: (string | number)[]): void => {
      paths.push(path);
      if (typeof value === 'object' && value !== null)
        for (const key of Object.keys(value)) walk((value as Record<string, unknown>)[key], [...path, key]);
    };
    walk(BY_HAND, []);
    const odd = fc.oneof(fc.jsonValue(), fc.constantFrom<unknown>(null, -1, 1e308, 2 ** 31, 0.5, '', [], {}, { __proto__: null }));
    fc.assert(
      fc.property(fc.constantFrom(...paths.slice(1)), odd, (path, value) => {
        const spoilt = structuredClone(BY_HAND) as unknown as Record<string | number, unknown>;
        let at = spoilt;
        for (const key of path.slice(0, -1)) at = at[key] as typeof spoilt;
        at[path.at(-1)!] = value;
        const read = readEvidenceLine(JSON.stringify(spoilt), TABLE);
        if ('refused' in read) assert.ok(read.refused.length < 200);
        else for (const { factor, proof } of judge(TABLE, [read.evidence]).cells) assert.equal(Number.isFinite(factor), proof !== 'none');
      }),
      { numRuns: 400 },
    );
  });
});
