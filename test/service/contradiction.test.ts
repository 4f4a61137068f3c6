// What a user is told where sessions contradict each other: on the cell, above the table, in `check` and in the report; and that no quick
// fix changes it.

import assert from 'node:assert/strict';
import { gather } from '../../server/src/report/gather.js';
import { reportPage } from '../../server/src/report/page.js';
import { verdictOf } from '../../server/src/report/verdict.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { CONTRADICTED_CAR, LEAN_CAR } from '../support/sampleDrive.js';

const CELL = { line: 4, character: 8 };

suite('service: sessions that contradict each other', () => {
  test('the cell says what each wants, the line above the table what to check, and nothing corrects it', async () => {
    const workspace = memoryWorkspace(CONTRADICTED_CAR),
      service = createLanguageService(workspace),
      ve = workspace.uri('tables/ve.table.csv');
    const { rows } = (await service.hover(ve, CELL))!,
      row = (label: string): string | undefined => rows.find(([each]) => each === label)?.[1];
    assert.match(
      row('Fuel wanted')!,
      /^cruise \[1\]\.session\.csv \+[56]\.\d %, cruise \[2\]\.session\.csv [+−]0\.\d %: the sessions contradict each other$/,
    );
    assert.match(row('Proof')!, /^thin/);
    const [low, high] = /between (\S+) and (\S+)\)/.exec(row('Factor')!)!.slice(1).map(Number);
    assert.ok(low <= 1 && high >= 1.06, row('Factor'));
    const titles = (await service.codeLenses(ve)).map(({ command }) => command!.title);
    assert.ok(
      titles.some((title) => /^The sessions contradict each other in \d cells: check sensor, fuel pressure/.test(title)),
      titles.join('\n'),
    );
    assert.ok(!(await service.codeActions(ve, [{ start: CELL, end: CELL }], 10)).some(({ title }) => /correct/i.test(title)));
    const { findings } = (await service.check(ve))!;
    assert.match(findings.find(({ code }) => code === 'cell-unproven')!.message, /contradict each other/);
    assert.ok(!findings.some(({ code }) => code === 'cell-lean'));
  });

  test('the report does not call the readings good, and names the cause to look for before the table', async () => {
    const of = async (car: string) => {
      const workspace = memoryWorkspace(car),
        service = createLanguageService(workspace);
      return gather(workspace, service, (await service.vehicleFolder(workspace.uri('vehicle.json')))!, {
        date: '2026-09-16',
        version: '9.9.9',
      });
    };
    const report = await of(CONTRADICTED_CAR),
      {
        sentences: [, believe, next],
        level,
      } = verdictOf(report);
    assert.notEqual(level, 'clear');
    assert.match(believe, /Yet the sessions contradict each other/);
    assert.match(next, /the reason is found why the sessions contradict each other/);
    assert.match(
      reportPage(report).replace(/<[^>]+>/g, ' '),
      /Fuel wanted at \d000 \/ 40, in the order of the sessions: cruise \[1\]\.session\.csv \+/,
    );
    assert.doesNotMatch(verdictOf(await of(LEAN_CAR)).sentences.join(' '), /contradict/);
  });
});
