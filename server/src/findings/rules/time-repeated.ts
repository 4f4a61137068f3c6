// time-repeated: rows of a session with the same time.

import type { Rule } from '../finding.js';
import { sessionProblemFindings } from '../sessionProblems.js';

const HEAD = '=== a.session.csv\nTime (s),Engine speed (rpm),Manifold pressure (kPa),Lambda\n';

export const rule: Rule = {
  code: 'time-repeated',
  docs: {
    title: 'Times repeat',
    meaning:
      'Rows share one time. With a clock that counts whole seconds that is how the logger is; with a fine clock, rows were doubled or the clock stood still.',
    computed:
      'Where at least three rows in ten repeat the time before, the clock is taken to be coarse, and the rows of one time are spread evenly until the next. Fewer repeats are told where they stand. Where nearly all such rows hold what the row before holds, in every column, they are told as copies.',
    causes: ['The logger writes whole seconds', 'A buffer was written twice', 'Several files were joined with an overlap'],
    checkFirst: 'Set the logger to write times with decimals; for a fine clock, look whether the repeated rows are copies.',
    limits: [],
  },
  sample: () => ({
    firing: `${HEAD}0,900,35,1.0\n0,905,35,1.0\n1,905,35,1.0\n1,910,35,1.0\n2,910,35,1.0\n2,910,36,1.0\n`,
    quiet: `${HEAD}0,900,35,1.0\n0.5,905,35,1.0\n1,905,35,1.0\n1.5,910,35,1.0\n`,
  }),
  session: ({ session }) => sessionProblemFindings('time-repeated', session),
};
