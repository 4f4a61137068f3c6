// header-duplicate: two columns of a session with the same header.

import type { Rule } from '../finding.js';
import { sessionProblemFindings } from '../sessionProblems.js';

export const rule: Rule = {
  code: 'header-duplicate',
  docs: {
    title: 'Two columns with one name',
    meaning:
      'Two columns have the same header. Only the first is taken as the channel (of speed, load and lambda the first that moves), and nothing tells whether it is the right one.',
    computed:
      'Headers are compared with their units, without regard to case. A second header within the file whose columns stand in another order is an error, and the rows behind it are left out.',
    causes: [
      'A channel was added to the logger twice',
      'Two sensors of one kind (two banks) that were never given names of their own',
      'Two files joined side by side',
    ],
    checkFirst: 'Compare the two columns: if they differ, give each its own name.',
    limits: [],
  },
  sample: () => ({
    firing: '=== a.session.csv\nTime (s),Engine speed (rpm),Lambda,Lambda\n0,900,1.0,0.9\n0.1,905,1.0,0.9\n',
    quiet: '=== a.session.csv\nTime (s),Engine speed (rpm),Lambda bank 1,Lambda bank 2\n0,900,1.0,0.9\n0.1,905,1.0,0.9\n',
  }),
  session: ({ session }) => sessionProblemFindings('header-duplicate', session),
};
