// time-reversed: the clock of a session steps back.

import type { Rule } from '../finding.js';
import { sessionProblemFindings } from '../sessionProblems.js';

const HEAD = '=== a.session.csv\nTime (s),Engine speed (rpm),Manifold pressure (kPa),Lambda\n';

export const rule: Rule = {
  code: 'time-reversed',
  concerns: 'readings',
  docs: {
    title: 'Clock steps back',
    meaning: 'A row is older than the row before it. Usually a new recording begins there; no duration or rate is taken across the step.',
    computed:
      'Each time is compared with the one before. A step back starts a new recording one usual step later; a time of day that passes midnight is none. Where most rows step back, the file is in backward order: told once, as an error.',
    causes: [
      'The logger was restarted and went on in the same file',
      'Several files were joined',
      'The logger set its clock while it recorded',
      'Rows were sorted by another column',
    ],
    checkFirst: 'See whether the engine was started anew there. If so, nothing is wrong.',
    limits: [],
  },
  sample: () => ({
    firing: `${HEAD}0,900,35,1.0\n0.1,905,35,1.0\n0.2,905,35,1.0\n0,910,35,1.0\n0.1,910,35,1.0\n`,
    quiet:
      '=== a.session.csv\nTime,Engine speed (rpm),Manifold pressure (kPa),Lambda\n23:59:59.8,900,35,1.0\n23:59:59.9,905,35,1.0\n0:00:00.0,905,35,1.0\n0:00:00.1,905,35,1.0\n',
  }),
  session: ({ session }) => sessionProblemFindings('time-reversed', session),
};
