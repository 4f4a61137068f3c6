// Tables that starve an engine, or that lay readings to another load. An absolute pressure is not below nought, and an engine that gets
// fuel at 100 kPa needs some at 150.

import assert from 'node:assert/strict';
import { tableFindings } from '../../server/src/findings/check.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { readVehicle } from '../../server/src/formats/vehicle/readVehicle.js';
import { oneTableCar, streetDrive } from '../support/oneTableCar.js';
import { readTable } from '../../server/src/formats/table/readTable.js';

const told = (text: string) =>
  tableFindings({ table: readTable(text), vehicle: undefined, evidence: undefined })
    .filter(({ code }) => code === 'value-implausible')
    .map(({ severity, message, range }) => [severity, range.start.line, message] as const);
const table = (quantity: string, rows: readonly (readonly [number, string])[], head = 'manifold pressure (kPa)') =>
  `# quantity: ${quantity}\n# columns: engine speed (rpm)\n# rows: ${head}\n, 1000, 3000, 6000\n${rows.map(([at, cells]) => `${at}, ${cells}`).join('\n')}\n`;

suite('a table whose cells lie beyond what an engine has', () => {
  const filling = (rows: readonly (readonly [number, string])[]) =>
    tableFindings({ table: readTable(table('volumetric efficiency (%)', rows)), vehicle: undefined, evidence: undefined }).filter(
      ({ code }) => code === 'value-implausible',
    );
  test('on one scale throughout tells it once, with every place', () => {
    const found = filling([
      [40, '141, 145, 150'],
      [100, '151, 155.5, 150'],
      [150, '145, 166, 142'],
    ]);
    assert.deepEqual(
      found.map(({ severity, range, related }) => [severity, range.start.line, related?.length]),
      [['warning', 4, 8]],
    );
    assert.match(found[0].message, /^141 % at 1000 rpm, 40 kPa .* and 8 more cells are beyond it too, 166 % among them/);
  });
  test('by a slip here and there is told at each, and a slip the other way beside those of a scale too', () => {
    assert.equal(
      filling([
        [40, '41, 450, 50'],
        [100, '51, 55.5, 500'],
        [150, '45, 6.6, 42'],
      ]).length,
      3,
    );
    assert.deepEqual(
      filling([
        [40, '141, 145, 150'],
        [100, '151, 5.5, 150'],
        [150, '145, 166, 142'],
      ]).map(({ related }) => related?.length),
      [7, undefined],
    );
  });
});

suite('a table with nothing where fuel is needed', () => {
  test('is an error in each cell, whichever way its rows go and whatever it holds', () => {
    for (const quantity of ['volumetric efficiency (%)', 'fuel mass (mg)', 'injector pulse width (ms)']) {
      const rows = [
        [40, '12, 13, 14'],
        [100, '24, 25, 26'],
        [150, '0, 0.0, 0'],
        [200, '38, 39, 40'],
      ] as const;
      for (const ordered of [rows, [...rows].reverse()]) {
        const found = told(table(quantity, ordered));
        assert.deepEqual([...new Set(found.map(([severity]) => severity))], ['error'], quantity);
        assert.equal(found.length, 3, quantity);
        assert.match(found[0][2], /at 1000 rpm, 150 kPa is no fuel at all, and there is some at less load/);
      }
    }
  });
  test('is none where the least load is left empty for overrun, nor in a table of another thing', () => {
    assert.deepEqual(
      told(
        table('fuel mass (mg)', [
          [20, '0, 0, 0'],
          [60, '10, 11, 12'],
          [100, '20, 21, 22'],
        ]),
      ).filter(([severity]) => severity === 'error'),
      [],
    );
    assert.deepEqual(
      told(
        table('ignition advance (deg)', [
          [20, '30, 31, 32'],
          [60, '10, 11, 12'],
          [100, '0, 0, 0'],
        ]),
      ),
      [],
    );
  });
  test('is told of a curve over load as well', () => {
    const curve = '# quantity: fuel mass (mg)\n# columns: manifold pressure (kPa)\n, 40, 100, 150, 200\n, 12, 24, 0, 38\n';
    assert.deepEqual(
      told(curve).map(([severity, line]) => [severity, line]),
      [['error', 3]],
    );
  });
  test('is left aside, and told once, where the engine does not come: above the air of a natural one, or above its most', async () => {
    // An engine without a charger draws from the air around: 101.3 kPa at sea level (ISO 2533), hardly 104 on any day.
    const rows = (...loads: readonly number[]) => loads.map((kPa) => [kPa, kPa > 100 ? '0, 0, 0' : '40, 45, 50'] as const);
    const severities = (engine: string, loads: readonly number[]): string[] =>
      tableFindings({
        table: readTable(table('volumetric efficiency (%)', rows(...loads))),
        vehicle: readVehicle(`{ "engine": ${engine} }`),
        evidence: undefined,
      })
        .filter(({ code }) => code === 'value-implausible')
        .map(({ severity }) => severity);
    for (const engine of ['{ "aspiration": "natural" }', '{ "maxManifoldPressureKPa": 100 }'])
      assert.deepEqual(severities(engine, [30, 60, 100, 120, 150]), ['warning']);
    // It comes to what lies between its last fuel and its full load, and a boosted one to all of it.
    for (const [engine, loads] of [
      ['{ "aspiration": "natural" }', [30, 60, 120]],
      ['{ "aspiration": "natural" }', [30, 60, 100, 103]],
      ['{ "aspiration": "turbocharged" }', [30, 100, 120]],
      ['{}', [30, 100, 120]],
    ] as const)
      assert.ok(
        severities(engine, loads).every((severity) => severity === 'error'),
        engine,
      );
  });
  test('is no ground not to correct the other cells then', async () => {
    const drive = streetDrive('Coolant Temperature (°C),Target Lambda (λ),Lambda (λ)', (timeS, row) => [
      '88',
      '1.000',
      (1 + 0.05 * Math.sin(timeS / 7) + 0.003 * Math.sin(row * 2.3)).toFixed(3),
    ]);
    const offered = async (engine: string) => {
      const workspace = oneTableCar(', 2000, 2600, 3200\n40, 80, 82, 84\n60, 84, 86, 88\n100, 88, 90, 92\n130, 0, 0, 0', drive),
        service = createLanguageService(workspace);
      workspace.write('vehicle.json', `{ "tables": { "fuel": "ve.table.csv" }, "engine": ${engine} }`);
      return (
        await service.codeActions(workspace.uri('ve.table.csv'), [{ start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }], 10)
      ).length;
    };
    assert.equal(await offered('{ "aspiration": "turbocharged" }'), 0);
    assert.ok((await offered('{ "aspiration": "natural" }')) > 0);
  });
  test('is none in percent added or taken off, where nought is no change, nor over a temperature', () => {
    assert.deepEqual(
      told(
        table('multiplier (%)', [
          [40, '3, 2, 0'],
          [100, '0, 0, 1'],
          [150, '-2, 0, 0'],
        ]),
      ).filter(([severity]) => severity === 'error'),
      [],
    );
    assert.deepEqual(
      told(
        table(
          'injector pulse width (ms)',
          [
            [-20, '3, 4, 5'],
            [80, '0, 0, 0'],
          ],
          'coolant temperature (°C)',
        ),
      ).filter(([severity]) => severity === 'error'),
      [],
    );
  });
  test('of the largest table is counted whole, with forty places', () => {
    const at = Array.from({ length: 512 }, (_, index) => index),
      rows = at.map((row) => `${20 + 0.5 * row}, ${at.map(() => (row === 0 ? 5 : 0)).join(', ')}`);
    const found = told(
      `# quantity: fuel mass (mg)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n, ${at.map((column) => 500 + 15 * column).join(', ')}\n${rows.join('\n')}\n`,
    );
    assert.equal(found.length, 40);
    assert.match(found[39][2], new RegExp(`So are ${511 * 512 - 40} more of this kind`));
  });
  test('leaves no number out of what is said of the cell beside it', () => {
    const rough = tableFindings({
      table: readTable('# quantity: mass air flow (g/s)\n# columns: mass air flow signal (V)\n, 0, 1, 2, 3\n, 0, 5, 0, 38\n'),
      vehicle: undefined,
      evidence: undefined,
    }).filter(({ code }) => code === 'cell-rough');
    assert.match(rough[0].message, /^Rough: 1 V stands between neighbours that hold nothing \(limit/);
  });
});

suite('an axis of absolute pressure below nought', () => {
  test('is an error that names gauge pressure; written so it is none', () => {
    const rows = [
        [-60, '20, 21, 22'],
        [0, '30, 31, 32'],
        [100, '40, 41, 42'],
      ] as const,
      VE = 'volumetric efficiency (%)';
    const found = told(table(VE, rows));
    assert.deepEqual(
      found.map(([severity, line]) => [severity, line]),
      [['error', 4]],
    );
    assert.match(found[0][2], /^-60 kPa is less than nothing.*row axis.*"manifold pressure \(kPa gauge\)"/);
    assert.deepEqual(told(table(VE, rows, 'manifold pressure (kPa gauge)')), []);
  });
});
