// Rows fuelled while a cylinder seems to miss, or while the banks contradict each other: what is read of them is no word of the table's,
// for more fuel or for less.

import { limitOf } from '../../formats/limits.js';
import { banksApart } from '../../signals/mixture/banksApart.js';
import { crossedSensors } from '../../signals/mixture/crossedSensors.js';
import { GOES_ON_S, missesOf } from '../../signals/mixture/misfire.js';
import { operatingOf } from '../../signals/drive/operating.js';
import type { Signals, Span } from '../../signals/signals.js';
import type { Readings } from '../readings.js';

export type Missing = 'misfire' | 'banks-apart';

/**
 * Each spell from the earliest row at which its first reading may have been fuelled. None is looked for where no reading that is evidence
 * so far (`reason` 0) tells of one.
 */
export const missingSpells = (
  signals: Signals,
  readings: Readings,
  target: Float64Array,
  reason: Uint8Array,
): readonly (readonly [why: Missing, span: Span])[] => {
  // Where each bank is fuelled by the other's sensor, no reading tells of the table.
  if (crossedSensors(signals)) return [['banks-apart', { from: 0, to: reason.length }]];
  if (!mayTell(signals, readings, target, reason)) return [];
  const misses = goingOn(signals),
    apart = banksApart(signals);
  if (misses.length + apart.length === 0) return [];
  const { bandFrom } = operatingOf(signals),
    fuelled = ({ from, to }: Span): Span => ({ from: bandFrom[from], to });
  return [...misses.map((span) => ['misfire', fuelled(span)] as const), ...apart.map((span) => ['banks-apart', fuelled(span)] as const)];
};

/**
 * Whether a reading stands as far from the other bank's, or from its target where there is none, as a miss has it: few do in a healthy
 * drive.
 */
const mayTell = (
  { vehicle: { limits } }: Signals,
  { kind, row, lnLambda, bankSpread }: Readings,
  target: Float64Array,
  reason: Uint8Array,
): boolean => {
  if (kind === 'trims') return false;
  const least = limitOf(bankSpread ? 'misfireLambda' : 'misfireAloneLambda', limits).value;
  for (let index = 0; index < row.length; index++) {
    if (reason[row[index]] !== 0) continue;
    const lambda = Math.exp(lnLambda[index]),
      off = bankSpread ? lambda * Math.abs(Math.expm1(bankSpread[index])) : lambda - target[row[index]];
    if (off > least) return true;
  }
  return false;
};

/** The spells of misfires; a cylinder that missed a moment ago has not healed because a cut, a shift or a tip-in came between. */
const goingOn = (signals: Signals): Span[] => {
  const { timeS, recordings } = signals,
    spans: { from: number; to: number }[] = [];
  const isTogether = (one: Span, next: Span): boolean =>
    timeS[next.from] - timeS[one.to - 1] < GOES_ON_S && recordings.some(({ from, to }) => from <= one.from && next.to <= to);
  for (const { from, to } of [...missesOf(signals)].sort((a, b) => a.from - b.from)) {
    const last = spans.at(-1);
    if (last && isTogether(last, { from, to })) last.to = Math.max(last.to, to);
    else spans.push({ from, to });
  }
  return spans;
};
