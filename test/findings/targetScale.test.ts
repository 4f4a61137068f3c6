// A target, in a table or logged, in AFR whose scale nothing names: which fuel's numbers they can only be, by the stoichiometric ratios of
// chemistry (gasoline 14.7, E85 9.8, both by mass).

import assert from 'node:assert/strict';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';

/** Twenty seconds of cruise and ten of a pull, at the lambda that the tuner meant. */
function session(cruise: number, pull: number): string {
  const rows = ['Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Lambda (λ),Coolant Temperature (°C)'];
  for (let row = 0; row < 20 * 30; row++) {
    const timeS = row / 20,
      full = timeS >= 20;
    rows.push(
      [
        timeS.toFixed(2),
        (full ? 3000 + 250 * (timeS - 20) : 2200 + 200 * Math.sin(timeS)).toFixed(0),
        (full ? 150 : 45).toString(),
        full ? '100' : '15',
        ((full ? pull : cruise) + 0.004 * Math.sin(row * 1.7)).toFixed(3),
        '88',
      ].join(','),
    );
  }
  return rows.join('\n');
}

const check = async (blend: string, head: string, cells: readonly (readonly number[])[], lambda: readonly [number, number]) => {
  const workspace = memoryWorkspace(`=== vehicle.json
{ "fuel": { "blend": "${blend}" }, "tables": { "target": "t.table.csv" } }
=== t.table.csv
# quantity: ${head}
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
, 2000, 6000
40, ${cells[0].join(', ')}
80, ${cells[0].join(', ')}
150, ${cells[1].join(', ')}
=== a.session.csv
${session(...lambda)}
`),
    service = createLanguageService(workspace);
  const of = async (file: string, code: string) =>
    (await service.check(workspace.uri(file)))!.findings.filter((finding) => finding.code === code).map(({ message }) => message);
  return { target: await of('t.table.csv', 'target-unsafe'), lean: await of('a.session.csv', 'lean-under-load') };
};

suite('a target table whose scale nothing names', () => {
  const ALCOHOL = [
    [9.8, 9.8],
    [8.0, 8.0],
  ] as const;

  test('in AFR of the alcohol in the tank is told once, and no pull is called lean by it', async () => {
    const { target, lean } = await check('E85', 'target AFR', ALCOHOL, [1, 0.82]);
    assert.equal(target.length, 1);
    // 8.0 and 9.8 over 14.7; over 9.8.
    assert.match(target[0], /λ 0\.54 to 0\.67 .*As AFR of E85 they are λ 0\.8[12] to 1\.00: if that is meant, write "target AFR \(E85\)"/);
    assert.deepEqual(lean, []);
  });
  test('a pull that is lean for any target is told all the same', async () => {
    assert.equal((await check('E85', 'target AFR', ALCOHOL, [1, 1])).lean.length, 1);
  });
  test('named, it is held to; meant for gasoline, or rich for whatever is in the tank, it is judged as it reads', async () => {
    const named = await check('E85', 'target AFR (E85)', ALCOHOL, [1, 0.9]);
    assert.deepEqual([named.target.length, named.lean.length], [0, 1]);
    const gasoline = await check(
      'E85',
      'target AFR',
      [
        [14.7, 14.7],
        [12, 12],
      ],
      [1, 0.9],
    );
    assert.deepEqual([gasoline.target.length, gasoline.lean.length], [0, 1]);
    // λ 0.67 and 0.54 on either scale: three rows too rich, and held to.
    const rich = await check('E10', 'target AFR', ALCOHOL, [1, 0.82]);
    assert.ok(rich.target.length >= 3 && rich.lean.length === 1);
  });
});

suite('a target table in AFR of a fuel that asks for more air', () => {
  // Propane C3H8 burns at 15.68 : 1 by mass, methane CH4 at 17.24 : 1 (reaction balance). 13.8 and 15.2 are λ 0.88 of them; on gasoline's
  // scale they were λ 0.94 and 1.03.
  for (const [blend, cells] of [
    [
      'LPG',
      [
        [15.7, 15.7],
        [13.8, 13.8],
      ],
    ],
    [
      'CNG',
      [
        [17.2, 17.2],
        [15.2, 15.2],
      ],
    ],
  ] as const) {
    test(`is taken as ${blend}'s, and a pull that is lean for that is told`, async () => {
      const { target, lean } = await check(blend, 'target AFR', cells, [1, 0.94]);
      assert.equal(target.length, 1);
      assert.match(
        target[0],
        /^Nothing says which fuel these AFR are of.*Write "target AFR \((propane|methane)\)" or "target AFR \(gasoline\)" to be sure/,
      );
      assert.equal(lean.length, 1);
      assert.match(lean[0], /target of λ 0\.88/);
      assert.deepEqual((await check(blend, 'target AFR', cells, [1, 0.88])).lean, []);
    });
  }
  test("named, or with gasoline's own number in it, is read as it says", async () => {
    assert.deepEqual(
      (
        await check(
          'LPG',
          'target AFR (LPG)',
          [
            [15.7, 15.7],
            [13.8, 13.8],
          ],
          [1, 0.88],
        )
      ).target,
      [],
    );
    const gasoline = await check(
      'LPG',
      'target AFR',
      [
        [14.7, 15.7],
        [12.5, 12.5],
      ],
      [1, 0.94],
    );
    assert.match(gasoline.lean[0], /target of λ 0\.85/);
    assert.ok(gasoline.target.every((message) => !message.startsWith('Nothing says')));
    assert.match(
      (
        await check(
          'LPG',
          'target AFR (gasoline)',
          [
            [15.7, 15.7],
            [12.5, 12.5],
          ],
          [1, 0.94],
        )
      ).lean[0],
      /target of λ 0\.85/,
    );
  });
});

suite('a target table whose scale nothing names, whatever it looks like', () => {
  const check = async (breakpoints: number, cell: (row: number, column: number) => string) => {
    const places = Array.from({ length: breakpoints }, (_, at) => at),
      workspace = memoryWorkspace(`=== vehicle.json
{ "fuel": { "blend": "E85" }, "tables": { "target": "t.table.csv" } }
=== t.table.csv
# quantity: target AFR
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
, ${places.map((column) => 500 + 10 * column).join(', ')}
${places.map((row) => `${20 + (130 * row) / (breakpoints - 1)}, ${places.map((column) => cell(row, column)).join(', ')}`).join('\n')}
=== a.session.csv
${session(1, 0.82)}
`),
      service = createLanguageService(workspace);
    const told = async (file: string) => (await service.check(workspace.uri(file)))!.findings.map(({ code }) => code);
    return { table: await told('t.table.csv'), drive: await told('a.session.csv') };
  };
  test('is told of the largest that is read', async () => {
    const { table, drive } = await check(512, (row) => (row < 256 ? '9.8' : '8'));
    assert.ok(table.includes('target-unsafe') && !drive.includes('lean-under-load'));
  });
  test('is told once where a cell is blank', async () => {
    const { table, drive } = await check(8, (row, column) => (row === 1 && column === 2 ? '' : row < 4 ? '9.8' : '8'));
    assert.equal(table.filter((code) => code === 'target-unsafe').length, 1);
    assert.ok(!drive.includes('lean-under-load'));
  });
});

/** The drive above, and its target logged: `lambdaHead` and `scale` of lambda, and of the target. */
const logged = async (
  blend: string,
  [lambdaHead, scale]: readonly [string, number],
  [targetHead, targetScale]: readonly [string, number],
  pull = 0.82,
) => {
  const rows = [
    `Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),${lambdaHead},Coolant Temperature (°C),${targetHead}`,
    ...session(1, pull)
      .split('\n')
      .slice(1)
      .map((row) => {
        const cells = row.split(',');
        return [
          ...cells.slice(0, 4),
          (Number(cells[4]) * scale).toFixed(3),
          cells[5],
          ((Number(cells[0]) >= 20 ? 0.82 : 1) * targetScale).toFixed(3),
        ].join(',');
      }),
  ];
  const workspace = memoryWorkspace(`=== vehicle.json\n{ "fuel": { "blend": "${blend}" } }\n=== a.session.csv\n${rows.join('\n')}\n`);
  const { findings } = (await createLanguageService(workspace).check(workspace.uri('a.session.csv')))!;
  const of = (...codes: string[]) =>
    findings.filter(({ code, severity }) => codes.includes(code) && severity !== 'information').map(({ message }) => message);
  return { scales: of('afr-scale-mismatch'), mixture: of('lean-under-load', 'rich-under-load', 'channel-clipped') };
};

suite('a logged target whose scale nothing names', () => {
  const LAMBDA = ['Lambda (λ)', 1] as const;
  test('in AFR of the alcohol in the tank is told, and no pull is called lean by it', async () => {
    const { scales, mixture } = await logged('E85', LAMBDA, ['Target AFR (AFR)', 9.81]);
    assert.equal(scales.length, 1);
    assert.match(scales[0], /^Target AFR .*fits the scale of E85 \(9\.8 : 1\): λ 1\.00/);
    assert.deepEqual(mixture, []);
  });
  test('the sensor on that scale too is told beside it: that both agree makes neither right', async () => {
    assert.equal((await logged('E85', ['AFR (AFR)', 9.81], ['Target AFR (AFR)', 9.81])).scales.length, 2);
  });
  test('on the gasoline scale, named, or rich for whatever is in the tank, it is judged as it reads', async () => {
    assert.deepEqual(await logged('E85', LAMBDA, ['Target AFR (AFR)', 14.7]), { scales: [], mixture: [] });
    assert.deepEqual(await logged('E85', LAMBDA, ['Target AFR (AFR E85)', 9.81]), { scales: [], mixture: [] });
    const { scales, mixture } = await logged('E10', LAMBDA, ['Target AFR (AFR)', 9.81]);
    assert.ok(scales.length === 0 && mixture.length >= 1);
  });
});

suite('a cell of such a target table', () => {
  const hover = async (head: string) => {
    const workspace = memoryWorkspace(`=== vehicle.json
{ "fuel": { "blend": "LPG" }, "tables": { "target": "t.table.csv" } }
=== t.table.csv
# quantity: ${head}
# columns: engine speed (rpm)
# rows: manifold pressure (kPa)
, 2000, 6000
40, 15.7, 15.7
150, 13.8, 13.8
`);
    return Object.fromEntries(
      (await createLanguageService(workspace).hover(workspace.uri('t.table.csv'), { line: 5, character: 6 }))!.rows,
    );
  };
  test('is shown as the lambda that readings are held to', async () => {
    // 13.8 / 15.68 and 13.8 / 14.7.
    assert.match((await hover('target AFR'))['λ'], /^0\.88/);
    assert.match((await hover('target AFR (gasoline)'))['λ'], /^0\.93|^0\.94/);
  });
});
