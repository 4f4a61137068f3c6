// The tables inside the simulated engine computer: breakpoints, values, look-up, planted errors, and their text as `*.table.csv`.

import type { Random } from './random.js';

/** Values row by row; a one-dimensional grid has one row. */
export interface Grid {
  readonly columns: readonly number[];
  readonly rows: readonly number[];
  readonly values: Float64Array;
}

/** A grid filled from a function of its breakpoints. */
export const gridOf = (columns: readonly number[], rows: readonly number[], value: (column: number, row: number) => number): Grid => ({
  columns,
  rows,
  values: Float64Array.from(rows.flatMap((row) => columns.map((column) => value(column, row)))),
});

/** Index of the breakpoint below and the way to the next one; the edge is held. */
function place(axis: readonly number[], x: number): [index: number, part: number] {
  const last = axis.length - 1;
  if (last === 0 || !(x > axis[0])) return [0, 0];
  if (x >= axis[last]) return [last - 1, 1];
  let low = 0,
    high = last;
  while (high - low > 1) {
    const mid = (low + high) >> 1;
    if (axis[mid] <= x) low = mid;
    else high = mid;
  }
  return [low, (x - axis[low]) / (axis[high] - axis[low])];
}

/** What an engine computer reads from a table: bilinear between breakpoints, held outside. */
export function read(grid: Grid, x: number, y: number): number {
  const [c, u] = place(grid.columns, x),
    [r, v] = place(grid.rows, y);
  const width = grid.columns.length,
    at = r * width + c,
    right = u > 0 ? 1 : 0,
    down = v > 0 ? width : 0;
  const top = grid.values[at] * (1 - u) + grid.values[at + right] * u;
  const bottom = grid.values[at + down] * (1 - u) + grid.values[at + down + right] * u;
  return top * (1 - v) + bottom * v;
}

/** The (up to four) cells that a reading comes from, with their shares. */
export function shares(grid: Grid, x: number, y: number): { cell: number; share: number }[] {
  const [c, u] = place(grid.columns, x),
    [r, v] = place(grid.rows, y),
    width = grid.columns.length;
  const all: { cell: number; share: number }[] = [];
  for (const [dr, wr] of [
    [0, 1 - v],
    [1, v],
  ])
    for (const [dc, wc] of [
      [0, 1 - u],
      [1, u],
    ]) {
      if (wr * wc > 0) all.push({ cell: (r + dr) * width + c + dc, share: wr * wc });
    }
  return all;
}

export interface ErrorBump {
  readonly column: number;
  readonly row: number;
  readonly widthColumns: number;
  readonly widthRows: number;
  readonly size: number;
}

/**
 * A table with errors planted: a broad swing of a few percent and local bumps of ±3 to ±12 %.
 * Sizes are relative; a bump of −0.08 makes the table 8 % too small there (the engine runs lean).
 */
export function plantErrors(
  grid: Grid,
  random: Random,
  options: { bumps?: readonly ErrorBump[]; swing?: number; digits?: number } = {},
): Grid {
  const { columns, rows } = grid,
    digits = options.digits ?? 1,
    swing = options.swing ?? random.between(0.01, 0.04);
  const phases = [0, 1, 2].map(() => random.between(0, 2 * Math.PI));
  const bumps =
    options.bumps ??
    Array.from({ length: random.whole(2, 5) }, () => ({
      column: random.between(0, columns.length - 1),
      row: random.between(0, rows.length - 1),
      widthColumns: random.between(1, 2.5),
      widthRows: random.between(1, 2.5),
      size: random.between(0.03, 0.12) * (random.chance(0.5) ? 1 : -1),
    }));
  const values = Float64Array.from(grid.values, (value, i) => {
    const c = i % columns.length,
      r = Math.floor(i / columns.length);
    const u = c / Math.max(1, columns.length - 1),
      v = r / Math.max(1, rows.length - 1);
    let error = swing * (Math.sin(3.1 * u + phases[0]) + 0.6 * Math.sin(2.6 * v + phases[1]) + 0.5 * Math.sin(4 * u * v + phases[2]));
    for (const bump of bumps) {
      error +=
        bump.size *
        Math.exp(-0.5 * (((c - bump.column) / bump.widthColumns) ** 2 + (rows.length > 1 ? ((r - bump.row) / bump.widthRows) ** 2 : 0)));
    }
    error = Math.max(-0.15, Math.min(0.15, error));
    return Number((value * (1 + error)).toFixed(digits));
  });
  return { columns, rows, values };
}

export interface TableText {
  readonly quantity: string;
  readonly columns: string;
  readonly rows?: string;
  readonly notes?: readonly string[];
  readonly digits: number;
}

/** A grid as the text of a `*.table.csv`, aligned as a careful person would. */
export function toTableCsv(grid: Grid, { quantity, columns, rows, notes = [], digits }: TableText): string {
  const head = [
    ...notes.map((note) => `# ${note}`),
    `# quantity: ${quantity}`,
    `# columns: ${columns}`,
    ...(rows ? [`# rows: ${rows}`] : []),
  ];
  const whole = (x: number): string => (Number.isInteger(x) ? String(x) : String(Number(x.toFixed(3))));
  const width = Math.max(...grid.columns.map((x) => whole(x).length), ...Array.from(grid.values, (x) => x.toFixed(digits).length));
  const headWidth = Math.max(3, ...grid.rows.map((y) => whole(y).length));
  const line = (first: string, cells: string[]): string =>
    `${first.padStart(headWidth)} , ${cells.map((cell) => cell.padStart(width)).join(', ')}`;
  const lines = [
    line('', grid.columns.map(whole)),
    ...grid.rows.map((y, r) =>
      line(
        grid.rows.length > 1 ? whole(y) : '',
        grid.columns.map((_, c) => grid.values[r * grid.columns.length + c].toFixed(digits)),
      ),
    ),
  ];
  return `${[...head, ...lines].join('\n')}\n`;
}
