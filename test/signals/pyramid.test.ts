// What a plot draws of many samples: nothing hidden, gaps kept. Expected figures: the worked example is derived by hand, the rest are
// properties.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { decimate, extremesWithin, pyramidOf } from '../../server/src/signals/columns/pyramid.js';

const plain = (points: Float32Array): number[] => [...points];
const inFours = (points: Float32Array): number[][] =>
  Array.from({ length: points.length / 4 }, (_, k) => plain(points.slice(4 * k, 4 * k + 4)));

suite('pyramid', () => {
  test('three buckets of four: first, extremes in the order they came, last', () => {
    // Derived by hand.
    const pyramid = pyramidOf([5, 1, 9, 3, 4, 4, 4, 4, 2, 8, 7, 0]);
    assert.deepEqual(inFours(decimate(pyramid, [0, 4, 8, 12])), [
      [5, 1, 9, 3],
      [4, 4, 4, 4],
      [2, 8, 0, 0],
    ]);
  });

  test('one spike among 600 000 samples is among 1000 buckets', () => {
    for (const at of [0, 1, 15, 16, 299_999, 599_984, 599_999]) {
      const values = new Float64Array(600_000).fill(0.9);
      values[at] = 1.4;
      const points = decimate(
        pyramidOf(values),
        Array.from({ length: 1001 }, (_, k) => k * 600),
      );
      assert.equal(Math.max(...points), Math.fround(1.4), `spike at ${at}`);
      assert.equal(Math.min(...points), Math.fround(0.9));
    }
  });

  test('the extremes of any stretch are those of a plain search', () => {
    const sample = fc.oneof(fc.double({ min: -100, max: 100, noNaN: true }), fc.constant(NaN));
    fc.assert(
      fc.property(fc.array(sample, { maxLength: 400 }), fc.nat(400), fc.nat(400), (values, a, b) => {
        const from = Math.min(a, b, values.length),
          to = Math.min(Math.max(a, b), values.length);
        const { low, high } = extremesWithin(pyramidOf(values), from, to);
        const numbers = values.slice(from, to).filter((value) => !Number.isNaN(value));
        if (numbers.length === 0) {
          assert.deepEqual([low, high], [-1, -1]);
          return;
        }
        assert.ok(low >= from && low < to && high >= from && high < to);
        assert.equal(
          values[low],
          numbers.reduce((least, value) => Math.min(least, value)),
        );
        assert.equal(
          values[high],
          numbers.reduce((most, value) => Math.max(most, value)),
        );
      }),
    );
  });

  test('a bucket without numbers breaks the line, and one that begins or ends without them breaks it there', () => {
    const values = Float64Array.from({ length: 48 }, (_, i) => (i >= 16 && i < 32 ? NaN : i));
    assert.deepEqual(inFours(decimate(pyramidOf(values), [0, 16, 32, 48])), [
      [0, 0, 15, 15],
      [NaN, NaN, NaN, NaN],
      [32, 32, 47, 47],
    ]);
    assert.deepEqual(inFours(decimate(pyramidOf(values), [8, 24, 40])), [
      [8, 8, 15, NaN],
      [NaN, 32, 39, 39],
    ]);
  });

  test('nothing gives nothing', () => {
    assert.deepEqual(plain(decimate(pyramidOf([]), [])), []);
    assert.deepEqual(plain(decimate(pyramidOf([]), [0, 0])), [NaN, NaN, NaN, NaN]);
    assert.deepEqual(plain(decimate(pyramidOf([1, 2]), [0])), []);
  });
});
