// A long session is judged in pieces: none cuts through a spell, and together they are the session.

import assert from 'node:assert/strict';
import { marksSustained, piecesOf } from '../../server/src/signals/columns/underLoad.js';
import { randomOf } from '../support/simulator/random.js';

suite('pieces of a long session', () => {
  test('what stays above a limit for long enough does so within one recording', () => {
    const rows = 40,
      stepS = 0.1,
      timeS = Float64Array.from({ length: rows }, (_, i) => i * stepS),
      values = new Float64Array(rows);
    values.fill(1, 17, 23);
    const marks = (...borders: readonly number[]): number =>
      marksSustained(values, { timeS, stepS, recordings: borders.slice(1).map((to, at) => ({ from: borders[at], to })) }, 0.5, 0.9).reduce(
        (sum, each) => sum + each,
        0,
      );
    assert.equal(marks(0, rows), 6);
    assert.equal(marks(0, 20, rows), 0);
    assert.equal(marks(0, 17, 23, rows), 6);
  });

  test('they follow each other without a gap, and a second on both sides of each cut there is no load', () => {
    const { next } = randomOf(1234);
    let cuts = 0;
    for (let round = 0; round < 50; round++) {
      const rows = 2000,
        stepS = 0.02 + 0.1 * next(),
        timeS = Float64Array.from({ length: rows }, (_, i) => i * stepS),
        readsLoad = new Uint8Array(rows);
      for (let i = 0; i < rows;) {
        const to = i + 1 + Math.floor((next() * 8) / stepS);
        readsLoad.fill(next() < 0.5 ? 1 : 0, i, to);
        i = to;
      }
      const border = 1 + Math.floor(next() * (rows - 2)),
        recordings = [
          { from: 0, to: border },
          { from: border, to: rows },
        ];
      const pieces = piecesOf({ timeS, recordings }, { readsLoad, air: new Uint8Array(rows) }, new Float64Array(rows), 200);
      assert.deepEqual(
        pieces.flatMap(({ timeS: own }) => [...own]),
        [...timeS],
      );
      assert.deepEqual(
        pieces.flatMap(({ readsLoad: own }) => [...own]),
        [...readsLoad],
      );
      assert.deepEqual(
        [...new Set(pieces.flatMap(({ row, recordings: own }) => own.flatMap(({ from, to }) => [row + from, row + to])))].sort(
          (a, b) => a - b,
        ),
        [...new Set([0, border, rows, ...pieces.map(({ row }) => row)])].sort((a, b) => a - b),
      );
      for (const { row } of pieces.slice(1)) {
        cuts++;
        for (let i = 0; i < rows; i++) if (Math.abs(timeS[i] - timeS[row]) < 0.8) assert.equal(readsLoad[i], 0, `round ${round}, row ${i}`);
      }
    }
    assert.ok(cuts > 100, `${cuts} cuts`);
  });
});
