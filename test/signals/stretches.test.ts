// What is known of a column's stretches answers as a look at each row would.

import assert from 'node:assert/strict';
import { above, atLeast, below, drop, fromTo, keep, mark, upTo } from '../../server/src/signals/columns/marks.js';
import {
  extremesBut,
  isAnyAbove,
  nextBeyond,
  nextOf,
  rangeOfColumn,
  STRETCH_ROWS,
  timesOf,
} from '../../server/src/signals/columns/stretches.js';
import { randomOf } from '../support/simulator/random.js';

suite('stretches of a column', () => {
  test('a limit itself, its next numbers, none and the infinite ones are in or out as a comparison says', () => {
    const limits = [0, -0, 0.1, -0.1, 1e-310, -5e-324, 35, -40, Number.MAX_VALUE, -Number.MAX_VALUE, Infinity, -Infinity, NaN],
      values = Float64Array.from(
        limits.flatMap((limit) => [limit, limit * (1 + Number.EPSILON), limit * (1 - Number.EPSILON / 2), -limit]),
      );
    for (const limit of limits)
      for (const [between, is] of [
        [above(limit), (v) => v > limit],
        [atLeast(limit), (v) => v >= limit],
        [below(limit), (v) => v < limit],
        [upTo(limit), (v) => v <= limit],
        [fromTo(-40, limit), (v) => v >= -40 && v < limit],
      ] satisfies [ReturnType<typeof above>, (value: number) => boolean][])
        assert.deepEqual(
          [...mark(values, between)],
          [...values].map((value) => Number(is(value))),
          `${limit}`,
        );
  });

  test('marks and searches are those of a look at each row, blanks and borders among them', () => {
    const { next } = randomOf(4711);
    const whole = (most: number): number => Math.floor(next() * most);
    let found = 0;
    for (let round = 0; round < 100; round++) {
      const rows = whole(5 * STRETCH_ROWS),
        blank = next() < 0.5 ? 0 : next() ** 3,
        calm = next() ** 4,
        values = new Float64Array(rows);
      for (let i = 0, level = 0; i < rows; i++) {
        if (next() < calm) level = whole(6) - 1;
        values[i] = next() < blank ? NaN : level;
      }
      const some = Array.from(values, (value, row) => ({ value, row })),
        numbers = some.filter(({ value }) => !Number.isNaN(value)).map(({ value }) => value);
      const low = whole(6) - 1,
        high = low + 1 + whole(3),
        from = whole(rows);

      const asked: readonly [ReturnType<typeof above>, (value: number) => boolean][] = [
        [above(low), (v) => v > low],
        [atLeast(low), (v) => v >= low],
        [below(high), (v) => v < high],
        [upTo(high), (v) => v <= high],
        [fromTo(low, high), (v) => v >= low && v < high],
      ];
      for (const [between, is] of asked) {
        assert.deepEqual(
          [...mark(values, between)],
          some.map(({ value }) => Number(is(value))),
          `round ${round}`,
        );
        const before = Uint8Array.from(some, () => Number(next() < 0.7));
        assert.deepEqual(
          [...keep(before.slice(), values, between)],
          some.map(({ value, row }) => (is(value) ? before[row] : 0)),
        );
        assert.deepEqual(
          [...drop(before.slice(), values, between)],
          some.map(({ value, row }) => (is(value) ? 0 : before[row])),
        );
      }
      const behind = (row: number | undefined): number => row ?? rows;
      assert.equal(
        nextBeyond(values, from, rows, low, high + 1),
        behind(some.find(({ value, row }) => row >= from && (value <= low || value >= high + 1))?.row),
      );
      assert.equal(nextOf(low, values, from), behind(some.find(({ value, row }) => row >= from && value === low)?.row));
      assert.equal(
        isAnyAbove(high, values, from, rows),
        some.some(({ value, row }) => row >= from && value > high),
      );
      assert.equal(timesOf(low, values), numbers.filter((value) => value === low).length);
      const others = numbers.filter((value) => value !== low && value >= 0 && value <= 3);
      assert.deepEqual(extremesBut(low, values, 0, 3), others.length > 0 ? [Math.min(...others), Math.max(...others)] : [NaN, NaN]);
      assert.deepEqual(
        rangeOfColumn(values),
        numbers.length > 0
          ? { count: numbers.length, least: Math.min(...numbers), greatest: Math.max(...numbers) }
          : { count: 0, least: NaN, greatest: NaN },
      );
      found += numbers.length;
    }
    assert.ok(found > 15_000, `${found} numbers`);
  });
});
