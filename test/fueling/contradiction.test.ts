// Are sessions that contradict each other seen, also where most outvote one? The oracles: a pump that fades (the flow through an orifice
// goes with the root of the pressure across it,
// Bernoulli), and a ground that shifts on a sensor's wire; and drives of one healthy car, which agree.

import assert from 'node:assert/strict';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { compare } from '../../server/src/fueling/change/compare.js';
import { contradictionTitle, contradictionWords, saidWords } from '../../server/src/fueling/doubts/contradictionWords.js';
import { correct } from '../../server/src/fueling/change/correct.js';
import { heldCells } from '../../server/src/fueling/doubts/gate.js';
import { judge, weighSession, type SessionEvidence } from '../../server/src/fueling/weigh.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { drive, passedShare, sessionOf, type Car } from './tinyEngine.js';

const WIDTH = 5;
const table = readTable(
  `# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,1000,2000,3000,4000,5000\n${[40, 60, 80, 100].map((kPa) => `${kPa}${',80'.repeat(WIDTH)}`).join('\n')}\n`,
);
const empty = weighSession(analyse(sessionOf([0, 1], []), EMPTY_VEHICLE), table);

/** A session that passes each cell (or those given) a few times at its corner, off by `ln` of the table there. */
const sessionBy = (
  name: string,
  ln: (cell: number) => number,
  passages = 4,
  cells = Array.from({ length: 3 * WIDTH }, (_, cell) => cell),
): SessionEvidence => {
  const at = Array.from({ length: passages }, () => cells)
      .flat()
      .filter((cell) => cell % WIDTH < WIDTH - 1),
    each = (value: number): Float64Array => new Float64Array(at.length).fill(value),
    whole = (value: number): Int32Array => new Int32Array(at.length).fill(value);
  return {
    ...empty,
    weight: { ...empty.weight, session: name },
    reference: Float64Array.from(table.values),
    timeS: Float64Array.from(at, (_, index) => 10 * index),
    line: whole(2),
    blocks: {
      count: at.length,
      cell: Int32Array.from(at),
      weights: Float64Array.from(at.flatMap(() => [0.94, 0.02, 0.02, 0.02])),
      lnRequired: Float64Array.from(at, (cell) => Math.log(80) + ln(cell)),
      variance: each(0.004 ** 2),
      film: each(0),
      chargeFilm: each(0),
      samples: whole(20),
      effective: each(10),
      seconds: each(0.8),
      lnMeasured: each(0),
      lnTarget: each(0),
      manifoldKPa: each(60),
      bankSpread: each(NaN),
      row: whole(0),
      visit: Int32Array.from(at.keys()),
    },
  };
};

suite('sessions that contradict each other', () => {
  test('as much as weather and a batch of fuel make is none', () => {
    const { cells, contradiction } = judge(table, [sessionBy('a', () => 0.01), sessionBy('b', () => -0.005), sessionBy('c', () => 0)]);
    assert.equal(contradiction, undefined);
    assert.equal(cells[WIDTH + 1].proof, 'firm');
  });

  test('one that two outvote is seen: the interval takes it in, nothing is proven or corrected there, and it is said in the order of the sessions', () => {
    const top = (cell: number): boolean => cell >= WIDTH,
      list = [sessionBy('mon', () => 0), sessionBy('tue', () => 0.002), sessionBy('wed', (cell) => (top(cell) ? 0.12 : 0))];
    const evidence = judge(table, list),
      cell = evidence.cells[2 * WIDTH + 2],
      contradiction = evidence.contradiction!;
    assert.equal(cell.proof, 'thin');
    assert.ok(cell.factor < 1.06 && cell.factorLow <= 1 && cell.factorHigh >= Math.exp(0.12), JSON.stringify(cell));
    assert.ok(contradiction.cells.has(2 * WIDTH + 2) && !contradiction.cells.has(0) && contradiction.cells.has(contradiction.surest));
    const said = contradiction.said(2 * WIDTH + 2);
    assert.deepEqual(
      said.map(({ session }) => session),
      [0, 1, 2],
    );
    assert.ok(Math.abs(said[0].factor - 1) < 0.005 && Math.abs(said[2].factor - Math.exp(0.12)) < 0.005, JSON.stringify(said));
    assert.match(
      saidWords(evidence, 2 * WIDTH + 2, (name) => name)!,
      /^mon [+−]0\.\d %, tue [+−]0\.\d %, wed \+12\.\d %$/,
    );
    assert.match(
      contradictionWords(evidence, table, (name) => name)!,
      /contradict each other in \d+ cells.*mon .*tue .*wed \+1.*fuel pressure and pump/,
    );
    assert.match(contradictionTitle(evidence)!, /contradict each other/);
    const held = heldCells(table, evidence, list, { vehicle: undefined, target: undefined });
    assert.equal(held.get(2 * WIDTH + 2), 'sessions-disagree');
    assert.ok(
      correct(table, { ...evidence, held }, { thinToo: true, toEstimate: true }).cells.every(
        ({ row, column }) => !contradiction.cells.has(row * WIDTH + column),
      ),
    );
  });

  test('what is told of any cell lies within what the sides say by themselves', () => {
    // One reads midway between the second row and the third and wants 15 % more; the other finds the third right, and the second where it
    // passes it at all.
    const corners = (name: string, isThere: (cell: number) => boolean): SessionEvidence =>
      sessionBy(name, () => 0, 4, Array.from({ length: 3 * WIDTH }, (_, cell) => cell).filter(isThere));
    const right = corners('right', (cell) => Math.floor(cell / WIDTH) !== 1 || cell % WIDTH < 2),
      lean = sessionBy(
        'lean',
        (cell) => (cell < WIDTH ? 0 : 0.14),
        4,
        Array.from({ length: 2 * WIDTH }, (_, cell) => cell),
      );
    const midway = lean.blocks.weights.map((weight, at) => (lean.blocks.cell[at >> 2] < WIDTH ? weight : [0.49, 0.01, 0.49, 0.01][at % 4]));
    const between = { ...lean, blocks: { ...lean.blocks, weights: midway } },
      pooled = judge(table, [right, between]),
      alone = [judge(table, [right]), judge(table, [between])];
    assert.ok(pooled.contradiction!.cells.size > 2);
    pooled.cells.forEach((cell, at) => {
      const said = alone.map(({ cells }) => cells[at]).filter(({ proof }) => proof !== 'none');
      if (cell.proof === 'none' || said.length === 0) return;
      const [least, most] = [Math.min(...said.map(({ factor }) => factor)), Math.max(...said.map(({ factor }) => factor))],
        told = JSON.stringify([at, cell, least, most]);
      assert.ok(cell.factor > least - 0.005 && cell.factor < most + 0.005, told);
      if (!pooled.contradiction!.cells.has(at)) return;
      assert.ok(cell.proof === 'thin' && cell.factorLow < least && cell.factorHigh > most, told);
      for (const { factor } of pooled.contradiction!.said(at))
        assert.ok(factor > least - 0.02 && factor < most + 0.02, `${factor} ${told}`);
    });
  });

  test('a single passage does not make one, until it is far off', () => {
    const others = [sessionBy('a', () => 0), sessionBy('b', () => 0)];
    assert.equal(judge(table, [...others, sessionBy('c', () => 0.05, 1, [WIDTH + 1])]).contradiction, undefined);
    assert.ok(judge(table, [...others, sessionBy('c', () => 0.12, 1, [WIDTH + 1])]).contradiction?.cells.has(WIDTH + 1));
  });

  test('a table of one row or column is told by the one breakpoint that a cell has', () => {
    const cells = [
        { proof: 'thin', factor: 1.05, row: 0, column: 0 },
        { proof: 'thin', factor: 1.05, row: 1, column: 0 },
      ],
      said = (): { session: number; factor: number }[] => [
        { session: 0, factor: 1 },
        { session: 1, factor: 1.1 },
      ];
    const placeOf = (text: string, surest: number): string | undefined => {
      const evidence = {
        sessions: [{ session: 'a' }, { session: 'b' }],
        cells,
        contradiction: { cells: new Set([surest]), surest, said },
      } as unknown as Parameters<typeof contradictionWords>[0];
      return /Fuel wanted at (.*?), in the order/.exec(contradictionWords(evidence, readTable(text), (name) => name)!)?.[1];
    };
    assert.equal(placeOf('# quantity: volumetric efficiency (%)\n# rows: manifold pressure (kPa)\n,\n30,50\n60,64\n', 1), '60');
    assert.equal(placeOf('# quantity: mass air flow (g/s)\n# columns: mass air flow signal (V)\n,0.5,1\n,2,5\n', 0), '0.5');
  });

  test('sessions that say nothing of the table leave the others their places', () => {
    const { contradiction } = judge(table, [
      empty,
      sessionBy('b', () => 0),
      { ...empty, grid: { ...empty.grid, columns: Float64Array.of(1, 2) } },
      sessionBy('d', () => 0.1),
    ]);
    assert.deepEqual(
      contradiction?.said(contradiction.surest).map(({ session }) => session),
      [1, 3],
    );
  });
});

suite('contradictions of whole drives', () => {
  const boosted: Car = { kind: 'boosted', seed: 3, minutes: 5 };
  const weighed = (car: Car, driveSeed: number): SessionEvidence => {
    const { signals, table: logged } = drive(car, undefined, driveSeed);
    return weighSession(signals, logged, { session: `day ${driveSeed}` });
  };

  for (const kind of ['natural', 'boosted', 'closed-loop', 'mass-air-flow', 'multi-rate'] as const) {
    test(`drives of a healthy car agree: ${kind}`, () => {
      const car: Car = { kind, seed: 31, minutes: 5 },
        { table: logged } = drive({ ...car, minutes: 0.1 });
      assert.equal(
        judge(
          logged,
          [0, 1, 2].map((each) => weighed(car, each)),
        ).contradiction,
        undefined,
      );
    });
  }

  test('a pump that fades on the third day contradicts the first two where the engine asks for more than it delivers', () => {
    const { table: logged, truth } = drive({ ...boosted, minutes: 0.1 }),
      width = logged.columns.values.length,
      pumpGPerS = 24,
      fading = { ...boosted, pumpGPerS };
    const list = [weighed(boosted, 0), weighed(boosted, 1), weighed(fading, 2)],
      { cells, contradiction } = judge(logged, list);
    // Ideal gas at 313 K, a target of 0.8 (0.87 below 120 kPa), two litres.
    const shareAt = (cell: number): number => {
      const kPa = logged.rows.values[Math.floor(cell / width)],
        rpm = logged.columns.values[cell % width];
      return passedShare(
        ((((truth[cell] / 100) * kPa * 2) / (287.05 * 313)) * 1000 * rpm) / 120 / 14.7 / (kPa > 120 ? 0.8 : 0.87),
        pumpGPerS,
      );
    };
    const short = cells.filter((_, cell) => shareAt(cell) < 0.93),
      told = [...(contradiction?.cells ?? [])];
    assert.ok(short.some(({ samples }) => samples > 0) && told.length > 3, `${short.length} short, ${told.length} told`);
    assert.ok(
      short.every(({ proof }) => proof !== 'firm'),
      JSON.stringify(short.filter(({ proof }) => proof === 'firm')),
    );
    assert.ok(
      told.every((cell) => [0, 1, width, width + 1, -1, -width, -width - 1].some((to) => shareAt(cell + to) < 0.985)),
      'nowhere but where the pump is short',
    );
    assert.ok(
      cells.some(({ proof }) => proof === 'firm'),
      'the rest is proven',
    );
  });

  test('a ground that shifts takes what was proven from the whole table, and held against the drives before it is no harm that a change did', () => {
    const shifted = { ...boosted, groundV: -0.4 },
      { table: logged } = drive({ ...boosted, minutes: 0.1 });
    const before = [weighed(boosted, 0), weighed(boosted, 1)],
      after = [weighed(shifted, 2), weighed(shifted, 3)],
      both = judge(logged, [...before, ...after]);
    const firm = (list: readonly SessionEvidence[]): number => judge(logged, list).cells.filter(({ proof }) => proof === 'firm').length;
    assert.ok(firm(before) > 20 && firm(after) > 20);
    assert.ok(both.cells.filter(({ proof }) => proof === 'firm').length < 0.1 * firm(before));
    assert.equal(
      correct(logged, both).cells.filter(({ row, column }) => both.contradiction?.cells.has(row * logged.columns.values.length + column))
        .length,
      0,
    );
    const { verdict, cells } = compare(logged, before, after);
    assert.match(verdict, /^The table is the same on both sides, yet .* something else changed/i);
    assert.doesNotMatch(verdict, /harm|go back/);
    assert.ok(cells.filter((cell) => cell.verdict !== 'not-proven').length > 20);
    assert.match(compare(logged, [before[0]], [before[1]]).verdict, /^The table is the same on both sides/);
  });

  test('of cells with the same value a few that clearly drifted are told; what only one side is sure of is no drift, and is not said to be proven', () => {
    const before = [sessionBy('before', () => 0)],
      drift = compare(table, before, [sessionBy('after', (cell) => ([0, 1, 2].includes(cell) ? 0.05 : 0))]),
      short = compare(table, before, [sessionBy('after', (cell) => (cell === 0 ? 0.02 : 0), 1)]);
    assert.match(drift.verdict, /^The table is the same on both sides, yet .* over the 12 cells known before and after/);
    assert.deepEqual([drift.counts.worse, drift.counts.unchanged], [3, 9]);
    // 2 % are beyond 95 % (1.96 deviations) there.
    assert.ok(short.cells[0].surprise > 1.96);
    assert.match(short.verdict, /no cell is proven to want other fuel than before: .* over the 12 cells known before and after/);
    assert.equal(short.counts.unchanged, 12);
  });
});
