// A table's picture through the service: cells where the text has them, what is said of them as `weigh` says it, duty and ways by a plain
// look at the rows.

import assert from 'node:assert/strict';
import { MOST_PICTURE_CELLS, type TablePicture } from '../../server/src/protocol/table.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { SAMPLE_CAR } from '../support/sampleDrive.js';

/** A run along the first row, then up the last column; duty is its row's number. */
const STEPS = `=== sessions/steps.session.csv
Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Injector Duty (%)
${Array.from({ length: 200 }, (_, i) => `${(i / 20).toFixed(2)},${i < 100 ? 2000 + 20 * i : 4000},${i < 100 ? 50 : 50 + (i - 100)},${(10 + i / 4).toFixed(2)}`).join('\n')}
`;
const GRID = `=== tables/grid.table.csv
# quantity: ignition advance (deg)
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
     , 2000, 3000, 4000
 150 ,   10,   11,     
  50 ,   20,   21,   22
`;
const car = (more = '') => {
  const workspace = memoryWorkspace(SAMPLE_CAR + more);
  const service = createLanguageService(workspace);
  return {
    workspace,
    service,
    of: (name: string, duty = false): Promise<TablePicture | undefined> =>
      service.tablePicture.picture({ uri: workspace.uri(name), duty }, 10),
  };
};

suite('service: table picture', () => {
  test('every cell stands where its number stands in the text', async () => {
    const { of, workspace, service } = car(GRID);
    for (const name of ['tables/ve.table.csv', 'tables/grid.table.csv']) {
      const picture = (await of(name))!;
      const lines = (await service.documents.text(workspace.uri(name)))!.split('\n');
      assert.equal(picture.cells.length, picture.columns.texts.length * picture.rows.texts.length);
      for (const { text, value, line, character, endCharacter } of picture.cells) {
        assert.equal(lines[line]!.slice(character, endCharacter), text);
        assert.equal(value, text === '' ? null : Number(text));
      }
    }
    assert.deepEqual((await of('tables/grid.table.csv'))!.rows, {
      title: 'manifold pressure (kPa)',
      texts: ['150', '50'],
      values: [150, 50],
    });
  });

  test('what is said of a cell is what the evidence says, and what is proposed is what the correction writes', async () => {
    const { of, workspace, service } = car();
    const uri = workspace.uri('tables/ve.table.csv');
    const picture = (await of('tables/ve.table.csv'))!;
    const evidence = (await service.weigher.evidence(uri))!.value;
    assert.equal(picture.evidence, 'there');
    picture.cells.forEach(({ evidence: said }, at) => {
      const { proof, factor, factorLow, factorHigh } = evidence.cells[at]!;
      assert.deepEqual(
        said && [said.proof, said.factor, said.factorLow, said.factorHigh],
        proof === 'none' ? undefined : [proof, factor, factorLow, factorHigh],
      );
    });
    const all = (await service.codeActions(uri, [{ start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }], 10)).find(
      ({ kind }) => kind === 'all',
    );
    assert.equal(picture.cells.filter(({ proposed }) => proposed).length, all?.ranges.length ?? 0);
    for (const { proposed, value, evidence: said } of picture.cells) {
      if (!proposed) continue;
      assert.equal(said!.proof, 'firm');
      assert.ok(Math.abs(proposed.value / value! - 1) <= 0.1 + 1e-9 && (proposed.value - value!) * (said!.factor - 1) > 0);
    }
  });

  test('sessions speak of no other table, and no file is none', async () => {
    const { of } = car(GRID);
    const picture = (await of('tables/grid.table.csv'))!;
    assert.deepEqual([picture.evidence, picture.dutyKnown], ['none', null]);
    assert.ok(picture.cells.every(({ evidence, proposed }) => !evidence && !proposed));
    assert.equal(await of('sessions/run.session.csv'), undefined);
    assert.equal(await of('tables/gone.table.csv'), undefined);
  });

  test('duty is the highest of the rows nearest to a cell', async () => {
    const { of } = car(GRID + STEPS);
    const picture = (await of('tables/grid.table.csv', true))!;
    assert.equal(picture.dutyKnown, true);
    // By hand: nearest by halves of the steps; 2000 + 20 i < 2500 until i = 24, < 3500 until i = 74; at 4000 rpm pressure passes 100 kPa at
    // i = 150.
    const expected = [null, null, 10 + 199 / 4, 10 + 25 / 4, 10 + 75 / 4, 10 + 150 / 4];
    picture.cells.forEach(({ dutyPercent }, at) => {
      if (expected[at] === null) assert.equal(dutyPercent, undefined);
      else assert.ok(Math.abs(dutyPercent! - expected[at]!) <= 0.26, `cell ${at}: ${dutyPercent}, by hand ${expected[at]}`);
    });
    assert.equal((await of('tables/ve.table.csv', true))!.dutyKnown, true);
  });

  test('the way of a pull goes over the cells as its rows go', async () => {
    const { workspace, service } = car();
    const session = workspace.uri('sessions/run.session.csv'),
      uri = workspace.uri('tables/ve.table.csv');
    const { runs } = (await service.trace.summary(session))!;
    const run = runs.findIndex(({ pull }) => pull === 1);
    const way = (await service.tablePicture.path({ uri, session, run }))!;
    const picture = (await service.tablePicture.picture({ uri, duty: false }, 10))!;
    assert.ok(way.places.length > 50 && way.places.length <= 400);
    // Engine speed rises through the pull (see sampleDrive); breakpoints run up.
    const speedAt = (position: number): number => {
      const { values } = picture.columns,
        lower = Math.min(Math.floor(position), values.length - 2);
      return values[lower]! + (position - lower) * (values[lower + 1]! - values[lower]!);
    };
    const last = picture.columns.values.at(-1)!,
      first = picture.columns.values[0]!;
    const held = (rpm: number): number => Math.min(last, Math.max(first, rpm));
    assert.ok(Math.abs(speedAt(way.places[0]![0]) - held(runs[run]!.fromRpm)) < 100);
    assert.ok(Math.abs(speedAt(way.places.at(-1)![0]) - held(runs[run]!.toRpm)) < 100);
    assert.ok(way.worst && way.worstLambda! > way.worstTargetLambda!);
    assert.equal(await service.tablePicture.path({ uri, session, run: 99 }), undefined);
    assert.equal(await service.tablePicture.path({ uri, session: uri, run: 0 }), undefined);
  });

  test('a table too large to draw says how large', async () => {
    const columns = Array.from({ length: 120 }, (_, i) => i + 1);
    const text = `# quantity: multiplier\n# columns: engine speed (rpm)\n# rows: throttle (%)\n ,${columns.join(',')}\n${columns
      .slice(0, 80)
      .map((row) => `${row},${columns.map(() => '1').join(',')}`)
      .join('\n')}\n`;
    const picture = (await car(`=== tables/wide.table.csv\n${text}`).of('tables/wide.table.csv'))!;
    assert.equal(picture.cells.length, 0);
    assert.ok(picture.cellCount === 9600 && picture.cellCount > MOST_PICTURE_CELLS);
  });
});
