// What a correction may not rest on. The limits are those of the findings' pages; the judgement follows from them, or from arithmetic
// stated beside it.

import assert from 'node:assert/strict';
import { edited, type FileChange } from '../../server/src/service/correction.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace, ROOT, type MemoryWorkspace } from '../support/memoryWorkspace.js';

interface Car {
  readonly lambda: number;
  readonly target: number;
  readonly row?: string;
  readonly more?: readonly [header: string, value: number];
  readonly seconds?: number;
}

/** A drive that wanders over two columns of the row at 200 kPa; the reading of each column of noise repeats. */
function drive({ lambda, more, seconds = 240 }: Car, from = 0): string {
  const rows = [
    `Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Lambda (λ),Coolant Temperature (°C)${more ? `,${more[0]}` : ''}`,
  ];
  for (let row = 0; row < 25 * seconds; row++) {
    const timeS = row / 25;
    rows.push(
      [
        timeS.toFixed(2),
        (3500 + 500 * Math.sin((timeS + from) / 7)).toFixed(0),
        (200 + 2 * Math.sin(timeS / 3)).toFixed(1),
        (80 + Math.sin(row * 1.9)).toFixed(1),
        (lambda * (1 + 0.004 * Math.sin(row * 2.3))).toFixed(3),
        '88',
        ...(more ? [(more[1] + 0.3 * Math.sin(row * 1.3)).toFixed(1)] : []),
      ].join(','),
    );
  }
  return `${rows.join('\n')}\n`;
}

/** `row` is the row at 200 kPa. */
const carOf = (car: Car): string => `=== vehicle.json
{ "tables": { "fuel": "tables/ve.table.csv", "target": "tables/target.table.csv" } }
=== tables/target.table.csv
# quantity: target lambda
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
,1000,6000
80,1.00,1.00
150,${car.target},${car.target}
250,${car.target},${car.target}
=== tables/ve.table.csv
# quantity: volumetric efficiency (%)
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
, 2000, 3000, 4000, 5000
150, 80.0, 82.0, 84.0, 85.0
200, ${car.row ?? '82.0, 84.0, 86.0, 87.0'}
250, 84.0, 86.0, 88.0, 89.0
=== sessions/a.session.csv
${drive(car)}`;

const HEAD = [{ start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }];

async function opened(car: Car) {
  const workspace = memoryWorkspace(carOf(car));
  const service = createLanguageService(workspace),
    ve = workspace.uri('tables/ve.table.csv');
  const offered = async (percent = 10): Promise<readonly FileChange[]> =>
    (await service.codeActions(ve, HEAD, percent)).find(({ kind }) => kind === 'all')?.changes ?? [];
  const evidence = async () => (await service.weigher.evidence(ve))!.value;
  return { workspace, service, ve, offered, evidence };
}

async function apply(
  workspace: MemoryWorkspace,
  changes: readonly FileChange[],
  textOf: (uri: string) => Promise<string | undefined>,
): Promise<void> {
  for (const change of changes)
    workspace.write(
      change.uri.slice(ROOT.length + 1),
      change.kind === 'create' ? change.text : edited((await textOf(change.uri))!, change.edits),
    );
}

suite('what a correction may not rest on', () => {
  test('no fuel is taken out toward a target that is leaner than it may be at that load, and no cell is called rich by it', async () => {
    // λ 0.88 for 1.00: 12 % less fuel would meet it. From 100 kPa on a target above 0.95 is an error (targetFullLoadLambda).
    const unsafe = await opened({ lambda: 0.88, target: 1 });
    const codes = (await unsafe.service.check(unsafe.ve))!.findings.map(({ code }) => code);
    assert.ok(!codes.includes('cell-rich'), codes.join());
    assert.deepEqual(await unsafe.offered(), []);
    assert.deepEqual([...new Set((await unsafe.evidence()).held!.values())], ['target-unsafe']);
    // The same readings, as far from a target that is safe: λ 0.75 for 0.85.
    const safe = await opened({ lambda: 0.75, target: 0.85 });
    assert.ok((await safe.service.check(safe.ve))!.findings.some(({ code }) => code === 'cell-rich'));
    assert.notDeepEqual(await safe.offered(), []);
    // Fuel is put in toward one that is too lean.
    assert.notDeepEqual(await (await opened({ lambda: 1.06, target: 1 })).offered(), []);
  });

  test('no fuel is added toward a target that is richer than any engine may be', async () => {
    // AFR 9.81 is stoichiometric on E85 (9.8 in reference tables); taken on gasoline's scale it is λ 0.67, below richLambda.
    const washed = await opened({ lambda: 0.9, target: 0.62 });
    assert.deepEqual(await washed.offered(), []);
    assert.deepEqual([...new Set((await washed.evidence()).held!.values())], ['target-unsafe']);
    assert.notDeepEqual(await (await opened({ lambda: 0.9, target: 0.72 })).offered(), []);
  });

  test('nothing is moved toward a target table that does not read right, or whose axis ends far below where the engine ran', async () => {
    // A gauge pressure headed as absolute (no manifold holds less than nothing); psi (36 are 250 kPa), bar and inches of mercury (73.8 are
    // 250 kPa) headed as kPa.
    for (const [least, low, high, kind] of [
      ['-21.3', '48.7', '148.7', 'breakpoint'],
      ['11.6', '21.8', '36.3', 'axis-ends-low'],
      ['0.8', '1.5', '2.5', 'axis-ends-low'],
      ['23.6', '44.3', '73.8', 'axis-driven-beyond'],
    ]) {
      const car = await opened({ lambda: 0.92, target: 0.85 }),
        target = car.workspace.uri('tables/target.table.csv'),
        text = await car.service.documents.text(target);
      assert.notDeepEqual(await car.offered(), []);
      assert.deepEqual((await car.service.check(target))!.findings, []);
      car.workspace.write(
        'tables/target.table.csv',
        text!.replace(/^80,/m, `${least},`).replace(/^150,/m, `${low},`).replace(/^250,/m, `${high},`),
      );
      assert.deepEqual([...new Set((await car.evidence()).held!.values())], ['target-broken'], low);
      assert.deepEqual(await car.offered(), [], low);
      // The target table's own check tells it once, at the axis: in line 5 to 7, the row axis being the first column.
      const told = (await car.service.check(target))!.findings.filter(({ code }) => code === 'value-implausible');
      assert.deepEqual(
        told.map(({ severity, data }) => [severity, data?.kind]),
        [[kind === 'breakpoint' ? 'error' : 'warning', kind]],
        low,
      );
      assert.ok(
        told[0].range.start.character === 0 && told[0].range.start.line >= 4 && told[0].range.start.line <= 6,
        JSON.stringify(told[0].range),
      );
      const lean = (await car.service.check(car.ve))!.findings.filter(
        ({ code, message }) => code === 'cell-lean' && message.includes('firm'),
      );
      assert.ok(lean.length > 0 && lean.every(({ message }) => /mend the target that it is held to/i.test(message)), lean[0]?.message);
    }
  });

  const DISTRESS: readonly (readonly [why: string, header: string, error: number, fine: number])[] = [
    ['knock', 'Knock Retard (°)', 6, 0],
    ['injector-duty', 'Injector Duty (%)', 99, 80],
    ['hot-air', 'Intake Air Temperature (°C)', 75, 40],
  ];
  for (const [why, header, error, fine] of DISTRESS) {
    test(`rows with an error of ${why} are no evidence, and are counted`, async () => {
      // 8 % rich throughout. Held against the error limits of the findings: 4°, 95 %, 70 °C.
      const bad = await opened({ lambda: 0.782, target: 0.85, more: [header, error] }),
        {
          sessions: [{ used, leftOut }],
        } = await bad.evidence();
      assert.equal(used, 0);
      assert.ok((leftOut as Record<string, number>)[why] > 4000, JSON.stringify(leftOut));
      assert.deepEqual(await bad.offered(), []);
      assert.notDeepEqual(await (await opened({ lambda: 0.782, target: 0.85, more: [header, fine] })).offered(), []);
    });
  }

  test('a table that is broken is not corrected, not even beside the broken cell', async () => {
    // A value too few and one too many: what stands behind it has moved. A slipped decimal sign: no engine fills ten times.
    for (const row of ['82.0, 84.0, 87.0', '82.0, 84,0, 86.0, 87.0', '82.0, 840, 86.0, 87.0', '82.0, 84.0, 0.0, 87.0']) {
      const { offered, evidence } = await opened({ lambda: 0.9, target: 0.85, row });
      assert.match((await evidence()).refused ?? '', /^is broken in line 6 \((row-ragged|value-implausible)\): /, row);
      assert.deepEqual(await offered(), [], row);
    }
  });

  test('a copy of a session, by another name or with another note, is no second witness', async () => {
    const { workspace, evidence } = await opened({ lambda: 0.9, target: 0.85, seconds: 60 });
    const alone = await evidence(),
      drivenOnce = alone.cells.map(({ factorLow, proof, effectiveSamples }) => [factorLow, proof, effectiveSamples]);
    const text = drive({ lambda: 0.9, target: 0.85, seconds: 60 });
    workspace.write('sessions/b.session.csv', text);
    workspace.write('sessions/c.session.csv', `# driver: the owner\n${text}`);
    const { cells, sessions } = await evidence();
    assert.deepEqual(
      cells.map(({ factorLow, proof, effectiveSamples }) => [factorLow, proof, effectiveSamples]),
      drivenOnce,
    );
    assert.deepEqual(
      sessions.map(({ used, leftOut }) => used > 0 || leftOut['same-readings']! > 500),
      [true, true, true],
    );
    assert.equal(sessions.filter(({ used }) => used > 0).length, 1);
  });

  test('so much that it is hardly the table is told and not made, unless vehicle.json raises the limit', async () => {
    // λ 1.2 for 0.85 is 41 % short, beyond cellFarPercent (30).
    const far = await opened({ lambda: 1.2, target: 0.85 });
    assert.deepEqual([...new Set((await far.evidence()).held!.values())], ['too-far']);
    assert.deepEqual(await far.offered(), []);
    const lean = (await far.service.check(far.ve))!.findings.filter(({ code, data }) => code === 'cell-lean' && data?.proof === 'firm');
    assert.ok(
      lean.length > 0 && lean.every(({ message }) => message.includes('hardly the table') && !message.includes('correct the cell')),
      lean[0]?.message,
    );
    far.workspace.write(
      'vehicle.json',
      '{ "tables": { "fuel": "tables/ve.table.csv", "target": "tables/target.table.csv" }, "limits": { "cellFarPercent": 50 } }',
    );
    assert.notDeepEqual(await far.offered(), []);
  });

  test('thin evidence that lies far on the lean side stops the pulls', async () => {
    // λ 0.95 for 0.85 is 11.8 % short; half a minute is too little to be firm, and plainly beyond the warning at λ 0.03 over the target.
    const { service, ve } = await opened({ lambda: 0.95, target: 0.85, seconds: 20 });
    const thin = (await service.check(ve))!.findings.filter(({ code, data }) => code === 'cell-lean' && data?.proof === 'thin');
    assert.ok(thin.length > 0);
    for (const { message, data } of thin)
      assert.ok(
        Number(data!.factorLow) < 1 + 0.03 / 0.85 || message.includes('No more pulls here until fuel pressure and the sensor are checked'),
        message,
      );
    assert.ok(
      thin.some(({ message }) => message.includes('No more pulls')),
      thin.map(({ message }) => message).join('\n'),
    );
  });

  test('a second step waits for a log of the first', async () => {
    // λ 0.90 for 0.85 wants 5.9 % more: with steps of 2 % the first leaves something over.
    const car = { lambda: 0.9, target: 0.85 };
    const { workspace, service, offered, evidence } = await opened(car);
    await apply(workspace, await offered(2), service.documents.text);
    assert.deepEqual(await offered(2), []);
    assert.deepEqual([...new Set((await evidence()).held!.values())], ['not-driven-since']);
    // Driven again with the table as it is now, 2 % richer: λ 0.9 / 1.02.
    workspace.write('sessions/b.session.csv', drive({ ...car, lambda: 0.9 / 1.02 }, 3));
    assert.notDeepEqual(await offered(2), []);
  });
});
