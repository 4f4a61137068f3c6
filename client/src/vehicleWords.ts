// What the view of the vehicles says, in the reader's language and with the reader's decimal sign.

import { env, l10n } from 'vscode';
import type {
  CellNode,
  FindingCounts,
  PullNode,
  RecordingNode,
  SessionNode,
  TableNode,
  VehicleNode,
} from '../../server/src/protocol/vehicle.js';

const format = (decimals: number): Intl.NumberFormat => {
  const options = { minimumFractionDigits: decimals, maximumFractionDigits: decimals, useGrouping: false };
  try {
    return new Intl.NumberFormat(env.language, options);
  } catch {
    return new Intl.NumberFormat('en', options);
  }
};
const formats = [0, 1, 2].map(format);
/** With the reader's decimal sign: for the eye, never for a file. */
export const number = (value: number, decimals: 0 | 1 | 2 = 0): string => formats[decimals]!.format(value);

const lambda = (value: number): string => `λ ${number(value, 2)}`;
const listed = (parts: readonly (string | undefined)[]): string => parts.filter((part) => part).join(', ');
const counted = (count: number, one: string, many: string): string => (count === 1 ? one : many);

/** `3 errors, 1 warning`; empty where there are none. Notes are told only where nothing worse was found. */
export function findingWords({ errors, warnings, notes }: FindingCounts): string {
  return listed([
    errors > 0 ? counted(errors, l10n.t('1 error'), l10n.t('{0} errors', errors)) : undefined,
    warnings > 0 ? counted(warnings, l10n.t('1 warning'), l10n.t('{0} warnings', warnings)) : undefined,
    errors + warnings === 0 && notes > 0 ? counted(notes, l10n.t('1 note'), l10n.t('{0} notes', notes)) : undefined,
  ]);
}

const sessionsWords = (count: number): string => counted(count, l10n.t('1 session'), l10n.t('{0} sessions', count));
const tablesWords = (count: number): string => counted(count, l10n.t('1 table'), l10n.t('{0} tables', count));
const pullsWords = (count: number): string =>
  count === 0 ? l10n.t('no pulls') : counted(count, l10n.t('1 pull'), l10n.t('{0} pulls', count));

export const vehicleWords = ({ sessions, tables, findings }: VehicleNode): string =>
  listed([findingWords(findings), sessionsWords(sessions), tablesWords(tables)]);

const lengthWords = (seconds: number): string =>
  seconds < 60 ? l10n.t('{0} s', number(seconds)) : l10n.t('{0} min', number(seconds / 60, seconds < 600 ? 1 : 0));

export const sessionWords = ({ read }: SessionNode): string =>
  read ? listed([findingWords(read.findings), pullsWords(read.pulls), lengthWords(read.durationS)]) : l10n.t('being read');

export const recordingLabel = ({ number: count }: RecordingNode): string => l10n.t('Recording {0}', count);
export const recordingWords = ({ fromS, toS, pulls }: RecordingNode): string =>
  listed([pullsWords(pulls.length), l10n.t('{0} to {1} s', number(fromS, 1), number(toS, 1))]);

export const pullLabel = ({ number: count }: PullNode): string => l10n.t('Pull {0}', count);

/**
 * `lean for 2.0 s: λ 0.97 (target 0.83) at 4520 rpm, 160 kPa, 43.05 s; 3000 to 6000 rpm`: the worst first, for a narrow view shows the
 * beginning.
 */
export function pullWords({ worst, leanS, peakManifoldPressureKPa, fromRpm, toRpm }: PullNode): string {
  const span = l10n.t('{0} to {1} rpm', number(fromRpm), number(toRpm));
  if (!worst)
    return listed([
      l10n.t('no mixture reading to believe'),
      span,
      peakManifoldPressureKPa === undefined ? undefined : l10n.t('up to {0} kPa', number(peakManifoldPressureKPa)),
    ]);
  const mixture =
    worst.targetLambda === undefined
      ? lambda(worst.lambda)
      : l10n.t('{0} (target {1})', lambda(worst.lambda), number(worst.targetLambda, 2));
  const moment = listed([
    worst.rpm === undefined ? mixture : l10n.t('{0} at {1} rpm', mixture, number(worst.rpm)),
    worst.manifoldPressureKPa === undefined ? undefined : l10n.t('{0} kPa', number(worst.manifoldPressureKPa)),
    l10n.t('{0} s', number(worst.timeS, 2)),
  ]);
  return `${leanS ? l10n.t('lean for {0} s', number(leanS, 1)) : l10n.t('worst')}: ${moment}; ${span}`;
}

const ROLE_WORDS: Record<TableNode['role'], () => string | undefined> = {
  fuel: () => l10n.t('fuel table'),
  target: () => l10n.t('target table'),
  earlier: () => l10n.t('earlier state'),
  other: () => undefined,
};
/** `2 errors, cells: 41 firm, 12 thin, 203 without proof, fuel table`. */
export const tableWords = ({ role, proof, findings }: TableNode): string =>
  listed([
    findings && findingWords(findings),
    proof && l10n.t('cells: {0} firm, {1} thin, {2} without proof', proof.firm, proof.thin, proof.none),
    ROLE_WORDS[role](),
  ]);

export const proofLabel = (proof: CellNode['proof'] | 'none'): string =>
  ({ firm: l10n.t('Firm'), thin: l10n.t('Thin evidence'), none: l10n.t('No evidence') })[proof];
export const cellsWords = (count: number): string => counted(count, l10n.t('1 cell'), l10n.t('{0} cells', count));

/** `8.1 % lean, λ 1.03, target 0.95`. A cell that is within its interval of right is said to be so. */
export function cellNodeWords({ factor, factorLow, factorHigh, measuredLambda, targetLambda }: CellNode): string {
  const percent = number(Math.abs(factor - 1) * 100, 1);
  const verdict =
    factorLow <= 1 && factorHigh >= 1
      ? l10n.t('right within what is known')
      : factor > 1
        ? l10n.t('{0} % lean', percent)
        : l10n.t('{0} % rich', percent);
  return Number.isFinite(measuredLambda) && Number.isFinite(targetLambda)
    ? listed([verdict, lambda(measuredLambda), l10n.t('target {0}', number(targetLambda, 2))])
    : verdict;
}
