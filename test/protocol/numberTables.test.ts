// Tables of numbers through bytes and back.

import assert from 'node:assert/strict';
import { packTables, unpackTables } from '../../server/src/protocol/numberTables.js';

suite('number tables', () => {
  const tables = [
    { x: Float64Array.of(0.1, 1e9 + 0.25, 3e9), columns: [Float32Array.of(1, NaN, -3), Float32Array.of(0.5, 0.25, 0)] },
    { x: new Float64Array(), columns: [] },
    { x: Float64Array.of(7), columns: [Float32Array.of(8)] },
  ];

  test('come back as they were, wherever the bytes begin', () => {
    const { shapes, data } = packTables(tables);
    assert.deepEqual(unpackTables({ shapes, data }), tables);
    const shifted = new Uint8Array(data.length + 3);
    shifted.set(data, 3);
    assert.deepEqual(unpackTables({ shapes, data: shifted.subarray(3) }), tables);
  });

  test('bytes that do not fit the shapes are refused', () => {
    const { shapes, data } = packTables(tables);
    assert.equal(unpackTables({ shapes, data: data.subarray(1) }), undefined);
    assert.equal(unpackTables({ shapes: [], data }), undefined);
  });
});
