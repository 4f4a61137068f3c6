// A correction as the user gets it: one step that keeps the earlier table, pins the sessions, and is done when it is done.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { parse } from 'jsonc-parser';
import { DEFAULT_MAX_CHANGE_PERCENT } from '../../server/src/fueling/change/correct.js';
import { DEFAULTS } from '../../server/src/lsp/settings.js';
import { edited, type FileChange } from '../../server/src/service/correction.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace, ROOT, type MemoryWorkspace } from '../support/memoryWorkspace.js';
import { LEAN_CAR as CAR, SAMPLE_TABLE } from '../support/sampleDrive.js';

async function apply(
  workspace: MemoryWorkspace,
  changes: readonly FileChange[],
  textOf: (uri: string) => Promise<string | undefined>,
): Promise<void> {
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
    const actions = await service.codeActions(ve, [{ start: cell, end: cell }], 10);
    assert.match(actions[0].title, /^Correct this cell: 52\.0 → 5[45]\.\d \(\+[45]\.\d %\)$/);
    assert.match(actions.at(-1)!.title, /^Correct all \d+ proven cells/);
    const { changes } = actions.at(-1)!;
    assert.deepEqual(
      changes.map(({ kind, uri }) => [kind, uri.slice(ROOT.length + 1)]),
      [
        ['create', 'tables/history/ve-1.table.csv'],
        ['edit', 'vehicle.json'],
        ['edit', 'tables/ve.table.csv'],
      ],
    );

    await apply(workspace, changes, service.documents.text);
    assert.equal(await service.documents.text(workspace.uri('tables/history/ve-1.table.csv')), SAMPLE_TABLE);
    const vehicle = (await service.documents.text(workspace.uri('vehicle.json')))!;
    assert.match(vehicle, /"name": "Test coupe", \/\/ kept/);
    assert.deepEqual(parse(vehicle).sessions, [{ files: 'sessions/cruise ?1?.session.csv', loggedWith: 'tables/history/ve-1.table.csv' }]);
    const table = (await service.documents.text(ve))!;
    assert.deepEqual(
      table.split('\n').map((line) => line.length),
      SAMPLE_TABLE.split('\n').map((line) => line.length),
      'columns stay under each other',
    );
    assert.deepEqual(table.split('\n').slice(5), SAMPLE_TABLE.split('\n').slice(5), 'rows that were not visited stay as they are');

    // Another program (or the next day) sees the same: the pins stand in the file.
    const again = createLanguageService(workspace);
    const evidence = (await again.weigher.evidence(ve))!.value;
    assert.equal(evidence.sessions[0].loggedWith, 'tables/history/ve-1.table.csv');
    const corrected = evidence.cells[0];
    assert.ok(corrected.factorLow <= 1.002 && corrected.factorHigh >= 0.998, `${corrected.factorLow} to ${corrected.factorHigh}`);
    assert.deepEqual(await again.codeActions(ve, [{ start: cell, end: cell }], 10), []);
  });

  test('of a block of cells each proven one is corrected, and none beside it', async () => {
    const workspace = memoryWorkspace(CAR);
    const service = createLanguageService(workspace);
    const ve = workspace.uri('tables/ve.table.csv');
    const table = (await service.documents.table(ve))!.value;
    const corrected = async (...cells: [row: number, column: number][]): Promise<string[]> => {
      const action = (
        await service.codeActions(
          ve,
          cells.map(([row, column]) => table.cellRange(row, column)),
          10,
        )
      ).find(({ kind }) => kind === 'cells');
      return (action?.changes ?? [])
        .flatMap((change) => (change.kind === 'edit' && change.uri === ve ? change.edits : []))
        .map(({ range: { start } }) => `${start.line}:${start.character}`);
    };
    const [first, second] = await corrected([0, 0], [0, 1]);
    assert.ok(first !== undefined && second !== undefined, 'both are proven');
    // In the text the second stands between these two.
    assert.deepEqual(await corrected([0, 0], [1, 0]), [first]);
    assert.deepEqual(await corrected([1, 0], [1, 1], [2, 0], [2, 1]), []);
  });

  test('no step is larger than the cap', async () => {
    const workspace = memoryWorkspace(CAR);
    const service = createLanguageService(workspace);
    const ve = workspace.uri('tables/ve.table.csv');
    const [all] = await service.codeActions(ve, [{ start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }], 2);
    const edits = all.changes.flatMap((change) => (change.kind === 'edit' && change.uri === ve ? change.edits : []));
    for (const { range, newText } of edits) {
      const before = Number(SAMPLE_TABLE.split('\n')[range.start.line].slice(range.start.character, range.end.character));
      assert.ok(Math.abs(Number(newText) / before - 1) <= 0.02, `${before} to ${newText}`);
    }
  });

  test('the largest step that nobody has set is one number: in corrections, in the settings, in the manifest', () => {
    const manifest = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as {
      contributes: { configuration: { properties: Record<string, { default: number }> } };
    };
    assert.equal(manifest.contributes.configuration.properties['leanspot.correct.maxChangePercent'].default, DEFAULT_MAX_CHANGE_PERCENT);
    assert.equal(DEFAULTS.correct.maxChangePercent, DEFAULT_MAX_CHANGE_PERCENT);
  });

  test('a table that was edited by hand is kept as the sessions knew it', async () => {
    const workspace = memoryWorkspace(CAR);
    const service = createLanguageService(workspace);
    const ve = workspace.uri('tables/ve.table.csv');
    await service.check(ve);
    workspace.write('tables/ve.table.csv', SAMPLE_TABLE.replace('54.0', '54.5'));
    const [action] = await service.codeActions(ve, [{ start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }], 10);
    const kept = action.changes.find(({ kind }) => kind === 'create');
    assert.ok(kept?.kind === 'create' && kept.text === SAMPLE_TABLE);
  });

  test('after a hand edit the sessions can be pinned to the table as they knew it, and testify the same after a restart', async () => {
    const workspace = memoryWorkspace(CAR);
    const service = createLanguageService(workspace);
    const ve = workspace.uri('tables/ve.table.csv');
    const head = { start: { line: 0, character: 0 }, end: { line: 0, character: 0 } };
    const before = (await service.weigher.evidence(ve))!.value.cells[1];
    assert.ok(!(await service.codeActions(ve, [head], 10)).some(({ kind }) => kind === 'keep'), 'nothing was edited');
    workspace.write('tables/ve.table.csv', `# a note changes nothing\n${SAMPLE_TABLE}`);
    assert.deepEqual(await service.weigher.heldToEarlier(ve), []);

    const byHand = SAMPLE_TABLE.replace('54.0', '60.0');
    workspace.write('tables/ve.table.csv', byHand);
    assert.ok(
      (await service.codeLenses(ve, { commands: true })).some(
        ({ command }) => command?.title === 'Edited by hand: keep the table that 1 session was logged with',
      ),
    );
    const [keep] = await service.codeActions(ve, [head], 10);
    assert.deepEqual([keep.kind, keep.preferred, keep.title], ['keep', true, 'Keep the table as it was and pin 1 session to it']);
    await apply(workspace, keep.changes, service.documents.text);
    assert.equal(await service.documents.text(workspace.uri('tables/history/ve-1.table.csv')), SAMPLE_TABLE);
    assert.equal(await service.documents.text(ve), byHand, 'the edit itself stays');
    assert.ok(!(await service.codeActions(ve, [head], 10)).some(({ kind }) => kind === 'keep'), 'once is enough');

    const again = (await createLanguageService(workspace).weigher.evidence(ve))!.value.cells[1];
    // What the reading asks for is the same value, so the factor falls as the value rose.
    assert.ok(Math.abs(again.factor * 60 - before.factor * 54) < 0.05, `${before.factor} of 54, ${again.factor} of 60`);
  });

  test('a session whose table of the time is not there is no evidence: by its own note, by the vehicle file', async () => {
    const evidenceOf = async (car: string): Promise<number> => {
      const workspace = memoryWorkspace(car);
      const service = createLanguageService(workspace);
      const ve = workspace.uri('tables/ve.table.csv');
      const { sessions } = (await service.weigher.evidence(ve))!.value;
      assert.deepEqual((await service.weigher.evidenceSoFar(ve))?.value.sessions, sessions, 'a silent session is not waited for');
      return sessions.reduce((sum, { used }) => sum + used, 0);
    };
    const noted = (path: string): string => CAR.replace('Time (s)', `# logged-with: ${path}\nTime (s)`);
    const pinnedTo = (path: string): string =>
      CAR.replace('"tables":', `"sessions": [{ "files": "sessions/*", "loggedWith": "${path}" }], "tables":`);
    assert.ok((await evidenceOf(noted('tables/ve.table.csv'))) > 0);
    assert.ok((await evidenceOf(pinnedTo('tables/ve.table.csv'))) > 0);
    assert.equal(await evidenceOf(noted('gone.table.csv')), 0);
    assert.equal(await evidenceOf(pinnedTo('gone.table.csv')), 0);
  });

  test('the table a session was logged with, where nothing says it, is said to be taken for granted', async () => {
    const assumed = async (car: string): Promise<string> => {
      const workspace = memoryWorkspace(car);
      return (await createLanguageService(workspace).weigher.evidence(
        workspace.uri('tables/ve.table.csv'),
      ))!.value.sessions[0].assumed.join('\n');
    };
    assert.match(await assumed(CAR), /which table was in the engine computer/);
    assert.doesNotMatch(
      await assumed(CAR.replace('Time (s)', '# logged-with: tables/ve.table.csv\nTime (s)')),
      /which table was in the engine computer/,
    );
  });

  test('another drive under the same name is not held to the table that the first one knew; an edit of a note or a late row is the same drive', async () => {
    const workspace = memoryWorkspace(CAR);
    const service = createLanguageService(workspace);
    const ve = workspace.uri('tables/ve.table.csv');
    const name = 'sessions/cruise [1].session.csv';
    const drive = (await service.documents.text(workspace.uri(name)))!;
    await service.weigher.evidence(ve);
    workspace.write('tables/ve.table.csv', SAMPLE_TABLE.replace('54.0', '60.0'));
    const heldAfter = async (text: string): Promise<number> => {
      workspace.write(name, text);
      return (await service.weigher.heldToEarlier(ve)).length;
    };
    assert.equal(await heldAfter(`# driver: the owner\n${drive}`), 1);
    assert.equal(await heldAfter(drive.slice(0, -20)), 1);
    assert.equal(
      await heldAfter(
        drive
          .split('\n')
          .filter((_, line) => line === 0 || line > 500)
          .join('\n'),
      ),
      0,
    );
  });

  test('a path that is not ASCII is read where the first 8 KB end within a character', async () => {
    const start = '# logged-with: tables/früher.table.csv\nTime (s),Notes';
    const head = `${start}${'ä'.repeat(8000)}`;
    for (const shift of ['', 'x']) {
      const workspace = memoryWorkspace(
        `${CAR}=== sessions/other.session.csv\n${head.replace('Notes', `Notes${shift}`)}\n0,1\n=== tables/früher.table.csv\n${SAMPLE_TABLE}`,
      );
      const service = createLanguageService(workspace);
      const state = await service.weigher.loggedWith(workspace.uri('sessions/other.session.csv'), workspace.uri('tables/ve.table.csv'));
      assert.equal(state?.pinned, 'tables/früher.table.csv');
    }
  });

  test('call-outs offer what can be done to a client that has the commands, and count as the action does', async () => {
    const workspace = memoryWorkspace(CAR);
    const service = createLanguageService(workspace);
    const ve = workspace.uri('tables/ve.table.csv');
    const all = (await service.codeActions(ve, [{ start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }], 10)).at(-1)!;
    const edits = all.changes.flatMap((change) => (change.kind === 'edit' && change.uri === ve ? change.edits : []));
    const offered = (await service.codeLenses(ve, { commands: true })).find(({ command }) => command?.command === 'leanspot.correctTable');
    assert.equal(offered?.command?.title, `Correct ${edits.length} proven cells`);
    assert.deepEqual(offered.command.arguments, [{ uri: ve, kind: 'all' }]);
    assert.ok((await service.codeLenses(ve)).every(({ command }) => command?.command === ''));
  });

  test('a reading is laid to the cell by the delay that weighing found in its session, and the hover says so', async () => {
    const workspace = memoryWorkspace(CAR.replace('"tables"', '"lambdaSensor": { "transportDelay": "estimate" }, "tables"'));
    const service = createLanguageService(workspace);
    const session = workspace.uri('sessions/cruise [1].session.csv');
    const text = (await service.documents.text(session))!.split('\n')[3000];
    const fuelledBy = async (): Promise<string> =>
      new Map((await service.hover(session, { line: 3000, character: text.indexOf('1.0') }))!.rows).get('Fuelled by')!;
    assert.match(await fuelledBy(), /a stated model/);
    const evidence = (await service.weigher.evidence(workspace.uri('tables/ve.table.csv')))!.value;
    const { byFlow, medianS, from } = evidence.sessions[0].transportDelay;
    const said = await fuelledBy();
    assert.match(said, from === 'log' ? /estimated from this session/ : /this session does not tell it/);
    const delaysS = byFlow.length > 0 ? byFlow.map(([, seconds]) => seconds) : [medianS];
    const saidS = Number(/(\d+) ms/.exec(said)![1]) / 1000;
    assert.ok(saidS >= Math.min(...delaysS) - 0.001 && saidS <= Math.max(...delaysS) + 0.001, `${said}, found ${delaysS.join(', ')}`);
  });
});
