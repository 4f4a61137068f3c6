// Is a cause that works on the whole engine told from a table that is wrong in places? The oracle is the flow through an orifice, which
// goes with the root of the pressure across it (Bernoulli; any handbook of fluid mechanics): a sagging fuel pressure asks every cell for
// the same factor.

import assert from 'node:assert/strict';
import type { CellEvidence, Proof } from '../../server/src/fueling/evidence.js';
import { oneCause, oneCauseWords } from '../../server/src/fueling/doubts/oneCause.js';
import { fuelOf } from '../../server/src/quantities/fuels.js';
import { randomOf, runSeed } from '../support/simulator/random.js';

const WIDTH = 8;

/** A table's cells, proven every other one, each off by a doubt of its own of up to 1.5 %. */
const cellsBy = (
  factorAt: (row: number, column: number) => number,
  random: () => number,
  proofAt: (row: number, column: number) => Proof = (row, column) => ((row + column) % 2 === 0 ? 'firm' : 'thin'),
): CellEvidence[] =>
  Array.from({ length: 6 * WIDTH }, (_, at) => {
    const row = Math.floor(at / WIDTH),
      column = at % WIDTH;
    return { row, column, proof: proofAt(row, column), factor: factorAt(row, column) * (1 + 0.03 * (random() - 0.5)) } as CellEvidence;
  });

suite('one cause for all cells', () => {
  const seed = runSeed(),
    random = randomOf(seed).next;

  test('a fuel pressure of 261 kPa where the tune takes 300 for granted is one cause', () => {
    const wanted = Math.sqrt(300 / 261),
      found = oneCause({ cells: cellsBy(() => wanted, random) });
    assert.ok(found, `seed ${seed}`);
    assert.ok(Math.abs(found.factor - wanted) < 0.01, `${found.factor} for ${wanted}, seed ${seed}`);
    assert.equal(found.proven, 24);
    assert.match(oneCauseWords(found), /proven cells want about the same, [67]\.\d % more fuel.*fuel pressure/);
  });

  test('a factor that is the ratio of two scales names them', () => {
    // Stoichiometric ratios by mass of propane and gasoline, 15.67 and 14.7 (from memory, as handbooks give them).
    const lpg = fuelOf('LPG')!,
      found = oneCause({ cells: cellsBy(() => lpg.stoichAfr / 14.7, random) })!;
    assert.match(oneCauseWords(found, lpg), /It is what \S+'s air-fuel ratio \(15\.\d+\) is to gasoline's \(14\.7\)/);
    assert.doesNotMatch(oneCauseWords(found, fuelOf('E85')), /gasoline's/);
    assert.doesNotMatch(oneCauseWords(found), /gasoline's/);
  });

  test('a table that is lean in one corner, one near its targets, and one wrong by load are not', () => {
    assert.equal(oneCause({ cells: cellsBy((row, column) => (row > 2 && column > 3 ? 1.08 : 1), random) }), undefined, 'a corner');
    assert.equal(oneCause({ cells: cellsBy(() => 1.01, random) }), undefined, 'near its targets');
    assert.equal(oneCause({ cells: cellsBy((row) => 1 + 0.03 * row, random) }), undefined, 'by load');
  });

  test('few proven cells, or those of one row alone, tell no such thing', () => {
    assert.equal(
      oneCause({
        cells: cellsBy(
          () => 0.9,
          random,
          (row, column) => (row === 0 && column < 5 ? 'firm' : 'none'),
        ),
      }),
      undefined,
      'five',
    );
    assert.equal(
      oneCause({
        cells: cellsBy(
          () => 0.9,
          random,
          (row) => (row === 2 ? 'firm' : 'none'),
        ),
      }),
      undefined,
      'one row',
    );
    const transfer = cellsBy(
      () => 0.9,
      random,
      () => 'firm',
    ).filter(({ row }) => row === 0);
    assert.equal(oneCause({ cells: transfer })?.proven, WIDTH, 'a table of one row is that row');
  });
});
