// A correction as the user gets it: one step that keeps the earlier table, pins the sessions, and is done when it is done.

import assert from 'node:assert/strict';
import { parse } from 'jsonc-parser';
import { edited, type FileChange } from '../../server/src/service/correction.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace, ROOT, type MemoryWorkspace } from '../support/memoryWorkspace.js';
import { LEAN_CAR as CAR, SAMPLE_TABLE } from '../support/sampleDrive.js';

async function apply(workspace: MemoryWorkspace, changes: readonly FileChange[], textOf: (uri: string) => Promise<string | undefined>): Promise<void> {
  for (const change of changes) {
    const name = change.uri.slice(ROOT.length + 1);
    workspace.write(name, change.kind === 'create' ? change.text : edited((await textOf(change.uri))!, change.edits));
  }
}

suite('service: corrections', () => {
  test('the table is changed, its earlier state kept, the sessions pinned; then nothing is left to correct', async () => {
    const workspace = memoryWorkspace(CAR);
    const service = createLanguageService(workspace);
    const ve = workspace.uri('tables/ve.table.csv');
    const cell = { line: 4, character: 8 };
    const actions = await service.codeActions(ve, { start: cell, end: cell }, 10);
    assert.match(actions[0].title, /^Correct this cell: 52\.0 → 5[45]\.\d \(\+[56]\.\d %\)$/);
    assert.match(actions.at(-1)!.title, /^Correct all \d+ proven cells/);
    const { changes } = actions.at(-1)!;
    assert.deepEqual(changes.map(({ kind, uri }) => [kind, uri.slice(ROOT.length + 1)]), [['create', 'tables/history/ve-1.table.csv'], ['edit', 'vehicle.json'], ['edit', 'tables/ve.table.csv']]);

    await apply(workspace, changes, service.documents.text);
    assert.equal(await service.documents.text(workspace.uri('tables/history/ve-1.table.csv')), SAMPLE_TABLE);
    const vehicle = (await service.documents.text(workspace.uri('vehicle.json')))!;
    assert.match(vehicle, /"name": "Test coupe", \/\/ kept/);
    assert.deepEqual(parse(vehicle).sessions, [{ files: 'sessions/cruise ?1?.session.csv', loggedWith: 'tables/history/ve-1.table.csv' }]);
    const table = (await service.documents.text(ve))!;
    assert.deepEqual(table.split('\n').map((line) => line.length), SAMPLE_TABLE.split('\n').map((line) => line.length), 'columns stay under each other');
    assert.deepEqual(table.split('\n').slice(5), SAMPLE_TABLE.split('\n').slice(5), 'rows that were not visited stay as they are');

    // Another program (or the next day) sees the same: the pins stand in the file.
    const again = createLanguageService(workspace);
    const evidence = (await again.weigher.evidence(ve))!.value;
    assert.equal(evidence.sessions[0].loggedWith, 'tables/history/ve-1.table.csv');
    const corrected = evidence.cells[0];
    assert.ok(corrected.factorLow <= 1.002 && corrected.factorHigh >= 0.998, `${corrected.factorLow} to ${corrected.factorHigh}`);
    assert.deepEqual(await again.codeActions(ve, { start: cell, end: cell }, 10), []);
  });

  test('no step is larger than the cap', async () => {
    const workspace = memoryWorkspace(CAR);
    const service = createLanguageService(workspace);
    const ve = workspace.uri('tables/ve.table.csv');
    const [all] = (await service.codeActions(ve, { start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }, 2));
    const edits = all.changes.flatMap((change) => (change.kind === 'edit' && change.uri === ve ? change.edits : []));
    for (const { range, newText } of edits) {
      const before = Number(SAMPLE_TABLE.split('\n')[range.start.line].slice(range.start.character, range.end.character));
      assert.ok(Math.abs(Number(newText) / before - 1) <= 0.02, `${before} to ${newText}`);
    }
  });

  test('a table that was edited by hand is kept as the sessions knew it', async () => {
    const workspace = memoryWorkspace(CAR);
    const service = createLanguageService(workspace);
    const ve = workspace.uri('tables/ve.table.csv');
    await service.check(ve);
    workspace.write('tables/ve.table.csv', SAMPLE_TABLE.replace('54.0', '54.5'));
    const [action] = await service.codeActions(ve, { start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }, 10);
    const kept = action.changes.find(({ kind }) => kind === 'create');
    assert.ok(kept?.kind === 'create' && kept.text === SAMPLE_TABLE);
  });
});
