// Systems of a handful of unknowns, such as a delay's fit solves some dozens of.

import { roomFor } from '../room.js';

/** By Gaussian elimination with pivots; the diagonal is taken `stiffer` times. */
export const solveSmall = (matrix: readonly Float64Array[], right: Float64Array, stiffer = 1): Float64Array => {
  const size = right.length,
    width = size + 1,
    rows = roomFor(size * width),
    x = roomFor(size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j < size; j++) rows[i * width + j] = i === j ? matrix[i][j] * stiffer : matrix[i][j];
    rows[i * width + size] = right[i];
  }
  for (let i = 0; i < size; i++) {
    let pivot = i;
    for (let j = i + 1; j < size; j++) if (Math.abs(rows[j * width + i]) > Math.abs(rows[pivot * width + i])) pivot = j;
    for (let k = 0; pivot !== i && k <= size; k++)
      [rows[i * width + k], rows[pivot * width + k]] = [rows[pivot * width + k], rows[i * width + k]];
    for (let j = i + 1; j < size; j++) {
      const factor = rows[j * width + i] / rows[i * width + i];
      for (let k = i; k <= size; k++) rows[j * width + k] -= factor * rows[i * width + k];
    }
  }
  for (let i = size - 1; i >= 0; i--) {
    let sum = rows[i * width + size];
    for (let k = i + 1; k < size; k++) sum -= rows[i * width + k] * x[k];
    x[i] = sum / rows[i * width + i];
  }
  return x;
};
