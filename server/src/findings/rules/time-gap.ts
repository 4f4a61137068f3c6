// time-gap: a hole in the clock of a session.

import type { Rule } from '../finding.js';
import { sessionProblemFindings } from '../sessionProblems.js';
import { limitText } from '../spell.js';

const HEAD = '=== a.session.csv\nTime (s),Engine speed (rpm),Manifold pressure (kPa),Lambda\n';
const row = (timeS: number): string => `${timeS.toFixed(1)},900,35,1.0\n`;
const rows = (...times: number[]): string => HEAD + times.map(row).join('');

export const rule: Rule = {
  code: 'time-gap',
  concerns: 'readings',
  docs: {
    title: 'Hole in the log',
    meaning: 'For a while nothing was logged. The worst moment of a pull may lie in it.',
    computed:
      'The step from a row to the next is longer than the limit and more than ten times the median step of the session. The longest holes get a finding each, the rest are counted.',
    causes: [
      'The link between logger and engine computer broke off',
      'The logger was slow to write',
      'Ignition off and on',
      'Rows were cut out',
    ],
    checkFirst: 'Check the connector and the cable, then log again before you judge the moments beside the hole.',
    limits: ['timeGapS'],
  },
  sample: () => ({ firing: rows(0, 0.1, 0.2, 0.3, 4.3, 4.4, 4.5), quiet: rows(0, 0.1, 0.2, 0.3, 1.2, 1.3, 1.4) }),
  session: (signals) =>
    sessionProblemFindings('time-gap', signals.session).map((finding) => ({
      ...finding,
      message: `${finding.message} (Told beyond ten usual steps and the ${limitText(signals, 'timeGapS')}.)`,
    })),
};
