// A bank on which a cylinder gets no fuel says nothing of the table. A bank's λ goes with its air over its fuel: of three cylinders with
// one dead it reads 3/2 (arithmetic).

import assert from 'node:assert/strict';
import { gather } from '../../server/src/report/gather.js';
import { verdictOf } from '../../server/src/report/verdict.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { planCorrection } from '../../server/src/service/correction.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

/** Four minutes at full load over two columns of a table that is right; bank 2 reads `share` of what it should from `fromS` on. */
const folder = (share: number, fromS: number): string => {
  const rows = [
    'Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Lambda Bank 1 (λ),Lambda Bank 2 (λ),Coolant Temperature (°C)',
  ];
  for (let row = 0; row < 25 * 240; row++) {
    const t = row / 25,
      lambda = (at: number): number => 0.86 * (1 + 0.006 * Math.sin(row * at) + 0.02 * Math.sin(t * 0.9));
    rows.push(
      [
        t.toFixed(2),
        (3500 + 500 * Math.sin(t / 7)).toFixed(0),
        (98 + 1.5 * Math.sin(t / 3)).toFixed(1),
        (90 + Math.sin(row * 1.9)).toFixed(1),
        lambda(2.3).toFixed(3),
        (lambda(3.1) * (t >= fromS ? share : 1)).toFixed(3),
        '88',
      ].join(','),
    );
  }
  return `=== vehicle.json
{ "engine": { "cylinders": 6, "displacementL": 3 }, "tables": { "fuel": "ve.table.csv", "target": "target.table.csv" } }
=== target.table.csv
# quantity: target lambda
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
,1000,6000
60,0.86,0.86
120,0.86,0.86
=== ve.table.csv
# quantity: volumetric efficiency (%)
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
, 2000, 3000, 4000, 5000
80, 80.0, 82.0, 84.0, 85.0
98, 82.0, 84.0, 86.0, 87.0
120, 84.0, 86.0, 88.0, 89.0
=== a.session.csv
${rows.join('\n')}
`;
};

async function opened(share: number, fromS: number) {
  const workspace = memoryWorkspace(folder(share, fromS)),
    service = createLanguageService(workspace),
    ve = workspace.uri('ve.table.csv');
  const evidence = (await service.weigher.evidence(ve))!.value,
    plan = await planCorrection(workspace, service.documents, service.weigher, ve, {});
  const report = await gather(workspace, service, (await service.vehicleFolder(workspace.uri('vehicle.json')))!, {
    date: '2026-09-16',
    version: '9.9.9',
  });
  return { evidence, corrected: plan!.correction.cells.length, report };
}

suite('a cylinder without fuel', () => {
  test('is no evidence from the moment it dies, is counted, corrects nothing, and leads the verdict', async () => {
    const {
      evidence: {
        sessions: [{ used, leftOut }],
        cells,
      },
      corrected,
      report,
    } = await opened(3 / 2, 120);
    assert.ok(leftOut.misfire! > 2900 && leftOut.misfire! < 3150 && used > 2700, JSON.stringify({ used, leftOut }));
    for (const { proof, factor } of cells) assert.ok(proof === 'none' || Math.abs(factor - 1) < 0.01, `${factor}`);
    assert.equal(corrected, 0);
    const { level, sentences } = verdictOf(report);
    assert.equal(level, 'stop');
    assert.match(sentences[0], /at full throttle: under load a cylinder seems not to fire or to get no fuel/);
    assert.match(sentences[1], /nothing of the fuel table was concluded/);
    assert.doesNotMatch(sentences.join(' '), /corrected/);
  });

  test('one that was dead before the log began proves nothing either', async () => {
    const {
      evidence: {
        sessions: [{ used, leftOut }],
      },
      corrected,
    } = await opened(3 / 2, 0);
    assert.equal(used, 0, JSON.stringify(leftOut));
    assert.equal(corrected, 0);
  });

  test('a bank whose sensor reads a fifth too rich is left out, as the banks contradict each other', async () => {
    const {
      evidence: {
        sessions: [{ used, leftOut }],
      },
    } = await opened(0.8, 120);
    assert.ok(
      used > 2700 && used < 3050 && (leftOut.misfire ?? 0) + (leftOut['banks-apart'] ?? 0) > 2900,
      JSON.stringify({ used, leftOut }),
    );
  });

  for (const share of [0.95, 1.05])
    test(`banks that differ by ${Math.round(100 * Math.abs(share - 1))} %, as injectors and sensors scatter, stay evidence (${share})`, async () => {
      const {
        evidence: {
          sessions: [{ used, leftOut }],
          cells,
        },
      } = await opened(share, 0);
      assert.ok(used > 5800 && leftOut.misfire === undefined && leftOut['banks-apart'] === undefined, JSON.stringify({ used, leftOut }));
      for (const { proof, factor } of cells) assert.ok(proof === 'none' || Math.abs(factor - Math.sqrt(share)) < 0.01, `${factor}`);
    });
});
