// Where rows begin comes back as it was given, also behind a line too long for two bytes, and in a copy that goes its own way.

import assert from 'node:assert/strict';
import { RowOffsets } from '../../server/src/formats/csv/rowOffsets.js';

/** Rows of so many bytes, one of them very long. */
const startsOf = (rows: number, rowBytes: number, longAt: number): number[] => {
  let at = 5_000_000_000;
  return Array.from({ length: rows }, (_, row) => {
    const start = at;
    at += row === longAt ? 1_000_000 : rowBytes + (row % 7);
    return start;
  });
};

suite('places of rows', () => {
  for (const [name, longAt] of [
    ['as they were given', -1],
    ['behind a very long line', 70],
  ] as const) {
    test(name, () => {
      const starts = startsOf(1000, 130, longAt),
        offsets = new RowOffsets(10);
      starts.slice(0, 500).forEach((start, row) => {
        offsets.set(row, start);
      });
      const copy = offsets.fork();
      starts.slice(500).forEach((start, row) => {
        offsets.set(500 + row, start);
      });
      offsets.cut(1000);
      copy.set(500, starts[500] + 3);
      assert.deepEqual(
        starts.map((_, row) => offsets.at(row)),
        starts,
      );
      assert.deepEqual([copy.at(499), copy.at(500)], [starts[499], starts[500] + 3]);
    });
  }
});
