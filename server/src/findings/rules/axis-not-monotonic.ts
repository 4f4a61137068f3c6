// axis-not-monotonic: breakpoints of a table that do not go strictly up or strictly down.

import type { Rule } from '../finding.js';
import { tableProblemFindings } from '../tableProblems.js';

const HEAD = '=== t.table.csv\n# quantity: volumetric efficiency (%)\n# columns: engine speed (rpm)\n# rows: manifold pressure (kPa)\n';

export const rule: Rule = {
  code: 'axis-not-monotonic',
  docs: {
    title: 'Breakpoints out of order',
    meaning:
      'An engine computer looks for the two breakpoints that a reading lies between. Where they do not run one way, there is no telling which cell it takes.',
    computed:
      'Each breakpoint is compared with the one before it. Most steps of the axis say which way it runs; a step the other way, or none at all, is told at the later breakpoint. ' +
      'Blank breakpoints are passed over. No reading is placed in a table with such an axis.',
    causes: [
      'A slip in typing: 160 for 1600',
      'A breakpoint copied twice',
      'Rows sorted by another column in a spreadsheet',
      'A decimal comma read as a delimiter',
    ],
    checkFirst: 'Compare the axis with the one in the engine computer.',
    limits: [],
  },
  sample: () => ({
    firing: `${HEAD}, 800, 160, 2000\n30, 42, 44, 47\n60, 50, 52, 55\n`,
    quiet: `${HEAD}, 800, 1600, 2000\n60, 50, 52, 55\n30, 42, 44, 47\n`,
  }),
  table: ({ table }) => tableProblemFindings('axis-not-monotonic', table),
};
