// When a cell may be called proven: by passages that are apart, and by readings that agree.

import assert from 'node:assert/strict';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { atOnce } from '../../server/src/fueling/pieces.js';
import { tallying } from '../../server/src/fueling/solution/tally.js';
import { judge, judgeBreathing, weighSession, type SessionEvidence, type TallyElsewhere } from '../../server/src/fueling/weigh.js';
import { analyse } from '../../server/src/signals/analyse.js';
import { sessionOf } from './tinyEngine.js';

const WIDTH = 5;
const table = readTable(
  `# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n,1000,2000,3000,4000,5000\n${[40, 60, 80, 100].map((kPa) => `${kPa}${',80'.repeat(WIDTH)}`).join('\n')}\n`,
);
const CELL = WIDTH + 2;

/** A block at `atS`: the cell at the lower corner of its square, the weights of its corners, and how far the table is off there. */
interface Piece {
  readonly atS: number;
  readonly cell: number;
  readonly weights: readonly [number, number, number, number];
  readonly ln: number;
}

const evidenceOf = (pieces: readonly Piece[]): SessionEvidence => {
  const empty = weighSession(analyse(sessionOf([0, 1], []), EMPTY_VEHICLE), table);
  const each = (value: number): Float64Array => new Float64Array(pieces.length).fill(value),
    whole = (value: number): Int32Array => new Int32Array(pieces.length).fill(value);
  return {
    ...empty,
    reference: Float64Array.from(table.values),
    timeS: Float64Array.from(pieces, ({ atS }) => atS),
    line: whole(2),
    blocks: {
      count: pieces.length,
      cell: Int32Array.from(pieces, ({ cell }) => cell),
      weights: Float64Array.from(pieces.flatMap(({ weights }) => weights)),
      lnRequired: Float64Array.from(pieces, ({ ln }) => Math.log(80) + ln),
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
      visit: Int32Array.from(pieces.keys()),
    },
  };
};

/** The whole table read well, each cell at its corner, in two passages; but for the cell in question. */
const others: Piece[] = [0, 100].flatMap((fromS) =>
  Array.from({ length: 20 }, (_, k) => k)
    .filter((k) => k !== CELL && k % WIDTH < WIDTH - 1 && k < 3 * WIDTH)
    .flatMap((cell, at) => [0, 0.8].map((later): Piece => ({ atS: fromS + 2 * at + later, cell, weights: [1, 0, 0, 0], ln: 0.02 }))),
);
/** In two squares on either side of the cell. */
const across = (atS: number, ln: readonly [number, number]): Piece[] => [
  { atS, cell: CELL - 1, weights: [0.1, 0.9, 0, 0], ln: ln[0] },
  { atS: atS + 0.8, cell: CELL, weights: [0.9, 0.1, 0, 0], ln: ln[1] },
];
const proofBy = (pieces: readonly Piece[]): string => judge(table, [evidenceOf([...others, ...pieces])]).cells[CELL].proof;

suite('what proves a cell', () => {
  test('two passages do, one from square to square does not', () => {
    assert.equal(proofBy([...across(300, [0.02, 0.02]), ...across(400, [0.02, 0.02])]), 'firm');
    assert.equal(proofBy([...across(300, [0.02, 0.02]), ...across(302, [0.02, 0.02])]), 'thin');
  });

  test('two passages do that stay by it for as long as the mixture takes to settle, half a second each; shorter ones do not', () => {
    const passed = (weight: number): Piece[] =>
      [300, 400].map((atS) => ({ atS, cell: CELL, weights: [weight, 1 - weight, 0, 0], ln: 0.02 }));
    assert.equal(proofBy(passed(0.52 / 0.8)), 'firm');
    assert.equal(proofBy(passed(0.48 / 0.8)), 'thin');
  });

  test('a stay does, in which all has settled anew', () => {
    const stay = (blocks: number): Piece[] =>
      Array.from({ length: blocks }, (_, at) => ({ atS: 300 + 0.8 * at, cell: CELL, weights: [0.9, 0.1, 0, 0], ln: 0.02 }));
    assert.equal(proofBy(stay(7)), 'firm');
    assert.equal(proofBy(stay(4)), 'thin');
  });

  test('readings that contradict each other do not, however many they are', () => {
    const times = Array.from({ length: 12 }, (_, at) => 300 + 20 * at);
    assert.equal(proofBy(times.flatMap((atS) => across(atS, [0.02, 0.02]))), 'firm');
    assert.equal(proofBy(times.flatMap((atS) => across(atS, [0.02, 0.09]))), 'thin');
  });

  test('what a session has of its own (0.003) no number of its readings takes away, and as many sessions as agree do', () => {
    // Variances of independent means add up over their number: worked on paper.
    const stay = Array.from({ length: 400 }, (_, at): Piece => ({ atS: 300 + 30 * at, cell: CELL, weights: [1, 0, 0, 0], ln: 0.02 })),
      one = evidenceOf([...others, ...stay]);
    const half = (list: readonly SessionEvidence[]): number => atOnce(tallying(list)).halfWidth[CELL];
    const moved = (by: number): SessionEvidence => ({ ...one, timeS: one.timeS.map((timeS) => timeS + by) });
    assert.ok(half([one]) >= 1.96 * 0.003 && half([one]) < 1.96 * 0.005, String(half([one])));
    assert.ok(half([one, moved(1), moved(2), moved(3)]) < 0.8 * half([one]), String(half([one, moved(1), moved(2), moved(3)])));
  });

  test('with breaths between the pieces it is judged as at once, once for all who ask meanwhile', async () => {
    const pieces = [...others, ...across(300, [0.02, 0.02])],
      evidences = [evidenceOf(pieces), evidenceOf(others)];
    let breaths = 0;
    const breathe = (): Promise<void> => {
      breaths++;
      return new Promise((resolve) => {
        setImmediate(resolve);
      });
    };
    const [one, other] = await Promise.all([1, 2].map(() => judgeBreathing(table, evidences, breathe))),
      forOne = breaths;
    assert.ok(forOne > 8);
    assert.deepEqual(
      one.cells.map(({ factor, proof }) => [factor, proof]),
      judge(table, [evidenceOf(pieces), evidenceOf(others)]).cells.map(({ factor, proof }) => [factor, proof]),
    );
    assert.deepEqual(other.cells, one.cells);
    await judgeBreathing(table, [...evidences], breathe);
    assert.equal(breaths, forOne);
    await judgeBreathing(table, [evidenceOf(pieces), evidenceOf(others)], breathe);
    assert.equal(breaths, 2 * forOne);
  });

  test('told elsewhere it is judged as here, once for all who ask meanwhile, and here where that fails', async () => {
    const lists = [[...others, ...across(300, [0.02, 0.02])], others],
      here = judge(table, lists.map(evidenceOf));
    let told = 0,
      fails = false,
      breaths = 0;
    const elsewhere: TallyElsewhere = async (list) => {
      told++;
      if (fails) throw new Error('the thread ended');
      return structuredClone(atOnce(tallying(structuredClone(list))));
    };
    const judgedBy = (evidences: SessionEvidence[]) =>
      judgeBreathing(
        table,
        evidences,
        async () => {
          breaths++;
        },
        elsewhere,
      );
    const evidences = lists.map(evidenceOf),
      [one, other] = await Promise.all([judgedBy(evidences), judgedBy(evidences)]);
    assert.deepEqual([told, breaths], [1, 0]);
    assert.deepEqual(one, here);
    assert.deepEqual(other, here);
    assert.deepEqual(one.cells[CELL].moments, here.cells[CELL].moments);
    fails = true;
    assert.deepEqual(await judgedBy(lists.map(evidenceOf)), here);
    assert.equal(told, 2);
    assert.ok(breaths > 0);
  });
});
