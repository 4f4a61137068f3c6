// What the cell rules share: whether a cell is under load, and its evidence in plain words.

import { formatNumber } from '../quantities/format.js';
import { limitOf } from '../formats/limits.js';
import type { Table } from '../formats/table/table.js';
import type { CellEvidence, Evidence, Moment } from '../fueling/evidence.js';
import { vehicleFuel } from '../formats/vehicle/vehicleFuel.js';
import { commonCause, commonCauseWords } from '../fueling/doubts/commonCause.js';
import { tableAssumedWords } from '../fueling/doubts/tableAssumed.js';
import type { Finding, Related, Severity, TableSubject } from './finding.js';

const MOST_RELATED = 3;
/** Another value than this makes no other lambda in two digits. */
export const SAME_VALUE = 0.005;

/** Whether the engine works hard in the cell: by the pressure or throttle of its axes, else by the pressure its readings were taken at. */
export const isUnderLoad = ({ table, vehicle }: TableSubject, row: number, column: number, cell?: CellEvidence): boolean => {
  const set = vehicle?.vehicle.limits ?? {};
  const at = (quantity: 'manifold-pressure' | 'throttle'): number | undefined =>
    table.columns.quantity === quantity
      ? table.columns.canonical[column]
      : table.rows.quantity === quantity
        ? table.rows.canonical[row]
        : undefined;
  const pressureKPa = at('manifold-pressure') ?? (cell && !Number.isNaN(cell.manifoldPressureKPa) ? cell.manifoldPressureKPa : undefined);
  if (pressureKPa !== undefined) return pressureKPa >= limitOf('loadManifoldPressureKPa', set).value;
  const throttlePercent = at('throttle');
  return throttlePercent !== undefined && throttlePercent >= limitOf('loadThrottlePercent', set).value;
};

/**
 * Whether the whole 95 % interval of a loaded cell lies so far on the lean side that a reading there would be a warning: no more pulls,
 * however few the samples.
 */
export const isFarLean = (subject: TableSubject, cell: CellEvidence): boolean =>
  cell.proof !== 'none' &&
  isUnderLoad(subject, cell.row, cell.column, cell) &&
  cell.targetLambda * (cell.factorLow - 1) >= limitOf('leanUnderLoadWarning', subject.vehicle?.vehicle.limits ?? {}).value;

/**
 * The leanest readings at a loaded cell without proof, taken with the table's values of now, where they lie beyond a warning's limit and
 * its interval does not leave it out:
 * what its neighbours say of it does not make the engine safer there. `isError`: beyond an error's limit.
 */
export const seenLean = (subject: TableSubject, cell: CellEvidence): { readonly moment: Moment; readonly isError: boolean } | undefined => {
  const set = subject.vehicle?.vehicle.limits ?? {},
    warning = limitOf('leanUnderLoadWarning', set).value;
  if (cell.proof !== 'thin' || !isUnderLoad(subject, cell.row, cell.column, cell) || cell.targetLambda * (cell.factorHigh - 1) < warning)
    return undefined;
  const moment = cell.moments.find(
    ({ lambda, targetLambda, loggedOverNow }) => lambda - targetLambda >= warning && Math.abs(loggedOverNow - 1) < SAME_VALUE,
  );
  return moment && { moment, isError: moment.lambda - moment.targetLambda >= limitOf('leanUnderLoad', set).value };
};

/**
 * `8.1 % (95 % interval 6.2 to 10.0 %; firm: 134 samples worth 21 independent)`, or `thin: told by its neighbours)`; for more fuel or for
 * less.
 */
export const shareText = ({ factor, factorLow, factorHigh, proof, samples, effectiveSamples }: CellEvidence): string => {
  const sign = factor >= 1 ? 1 : -1;
  const percent = (value: number): string => formatNumber(100 * sign * (value - 1), 1);
  const [from, to] = sign > 0 ? [factorLow, factorHigh] : [factorHigh, factorLow];
  const shown = Math.round(samples);
  // A weight of evidence reaches a cell from its neighbours too; words never make more of it than there are samples.
  const own =
    shown < 1
      ? 'told by its neighbours'
      : `${shown} ${shown === 1 ? 'sample' : 'samples'} worth ${Math.max(1, Math.min(shown, Math.round(effectiveSamples)))} independent`;
  return `${percent(factor)} % (95 % interval ${percent(from)} to ${percent(to)} %; ${proof}: ${own})`;
};

/** `λ 0.93 measured, λ 0.86 asked for`, and the trims where they hide it. */
export const measuredText = ({ measuredLambda, loggedOverNow, targetLambda, trimmed, factor }: CellEvidence): string => {
  // A cell may also be further off than its readings, which lie between it and its neighbours, or than the table that they were logged
  // with.
  const lnFactor = Math.log(factor),
    hidden = Math.abs(Math.log(measuredLambda / targetLambda)) < 0.5 * Math.abs(lnFactor) && Math.log1p(trimmed) / lnFactor > 0.5;
  return `λ ${formatNumber(measuredLambda, 2)} measured${Math.abs(loggedOverNow - 1) < SAME_VALUE ? '' : ', reckoned for the table as it is now'}, λ ${formatNumber(targetLambda, 2)} asked for${hidden ? '; the fuel trims make up the difference' : ''}`;
};

/** The worst moments as places in their sessions. */
export const worstMoments = ({ sessions }: Evidence, { moments, targetLambda }: CellEvidence): Related[] =>
  moments.slice(0, MOST_RELATED).flatMap(({ session, line, lambda, timeS }) => {
    const file = sessions[session]?.session;
    return file
      ? [
          {
            file,
            range: { start: { line, character: 0 }, end: { line, character: 0 } },
            message: `λ ${formatNumber(lambda, 2)} at ${formatNumber(timeS, 1)} s (target on average ${formatNumber(targetLambda, 2)})`,
          },
        ]
      : [];
  });

/** What machines are told of a cell. */
const DATA = [
  'row',
  'column',
  'value',
  'factor',
  'factorLow',
  'factorHigh',
  'proof',
  'samples',
  'effectiveSamples',
  'measuredLambda',
  'targetLambda',
  'suggested',
] as const satisfies readonly (keyof CellEvidence)[];

export const dataOf = (cell: CellEvidence): Record<string, unknown> => Object.fromEntries(DATA.map((key) => [key, cell[key]]));

/**
 * What the proven cells have in common, and which table they are taken to be logged with where nothing says so, told once: with the worst
 * of their findings.
 */
export const causeTold = (subject: TableSubject, findings: readonly Finding[]): readonly Finding[] => {
  const evidence = judged(subject);
  if (!evidence || findings.length === 0) return findings;
  const cause = commonCause(subject.table, evidence);
  const SEVERITIES: readonly Severity[] = ['error', 'warning', 'information', 'hint'],
    worst = SEVERITIES.map((severity) => findings.find((finding) => finding.severity === severity)).find((finding) => finding);
  const words = [cause && commonCauseWords(cause, subject.vehicle && vehicleFuel(subject.vehicle.vehicle)), tableAssumedWords(evidence)]
    .filter((each) => each !== undefined)
    .join(' ');
  if (words === '') return findings;
  return findings.map((finding) => (finding === worst ? { ...finding, message: `${finding.message} ${words}` } : finding));
};

/** Evidence of a fuel table whose cells can be told apart; undefined where there is nothing to say. */
export const judged = ({ table, evidence }: { table: Table; evidence: Evidence | undefined }): Evidence | undefined =>
  evidence && evidence.cells.length === table.values.length ? evidence : undefined;
