// A clock that cannot be in the unit that its header says: every duration, delay and pull that is found by it is none.

import { formatNumber } from '../quantities/format.js';
import type { Signals } from '../signals/signals.js';
import type { Finding } from './finding.js';

/** Faster no logger writes its rows, and slower none shows a pull. Common practice, no source. */
const FASTEST_STEP_S = 0.0005, SLOWEST_STEP_S = 5;
/** Fewer rows are none of a drive. */
const LEAST_ROWS = 20;

export const timeScaleFindings = ({ session, stepS }: Signals): Finding[] => {
  const { kind, channel, unit } = session.time;
  if (kind !== 'column' || session.samples < LEAST_ROWS || !(stepS < FASTEST_STEP_S || stepS >= SLOWEST_STEP_S)) return [];
  const isFast = stepS < FASTEST_STEP_S, name = channel ?? 'The time', symbol = unit?.symbol ?? 's';
  const every = isFast ? `${formatNumber(stepS * 1000, 3)} ms` : `${formatNumber(stepS, stepS < 100 ? 1 : 0)} s`;
  const column = session.channels.find((each) => each.quantity === 'time' && each.header === channel);
  return [{
    code: 'unit-unknown', severity: 'error', range: column?.headerRange ?? session.headerRange, channel: 'time',
    message: `${name} is read in ${symbol}, and a row follows another every ${every}: ${isFast ? 'no logger is so fast' : 'so slow a log shows no pull'}. Until its unit is right nothing of this drive can be judged. Write ${isFast ? 's' : 'ms'} in brackets behind the name, or say it under "channels" in vehicle.json.`,
    data: { kind: 'time-scale', stepS },
  }];
};
