// One blind trial: a car and a drive that a seed draws, weighed by the product, scored against the truth that only the simulator knows.

import {
  CAR_KINDS,
  delayAtFlow,
  makeCar,
  randomOf,
  seconds,
  simulateDrive,
  vehicleFolder,
  type Car,
  type CarKind,
  type Drive,
  type DriverStyle,
} from '../simulator/index.js';
import { middleFlowGPerS, steady } from '../simulator/truth.js';
import { spreadsheetAverage } from './spreadsheetAverage.js';
import { weighFolder, type WeighResult } from './weighFolder.js';

/** A cell is visited after a second of steady use, well visited after this much (bilinear shares count as shares). */
export const VISITED_S = 1,
  WELL_VISITED_S = 8;

export interface Trial {
  readonly kind: CarKind;
  readonly seed: number;
  readonly style: DriverStyle;
  /** One entry a visited cell that got a factor: errors relative to the true factor. */
  readonly errors: readonly number[];
  readonly averageErrors: readonly number[];
  readonly visited: number;
  readonly answered: number;
  readonly covered: number;
  readonly wellVisited: number;
  readonly wellVisitedFirm: number;
  readonly firm: number;
  /** The largest error of a firm cell, and how many are wrong by more than 3 %. */
  readonly worstFirm: number;
  readonly firmWrong: number;
  /** Each of them in words. */
  readonly wrongCells: readonly string[];
  /**
   * Estimated minus true delay at the middle flow: against the whole delay, and against the part up to the gas at the sensor. NaN without a
   * wideband sensor.
   */
  readonly delayErrorS: number;
  readonly gasDelayErrorS: number;
}

export interface TrialOptions {
  readonly minutes?: number;
  readonly car?: Partial<Car>;
}

/** Seconds of steady use by cell; where only trims speak, only closed-loop use counts. */
function use(drive: Drive): Float64Array {
  if (drive.car.ecu.closedLoop !== 'switching') return seconds(drive);
  const open = drive.truth.cut.map((cut, i) =>
    cut || !steady(drive, i) || drive.channels.get('short-term-fuel-trim')!.values[i] === 0 ? 1 : 0,
  );
  return seconds({ ...drive, truth: { ...drive.truth, cut: open } });
}

const atFlow = (points: readonly (readonly [number, number])[], flow: number, otherwise: number): number => {
  const sorted = [...points].sort((a, b) => a[0] - b[0]);
  if (sorted.length === 0) return otherwise;
  const after = sorted.findIndex(([at]) => at >= flow);
  if (after <= 0) return sorted[after < 0 ? sorted.length - 1 : 0][1];
  const [[x0, y0], [x1, y1]] = [sorted[after - 1], sorted[after]];
  return y0 + ((y1 - y0) * (flow - x0)) / (x1 - x0);
};

/** Scores a weighing of a drive. */
export function scoreWeighing(drive: Drive, result: WeighResult, style: DriverStyle): Trial {
  const used = use(drive),
    average = spreadsheetAverage(drive),
    { factor: truth } = drive.truth,
    width = drive.truth.fuelTable.columns.length;
  const errors: number[] = [],
    averageErrors: number[] = [],
    wrongCells: string[] = [];
  const { columns, rows } = drive.truth.fuelTable;
  let visited = 0,
    covered = 0,
    wellVisited = 0,
    wellVisitedFirm = 0,
    firm = 0,
    worstFirm = 0,
    firmWrong = 0;
  for (const cell of result.cells) {
    const i = cell.row * width + cell.column;
    if (cell.proof === 'firm') {
      const error = Math.abs(cell.factor! / truth[i] - 1);
      firm++;
      worstFirm = Math.max(worstFirm, error);
      if (error > 0.03) {
        firmWrong++;
        wrongCells.push(
          `${columns[cell.column]} × ${rows[cell.row]}: ${cell.factor!.toFixed(3)} (${cell.factorLow!.toFixed(3)} to ${cell.factorHigh!.toFixed(3)}) for ${truth[i].toFixed(3)}, ${used[i].toFixed(1)} s of use`,
        );
      }
    }
    if (used[i] >= WELL_VISITED_S) {
      wellVisited++;
      if (cell.proof === 'firm') wellVisitedFirm++;
    }
    if (used[i] < VISITED_S) continue;
    visited++;
    if (cell.factor === null) continue;
    errors.push(cell.factor / truth[i] - 1);
    if (!Number.isNaN(average[i])) averageErrors.push(average[i] / truth[i] - 1);
    if (cell.factorLow! <= truth[i] && truth[i] <= cell.factorHigh!) covered++;
  }
  const flow = middleFlowGPerS(drive),
    delay = delayAtFlow(drive, flow),
    [found] = result.transportDelay;
  const seconds = drive.channels.has('lambda') ? atFlow(found.byFlow, flow, found.medianS) : NaN;
  return {
    kind: drive.car.kind,
    seed: drive.seed,
    style,
    errors,
    averageErrors,
    visited,
    answered: errors.length,
    covered,
    wellVisited,
    wellVisitedFirm,
    firm,
    worstFirm,
    firmWrong,
    wrongCells,
    delayErrorS: seconds - delay.wholeS,
    gasDelayErrorS: seconds - delay.gasS,
  };
}

/** Draws, drives, weighs and scores. */
export function blindTrial(kind: CarKind, seed: number, { minutes, car: change }: TrialOptions = {}): Trial {
  const random = randomOf(seed).fork('trial'),
    style = random.pick(['mixed', 'mixed', 'street', 'track', 'dyno'] as const);
  const start = random.pick(['warm', 'warm', 'tepid', 'cold'] as const),
    lengthMinutes = minutes ?? random.between(10, 18);
  const car = makeCar(kind, seed, {
    ...(kind === 'natural' && random.chance(0.3) ? { fuelTableQuantity: random.pick(['fuel-mass', 'injector-pulse-width'] as const) } : {}),
    ...change,
  });
  const drive = simulateDrive({ car, seed, minutes: lengthMinutes, driver: kind === 'obd' && style === 'dyno' ? 'street' : style, start });
  return scoreWeighing(drive, weighFolder(vehicleFolder([drive])), style);
}

export interface Summary {
  readonly trials: number;
  readonly visited: number;
  readonly answered: number;
  readonly rms: number;
  readonly averageRms: number;
  readonly ratio: number;
  readonly coverage: number;
  readonly firmWrong: number;
  readonly worstFirm: number;
  readonly wellVisitedFirm: number;
  readonly delayErrorS: number;
  readonly gasDelayErrorS: number;
  readonly delayWithin: number;
}

const rms = (all: readonly number[]): number => Math.sqrt(all.reduce((sum, x) => sum + x * x, 0) / all.length);
const sumOf = (trials: readonly Trial[], pick: (trial: Trial) => number): number => trials.reduce((sum, trial) => sum + pick(trial), 0);

/** All trials together: every visited cell counts once. */
export function summaryOf(trials: readonly Trial[]): Summary {
  const own = rms(trials.flatMap((trial) => trial.errors)),
    average = rms(trials.flatMap((trial) => trial.averageErrors));
  const delays = trials.filter((trial) => !Number.isNaN(trial.delayErrorS));
  const better = (trial: Trial): number => Math.min(Math.abs(trial.delayErrorS), Math.abs(trial.gasDelayErrorS));
  return {
    trials: trials.length,
    visited: sumOf(trials, (t) => t.visited),
    answered: sumOf(trials, (t) => t.answered),
    rms: own,
    averageRms: average,
    ratio: own / average,
    coverage: sumOf(trials, (t) => t.covered) / sumOf(trials, (t) => t.answered),
    firmWrong: sumOf(trials, (t) => t.firmWrong),
    worstFirm: Math.max(...trials.map((t) => t.worstFirm)),
    wellVisitedFirm: sumOf(trials, (t) => t.wellVisitedFirm) / sumOf(trials, (t) => t.wellVisited),
    delayErrorS: rms(delays.map((t) => t.delayErrorS)),
    gasDelayErrorS: rms(delays.map((t) => t.gasDelayErrorS)),
    delayWithin: delays.filter((t) => better(t) <= 0.025).length / delays.length,
  };
}

const percent = (x: number, digits = 1): string => (Number.isFinite(x) ? `${(100 * x).toFixed(digits)} %` : '—');
const ms = (x: number): string => (Number.isFinite(x) ? `${(1000 * x).toFixed(0)} ms` : '—');

/** A table, a line a car type and one for all. */
export function tableOf(trials: readonly Trial[]): string {
  const line = (cells: readonly string[]): string => cells.map((cell, i) => (i === 0 ? cell.padEnd(14) : cell.padStart(10))).join('');
  const row = (name: string, of: readonly Trial[]): string => {
    const s = summaryOf(of);
    return line([
      name,
      String(s.trials),
      String(s.visited),
      percent(s.answered / s.visited, 0),
      percent(s.rms, 2),
      percent(s.averageRms, 2),
      s.ratio.toFixed(2),
      percent(s.coverage),
      String(s.firmWrong),
      percent(s.worstFirm),
      percent(s.wellVisitedFirm, 0),
      ms(s.delayErrorS),
      ms(s.gasDelayErrorS),
    ]);
  };
  return [
    line([
      'car',
      'drives',
      'cells',
      'answered',
      'rms',
      'average',
      'ratio',
      'covered',
      '> 3 %',
      'worst firm',
      'well firm',
      'delay rms',
      'gas part',
    ]),
    ...CAR_KINDS.filter((kind) => trials.some((trial) => trial.kind === kind)).map((kind) =>
      row(
        kind,
        trials.filter((trial) => trial.kind === kind),
      ),
    ),
    row('all', trials),
  ].join('\n');
}
