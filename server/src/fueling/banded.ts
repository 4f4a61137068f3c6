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
  for (let i = Math.max(0, k - width); i <= Math.min(size - 1, k + width); i++) column[i] = data[Math.max(i, k) * width + Math.min(i, k) + width];
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
  const { data } = base, add = other.data, into = sum.data;
  for (let at = 0; at < into.length; at++) into[at] = data[at] + factor * add[at];
  return sum;
};

/** `value` less the sum of products of `count` elements from `a` on with those from `b` on. Two sums run side by side: neither waits for the other. */
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

/** Row `i` of the factor, in place of the matrix's; false where the matrix is not positive definite. Four elements at a time, and then two: their sums read the row once. */
const factorRow = (data: Float64Array, i: number, width: number): boolean => {
  const first = Math.max(0, i - width);
  const rowI = i * (width + 1) + width - i;
  let j = first;
  for (; j + 3 < i; j += 4) {
    const row0 = j * (width + 1) + width - j, row1 = row0 + width, row2 = row1 + width, row3 = row2 + width;
    let sum0 = data[rowI + j], sum1 = data[rowI + j + 1], sum2 = data[rowI + j + 2], sum3 = data[rowI + j + 3], other0 = 0, other1 = 0, other2 = 0, other3 = 0;
    for (let k = first; k < j; k += 2) {
      const left = data[rowI + k], right = data[rowI + k + 1];
      sum0 -= left * data[row0 + k];
      other0 += right * data[row0 + k + 1];
      sum1 -= left * data[row1 + k];
      other1 += right * data[row1 + k + 1];
      sum2 -= left * data[row2 + k];
      other2 += right * data[row2 + k + 1];
      sum3 -= left * data[row3 + k];
      other3 += right * data[row3 + k + 1];
    }
    const found0 = data[rowI + j] = (sum0 - other0) / data[row0 + j];
    const found1 = data[rowI + j + 1] = (sum1 - found0 * data[row1 + j] - other1) / data[row1 + j + 1];
    const found2 = data[rowI + j + 2] = (sum2 - found0 * data[row2 + j] - (other2 + found1 * data[row2 + j + 1])) / data[row2 + j + 2];
    data[rowI + j + 3] = (sum3 - found0 * data[row3 + j] - found2 * data[row3 + j + 2] - (other3 + found1 * data[row3 + j + 1])) / data[row3 + j + 3];
  }
  for (; j + 1 < i; j += 2) {
    const rowJ = j * (width + 1) + width - j, rowNext = rowJ + width;
    let here = data[rowI + j], hereOther = 0, next = data[rowI + j + 1], nextOther = 0;
    for (let k = first; k < j; k += 2) {
      const left = data[rowI + k], right = data[rowI + k + 1];
      here -= left * data[rowJ + k];
      hereOther += right * data[rowJ + k + 1];
      next -= left * data[rowNext + k];
      nextOther += right * data[rowNext + k + 1];
    }
    const found = data[rowI + j] = (here - hereOther) / data[rowJ + j];
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
    let sum = x[i];
    for (let k = Math.max(from, i - width); k < i; k++) sum -= data[row + k] * x[k];
    x[i] = sum / data[row + i];
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
 * The inverse's elements within the band, by which the factor's own columns give them one from another, last first (Takahashi, Fagan and Chin 1973, from memory):
 * as little work as the factor itself.
 */
export const inverseNear = ({ size, width, data }: Banded): Banded => {
  const inverse = banded(size, width), near = inverse.data, column = new Float64Array(width + 1);
  for (let i = size - 1; i >= 0; i--) {
    const last = Math.min(size - 1, i + width), own = data[i * (width + 1) + width];
    for (let k = i; k <= last; k++) column[k - i] = data[k * width + i + width] / own;
    for (let j = last; j >= i; j--) {
      let sum = i === j ? 1 / own ** 2 : 0;
      for (let k = i + 1; k < j; k++) sum -= column[k - i] * near[j * width + k + width];
      for (let k = Math.max(i + 1, j); k <= last; k++) sum -= column[k - i] * near[k * width + j + width];
      near[j * width + i + width] = sum;
    }
  }
  return inverse;
};
