// An engine of two banks, one table for both. What each bank gets and what its trims hide is laid down here; what the table may be changed
// by follows from arithmetic.

import assert from 'node:assert/strict';
import { commonCause, commonCauseWords } from '../../server/src/fueling/doubts/commonCause.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { oneTableCar } from '../support/oneTableCar.js';

/**
 * Fuel that a bank gets over what its target needs; `hidden` is the share (of its logarithm) that the trims have taken back; `trim` is the
 * one that is logged of it where not both are.
 */
interface Bank {
  readonly fuel: number;
  readonly hidden: number;
  readonly trim?: 'Short' | 'Long';
}

const HEAD = [{ start: { line: 0, character: 0 }, end: { line: 0, character: 0 } }];

const isLogged =
  ({ trim }: Bank) =>
  (each: 'Short' | 'Long'): boolean =>
    trim === undefined || trim === each;

function drive(banks: readonly Bank[], withLambda: boolean): string {
  const names = banks.flatMap((_, at) => {
    const bank = at === 0 ? '' : ' Bank 2';
    return [
      ...(withLambda ? [`Lambda${bank} (λ)`] : []),
      ...(['Short', 'Long'] as const).filter(isLogged(banks[at])).map((trim) => `${trim} Term Fuel Trim${bank} (%)`),
    ];
  });
  const rows = [`Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Coolant Temperature (°C),Target Lambda (λ),${names.join(',')}`];
  for (let row = 0; row < 25 * 240; row++) {
    const timeS = row / 25;
    rows.push(
      [
        timeS.toFixed(2),
        (3500 + 900 * Math.sin(timeS / 7)).toFixed(0),
        (60 + 9 * Math.sin(timeS / 3)).toFixed(1),
        '88',
        '1.000',
        ...banks.flatMap((of, at) => {
          const { fuel, hidden } = of;
          const hunts = 0.4 * Math.sin(row * 0.9 + at),
            long = 100 * (fuel ** -hidden - 1);
          return [
            ...(withLambda ? [(fuel ** (hidden - 1) * (1 + 0.003 * Math.sin(row * 2.3 + at)) * (1 - hunts / 100)).toFixed(3)] : []),
            ...(['Short', 'Long'] as const).filter(isLogged(of)).map((trim) => (trim === 'Short' ? hunts : long).toFixed(1)),
          ];
        }),
      ].join(','),
    );
  }
  return `${rows.join('\n')}\n`;
}

async function judged(banks: readonly Bank[], withLambda = true) {
  const workspace = oneTableCar(
    `, 2500, 3200, 3900, 4600
50, 80.0, 82.0, 84.0, 85.0
60, 82.0, 84.0, 86.0, 87.0
70, 84.0, 86.0, 88.0, 89.0`,
    drive(banks, withLambda),
  );
  const service = createLanguageService(workspace),
    ve = workspace.uri('ve.table.csv');
  const evidence = (await service.weigher.evidence(ve))!.value,
    table = (await service.documents.table(ve))!.value;
  const offered = (await service.codeActions(ve, HEAD, 10)).find(({ kind }) => kind === 'all')?.changes ?? [];
  return {
    firm: evidence.cells.filter(({ proof }) => proof === 'firm'),
    cause: commonCause(table, evidence),
    isOffered: offered.length > 0,
  };
}

suite('banks that want different fuel', () => {
  test('fuel is not taken out of both for an injector that leaks on one side, hidden by its trims or seen by its lambda', async () => {
    for (const hidden of [1, 0.5, 0]) {
      const { firm, cause, isOffered } = await judged([
        { fuel: 1, hidden: 1 },
        { fuel: 1.1, hidden },
      ]);
      assert.ok(firm.length >= 3, `${firm.length} proven`);
      // By the mean of both the table would be 4.7 % too rich, and bank 1 as lean once that is gone.
      for (const { factor } of firm) assert.ok(Math.abs(factor - 1.1 ** -0.5) < 0.01, String(factor));
      assert.equal(isOffered, false);
      assert.match(commonCauseWords(cause!), /^Bank 2 wants (?:8\.[89]|9\.[0-4]) % less fuel than bank 1/);
    }
  });
  test('banks of a sound engine scatter, and what both want is offered', async () => {
    const { cause, isOffered } = await judged([
      { fuel: 1.05, hidden: 1 },
      { fuel: 1.08, hidden: 0.5 },
    ]);
    assert.equal(isOffered, true);
    assert.notEqual(cause?.kind, 'banks');
  });
  test('a few cells of them do not hide what all proven cells want', () => {
    const cells = Array.from({ length: 45 }, (_, at) => ({ row: Math.floor(at / 9), column: at % 9, proof: 'firm', factor: 1.08 })),
      table = { quantity: 'volumetric-efficiency', columns: { canonical: new Float64Array(9) }, rows: { canonical: new Float64Array(5) } };
    const causeOf = (apart: number) =>
      commonCause(table as never, { cells, bankSpread: Float64Array.from(cells, (_, at) => (at < apart ? 0.07 : 0.01)) } as never)?.kind;
    assert.deepEqual([0, 3, 30].map(causeOf), ['whole-engine', 'whole-engine', 'banks']);
  });
  test('a short trim of one and a long trim of the other are not held against each other', async () => {
    const { cause } = await judged([
      { fuel: 0.92, hidden: 1, trim: 'Short' },
      { fuel: 0.92, hidden: 1, trim: 'Long' },
    ]);
    assert.notEqual(cause?.kind, 'banks');
    assert.equal(
      (
        await judged([
          { fuel: 1, hidden: 1, trim: 'Long' },
          { fuel: 0.92, hidden: 1, trim: 'Long' },
        ])
      ).cause?.kind,
      'banks',
    );
  });
  test('trims alone tell it too', async () => {
    const { isOffered } = await judged(
      [
        { fuel: 1, hidden: 1 },
        { fuel: 1.15, hidden: 1 },
      ],
      false,
    );
    assert.equal(isOffered, false);
  });
});
