// Symmetric positive definite systems whose unknowns touch only near neighbours: a table's cells do, so a band holds the whole matrix.

/** Lower half of a symmetric matrix: element (i, j), i − width ≤ j ≤ i, stands at `i × (width + 1) + (j − i + width)`. */
export interface Banded {
  readonly size: number;
  /** How far left of the diagonal elements may stand. */
  readonly width: number;
  readonly data: Float64Array;
}

export const banded = (size: number, width: number): Banded => ({ size, width, data: new Float64Array(size * (width + 1)) });

/** Adds to element (i, j) and so to (j, i). */
export const addTo = (matrix: Banded, i: number, j: number, value: number): void => {
  const [row, column] = i >= j ? [i, j] : [j, i];
  matrix.data[row * (matrix.width + 1) + column - row + matrix.width] += value;
};

/** Column `k`, whole. */
export const columnOf = ({ size, width, data }: Banded, k: number): Float64Array => {
  const column = new Float64Array(size);
  for (let i = Math.max(0, k - width); i <= Math.min(size - 1, k + width); i++)
    column[i] = data[Math.max(i, k) * width + Math.min(i, k) + width];
  return column;
};

/** The matrix times a column. */
export const times = ({ size, width, data }: Banded, values: Float64Array): Float64Array => {
  const result = new Float64Array(size);
  for (let i = 0; i < size; i++) {
    const row = i * (width + 1) + width - i;
    for (let j = Math.max(0, i - width); j < i; j++) {
      result[i] += data[row + j] * values[j];
      result[j] += data[row + j] * values[i];
    }
    result[i] += data[row + i] * values[i];
  }
  return result;
};

/** `base + factor × other`, of the same size and width, in place of what `sum` held. */
export const plus = (base: Banded, other: Banded, factor: number, sum = banded(base.size, base.width)): Banded => {
  const { data } = base,
    add = other.data,
    into = sum.data;
  for (let at = 0; at < into.length; at++) into[at] = data[at] + factor * add[at];
  return sum;
};

/**
 * `value` less the sum of products of `count` elements from `a` on with those from `b` on. Two sums run side by side: neither waits for the
 * other.
 */
const lessProducts = (data: Float64Array, a: number, b: number, count: number, value: number): number => {
  let other = 0;
  let k = 0;
  for (; k + 1 < count; k += 2) {
    value -= data[a + k] * data[b + k];
    other += data[a + k + 1] * data[b + k + 1];
  }
  if (k < count) value -= data[a + k] * data[b + k];
  return value - other;
};

/**
 * Row `i` of the factor, in place of the matrix's; false where the matrix is not positive definite. Two elements at a time: their sums read
 * the row once.
 */
const factorRow = (data: Float64Array, i: number, width: number): boolean => {
  const first = Math.max(0, i - width);
  const rowI = i * (width + 1) + width - i;
  let j = first;
  for (; j + 1 < i; j += 2) {
    const rowJ = j * (width + 1) + width - j,
      rowNext = rowJ + width;
    let here = data[rowI + j],
      hereOther = 0,
      next = data[rowI + j + 1],
      nextOther = 0;
    for (let k = first; k < j; k += 2) {
      const left = data[rowI + k],
        right = data[rowI + k + 1];
      here -= left * data[rowJ + k];
      hereOther += right * data[rowJ + k + 1];
      next -= left * data[rowNext + k];
      nextOther += right * data[rowNext + k + 1];
    }
    const found = (data[rowI + j] = (here - hereOther) / data[rowJ + j]);
    data[rowI + j + 1] = (next - found * data[rowNext + j] - nextOther) / data[rowNext + j + 1];
  }
  if (j < i) {
    const rowJ = j * (width + 1) + width - j;
    data[rowI + j] = lessProducts(data, rowI + first, rowJ + first, j - first, data[rowI + j]) / data[rowJ + j];
  }
  const square = lessProducts(data, rowI + first, rowI + first, i - first, data[rowI + i]);
  data[rowI + i] = Math.sqrt(square);
  return square > 0;
};

/** Cholesky factor L (L Lᵀ = matrix), in place of a copy; undefined where the matrix is not positive definite. */
export const cholesky = ({ size, width, data }: Banded): Banded | undefined => choleskyOf({ size, width, data: data.slice() });

/** The same in place of the matrix itself. */
export const choleskyOf = (matrix: Banded): Banded | undefined => {
  for (let i = 0; i < matrix.size; i++) if (!factorRow(matrix.data, i, matrix.width)) return undefined;
  return matrix;
};

/** Logarithm of the determinant of the matrix that `factor` is the Cholesky factor of. */
export const logDeterminant = (factor: Banded): number => {
  let sum = 0;
  for (let i = 0; i < factor.size; i++) sum += Math.log(factor.data[i * (factor.width + 1) + factor.width]);
  return 2 * sum;
};

/** Solves L Lᵀ x = right side. `from`: first element of the right side that is not zero, to save work. */
export const solveWith = (factor: Banded, right: Float64Array, from = 0): Float64Array => {
  const { size, width, data } = factor;
  const stride = width + 1;
  const x = right.slice();
  for (let i = from; i < size; i++) {
    const row = i * stride + width - i;
    let sum = x[i],
      other = 0,
      k = Math.max(from, i - width);
    for (; k + 1 < i; k += 2) {
      sum -= data[row + k] * x[k];
      other += data[row + k + 1] * x[k + 1];
    }
    if (k < i) sum -= data[row + k] * x[k];
    x[i] = (sum - other) / data[row + i];
  }
  for (let i = size - 1; i >= 0; i--) {
    const row = i * stride + width - i;
    const value = x[i] / data[row + i];
    x[i] = value;
    for (let k = Math.max(0, i - width); k < i; k++) x[k] -= data[row + k] * value;
  }
  return x;
};

/**
 * The inverse's elements within the band, by which the factor's own columns give them one from another, last first (Takahashi, Fagan and
 * Chin 1973, from memory):
 * as little work as the factor itself.
 */
export const inverseNear = ({ size, width, data }: Banded): Banded => {
  const inverse = banded(size, width),
    near = inverse.data,
    column = new Float64Array(width + 1),
    sums = new Float64Array(width + 1);
  for (let i = size - 1; i >= 0; i--) {
    const last = Math.min(size - 1, i + width),
      own = data[i * (width + 1) + width];
    let variance = 1 / own ** 2;
    for (let j = i + 1; j <= last; j++) {
      column[j - i] = data[j * width + i + width] / own;
      sums[j - i] = timesRow(near, j * width + width + i, j - i, column, sums);
    }
    for (let j = i + 1; j <= last; j++) {
      near[j * width + i + width] = -sums[j - i];
      variance += column[j - i] * sums[j - i];
    }
    near[i * (width + 1) + width] = variance;
  }
  return inverse;
};

/**
 * The product of row `n` of a symmetric matrix, whose lower half's stands behind `row`, with a column as far as the diagonal; what the row
 * gives those before it goes to their `sums`.
 */
const timesRow = (near: Float64Array, row: number, n: number, column: Float64Array, sums: Float64Array): number => {
  const own = column[n];
  let sum = own * near[row + n],
    other = 0,
    k = 1;
  for (; k + 1 < n; k += 2) {
    const here = near[row + k],
      next = near[row + k + 1];
    sum += column[k] * here;
    other += column[k + 1] * next;
    sums[k] += own * here;
    sums[k + 1] += own * next;
  }
  if (k < n) {
    sum += column[k] * near[row + k];
    sums[k] += own * near[row + k];
  }
  return sum + other;
};
