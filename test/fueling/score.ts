// Scores the verdicts on driven cars against the known truth, and against the average that a spreadsheet gives.

import type { Evidence } from '../../server/src/fueling/evidence.js';
import { gridOf, positionOn } from '../../server/src/fueling/solution/grid.js';
import type { Drive } from './tinyEngine.js';

export interface Score {
  readonly visited: number;
  readonly rms: number;
  readonly averageRms: number;
  readonly coverage: number;
  readonly firmOfWellVisited: number;
  readonly worstFirm: number;
  readonly delayErrorS: number;
}

const FIXED_DELAY_S = 0.15;

/** `evidence` on the drives' table, which each was driven with. */
export const scoreOf = (drives: readonly Drive[], evidence: Evidence): Score => {
  const { table, truth } = drives[0];
  const grid = gridOf(table);
  const width = grid.columns.length;
  const size = table.values.length;
  const near = new Float64Array(size);
  const sums = new Float64Array(size);
  for (const { signals, flowGPerS } of drives) {
    const x = signals.held(table.columns.quantity!)!;
    const y = table.rows.canonical.length > 1 ? signals.held(table.rows.quantity!)! : undefined;
    const lambda = signals.held('lambda');
    const target = signals.held('target-lambda');
    const short = signals.held('short-term-fuel-trim');
    const long = signals.held('long-term-fuel-trim');
    const back = Math.round(FIXED_DELAY_S / signals.stepS);
    for (let row = back; row < x.length; row++) {
      const c = positionOn(grid.columns, x[row - back]);
      const r = y ? positionOn(grid.rows, y[row - back]) : 0;
      const ratio =
        (lambda && target ? lambda[row] / target[row - back] : 1) *
        (1 + (short?.[row - back] ?? 0) / 100) *
        (1 + (long?.[row - back] ?? 0) / 100);
      if (Number.isNaN(c + r + ratio) || (lambda && lambda[row] > 1.35) || flowGPerS[row] < 0.5) continue;
      const cell = Math.round(r) * width + Math.round(c);
      near[cell]++;
      sums[cell] += ratio;
    }
  }
  const rate = 1 / drives[0].signals.stepS;
  let [visited, square, averageSquare, held, well, firm, worstFirm] = [0, 0, 0, 0, 0, 0, 0];
  for (let cell = 0; cell < size; cell++) {
    const { factor, factorLow, factorHigh, proof, samples } = evidence.cells[cell];
    const right = truth[cell] / table.values[cell];
    if (proof === 'firm') worstFirm = Math.max(worstFirm, Math.abs(factor / right - 1));
    if (near[cell] < 1 * rate || Number.isNaN(factor) || samples < 5) continue;
    visited++;
    square += (factor - right) ** 2;
    averageSquare += (sums[cell] / near[cell] - right) ** 2;
    if (factorLow <= right && right <= factorHigh) held++;
    if (near[cell] > 4 * rate) {
      well++;
      if (proof === 'firm') firm++;
    }
  }
  const flow = drives[0].flowGPerS;
  const middle = [...flow].sort((a, b) => a - b)[flow.length >> 1];
  const at = evidence.sessions[0].transportDelay.byFlow;
  const estimated = ((): number => {
    const next = at.findIndex(([f]) => f >= middle);
    if (next <= 0) return at.length ? at[Math.max(0, next)][1] : NaN;
    const [[f0, s0], [f1, s1]] = [at[next - 1], at[next]];
    return s0 + ((s1 - s0) * (middle - f0)) / (f1 - f0);
  })();
  const trueDelays = [...drives[0].delayS].filter((_, row) => Math.abs(flow[row] / middle - 1) < 0.1).sort((a, b) => a - b);
  return {
    visited,
    rms: Math.sqrt(square / visited),
    averageRms: Math.sqrt(averageSquare / visited),
    coverage: held / visited,
    firmOfWellVisited: firm / well,
    worstFirm,
    delayErrorS: estimated - trueDelays[trueDelays.length >> 1],
  };
};
