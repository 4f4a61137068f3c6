// The band's linear algebra against a general-purpose library, and least squares against exact fractions.

import assert from 'node:assert/strict';
import { CholeskyDecomposition, Matrix, determinant, inverse } from 'ml-matrix';
import { addTo, banded, cholesky, inverseNear, logDeterminant, solveWith, type Banded } from '../../server/src/fueling/solution/banded.js';
import { equationsOf } from '../../server/src/fueling/solution/equations.js';
import { randomFrom } from './tinyEngine.js';

const near = (actual: number, expected: number, tolerance: number): void =>
  assert.ok(Math.abs(actual - expected) <= tolerance, `${actual} is not ${expected} ± ${tolerance}`);

/** A random symmetric positive definite band, and the same as a full matrix. */
const randomBand = (size: number, width: number, seed: number): { band: Banded; full: Matrix } => {
  const random = randomFrom(seed);
  const band = banded(size, width);
  const full = Matrix.zeros(size, size);
  for (let i = 0; i < size; i++) {
    for (let j = Math.max(0, i - width); j <= i; j++) {
      const value = i === j ? 2 * width + 1 + random() : random() - 0.5;
      addTo(band, i, j, value);
      full.set(i, j, value);
      full.set(j, i, value);
    }
  }
  return { band, full };
};

suite('banded systems', () => {
  for (const [size, width] of [
    [1, 0],
    [5, 1],
    [12, 4],
    [60, 17],
    [100, 32],
  ]) {
    test(`${size} unknowns, ${width} beside the diagonal: solution, inverse and determinant as ml-matrix has them`, () => {
      const { band, full } = randomBand(size, width, size * 100 + width);
      const factor = cholesky(band)!;
      const right = Float64Array.from({ length: size }, (_, i) => Math.sin(i + 1));
      const expected = new CholeskyDecomposition(full).solve(Matrix.columnVector([...right])).to1DArray();
      solveWith(factor, right).forEach((value, i) => near(value, expected[i], 1e-11));
      const full1 = inverse(full);
      const near1 = inverseNear(factor);
      for (let i = 0; i < size; i++)
        for (let j = Math.max(0, i - width); j <= i; j++) near(near1.data[i * (width + 1) + j - i + width], full1.get(i, j), 1e-11);
      if (size <= 12) near(logDeterminant(factor), Math.log(determinant(full)), 1e-9);
    });
  }

  test('a matrix that is not positive definite has no factor', () => {
    const band = banded(2, 1);
    addTo(band, 0, 0, 1);
    addTo(band, 1, 0, 2);
    addTo(band, 1, 1, 1);
    assert.equal(cholesky(band), undefined);
  });
});

suite('least squares on a 2 × 2 table', () => {
  // Normal equations in exact fractions, worked out apart from this project.
  const grid = { columns: Float64Array.of(1000, 2000), rows: Float64Array.of(40, 80) };
  const points = [
    [0, 0],
    [1, 0],
    [0, 1],
    [1, 1],
    [0.5, 0.5],
    [0.25, 0.25],
  ];
  const rows = Float64Array.from(points.flatMap(([u, v]) => [(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v]));
  const six = { count: 6, cell: new Int32Array(6) };
  const solve = (weight: number[], z: number[], count = 6): Float64Array | undefined => {
    const [observations, weights] = [{ count, cell: six.cell }, Float64Array.from(weight)];
    const { matrix, one } = equationsOf(grid, observations, rows, weights, Float64Array.from(z), new Float64Array(count)),
      factor = cholesky(matrix);
    return factor && solveWith(factor, one);
  };
  const z = [0.5, 0.6, 0.7, 0.9, 0.68, 0.6];

  test('all weights 1', () => {
    const fit = solve([1, 1, 1, 1, 1, 1], z)!;
    [5446 / 10725, 2351 / 3900, 2741 / 3900, 1933 / 2145].forEach((value, i) => near(fit[i], value, 1e-9));
    const residual = z.map((value, at) => value - [0, 1, 2, 3].reduce((sum, i) => sum + rows[4 * at + i] * fit[i], 0));
    near(
      residual.reduce((sum, value) => sum + value ** 2, 0),
      547 / 2145000,
      1e-12,
    );
    for (let i = 0; i < 4; i++)
      near(
        residual.reduce((sum, value, at) => sum + rows[4 * at + i] * value, 0),
        0,
        1e-12,
      );
  });

  test('weights 1, 1, 1, 1, 4, 2', () => {
    const fit = solve([1, 1, 1, 1, 4, 2], z)!;
    [1433 / 2800, 2367 / 3920, 2759 / 3920, 17663 / 19600].forEach((value, i) => near(fit[i], value, 1e-9));
  });

  test('samples without noise give the table back', () => {
    const fit = solve([1, 1, 1, 1, 1, 1], [50, 60, 70, 90, 67.5, 58.125])!;
    [50, 60, 70, 90].forEach((value, i) => near(fit[i], value, 1e-9));
  });

  test('two points cannot tell four cells', () => {
    assert.equal(solve([0, 0, 0, 0, 1, 1], z), undefined);
  });
});
