// A cell that stands off the smooth field by itself: against the same model solved whole by ml-matrix (its spot one unknown more), and on
// worked examples.

import assert from 'node:assert/strict';
import { Matrix, determinant, inverse } from 'ml-matrix';
import { addTo, banded, cholesky, plus, solveWith, type Banded } from '../../server/src/fueling/solution/banded.js';
import { OWN_DEVIATION } from '../../server/src/fueling/solution/own.js';
import { solveTable, type Observations } from '../../server/src/fueling/solution/solve.js';
import { NO_SPOTS, addSpots, covarianceNear, gainOf, spotsBeside, type Spots } from '../../server/src/fueling/solution/spots.js';
import { normalFrom, randomFrom } from './tinyEngine.js';

const near = (actual: number, expected: number, tolerance: number, what = ''): void =>
  assert.ok(Math.abs(actual - expected) <= tolerance, `${what} ${actual} is not ${expected} ± ${tolerance}`);

const denseOf = ({ size, width, data }: Banded): Matrix => {
  const matrix = Matrix.zeros(size, size);
  for (let i = 0; i < size; i++)
    for (let j = Math.max(0, i - width); j <= i; j++)
      for (const [a, b] of [
        [i, j],
        [j, i],
      ])
        matrix.set(a, b, data[i * (width + 1) + j - i + width]);
  return matrix;
};

suite('one cell of a line stands by itself', () => {
  const SIZE = 9,
    LONE = 4;
  const prior = banded(SIZE, 2),
    data = banded(SIZE, 2),
    right = new Float64Array(SIZE);
  for (let k = 0; k < SIZE; k++) {
    addTo(prior, k, k, 10);
    if (k > 0 && k < SIZE - 1)
      [
        [k - 1, -0.5],
        [k, 1],
        [k + 1, -0.5],
      ].forEach(([i, a], _, terms) => {
        for (const [j, b] of terms) if (j <= i) addTo(prior, i, j, (a * b) / 0.01 ** 2);
      });
    addTo(data, k, k, 0.006 ** -2);
    right[k] = (k === LONE ? 0.12 : 0.01 + 0.001 * k) * 0.006 ** -2;
  }
  const factor = cholesky(plus(data, prior, 1))!,
    x = solveWith(factor, right);
  const spots = spotsBeside({ columns: SIZE, prior, factor, x }, data, [], new Float64Array(SIZE).fill(9));

  // Unknowns: the smooth line m, and one more, e, the lone cell's; readings of m + e.
  const design = Matrix.zeros(SIZE, SIZE + 1);
  for (let k = 0; k < SIZE; k++) design.set(k, k, 1);
  design.set(LONE, SIZE, 1);
  const whole = design.transpose().mmul(denseOf(data)).mmul(design);
  denseOf(prior)
    .to2DArray()
    .forEach((row, i) => row.forEach((value, j) => whole.set(i, j, whole.get(i, j) + value)));
  whole.set(SIZE, SIZE, whole.get(SIZE, SIZE) + OWN_DEVIATION ** -2);
  const covariance = design.mmul(inverse(whole)).mmul(design.transpose());
  const expected = covariance.mmul(Matrix.columnVector([...right])).to1DArray();

  test('and is found, alone', () => assert.deepEqual(spots.cells, [LONE]));

  test('values and deviations as if it were one unknown more', () => {
    const told = x.slice();
    addSpots(told, spots);
    const { data: variance, width } = covarianceNear(factor, spots);
    told.forEach((value, k) => {
      // Less likely explanations count too, to a twentieth.
      near(value, expected[k], 0.002, `cell ${k}`);
      near(Math.sqrt(variance[k * (width + 1) + width] / covariance.get(k, k)), 1, 0.1, `cell ${k}`);
    });
  });

  test('the readings are so much likelier by it as their normal densities say', () => {
    const density = (off: Matrix): number =>
      -0.5 * Math.log(determinant(off)) - 0.5 * Matrix.rowVector(measured).mmul(inverse(off)).mmul(Matrix.columnVector(measured)).get(0, 0);
    const measured = [...right].map((each) => each * 0.006 ** 2);
    const smooth = inverse(denseOf(prior)).add(Matrix.eye(SIZE, SIZE).mul(0.006 ** 2)),
      lone = smooth.clone();
    lone.set(LONE, LONE, lone.get(LONE, LONE) + OWN_DEVIATION ** 2);
    near(gainOf({ columns: SIZE, prior, factor, x }, [LONE]), density(lone) - density(smooth) + Math.log(1 / 49), 1e-6);
  });

  test('nothing does where the line is straight', () => {
    const straight = solveWith(
      factor,
      right.map((_, k) => (0.01 + 0.001 * k) * 0.006 ** -2),
    );
    const none = spotsBeside({ columns: SIZE, prior, factor, x: straight }, data, [], new Float64Array(SIZE).fill(9));
    assert.deepEqual(none.cells, []);
    assert.deepEqual(covarianceNear(factor, none), covarianceNear(factor, NO_SPOTS));
  });

  test('two cells that are only read midway between them are both in doubt', () => {
    const midway = banded(SIZE, 2),
      asked = new Float64Array(SIZE),
      precision = 0.006 ** -2;
    for (let k = 0; k < SIZE; k++) {
      if (k === LONE || k === LONE + 1) continue;
      addTo(midway, k, k, precision);
    }
    for (const [i, j] of [
      [LONE, LONE],
      [LONE + 1, LONE],
      [LONE + 1, LONE + 1],
    ])
      addTo(midway, i, j, 0.25 * precision);
    asked[LONE] = asked[LONE + 1] = 0.5 * 0.06 * precision;
    const between = cholesky(plus(midway, prior, 1))!,
      smooth = solveWith(between, asked);
    const both = spotsBeside({ columns: SIZE, prior, factor: between, x: smooth }, midway, [], new Float64Array(SIZE).fill(9));
    addSpots(smooth, both);
    const { data: variance, width } = covarianceNear(between, both);
    for (const k of [LONE, LONE + 1]) {
      const deviation = Math.sqrt(variance[k * (width + 1) + width]);
      // Either is off by 0.12 and the other by nothing, or both are by 0.06.
      near(smooth[k], 0.06, 0.02, `cell ${k}`);
      near(deviation, 0.06, 0.015, `deviation of cell ${k}`);
    }
  });

  test('none is made of what asks for more than any cell is off by', () => {
    const far = solveWith(
      factor,
      right.map((each, k) => (k === LONE ? 0.77 * 0.006 ** -2 : each)),
    );
    assert.deepEqual(
      spotsBeside({ columns: SIZE, prior, factor, x: far }, data, [], new Float64Array(SIZE).fill(9)).cells.filter((cell) => cell === LONE),
      [],
    );
    assert.deepEqual(
      spotsBeside({ columns: SIZE, prior, factor, x: far }, data, [LONE], new Float64Array(SIZE).fill(9)).cells.filter(
        (cell) => cell === LONE,
      ),
      [],
    );
  });
});

suite('two rows that stand off are read midway between them', () => {
  // Five columns by four rows, the middle two rows off by 0.09 in the middle three columns.
  const COLUMNS = 5,
    SIZE = 20,
    PATCH = [6, 7, 8, 11, 12, 13],
    prior = banded(SIZE, 10),
    data = banded(SIZE, 10),
    right = new Float64Array(SIZE),
    precision = 0.003 ** -2;
  for (let k = 0; k < SIZE; k++) {
    addTo(prior, k, k, 10);
    const inPatch = PATCH.includes(k);
    for (const [step, inside] of [
      [1, k % COLUMNS > 0 && k % COLUMNS < COLUMNS - 1],
      [COLUMNS, k >= COLUMNS && k < SIZE - COLUMNS],
    ] as const) {
      if (inside)
        [
          [k - step, -0.5],
          [k, 1],
          [k + step, -0.5],
        ].forEach(([i, a], _, terms) => {
          for (const [j, b] of terms) if (j <= i) addTo(prior, i, j, (a * b) / 0.01 ** 2);
        });
    }
    if (!inPatch) addTo(data, k, k, precision);
  }
  for (const upper of PATCH.slice(0, 3)) {
    const lower = upper + COLUMNS;
    for (const [i, j] of [
      [upper, upper],
      [lower, upper],
      [lower, lower],
    ])
      addTo(data, i, j, 0.25 * precision);
    right[upper] = right[lower] = 0.5 * 0.09 * precision;
  }
  const factor = cholesky(plus(data, prior, 1))!,
    x = solveWith(factor, right);

  test('of cells that touch, those beside the first are likelier, and off by much the same: as the normal densities say', () => {
    const cells = [7, 12, 8],
      design = (count: number): Matrix => {
        const rows = Matrix.zeros(SIZE, count);
        cells.slice(0, count).forEach((cell, e) => rows.set(cell, e, 1));
        return rows;
      };
    const [own, slope] = [0.15 ** -2, 0.06 ** -2],
      before = new Matrix([
        [own + 2 * slope, -slope, -slope],
        [-slope, own + 2 * slope, -slope],
        [-slope, -slope, own + 2 * slope],
      ]);
    const told = denseOf(prior).sub(
        denseOf(prior)
          .mmul(inverse(denseOf(plus(data, prior, 1))))
          .mmul(denseOf(prior)),
      ),
      pulls = denseOf(prior).mmul(Matrix.columnVector([...x]));
    const spots = design(3),
      after = before.clone().add(spots.transpose().mmul(told).mmul(spots)),
      pull = spots.transpose().mmul(pulls);
    const expected =
      0.5 * pull.transpose().mmul(inverse(after)).mmul(pull).get(0, 0) +
      0.5 * Math.log(determinant(before) / determinant(after)) -
      Math.log(49) -
      2 * Math.log(2);
    near(gainOf({ columns: COLUMNS, prior, factor, x }, cells), expected, 1e-6);
  });

  test('which of a pair is off, or both, stays in doubt', () => {
    const spots = found(x, factor, prior, data, COLUMNS),
      told = x.slice();
    addSpots(told, spots);
    const { data: variance, width } = covarianceNear(factor, spots);
    for (const k of PATCH) {
      const deviation = Math.sqrt(variance[k * (width + 1) + width]);
      near(told[k], 0.09, 1.96 * deviation, `cell ${k}`);
      assert.ok(deviation > 0.02, `${deviation} of cell ${k}`);
    }
  });
});

/** As the rounds of a solution find them, each beginning with those of the round before. */
function found(x: Float64Array, factor: Banded, prior: Banded, data: Banded, columns: number): Spots {
  let spots = NO_SPOTS;
  for (let round = 0; round < 4; round++)
    spots = spotsBeside({ columns, prior, factor, x }, data, spots.cells, new Float64Array(x.length).fill(9));
  return spots;
}

test('a row that stands off from one cell to another, read midway between its cells, is not told by every second of them', () => {
  const SIZE = 12,
    FIRST = 3,
    LAST = 8,
    OFF = 0.25,
    prior = banded(SIZE, 2),
    data = banded(SIZE, 2),
    right = new Float64Array(SIZE),
    precision = 0.005 ** -2;
  for (let k = 0; k < SIZE; k++) {
    addTo(prior, k, k, 10);
    if (k > 0 && k < SIZE - 1)
      [
        [k - 1, -0.5],
        [k, 1],
        [k + 1, -0.5],
      ].forEach(([i, a], _, terms) => {
        for (const [j, b] of terms) if (j <= i) addTo(prior, i, j, (a * b) / 0.01 ** 2);
      });
    if (k < FIRST || k > LAST) addTo(data, k, k, precision);
    if (k < FIRST || k >= LAST) continue;
    for (const [i, j] of [
      [k, k],
      [k + 1, k],
      [k + 1, k + 1],
    ])
      addTo(data, i, j, 0.25 * precision);
    right[k] += 0.5 * OFF * precision;
    right[k + 1] += 0.5 * OFF * precision;
  }
  const factor = cholesky(plus(data, prior, 1))!,
    told = solveWith(factor, right);
  addSpots(told, found(told.slice(), factor, prior, data, SIZE));
  for (let k = FIRST; k <= LAST; k++) near(told[k], OFF, 0.03, `cell ${k}`);
});

suite('a lone cell of a table', () => {
  const columns = Float64Array.from({ length: 9 }, (_, i) => 1000 + 500 * i),
    rows = Float64Array.from({ length: 9 }, (_, i) => 20 + 10 * i),
    SIZE = 81;
  const LONE = 4 * 9 + 4;
  const truth = Float64Array.from({ length: SIZE }, (_, k) => 0.03 * Math.sin((k % 9) / 3) + (k === LONE ? 0.13 : 0));
  /** Readings all over the table, in passages of five, of 0.5 % each; round the lone cell only where `there` says. */
  const readings = (there: boolean): Observations => {
    const random = randomFrom(77),
      normal = normalFrom(random),
      count = 1500;
    const all = {
      count,
      cell: new Int32Array(count),
      weights: new Float64Array(4 * count),
      lnRequired: new Float64Array(count),
      variance: new Float64Array(count).fill(0.005 ** 2),
      film: new Float64Array(count),
      chargeFilm: new Float64Array(count),
      session: new Int32Array(count),
      visit: Int32Array.from({ length: count }, (_, at) => Math.floor(at / 5)),
    };
    for (let at = 0; at < count;) {
      const c = 7.999 * random(),
        r = 7.999 * random();
      if (!there && Math.abs(c - 4.5) < 1.5 && Math.abs(r - 4) < 1) continue;
      const [column, row] = [Math.floor(c), Math.floor(r)],
        [u, v] = [c - column, r - row],
        shares = [(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v];
      for (const end = at + 5; at < end; at++) {
        all.cell[at] = 9 * row + column;
        all.weights.set(shares, 4 * at);
        all.lnRequired[at] =
          Math.log(shares.reduce((sum, share, i) => sum + share * Math.exp(truth[all.cell[at] + [0, 1, 9, 10][i]]), 0)) + 0.005 * normal();
      }
    }
    return all;
  };
  const flat = new Float64Array(SIZE);

  test('is told as its readings tell it, and its neighbours stay smooth', () => {
    const { lnValue, deviation, smoothness } = solveTable({ columns, rows }, flat, readings(true), 1);
    lnValue.forEach((value, k) => near(value, truth[k], 4 * deviation[k], `cell ${k}`));
    assert.ok(deviation[LONE] < 0.01, String(deviation[LONE]));
    assert.ok(smoothness < 0.01, String(smoothness));
  });

  test('is none for two wild blocks, where little else was read', () => {
    const calm = readings(false),
      truthHere = truth[LONE];
    truth[LONE] -= 0.13;
    const wild = { ...calm, cell: calm.cell.slice(), weights: calm.weights.slice(), lnRequired: calm.lnRequired.slice() };
    for (let at = 0; at < 2; at++) {
      wild.cell[at] = LONE;
      wild.weights.set([0.9, 0.1, 0, 0], 4 * at);
      wild.lnRequired[at] = 0.3;
    }
    const { lnValue } = solveTable({ columns, rows }, flat, wild, 1);
    near(lnValue[LONE], truth[LONE], 0.02);
    truth[LONE] = truthHere;
  });

  test('is not made up where nobody drove', () => {
    const { lnValue } = solveTable({ columns, rows }, flat, readings(false), 1);
    near(lnValue[LONE], 0.03 * Math.sin(4 / 3), 0.015);
  });
});
