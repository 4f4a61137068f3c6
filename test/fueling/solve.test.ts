// The whole solution (robust weights, smoothness, film, bends) against dense normal equations by ml-matrix and, where it is installed,
// SciPy;
// and the worked examples of what may be called proven.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { CholeskyDecomposition, Matrix, inverse } from 'ml-matrix';
import { bendsShown } from '../../server/src/fueling/solution/curvature.js';
import type { Grid } from '../../server/src/fueling/solution/grid.js';
import { positionOn, stepOf } from '../../server/src/fueling/solution/grid.js';
import { FIRM_OWN_HALF_WIDTH } from '../../server/src/fueling/solution/tally.js';
import { PRIOR } from '../../server/src/fueling/solution/prior.js';
import { solveTable, type Observations } from '../../server/src/fueling/solution/solve.js';
import { normalFrom, randomFrom } from './tinyEngine.js';
import { pythonWith } from '../support/python.js';

const near = (actual: number, expected: number, tolerance: number, what = ''): void =>
  assert.ok(Math.abs(actual - expected) <= tolerance, `${what} ${actual} is not ${expected} ± ${tolerance}`);

const GRID: Grid = { columns: Float64Array.of(1000, 1500, 2200, 3000, 4000, 5000), rows: Float64Array.of(30, 45, 60, 80, 100) };
const WIDTH = GRID.columns.length,
  SIZE = WIDTH * GRID.rows.length;
const TRUTH = Float64Array.from({ length: SIZE }, (_, k) => 0.03 * Math.sin(k % WIDTH) + 0.02 * Math.cos(Math.floor(k / WIDTH)));
const FLAT = new Float64Array(SIZE).fill(Math.log(50));

/** Blocks over the whole table, every twentieth of them wild; each a visit of its own. */
const observe = (count: number, seed: number, wild = true): Observations => {
  const random = randomFrom(seed),
    normal = normalFrom(random);
  const all: Observations = {
    count,
    cell: new Int32Array(count),
    weights: new Float64Array(4 * count),
    lnRequired: new Float64Array(count),
    variance: new Float64Array(count).fill(0.01 ** 2),
    film: new Float64Array(count),
    chargeFilm: new Float64Array(count),
    session: new Int32Array(count),
    visit: Int32Array.from({ length: count }, (_, at) => at),
  };
  for (let at = 0; at < count; at++) {
    const c = positionOn(GRID.columns, 1000 + 4000 * random()),
      r = positionOn(GRID.rows, 30 + 70 * random());
    const [column, row] = [stepOf(c, WIDTH), stepOf(r, GRID.rows.length)];
    const [u, v] = [c - column, r - row];
    all.cell[at] = row * WIDTH + column;
    all.weights.set([(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v], 4 * at);
    const ln = [0, 1, WIDTH, WIDTH + 1].reduce(
      (sum, offset, i) => sum + all.weights[4 * at + i] * Math.exp(FLAT[0] + TRUTH[all.cell[at] + offset]),
      0,
    );
    all.lnRequired[at] = Math.log(ln) + 0.01 * normal() + (wild && at % 20 === 0 ? 0.3 : 0);
  }
  return all;
};

/** The normal equations of a solution's last round, dense, built here from what least squares says: Aᵀ W A + prior, Aᵀ W z. */
const dense = (
  observations: Observations,
  { lnValue, weight, bendShare }: ReturnType<typeof solveTable>,
): { normal: number[][]; right: number[] } => {
  const normal = Array.from({ length: SIZE }, () => new Array<number>(SIZE).fill(0));
  const right = new Array<number>(SIZE).fill(0);
  const values = lnValue.map(Math.exp);
  const bend = new Float64Array(observations.count);
  bendsShown(GRID, values, observations, bend);
  for (let at = 0; at < observations.count; at++) {
    const cells = [0, 1, WIDTH, WIDTH + 1].map((offset) => observations.cell[at] + offset);
    const parts = cells.map((cell, i) => observations.weights[4 * at + i] * values[cell]);
    const total = parts.reduce((a, b) => a + b);
    const a = parts.map((part) => part / total);
    const z =
      observations.lnRequired[at] -
      bendShare * bend[at] -
      Math.log(total) +
      a.reduce((sum, share, i) => sum + share * (lnValue[cells[i]] - FLAT[cells[i]]), 0);
    a.forEach((ai, i) => {
      right[cells[i]] += weight[at] * ai * z;
      a.forEach((aj, j) => {
        normal[cells[i]][cells[j]] += weight[at] * ai * aj;
      });
    });
  }
  return { normal, right };
};

/** Adds the prior: a departure of limited size, of limited steps, of limited bends (second differences on uneven axes). */
const withPrior = (normal: readonly (readonly number[])[], smoothness: number): number[][] => {
  const sum = normal.map((row) => [...row]);
  const add = (terms: readonly (readonly [cell: number, factor: number])[], deviation: number): void => {
    for (const [i, a] of terms) for (const [j, b] of terms) sum[i][j] += (a * b) / deviation ** 2;
  };
  const line = (axis: Float64Array, at: number, cell: (along: number) => number): void => {
    const [h, k] = [axis[at] - axis[at - 1], axis[at + 1] - axis[at]];
    const scale = Math.max(0.4, Math.min(2.5, Math.sqrt(h * k) / ((axis[axis.length - 1] - axis[0]) / (axis.length - 1))));
    add(
      [
        [cell(at - 1), -k / (h + k)],
        [cell(at), 1],
        [cell(at + 1), -h / (h + k)],
      ],
      smoothness * scale,
    );
  };
  for (let k = 0; k < SIZE; k++) {
    const [column, row] = [k % WIDTH, Math.floor(k / WIDTH)];
    add([[k, 1]], PRIOR.tableDeviation);
    if (column > 0)
      add(
        [
          [k, 1],
          [k - 1, -1],
        ],
        PRIOR.slopeDeviation,
      );
    if (row > 0)
      add(
        [
          [k, 1],
          [k - WIDTH, -1],
        ],
        PRIOR.slopeDeviation,
      );
    if (column > 0 && column < WIDTH - 1) line(GRID.columns, column, (c) => row * WIDTH + c);
    if (row > 0 && row < GRID.rows.length - 1) line(GRID.rows, row, (r) => r * WIDTH + column);
  }
  return sum.map((row, i) => row.map((value, j) => (value + sum[j][i]) / 2));
};

suite('the whole solution', () => {
  const observations = observe(400, 5);
  const solution = solveTable(GRID, FLAT, observations, 1);
  const { normal, right } = dense(observations, solution);
  const full = withPrior(normal, solution.smoothness);

  test('values as ml-matrix solves the dense normal equations', () => {
    const expected = new CholeskyDecomposition(new Matrix(full)).solve(Matrix.columnVector(right)).to1DArray();
    solution.lnValue.forEach((value, k) => near(value - FLAT[k], expected[k], 2e-4, `cell ${k}`));
  });

  test('deviations as ml-matrix inverts them', () => {
    const covariance = inverse(new Matrix(full));
    solution.deviation.forEach((value, k) => near(value / Math.sqrt(covariance.get(k, k)), 1, 0.01, `cell ${k}`));
  });

  test('values as SciPy finds them', function () {
    const python = pythonWith('scipy');
    if (!python) this.skip(); // no SciPy here (.ci/run installs it): ml-matrix judges the same solution
    const answer = execFileSync(
      python,
      [
        '-c',
        'import sys, json\nfrom scipy.linalg import solve\nd = json.load(sys.stdin)\nprint(" ".join(repr(float(v)) for v in solve(d[0], d[1], assume_a="pos")))',
      ],
      { encoding: 'utf8', input: JSON.stringify([full, right]) },
    );
    answer
      .trim()
      .split(' ')
      .forEach((value, k) => near(solution.lnValue[k] - FLAT[k], Number(value), 2e-4, `cell ${k}`));
  });

  test('the truth is within three deviations, though every twentieth block is 30 % off', () => {
    solution.lnValue.forEach((value, k) => near(value - FLAT[0], TRUTH[k], 3.5 * solution.deviation[k] + 0.002, `cell ${k}`));
    for (let at = 0; at < observations.count; at += 20) assert.ok(solution.trust[at] < 0.01, String(solution.trust[at]));
  });
});

suite('a cell that was edited alone', () => {
  // 13 % less than all round it is asked for at one cell. It is passed along the middle of its squares, where it has no more than two
  // fifths of a reading.
  const LONE = 2 * WIDTH + 3;
  const passing = (edited: number): Observations => {
    const all = observe(400, 5, false),
      cells: number[] = [],
      shares: number[][] = [];
    for (const [first, u, v] of [
      [LONE, 0.4, 0.33],
      [LONE - 1, 0.6, 0.33],
      [LONE - WIDTH, 0.4, 0.67],
    ] as const) {
      for (let each = 0; each < 8; each++) {
        cells.push(first);
        shares.push([(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v]);
      }
    }
    // Elsewhere the readings of before, but for those of the squares that touch the cell.
    for (let at = 0; at < all.count; at++)
      if (![0, 1, WIDTH, WIDTH + 1].includes(LONE - all.cell[at])) {
        cells.push(all.cell[at]);
        shares.push([...all.weights.subarray(4 * at, 4 * at + 4)]);
      }
    const count = cells.length,
      truth = (k: number): number => TRUTH[k] + (k === LONE ? edited : 0),
      normal = normalFrom(randomFrom(6));
    return {
      count,
      cell: Int32Array.from(cells),
      weights: Float64Array.from(shares.flat()),
      variance: new Float64Array(count).fill(0.004 ** 2),
      lnRequired: Float64Array.from(
        cells,
        (cell, at) =>
          Math.log([0, 1, WIDTH, WIDTH + 1].reduce((sum, offset, i) => sum + shares[at][i] * Math.exp(FLAT[0] + truth(cell + offset)), 0)) +
          0.004 * normal(),
      ),
      film: new Float64Array(count),
      chargeFilm: new Float64Array(count),
      session: new Int32Array(count),
      visit: Int32Array.from({ length: count }, (_, at) => at),
    };
  };

  test('is told by its readings, which are believed, and no cell beside it is drawn along', () => {
    const { lnValue, deviation, trust, lone } = solveTable(GRID, FLAT, passing(-0.13), 1);
    assert.deepEqual(
      [...lone.keys()].filter((k) => lone[k]),
      [LONE],
    );
    assert.ok(
      trust.subarray(0, 24).every((each) => each > 0.3),
      trust.subarray(0, 24).join(' '),
    );
    near(lnValue[LONE] - FLAT[0], TRUTH[LONE] - 0.13, 0.02);
    for (const k of [LONE, LONE - 1, LONE + 1, LONE - WIDTH, LONE + WIDTH])
      near(lnValue[k] - FLAT[0], TRUTH[k] - (k === LONE ? 0.13 : 0), 3 * deviation[k] + 0.002, `cell ${k}`);
  });

  test('there is none where all is smooth', () => assert.ok(solveTable(GRID, FLAT, passing(0), 1).lone.every((each) => each === 0)));
});

suite('bends between breakpoints', () => {
  // f = x² on steps of 1: midway between 11 and 12 the straight line gives 132.5, the curve 132.25. The remainder of linear interpolation,
  // ½ u (1 − u) h² f″ = ¼, is exact for a parabola (any textbook of numerical analysis).
  test('of a parabola', () => {
    const bend = new Float64Array(1);
    const grid: Grid = { columns: Float64Array.of(10, 11, 12, 13), rows: Float64Array.of(0) };
    bendsShown(
      grid,
      Float64Array.of(100, 121, 144, 169),
      { count: 1, cell: Int32Array.of(1), weights: Float64Array.of(0.5, 0.5, 0, 0) },
      bend,
    );
    near(bend[0], Math.log(132.25 / 132.5), 1e-5);
    near(bend[0], -0.25 / 132.5, 1e-12);
  });

  for (const [name, smooth] of [
    ['a smooth transfer curve', true],
    ['a curve of straight pieces', false],
  ] as const) {
    test(`${name} is found from readings all along it`, () => {
      const columns = Float64Array.from({ length: 12 }, (_, i) => 1 + 0.3 * i);
      const curve = (x: number): number => x ** 2.6;
      const count = 1200,
        random = randomFrom(9),
        normal = normalFrom(random);
      const cell = new Int32Array(count),
        weights = new Float64Array(4 * count),
        lnRequired = new Float64Array(count);
      for (let at = 0; at < count; at++) {
        const position = 11 * random(),
          left = Math.min(10, Math.floor(position)),
          u = position - left;
        cell[at] = left;
        weights.set([1 - u, u, 0, 0], 4 * at);
        lnRequired[at] =
          Math.log(smooth ? curve(1 + 0.3 * position) : (1 - u) * curve(columns[left]) + u * curve(columns[left + 1])) + 0.005 * normal();
      }
      const lnStart = columns.map((x, i) => Math.log(curve(x)) + 0.03 * Math.sin(i));
      const solution = solveTable(
        { columns, rows: Float64Array.of(0) },
        lnStart,
        {
          count,
          cell,
          weights,
          lnRequired,
          variance: new Float64Array(count).fill(0.005 ** 2),
          film: new Float64Array(count),
          chargeFilm: new Float64Array(count),
          session: new Int32Array(count),
          visit: Int32Array.from(cell, (_, at) => at),
        },
        1,
      );
      near(solution.bendShare, smooth ? 1 : 0, 0.25);
      columns.forEach((x, i) => near(solution.lnValue[i], Math.log(curve(x)), 2.5 * solution.deviation[i], `at ${x}`));
      columns.slice(2, -1).forEach((x, i) => near(solution.lnValue[i + 2], Math.log(curve(x)), 0.006, `at ${x}`));
    });
  }
});

suite('a fuel film', () => {
  for (const [name, byFlow, byCharge] of [
    ['that stays as long at any speed', 0.15, 0],
    ['that asks nothing of a rising speed', 0, 0.2],
  ] as const) {
    test(`${name} is not laid to the cells that are driven while it grows`, () => {
      // Towards high columns the film grows, as in a pull; a third of the readings stand still.
      const plain = observe(1500, 12, false),
        random = randomFrom(13);
      const growing = plain.cell.map((cell, at) => (at % 3 === 0 ? 0 : (cell % WIDTH) * 20));
      const chargeFilm = Float64Array.from(growing, (each) => 0.001 * each * random());
      const film = Float64Array.from(growing, (each, at) => chargeFilm[at] + 0.001 * each);
      const { lnValue, deviation } = solveTable(
        GRID,
        FLAT,
        {
          ...plain,
          film,
          chargeFilm,
          lnRequired: plain.lnRequired.map((value, at) => value + byFlow * film[at] + byCharge * chargeFilm[at]),
        },
        1,
      );
      TRUTH.forEach((truth, k) => near(lnValue[k] - FLAT[0], truth, 3 * deviation[k], `cell ${k}`));
      near(Math.sqrt(TRUTH.reduce((sum, truth, k) => sum + (lnValue[k] - FLAT[0] - truth) ** 2, 0) / SIZE), 0, 0.004, 'root mean square');
    });
  }
});

suite('doubted readings', () => {
  test('a log that is stiller than stated does not make a doubted reading surer than its doubt', () => {
    // Noise a tenth of what is stated; every tenth reading is doubted by 3 % beside it, which that says nothing of.
    const still = observe(1000, 6, false);
    const random = randomFrom(7),
      normal = normalFrom(random);
    const doubted = (at: number): boolean => at % 10 === 0;
    const mixed: Observations = {
      ...still,
      lnRequired: still.lnRequired.map(() => FLAT[0] + 0.001 * normal()),
      variance: still.variance.map((value, at) => (doubted(at) ? value + 0.03 ** 2 : value)),
    };
    const { weight, noiseScale } = solveTable(GRID, FLAT, mixed, 1);
    assert.ok(noiseScale < 0.2, String(noiseScale));
    weight.forEach((each, at) => {
      if (doubted(at)) assert.ok(each <= 0.03 ** -2, `${each} of ${at}`);
    });
  });
});

suite('readings far from all others', () => {
  /**
   * The lower half of the table read well, at the value logged; then `far` at one spot of the upper edge, each ln of how far the table is
   * off there.
   */
  const solved = (far: readonly number[]) => {
    const cells = [
      ...Array.from({ length: 3 * WIDTH }, (_, k) => (k % WIDTH < WIDTH - 1 ? [k, k, k] : [])).flat(),
      ...far.map(() => SIZE - WIDTH - 2),
    ];
    const count = cells.length,
      first = count - far.length;
    const { trust, lnValue, deviation } = solveTable(
      GRID,
      FLAT,
      {
        count,
        cell: Int32Array.from(cells),
        weights: Float64Array.from(cells.flatMap((_, at) => (at < first ? [1, 0, 0, 0] : [0, 0, 0.2, 0.8]))),
        lnRequired: Float64Array.from(cells, (_, at) => FLAT[0] + (at < first ? 0.001 * ((at % 3) - 1) : far[at - first])),
        variance: new Float64Array(count).fill(0.004 ** 2),
        film: new Float64Array(count),
        chargeFilm: new Float64Array(count),
        session: new Int32Array(count),
        visit: Int32Array.from({ length: count }, (_, at) => at),
      },
      1,
    );
    return { trust: trust.slice(first), there: lnValue[SIZE - 1] - FLAT[0], deviation: deviation[SIZE - 1] };
  };

  test('are believed where nothing but smoothness speaks against them', () => {
    const { trust, there, deviation } = solved([0.1, 0.102, 0.098, 0.1]);
    for (const each of trust) assert.ok(each > 0.8, trust.join(' '));
    near(there, 0.1, 2 * deviation);
  });

  test('and not where others at the same spot do', () => {
    const { trust, there } = solved([0.001, -0.001, 0, 0.1, 0.001, 0]);
    assert.ok(trust[3] < 0.1, trust.join(' '));
    near(there, 0, 0.01);
  });
});

suite('what may be called proven', () => {
  // Worked on paper: four readings at u = ½ between two cells, all needing 1.10. Any pair with mean 1.10 fits; the smallest change is 1.10
  // and 1.10.
  const grid: Grid = { columns: Float64Array.of(1000, 2000), rows: Float64Array.of(0) };
  const spot = (u: readonly number[]): Observations => ({
    count: u.length,
    cell: new Int32Array(u.length),
    weights: Float64Array.from(u.flatMap((each) => [1 - each, each, 0, 0])),
    lnRequired: new Float64Array(u.length).fill(Math.log(1.1)),
    variance: new Float64Array(u.length).fill(0.003 ** 2),
    film: new Float64Array(u.length),
    chargeFilm: new Float64Array(u.length),
    session: new Int32Array(u.length),
    visit: Int32Array.from(u.keys()),
  });

  test('two rows known by their middle only are told apart the less, the steeper the table is seen to be along them', () => {
    // The upper two rows are read half-way between them, at every column; below, on every cell. A spot of 12 % stands on one column.
    const height = GRID.rows.length,
      spotAt = 3,
      rowsRead = [0, 1, 2, 3];
    const own = (spot: number): number => {
      const cells = rowsRead
        .flatMap((row) => Array.from({ length: WIDTH - 1 }, (_, column) => row * WIDTH + column))
        .flatMap((cell) => [cell, cell, cell, cell]);
      const half = (cell: number): boolean => Math.floor(cell / WIDTH) === height - 2;
      const { ownDeviation } = solveTable(
        GRID,
        FLAT,
        {
          count: cells.length,
          cell: Int32Array.from(cells),
          weights: Float64Array.from(cells.flatMap((cell) => (half(cell) ? [0.5, 0, 0.5, 0] : [1, 0, 0, 0]))),
          lnRequired: Float64Array.from(cells, (cell) => FLAT[0] + (cell % WIDTH === spotAt && half(cell) ? spot : 0)),
          variance: new Float64Array(cells.length).fill(0.002 ** 2),
          film: new Float64Array(cells.length),
          chargeFilm: new Float64Array(cells.length),
          session: new Int32Array(cells.length),
          visit: Int32Array.from(cells.keys()),
        },
        1,
      );
      return ownDeviation[(height - 1) * WIDTH + spotAt];
    };
    assert.ok(own(0.12) > 1.3 * own(0) && 1.96 * own(0.12) > 0.03, `${own(0.12)} and ${own(0)}`);
  });

  test('four readings at one spot between two cells: both 1.10, neither proven by itself', () => {
    const { lnValue, ownDeviation } = solveTable(grid, new Float64Array(2), spot([0.5, 0.5, 0.5, 0.5]), 1);
    lnValue.forEach((value) => near(Math.exp(value), 1.1, 2e-3));
    ownDeviation.forEach((value) => assert.ok(1.96 * value > FIRM_OWN_HALF_WIDTH, String(value)));
  });

  test('nor by a thousand of them that tremble by a hundredth of a step', () => {
    const { ownDeviation } = solveTable(
      grid,
      new Float64Array(2),
      spot(Array.from({ length: 1000 }, (_, at) => 0.5 + 0.01 * Math.sin(at))),
      1,
    );
    ownDeviation.forEach((value) => assert.ok(1.96 * value > FIRM_OWN_HALF_WIDTH, String(value)));
  });

  test('nor in the middle of a table of two dimensions', () => {
    const here = 2 * WIDTH + 2;
    const four = { ...spot([0.5, 0.5, 0.5, 0.5]), cell: new Int32Array(4).fill(here) };
    const { lnValue, ownDeviation } = solveTable(GRID, new Float64Array(SIZE), four, 1);
    for (const cell of [here, here + 1]) {
      near(Math.exp(lnValue[cell]), 1.1, 0.01);
      assert.ok(1.96 * ownDeviation[cell] > FIRM_OWN_HALF_WIDTH, String(ownDeviation[cell]));
    }
  });

  test('readings at both cells prove both', () => {
    const { lnValue, ownDeviation } = solveTable(grid, new Float64Array(2), spot([0, 0, 0, 0, 1, 1, 1, 1]), 1);
    lnValue.forEach((value) => near(Math.exp(value), 1.1, 2e-3));
    ownDeviation.forEach((value) => assert.ok(1.96 * value < 0.02, String(value)));
  });

  for (const quick of [false, true]) {
    test(`a spot counts for no more than what its readings share (0.003), and each for itself${quick ? ', quickly too' : ''}`, () => {
      const { weight } = solveTable(grid, new Float64Array(2), spot(Array.from({ length: 2000 }, (_, at) => at % 2)), 1, quick);
      for (const side of [0, 1]) {
        const whole = weight.reduce((sum, each, at) => sum + (at % 2 === side ? each : 0), 0) * 0.003 ** 2;
        assert.ok(whole > 0.9 && whole <= 1.001, String(whole));
      }
    });
  }
});
