// Channels that repeat their last value: which rows are new, and the line between them. Arithmetic on stated inputs.

import assert from 'node:assert/strict';
import { betweenFresh, freshRows } from '../../server/src/fueling/rhythm.js';

suite('a channel\'s own rhythm', () => {
  const size = 2000;
  const timeS = Float64Array.from({ length: size }, (_, row) => row / 50);
  const moving = (row: number): number => 40 + 10 * Math.sin(row / 90) + Math.sin(row / 11);
  const everyRow = Float64Array.from({ length: size }, (_, row) => moving(row));
  const everyFifth = Float64Array.from({ length: size }, (_, row) => moving(row - row % 5));

  test('a value repeated until the next is new at the next', () => {
    const fresh = freshRows(everyFifth)!;
    assert.ok(fresh.length > 390 && fresh.every((row) => row % 5 === 0));
    betweenFresh(everyFifth, timeS).forEach((value, row) => { if (row >= fresh[0] && row < 1995) assert.ok(Math.abs(value - moving(row)) < 0.05, `${row}: ${value}`); });
  });

  test('what is new in every row, what has blanks, and a switch stay as they are', () => {
    assert.equal(freshRows(everyRow), undefined);
    assert.equal(betweenFresh(everyRow, timeS), everyRow);
    assert.equal(freshRows(everyRow.map((value, row) => (row % 5 === 0 ? value : NaN))), undefined);
    assert.equal(freshRows(everyRow.map((_, row) => (row % 300 < 40 + row % 7 ? 1 : 0))), undefined);
  });

  test('a pulse that is off is not led to nought step by step', () => {
    const pulses = everyFifth.map((value, row) => (row >= 1000 && row < 1100 ? 0 : value));
    const line = betweenFresh(pulses, timeS);
    for (let row = 0; row < size; row++) assert.ok(line[row] === 0 || line[row] > 20, `${row}: ${line[row]}`);
  });
});
