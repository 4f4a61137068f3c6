// What proven cells have in common. The oracle is arithmetic: a sensor that shows a share of the boost makes the engine want true over
// shown pressure; a film of dirt takes the more of a hot element's signal the more air passes (King's law: the heat goes with the root of
// the flow).

import assert from 'node:assert/strict';
import { sampleCells, sampleTable } from '../../server/src/findings/sampleCells.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { commonCause, commonCauseTitle, commonCauseWords } from '../../server/src/fueling/doubts/commonCause.js';
import type { CellEvidence } from '../../server/src/fueling/evidence.js';
import { gather } from '../../server/src/report/gather.js';
import { verdictOf } from '../../server/src/report/verdict.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

const VE = readTable(
  '# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,2000,3000,4000\n50,60,62,64\n75,66,68,70\n95,70,72,74\n115,74,76,78\n135,78,80,82\n',
);
const METER = readTable('# quantity: mass air flow (g/s)\n# columns: mass air flow signal (V)\n,1,2,3,4,5\n,5,20,60,140,260\n');
const firm = (factors: readonly (readonly number[])[]): { cells: CellEvidence[] } => ({
  cells: factors.flatMap((line, row) => line.map((factor, column) => ({ row, column, proof: 'firm', factor }) as CellEvidence)),
});
const byRow = (factorOf: (kPa: number) => number) =>
  firm([...VE.rows.canonical].map((kPa) => [0, 1, 2].map((column) => factorOf(kPa) * (1 + 0.004 * (column - 1)))));

suite('what proven cells have in common', () => {
  test('a sensor that shows six tenths of the boost is told by where the error begins', () => {
    const cause = commonCause(
      VE,
      byRow((kPa) => (kPa > 100 ? (100 + (kPa - 100) / 0.6) / kPa : 1)),
    )!;
    assert.equal(cause.kind, 'above-barometer');
    // (100 + 35 / 0.6) / 135 = 1.173.
    assert.match(commonCauseTitle(cause), /boost is not seen \(up to \+17\.3 %\)/);
    assert.match(commonCauseWords(cause), /hose.*sensor/);
  });
  test('not a table that is short from part load on, or in one boosted row alone', () => {
    assert.equal(
      commonCause(
        VE,
        byRow((kPa) => 1 + Math.max(0, kPa - 70) / 400),
      ),
      undefined,
    );
    assert.equal(
      commonCause(
        VE,
        byRow((kPa) => (kPa === 115 ? 1.08 : 1)),
      ),
      undefined,
    );
    // A base table of an engine without boost: as short in each boosted row, but for doubt.
    assert.equal(
      commonCause(
        VE,
        byRow((kPa) => (kPa > 100 ? 1.15 + (kPa - 115) / 5000 : 1)),
      ),
      undefined,
    );
  });
  test('a meter that reads the less the more air passes is named, one that is off in one place is not', () => {
    const cause = commonCause(METER, firm([[1.01, 1.03, 1.06, 1.1, 1.14]]))!;
    assert.equal(cause.kind, 'meter');
    assert.match(commonCauseWords(cause), /dirty element.*leaks in behind it/);
    // What is metered and escapes under boost is not burnt.
    assert.match(commonCauseWords(commonCause(METER, firm([[1, 0.99, 0.97, 0.95, 0.94]]))!), /leaks out behind it under boost/);
    assert.equal(commonCause(METER, firm([[1, 1, 1.09, 1, 1]])), undefined);
  });
  test('a rail that does not follow the manifold is told by the orifice law, with boost and without', () => {
    // Over the injectors of a rail that holds 300 kPa over the air: √(300 / (400 − kPa)) of the fuel is wanted.
    const wanted =
      (railKPa: number, airKPa = 100) =>
      (kPa: number): number =>
        Math.sqrt(railKPa / (railKPa + airKPa - kPa));
    const cause = commonCause(VE, byRow(wanted(300)))!;
    assert.equal(cause.kind, 'fixed-rail');
    // √(300 / 350) = 0.926 and √(300 / 265) = 1.064.
    assert.match(commonCauseTitle(cause), /From −7\.4 % in vacuum to \+6\.4 % .*\(a rail of about (290|300|310) kPa/);
    assert.match(commonCauseWords(cause), /regulator's hose/);
    assert.equal(commonCause(VE, byRow(wanted(300, 98)))?.kind, 'fixed-rail');
  });
  test('not where the change is another function of pressure, is none at the air around, or is of a rail that nobody builds', () => {
    assert.equal(
      commonCause(
        VE,
        byRow((kPa) => 1 + 0.004 * (kPa - 100) * (kPa > 100 ? 1 : 0.1)),
      ),
      undefined,
    );
    assert.equal(
      commonCause(
        VE,
        byRow((kPa) => 1.05 * Math.sqrt(300 / (400 - kPa))),
      ),
      undefined,
    );
    assert.equal(
      commonCause(
        VE,
        byRow((kPa) => Math.sqrt(120 / (220 - kPa))),
      ),
      undefined,
    );
    assert.equal(
      commonCause(
        VE,
        byRow((kPa) => 1 + (100 - kPa) / 800),
      ),
      undefined,
    );
  });
  test('one change for all goes before', () =>
    assert.equal(
      commonCause(
        VE,
        byRow(() => 1.03),
      )?.kind,
      'whole-engine',
    ));
});

suite('beyond the table', () => {
  test('how far the engine ran beyond the last row is told', async () => {
    // The sample's drive goes up to 110 kPa.
    const workspace = memoryWorkspace(sampleCells(1, sampleTable().replace('110,', '95,'))),
      service = createLanguageService(workspace);
    const told = async () =>
      (await service.check(workspace.uri('ve.table.csv')))!.findings.find(({ code }) => code === 'cell-unproven')?.message ?? '';
    assert.match(await told(), /beyond the table: the last row is 95 kPa, and it went up to 1(09|10|11) kPa/);
    workspace.write('ve.table.csv', sampleTable().replace('110,', '125,'));
    assert.doesNotMatch(await told(), /last row/);
  });
});

suite('faces of a common cause', () => {
  test('check tells it once, with the worst cell, and sends no cell to the table; the report lets the table wait', async () => {
    // A drive 9 % lean in all that it visits, under a table with a target of 0.88.
    const workspace = memoryWorkspace(sampleCells(1.09)),
      service = createLanguageService(workspace),
      folder = (await service.vehicleFolder(workspace.uri('vehicle.json')))!;
    const lean = (await service.check(workspace.uri('ve.table.csv')))!.findings.filter(({ code }) => code === 'cell-lean');
    assert.ok(
      commonCause(
        (await service.documents.table(workspace.uri('ve.table.csv')))!.value,
        (await service.weigher.evidence(workspace.uri('ve.table.csv')))!.value,
      ),
    );
    assert.equal(lean.filter(({ message }) => message.includes('rather one cause for the whole engine')).length, 1);
    assert.ok(
      lean.length > 5 && lean[0].message.includes('rather one cause') && lean.every(({ message }) => !message.includes('correct the cell')),
      lean[0]?.message,
    );
    const {
      sentences: [, , next],
    } = verdictOf(await gather(workspace, service, folder, { date: '2026-09-16', version: '9.9.9' }));
    assert.match(next, /the one cause has been looked for.*The fuel table stays as it is until then/);
  });
});
