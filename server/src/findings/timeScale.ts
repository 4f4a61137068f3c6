// A clock that cannot be in the unit that its header says: every duration, delay and pull that is found by it is none.

import { formatNumber } from '../quantities/format.js';
import { UNITS } from '../quantities/units.js';
import type { Signals } from '../signals/signals.js';
import type { Finding } from './finding.js';

/** Faster no logger writes its rows, and slower none shows a pull. Common practice, no source. */
const FASTEST_STEP_S = 0.0005,
  SLOWEST_STEP_S = 5,
  LONGEST_STEP_S = 3600;
/** Fewer rows are none of a drive. */
const LEAST_ROWS = 20;
const isOfLogger = (stepS: number): boolean => stepS >= FASTEST_STEP_S && stepS < SLOWEST_STEP_S;

export const timeScaleFindings = ({ session, stepS }: Signals): Finding[] => {
  const { kind, channel, unit = UNITS.s, startIso } = session.time;
  // A date, and a clock of hours, minutes and seconds, leave no doubt of the unit; microseconds under s may look like a date.
  const isSlow = stepS >= SLOWEST_STEP_S && stepS < LONGEST_STEP_S;
  if (
    kind !== 'column' ||
    session.samples < LEAST_ROWS ||
    !(stepS >= 0) ||
    isOfLogger(stepS) ||
    (startIso !== undefined && stepS < LONGEST_STEP_S) ||
    (isSlow && session.places.cellText(-1, 0).includes(':'))
  )
    return [];
  const isFast = stepS < FASTEST_STEP_S,
    name = channel ?? 'The time',
    other = [UNITS.s, UNITS.ms, UNITS.us].find((each) => isOfLogger((stepS * each.factor!) / unit.factor!))?.symbol ?? 'the unit';
  const every = isFast ? `${formatNumber(stepS * 1000, 3)} ms` : `${formatNumber(stepS, stepS < 100 ? 1 : 0)} s`;
  const column = session.channels.find((each) => each.quantity === 'time' && each.header === channel);
  return [
    {
      code: 'unit-unknown',
      severity: 'error',
      range: column?.headerRange ?? session.headerRange,
      channel: 'time',
      message: `${name} is read in ${unit.symbol}, and a row follows another every ${every}: ${isFast ? 'no logger is so fast' : 'so slow a log shows no pull'}. Until its unit is right nothing of this drive can be judged. Write ${other} in brackets behind the name, or say it under "channels" in vehicle.json.`,
      data: { kind: 'time-scale', stepS },
    },
  ];
};
